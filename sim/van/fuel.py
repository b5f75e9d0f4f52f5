"""Fuel: how much of it a heat takes, and how much propane a tank holds."""

from __future__ import annotations

from sim.sky.track import Floats

# Gross heat of commercial propane: 21,591 Btu/lb, 50.2 MJ/kg (Btu per pound as printed by LP gas
# suppliers after CSA B149.2, which itself gives 49.7 MJ/kg: 1 % less). Appliances are rated by
# the gross heat they take, so the efficiency of each is against this.
PROPANE_WH_KG = 50.2e6 / 3600.0
# Liquid at 60 deg F: 4.20 to 4.24 lb/gal (same tables), 0.5067 kg/L (CoolProp, pure propane).
PROPANE_KG_L = 0.506
# Net heat of a litre of the vehicle's fuel, against which air heaters are rated: 35.9 MJ diesel,
# 32.0 MJ petrol (from memory, sure to 2 %).
ENGINE_FUEL_WH_L = {"diesel": 35.9e6 / 3600.0, "petrol": 32.0e6 / 3600.0}


def burnt_kg(heat_w: Floats, step_hours: float) -> Floats:
    """Propane burnt in each step.

    Parameters
    ----------
    heat_w : ndarray
        Gross heat of the fuel, mean over the step. [W]
    step_hours : float
        [h]

    Returns
    -------
    ndarray, shape of `heat_w`
        [kg]
    """
    return heat_w * (step_hours / PROPANE_WH_KG)


def full_kg(tank_l: float, fill_pct: float) -> float:
    """What a tank holds when it is filled as far as it may be. [kg]

    Parameters
    ----------
    tank_l : float
        Volume of the tank. [L]
    fill_pct : float
        Share of it that liquid may take: 80 (NFPA 58, overfill devices of cylinders).
    """
    return tank_l * fill_pct / 100.0 * PROPANE_KG_L
