"""From what was not served to a verdict."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import Literal

import numpy as np

from sim.arrays import Bools, Floats, Ints
from sim.job.model.living import PRIORITIES
from sim.van.bank.totals import UNSERVED_TOLERANCE_W

Verdict = Literal["ample", "tight", "short"]
QUANTILES = (0.1, 0.5, 0.9)
# A share of draws that is whole but for rounding counts as whole.
_ROUNDING = 1e-9


@dataclass(frozen=True)
class Spread:
    """Three quantiles over the draws: 10 %, median, 90 %."""

    p10: float
    p50: float
    p90: float


def dark_hours_of(unserved_w: Floats, step_minutes: int) -> Bools:
    """Whether each hour since the start lacked something. [W] of shape (H, D) to (hours, D)"""
    missing = unserved_w > UNSERVED_TOLERANCE_W
    per_hour = 60 // step_minutes
    if per_hour == 1:
        return missing
    rows = -(-len(missing) // per_hour)
    padded = np.zeros((rows * per_hour, missing.shape[1]), dtype=bool)
    padded[: len(missing)] = missing
    return np.asarray(padded.reshape(rows, per_hour, -1).any(axis=1))


def firsts_of(unserved_w: Floats) -> tuple[Ints, Ints]:
    """When each draw first goes dark.

    Parameters
    ----------
    unserved_w : ndarray, shape (3, H, D)
        Wanted and not given: essential, comfort, extra. [W]

    Returns
    -------
    step, group : ndarray of int, shape (D,)
        The first step in which something is off, and the last group that is; of a draw in which
        nothing ever is they say nothing.
    """
    step = np.argmax(unserved_w.sum(axis=0) > UNSERVED_TOLERANCE_W, axis=0)
    # One of them must lack so much for the sum to lack more than the tolerance.
    draws = np.arange(len(step))
    off = unserved_w[:, step, draws] > UNSERVED_TOLERANCE_W / len(PRIORITIES)
    return step, len(PRIORITIES) - 1 - np.argmax(off[::-1], axis=0)


def verdict_of(essentials_share: float, all_share: float, bounds: tuple[float, float]) -> Verdict:
    """The verdict of a trip, or of any design tried on it.

    Parameters
    ----------
    essentials_share, all_share : float
        Shares of draws in which the essentials, and everything, held. 0 to 1
    bounds : (float, float)
        Shares from which a trip in which everything holds is ample, and one in which the
        essentials hold is no longer short.
    """
    ample, tight = bounds
    if essentials_share < tight:
        return "short"
    return "ample" if all_share >= ample else "tight"


def bad_draw(dark_hours: Floats, lowest: Floats, ample_share: float) -> int:
    """The bad case: the draw at the bound of ample.

    It is the first, from good to bad, that must be without a dark hour for a trip to be ample: it
    has one if and only if the trip is not ample.

    Parameters
    ----------
    dark_hours, lowest : ndarray, shape (D,)
        By which draws are put in order: dark hours [h], then lowest charge, 0 to 1.
    ample_share : float
        Share of draws from which a trip is ample.
    """
    return int(by_darkness(dark_hours, lowest)[bad_place(len(lowest), ample_share)])


def by_darkness(dark_hours: Floats, lowest: Floats) -> Ints:
    """Draws from good to bad: by their dark hours, then by their lowest charge. shape (..., D)"""
    return np.lexsort((-lowest, dark_hours), axis=-1)


def bad_place(draws: int, ample_share: float) -> int:
    """Where the bad case is among so many draws from good to bad; see `bad_draw`."""
    return max(ceil(ample_share * draws - _ROUNDING), 1) - 1
