"""From what was not served to a verdict."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from sim.arrays import Bools, Floats
from sim.van.bank.loop import UNSERVED_TOLERANCE_W

Verdict = Literal["ample", "tight", "short"]
QUANTILES = (0.1, 0.5, 0.9)


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
    rows = -(-len(missing) // per_hour)
    padded = np.zeros((rows * per_hour, missing.shape[1]), dtype=bool)
    padded[: len(missing)] = missing
    return np.asarray(padded.reshape(rows, per_hour, -1).any(axis=1))


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
