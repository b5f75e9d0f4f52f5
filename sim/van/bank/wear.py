"""What a trip's cycles and the calendar take from a battery's life, and how sure that is."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from sim.arrays import Floats

# A swing of the charge smaller than this is not counted: it is the noise of loads.
SMALLEST_SWING = 0.005
DAYS_PER_YEAR = 365.25


@dataclass(frozen=True)
class Endurance:
    """How many cycles and years a kind of battery lasts, to 80 % of its capacity.

    Attributes
    ----------
    cycles : float
        At `depth`.
    depth : float
        Depth of those cycles, 0 to 1.
    exponent : float
        Cycles at another depth d: ``cycles * (depth / d)**exponent``.
    cycles_factor : (float, float)
        Worst and best published cycle life over `cycles`.
    years : (float, float, float)
        Life on the shelf: worst, middle, best.
    """

    cycles: float
    depth: float
    exponent: float
    cycles_factor: tuple[float, float]
    years: tuple[float, float, float]


# Calendar lives are common practice, no source.
ENDURANCE = {
    # 2000 to 4000 cycles of 80 % on data sheets, 2000 of 100 % (from memory, fairly sure); the
    # exponent goes through 3000 at 80 % and 2000 at 100 %.
    "lifepo4": Endurance(3000.0, 0.8, 1.82, (2 / 3, 4 / 3), (8.0, 12.0, 16.0)),
    # Between flooded and half of it (common practice, no source).
    "agm": Endurance(600.0, 0.5, 1.13, (0.5, 1.5), (4.0, 6.0, 9.0)),
    # 1000 cycles of 55 % and 15000 of 5 %: T. Murphy, dothemath.ucsd.edu 2012, from a published
    # curve of lead-acid. A data sheet of golf-cart batteries has 750 of 50 % and 225 of 80 %,
    # two thirds and a third of that.
    "flooded": Endurance(1000.0, 0.55, 1.13, (1 / 3, 1.5), (4.0, 6.0, 9.0)),
}


@dataclass(frozen=True)
class Life:
    """What a use means for a battery.

    Attributes
    ----------
    full_cycles_per_year : float
        Energy through the bank over its capacity, if the van were used so all year.
    wear_pct_per_year : float
        Of its life, by cycles and calendar together. [%]
    years, years_low, years_high : float
        Expected life in such use, and the bounds within which published figures put it.
    """

    full_cycles_per_year: float
    wear_pct_per_year: float
    years: float
    years_low: float
    years_high: float


def rainflow(series: Floats) -> Floats:
    """Cycles of a history, counted by the rainflow method.

    Parameters
    ----------
    series : ndarray, shape (N,)

    Returns
    -------
    ndarray, shape (cycles, 3)
        Range, mean and count (1, or 0.5 for a half cycle), in the order they close.

    References
    ----------
    ASTM E1049-85, Standard practices for cycle counting in fatigue analysis, section 5.4.4.
    """
    return np.array(list(_cycles(turning_points(series)))).reshape(-1, 3)


def turning_points(series: Floats) -> list[float]:
    """First value, every peak and valley, last value."""
    moves = np.flatnonzero(np.diff(series, prepend=np.nan) != 0.0)
    values = series[moves]
    if len(values) < 3:
        return [float(value) for value in values]
    turns = np.diff(values[:-1]) * np.diff(values[1:]) < 0.0
    kept = np.concatenate([[True], turns, [True]])
    return [float(value) for value in values[kept]]


def _cycles(points: list[float]) -> Iterator[tuple[float, float, float]]:
    stack: list[float] = []
    for point in points:
        stack.append(point)
        while len(stack) >= 3:
            last, before = abs(stack[-1] - stack[-2]), abs(stack[-2] - stack[-3])
            if last < before:
                break
            if len(stack) == 3:
                # The range holds the start of the history: half a cycle, and the start is gone.
                yield before, (stack[0] + stack[1]) / 2.0, 0.5
                del stack[0]
            else:
                yield before, (stack[-2] + stack[-3]) / 2.0, 1.0
                del stack[-3:-1]
    for one, other in pairwise(stack):
        yield abs(one - other), (one + other) / 2.0, 0.5


def cycle_wear(soc: Floats, endurance: Endurance) -> tuple[float, float]:
    """Share of its cycle life that a history of charge takes, and the full cycles in it.

    Parameters
    ----------
    soc : ndarray, shape (N,)
        0 to 1.
    endurance : Endurance

    Returns
    -------
    wear, full_cycles : float
        Each cycle counts one over the number of its like (Palmgren and Miner's rule).
    """
    depth, _, count = rainflow(soc).T
    counted = depth >= SMALLEST_SWING
    depth, count = depth[counted], count[counted]
    lasts = endurance.cycles * (endurance.depth / depth) ** endurance.exponent
    return float((count / lasts).sum()), float((count * depth).sum())


def expected_life(soc: Floats, days: float, chemistry: str) -> Life:
    """Life of a battery that is used all year as in some histories of its charge.

    Parameters
    ----------
    soc : ndarray, shape (N, D)
        0 to 1; the mean over the D histories counts.
    days : float
        Length of each.
    chemistry : str
        A key of `ENDURANCE`.

    Returns
    -------
    Life
    """
    endurance = ENDURANCE[chemistry]
    found = np.array([cycle_wear(history, endurance) for history in soc.T]).mean(axis=0)
    wear, full_cycles = found * DAYS_PER_YEAR / days
    worst, middle, best = endurance.years
    low, high = endurance.cycles_factor
    yearly = wear + 1.0 / middle
    return Life(
        full_cycles_per_year=float(full_cycles),
        wear_pct_per_year=float(100.0 * yearly),
        years=float(1.0 / yearly),
        years_low=float(1.0 / (wear / low + 1.0 / worst)),
        years_high=float(1.0 / (wear / high + 1.0 / best)),
    )
