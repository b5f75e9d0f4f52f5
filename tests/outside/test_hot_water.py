"""Hot water against published values.

Shower heads of the WaterSense mark give at most 2.0 gallons a minute (US EPA, WaterSense
specification for showerheads). The heat of a gallon: 8.33 lb x 1 Btu/lb F, the rule of the
plumbing trade. Propane: 91,502 Btu a gallon and 4.24 lb a gallon (tables of LP gas suppliers),
burnt at 80 %. The water's own heat, 4.179 kJ/kgK and 0.993 kg/L, is that of IAPWS-95 by CoolProp.
"""

from __future__ import annotations

import numpy as np
import pytest

from sim.units import LITRES_PER_GALLON
from sim.van.hot_water import heat_to_warm_wh, hot_hours
from sim.van.tanks import PROPANE_KG_L, burnt_kg

SHOWER_L = 2.0 * 5.0 * LITRES_PER_GALLON  # five minutes at 2.0 gal/min
COLD_C, WARM_C = 15.0, 40.0
BTU_PER_WH = 3.412142  # international table Btu
KG_PER_LB = 0.45359237

# What, value, published, tolerance as a share, reason of the tolerance.
HEAT_WH = float(heat_to_warm_wh(np.array(SHOWER_L), COLD_C, WARM_C))
FUEL_KG = float(burnt_kg(np.array(HEAT_WH / 0.8), 1.0))
TABLE = [
    ("a shower, litres", SHOWER_L, 37.85, 2e-4, "digits printed"),
    ("its heat, Wh", HEAT_WH, 1090.0, 0.01, "digits printed"),
    ("its heat, Btu", HEAT_WH * BTU_PER_WH, 8.33 * 10.0 * 45.0, 0.01, "the rule takes 1 Btu/lb F"),
    (
        "propane for it, gallons",
        FUEL_KG / PROPANE_KG_L / LITRES_PER_GALLON,
        3749.0 / 0.8 / 91_502.0,
        0.02,
        "density and heat of commercial propane vary by 1 % each",
    ),
    ("the same", FUEL_KG / PROPANE_KG_L / LITRES_PER_GALLON, 0.051, 0.02, "digits printed"),
    ("propane for it, lb", FUEL_KG / KG_PER_LB, 0.216, 0.02, "as above"),
]


@pytest.mark.parametrize(
    ("value", "published", "within"), [row[1:4] for row in TABLE], ids=[row[0] for row in TABLE]
)
def test_heat_of_a_shower(value: float, published: float, within: float) -> None:
    assert value == pytest.approx(published, rel=within)


@pytest.mark.parametrize("tank_l", [0.0, 40.0])
def test_a_shower_from_the_heater_takes_that_heat(tank_l: float) -> None:
    """1.09 kWh, whether it is heated as it flows or drawn from a tank that is heated again.
    Tolerance: the digits printed."""
    wanted = np.zeros(6)
    wanted[1] = HEAT_WH
    hot = hot_hours(
        wanted,
        np.full((1, 6), 2500.0),
        tank_l=np.array([tank_l]),
        hot_c=np.array([60.0]),
        cold_c=COLD_C,
        standing_w_k=0.0,
        step_hours=1.0,
    )
    assert hot.heat_w.sum() == pytest.approx(1090.0, rel=0.01)
    assert not hot.short_w.any()
