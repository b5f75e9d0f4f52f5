"""A log on the steps of a trip: means over each step, and the charge at its ends."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.arrays import Bools, Floats, Ints
from sim.log.reading import Log

# A mean over a step needs rows from so much of it.
_LEAST_COVER = 0.5
# The charge at a moment is that of the nearest row, no further away than this. [s]
_NEAR_S = 2700.0


@dataclass(frozen=True)
class Stepped:
    """A log on H steps.

    Attributes
    ----------
    means : dict
        From roles to means over each step, nan where too little is known. shape (H,)
    soc_at : ndarray, shape (H, 2)
        Charge at the start and the end of each step, nan where none is known.
    """

    means: dict[str, Floats]
    soc_at: Floats


def to_utc(
    at: NDArray[np.datetime64], again: Bools, start_utc: NDArray[np.datetime64], offset_min: Ints
) -> NDArray[np.datetime64]:
    """Times of a local clock as UTC.

    Parameters
    ----------
    at : ndarray of datetime64[s], shape (N,)
        What the clock showed.
    again : ndarray of bool, shape (N,)
        Whether it showed it for the second time in a night.
    start_utc, offset_min : ndarray, shape (H,)
        Steps, ascending, and how far the local clock is ahead in each. [min]
    """
    shifts = sorted({int(value) for value in offset_min}, reverse=True)
    best = at - np.timedelta64(shifts[0] * 60, "s")
    settled = np.zeros(len(at), dtype=np.bool_)
    for shift in shifts:
        utc = at - np.timedelta64(shift * 60, "s")
        step = np.clip(np.searchsorted(start_utc, utc, side="right") - 1, 0, len(offset_min) - 1)
        fits = offset_min[step] == shift
        # The larger offset is that of the first pass; the second takes the later one that fits.
        take = fits & (~settled | again)
        best = np.where(take, utc, best)
        settled |= fits
    return best


def on_steps(
    log: Log, utc: NDArray[np.datetime64], start_utc: NDArray[np.datetime64], step_minutes: int
) -> Stepped:
    """A log on the steps of a trip.

    Parameters
    ----------
    log : Log
        N rows.
    utc : ndarray of datetime64[s], shape (N,)
        Its times.
    start_utc : ndarray of datetime64[s], shape (H,)
        Starts of the steps, ascending; trips may lie apart.
    step_minutes : int
    """
    seconds = utc.astype(np.int64)
    # Where the clock goes back within a step the order of the rows is not that of the times.
    if (np.diff(seconds) < 0).any():
        order = np.argsort(seconds, kind="stable")
        seconds = seconds[order]
        values = {role: value[order] for role, value in log.values.items()}
    else:
        values = log.values
    starts, size = start_utc.astype(np.int64), 60 * step_minutes
    step = np.searchsorted(starts, seconds, side="right") - 1
    inside = (step >= 0) & (seconds < starts[np.maximum(step, 0)] + size)
    due = size / max(60.0 * log.apart_min, 1.0)
    means = {}
    for role, value in values.items():
        use = inside & np.isfinite(value)
        count = np.bincount(step[use], minlength=len(starts))
        total = np.bincount(step[use], weights=value[use], minlength=len(starts))
        enough = count >= max(_LEAST_COVER * due, 1.0)
        means[role] = np.where(enough, total / np.maximum(count, 1), np.nan)
    soc_at = np.full((len(starts), 2), np.nan)
    if "soc" in values:
        known = np.isfinite(values["soc"])
        for end in (0, 1):
            soc_at[:, end] = _at(starts + end * size, seconds[known], values["soc"][known])
    return Stepped(means, soc_at)


def _at(moments: Ints, seconds: Ints, values: Floats) -> Floats:
    """Values at moments, between the rows on both sides where both are near. shape (H,)"""
    found = np.interp(moments, seconds, values)
    after = np.clip(np.searchsorted(seconds, moments), 0, len(seconds) - 1)
    before = np.maximum(after - 1, 0)
    apart = np.minimum(abs(seconds[after] - moments), abs(seconds[before] - moments))
    return np.where(apart <= _NEAR_S, found, np.nan)
