"""What temperature does to the cells of a battery: capacity, acceptance, lockout, heating."""

from __future__ import annotations

import numpy as np

from sim.arrays import Floats
from sim.units import fahrenheit_to_celsius

# Cell size multiplier of lead-acid against electrolyte temperature [deg F]: IEEE 485 and 450
# from 40 deg F up, base 77 deg F; below, a common winter worksheet of the trade. Colder than the
# table its last value holds, which is kind to the bank.
LEAD_SIZE_BY_F = (
    *((20.0, 1.59), (30.0, 1.40), (40.0, 1.30), (45.0, 1.25), (50.0, 1.19), (55.0, 1.15)),
    *((60.0, 1.11), (65.0, 1.08), (70.0, 1.04), (77.0, 1.00)),
)
# What LiFePO4 cells give at a moderate rate against their temperature [deg C]: data sheets of
# cells print 55 to 70 % at -20, 75 to 85 % at -10 and about 90 % at 0 deg C (from memory, fairly
# sure). Colder than the table its last value holds.
LITHIUM_CAPACITY_BY_C = ((-20.0, 0.60), (-10.0, 0.78), (0.0, 0.90), (10.0, 0.97), (20.0, 1.00))
# Lead-acid takes about half the charge at freezing that it takes at 25 deg C, and the charger's
# temperature compensation wins part of that back (from memory, a rule of the trade).
_LEAD_PACE_AT_0_C, _LEAD_PACE_PER_K, _LEAD_PACE_LEAST = 0.6, 0.016, 0.2
# Heat capacity of a bank over its energy: about 120 Wh/kg and 0.28 Wh/(kg K) for a LiFePO4 unit
# with its case (from memory, fairly sure).
HEAT_WH_K_PER_WH = 0.0023


def lead_capacity_share(cell_c: Floats) -> Floats:
    """Share of its rated capacity that a lead-acid bank can give when cold.

    Parameters
    ----------
    cell_c : ndarray
        [deg C]

    Returns
    -------
    ndarray, shape of `cell_c`
        1 from 25 deg C up: what warmth gives on top is not counted on.

    References
    ----------
    IEEE Std 485, recommended practice for sizing lead-acid batteries: temperature correction.
    """
    known_f, size = np.array(LEAD_SIZE_BY_F).T
    known_c = np.array([fahrenheit_to_celsius(value) for value in known_f.tolist()])
    return np.asarray(1.0 / np.interp(cell_c, known_c, size))


def lithium_capacity_share(cell_c: Floats) -> Floats:
    """Share of its rated capacity that a LiFePO4 bank can give when cold.

    Parameters
    ----------
    cell_c : ndarray
        [deg C]

    Returns
    -------
    ndarray, shape of `cell_c`
        1 from 20 deg C up.
    """
    known_c, share = np.array(LITHIUM_CAPACITY_BY_C).T
    return np.asarray(np.interp(cell_c, known_c, share))


def lead_pace(cell_c: Floats) -> Floats:
    """What a lead-acid bank accepts near full over what it accepts there at 25 deg C.

    Parameters
    ----------
    cell_c : ndarray
        [deg C]

    Returns
    -------
    ndarray, shape of `cell_c`
        0.2 to 1.
    """
    return np.clip(_LEAD_PACE_AT_0_C + _LEAD_PACE_PER_K * cell_c, _LEAD_PACE_LEAST, 1.0)


def charge_share(
    cell_c: Floats, *, above_c: float, cool_below_c: float, cool_share: float
) -> Floats:
    """Share of the charge limit that the cells' temperature allows.

    Parameters
    ----------
    cell_c : ndarray
        [deg C]
    above_c : float
        No charge below this. [deg C]
    cool_below_c, cool_share : float
        Below this temperature [deg C] only this share of the limit, 0 to 1.

    Returns
    -------
    ndarray, shape of `cell_c`
    """
    cool = np.where(cell_c < cool_below_c, cool_share, 1.0)
    return np.asarray(np.where(cell_c < above_c, 0.0, cool))


def heated_bank(
    around_c: Floats,
    on_share: Floats,
    *,
    watts: float,
    target_c: float,
    heat_wh_k: float,
    step_hours: float,
    lag_hours: float,
) -> tuple[Floats, Floats]:
    """A bank that follows the air around it slowly, with a heating pad on a thermostat.

    Parameters
    ----------
    around_c : ndarray, shape (H, D)
        [deg C]
    on_share : ndarray, shape (H, D)
        Share of the step in which the pad may run.
    watts : float
        Of the pad. [W]
    target_c : float
        Held by the pad, if it can. [deg C]
    heat_wh_k : float
        Heat capacity of the bank. [Wh/K]
    step_hours, lag_hours : float
        Time constant of the first-order lag. [h]

    Returns
    -------
    cell_c, watts : ndarray, shape (H, D)
        At the start of each step [deg C], and drawn over it [W].
    """
    cell, drawn = np.empty_like(around_c), np.empty_like(around_c)
    kept = np.exp(-step_hours / lag_hours)
    per_k = heat_wh_k / lag_hours
    now = around_c[0].copy()
    for step in range(len(around_c)):
        cell[step] = now
        # The constant power that ends the step at the target: the lag solved exactly.
        needed = per_k * ((target_c - kept * now) / (1.0 - kept) - around_c[step])
        drawn[step] = np.clip(needed, 0.0, watts * on_share[step])
        ends = around_c[step] + drawn[step] / per_k
        now = ends + (now - ends) * kept
    return cell, drawn
