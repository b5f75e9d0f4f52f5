"""Water and cylinders against published values, through our keys and functions.

Flows: US EPA, WaterSense specifications of shower heads (at most 2.0 gal/min at 80 psi) and of
lavatory faucets (at most 1.5 gal/min at 60 psi); kitchen faucets by the federal limit, 2.2 gal/min
(bsesc.energy.gov). Both systems of units are printed there.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

import sim
from sim.job.model.fields import entry_keys
from sim.trip.household import uses_of
from sim.trip.timeline import build_timeline
from sim.units import KG_PER_POUND, LITRES_PER_GALLON
from sim.van.tanks import PROPANE_WH_KG, full_kg

# What, gal/min, L/min as printed.
FLOWS = [
    ("shower head, WaterSense", 2.0, 7.6),
    ("lavatory faucet, WaterSense", 1.5, 5.7),
    ("kitchen faucet, federal", 2.2, 8.3),
]


@pytest.mark.parametrize(("what", "gal_min", "l_min"), FLOWS, ids=[row[0] for row in FLOWS])
def test_flows_in_both_units(what: str, gal_min: float, l_min: float) -> None:
    """A pump's flow may be entered in either. Tolerance: the digit printed, 0.05 L/min."""
    ours = entry_keys("flow_l_min")["flow_gal_min"].to_si(gal_min)
    assert ours == pytest.approx(l_min, abs=0.05), what


def test_half_a_gallon_in_fifteen_seconds() -> None:
    """The EPA's test of a WaterSense head: 2.0 gal/min are at most 0.5 gal in 15 s."""
    flow_l_min = entry_keys("flow_l_min")["flow_gal_min"].to_si(2.0)
    assert flow_l_min * 15.0 / 60.0 <= 0.5 * LITRES_PER_GALLON + 1e-12


SHOWERS = """
[water]
fresh_gal = 33
open_drains = ["kitchen", "basin", "shower"]

[[appliances]]
name = "Pump"
kind = "pump"
watts = 60
flow_gal_min = 2.0
"""


def test_five_minutes_under_a_head_of_two_gallons(
    changed: Callable[[str, str], str], write_job: Callable[[str], Path]
) -> None:
    """10 gal or 37.85 L (arithmetic of the EPA's flow): that is what a person's shower takes from
    the tank, and for five minutes of it the pump runs. Tolerance: the digits printed."""
    text = changed(
        'use = "weekend-away"',
        'use = "weekend-away"\npeople = 1\nout = []\nshowers_person_week = 7\nshower_gal = 10\n'
        "kitchen_l_person_day = 0\nbasin_l_person_day = 0",
    )
    job = sim.load_job(write_job(text + SHOWERS))
    trip = job.trips[0]
    timeline = build_timeline(job, trip)
    litres = uses_of(job, timeline).water_l.sum()
    days = round(litres / 37.85)
    assert litres / days == pytest.approx(37.85, abs=0.005)
    (pump,) = [x for x in sim.simulate(job).trips[0].loads if x.name == "Pump"]
    assert pump.wanted_wh[0] / days == pytest.approx(60.0 * 5.0 / 60.0, rel=1e-6)


def test_a_cylinder_of_twenty_pounds() -> None:
    """4.72 gal of liquid at 4.24 lb/gal, 431,800 Btu or 126.6 kWh gross (tables of LP gas
    suppliers, put together). Tolerance 1 %: the tables' spread of density and heat."""
    held_kg = full_kg(4.72 / 0.8 * LITRES_PER_GALLON, 80.0)
    assert held_kg / KG_PER_POUND == pytest.approx(20.0, rel=0.01)
    assert held_kg * PROPANE_WH_KG / 1000.0 == pytest.approx(126.6, rel=0.01)
