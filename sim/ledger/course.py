"""How a trip went from step to step, in the few rows that are shown of all its draws."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.arrays import Bools, Floats, Ints, quantiles
from sim.ledger.verdict import QUANTILES

WEEK_DAYS = 7


@dataclass(frozen=True)
class Course:
    """Charge and darkness over the draws. Charges are quantiles in the order of `QUANTILES`.

    Attributes
    ----------
    soc : ndarray, shape (3, H + 1)
        State of charge at the start of each step and after the last, 0 to 1.
    day_low, week_low : ndarray, shape (3, days) and (3, weeks)
        Lowest of each local day, and of each seven of them.
    gained : float
        Charge after the last step less that at the start, mean over draws. 0 to 1
    dark, dark_days : ndarray, shape (hours,) and (days,)
        Share of draws in which an hour since departure, and a local day, was dark.
    """

    soc: Floats
    day_low: Floats
    week_low: Floats
    gained: float
    dark: Floats
    dark_days: Floats


def course_of(soc: Floats, dark: Bools, day_index: Ints, steps_an_hour: int) -> Course:
    """The course of a trip of D draws.

    Parameters
    ----------
    soc : ndarray, shape (H + 1, D)
    dark : ndarray of bool, shape (hours, D)
    day_index : ndarray of int, shape (H,)
        Number of the local day of each step.
    steps_an_hour : int
    """
    days = lows_of(soc, day_index)
    dark_days = np.zeros((len(days), dark.shape[1]), dtype=bool)
    np.logical_or.at(dark_days, day_index[::steps_an_hour], dark)
    return Course(
        soc=quantiles(soc, QUANTILES, axis=1),
        day_low=quantiles(days, QUANTILES, axis=1),
        week_low=quantiles(lows_of(soc, day_index // WEEK_DAYS), QUANTILES, axis=1),
        gained=float((soc[-1] - soc[0]).mean()),
        dark=dark.mean(axis=1),
        dark_days=dark_days.mean(axis=1),
    )


def lows_of(soc: Floats, number: Ints) -> Floats:
    """The lowest charge of each period, whose number each step has; shape (periods, D) or
    (periods,)"""
    starts = np.flatnonzero(np.diff(number, prepend=-1))
    return np.asarray(np.minimum.reduceat(soc[1:], starts, axis=0))
