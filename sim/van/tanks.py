"""Tanks: levels of water, grey water and propane, the heat a fuel gives, and what keeps a tank
from freezing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from sim.arrays import Bools, Floats


@dataclass(frozen=True)
class Levels:
    """A store over a trip. Arrays of shape (H + 1, D) or (H, D).

    Attributes
    ----------
    level : ndarray, shape (H + 1, D)
        At the start of each step, renewed, and after the last; 0 to the capacity.
    moved : ndarray, shape (H, D)
        Taken out of a store that empties, or run into one that fills.
    missed : ndarray, shape (H, D)
        What was wanted when it was empty, or found no room when it was full.
    renewed : ndarray, shape (H, D)
        Filled in, or let out, at a service or by hand.
    """

    level: Floats
    moved: Floats
    missed: Floats
    renewed: Floats


def drained_l(drawn_l: Floats, drunk_l: Floats) -> Floats:
    """What runs down a drain of the water drawn above it: not what is drunk or cooked away. [L]"""
    return np.asarray(np.maximum(drawn_l - drunk_l, 0.0))


def emptying(
    wanted: Floats, brought: Floats, served: Bools, *, capacity: float, start: float
) -> Levels:
    """A store that empties: fresh water, propane.

    Parameters
    ----------
    wanted : ndarray, shape (H, D)
        Use of each step.
    brought : ndarray, shape (H, 1)
        Carried in by hand in each step, as far as there is room; nothing where it is served.
    served : ndarray of bool, shape (H,)
        Steps in which the place offers to fill it up; it is full at their start.
    capacity, start : float
        What it holds, and what is in it at departure.

    Returns
    -------
    Levels
        In the unit of `wanted`. Of what is wanted in a step, as much is taken as was there at its
        start and is brought in it.
    """
    hours, draws = wanted.shape
    level = np.empty((hours + 1, draws))
    moved, renewed = wanted.copy(), np.zeros((hours, draws))
    now = np.full(draws, start)
    for first, last in _alike(served, brought[:, 0] > 0.0):
        rows = slice(first, last)
        if served[first]:
            level[rows] = capacity
            moved[rows] = np.minimum(wanted[rows], capacity)
            left = capacity - moved[rows]
            renewed[first], renewed[first + 1 : last] = capacity - now, capacity - left[:-1]
            now = left[-1]
            continue
        if brought[first, 0] == 0.0:
            # Nothing comes in: one subtraction after the other, as long as there is enough.
            taken = np.concatenate([now[None], wanted[rows]])
            run = np.subtract.accumulate(taken, axis=0)
            lacking = (run[1:] < 0.0).any(axis=1)
            through = int(lacking.argmax()) if lacking.any() else last - first
            level[first : first + through], now = run[:through], run[through]
            first += through
        for hour in range(first, last):
            renewed[hour] = np.minimum(brought[hour], capacity - now)
            level[hour] = now = now + renewed[hour]
            moved[hour] = np.minimum(wanted[hour], now)
            now = now - moved[hour]
    level[hours] = now
    return Levels(level, moved, wanted - moved, renewed)


def _alike(served: Bools, is_brought: Bools) -> Iterator[tuple[int, int]]:
    """First steps, and those after the last, of runs in which a store is served, or supplied by
    hand, or left alone."""
    kind = np.where(served, 2, is_brought)
    edges = [0, *(np.flatnonzero(np.diff(kind)) + 1).tolist(), len(kind)]
    yield from pairwise(edges)


def filling(arriving: Floats, served: Bools, *, capacity: float, start: float) -> Levels:
    """A store that fills: a grey tank.

    Parameters
    ----------
    arriving : ndarray, shape (H, D)
        What runs in during each step.
    served : ndarray of bool, shape (H,)
        Steps in which the place lets it be emptied; it is empty at their start.
    capacity, start : float
        What it holds, and what is in it at departure.

    Returns
    -------
    Levels
        In the unit of `arriving`.
    """
    # Room is a store that empties.
    room = emptying(
        arriving, np.zeros((len(arriving), 1)), served, capacity=capacity, start=capacity - start
    )
    return Levels(capacity - room.level, room.moved, room.missed, room.renewed)


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


FREEZES_C = 0.0
# A pad's thermostat holds the tank this warm (common practice, no source).
WARMER_HOLDS_C = 3.0
# Heat lost by a bare plastic tank through its wall and the air about it: about 5 W/m2K, film
# coefficients of still to moving air in series (common practice, no source).
TANK_U_W_M2K = 5.0


def tank_ua_w_k(capacity_l: float) -> float:
    """Heat loss of a tank as bulky as a cube. [W/K]

    Parameters
    ----------
    capacity_l : float
        [L]
    """
    side_m = (capacity_l / 1000.0) ** (1.0 / 3.0)
    return float(TANK_U_W_M2K * 6.0 * side_m**2)


def warmer_watts(around_c: Floats, *, capacity_l: float, most_watts: float) -> Floats:
    """What a tank's pad draws.

    Parameters
    ----------
    around_c : ndarray
        Where the tank would be without it. [deg C]
    capacity_l : float
    most_watts : float
        What the pad can give. [W]

    Returns
    -------
    ndarray, shape of `around_c`
        [W]
    """
    wanted = tank_ua_w_k(capacity_l) * (WARMER_HOLDS_C - around_c)
    return np.clip(wanted, 0.0, most_watts)


def warmed_c(around_c: Floats, *, capacity_l: float, most_watts: float) -> Floats:
    """Temperature of a tank with its pad at work. [deg C]; see `warmer_watts`."""
    given = warmer_watts(around_c, capacity_l=capacity_l, most_watts=most_watts)
    return around_c + given / tank_ua_w_k(capacity_l)
