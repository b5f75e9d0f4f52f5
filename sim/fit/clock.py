"""Which clock a log was written by: seen from when its sun rises and sets."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.arrays import Floats
from sim.fit.expected import Expected
from sim.log.reading import Log
from sim.log.steps import to_utc

_BIN_H = 0.25
_BINS = round(24.0 / _BIN_H)
# A clock nearer than this to the right one is taken as right. [h]
SLACK_H = 0.75
# The same where the log shows the battery alone, which a full one or a heavy load mislead. [h]
_BLIND_SLACK_H = 1.25
# Of the most that the panels ever gave: daylight, under a wall's shade too.
_LIT = 0.015
# Rows from which a day's course can be seen.
_FEWEST_ROWS = 48
# So much better must another clock fit the sun before it is believed.
_BETTER = 0.1


@dataclass(frozen=True)
class Clock:
    """The clock of a log.

    Attributes
    ----------
    utc : ndarray of datetime64[s], shape (N,)
        Times of the log's rows.
    shift_h : float or None
        How far the sun of the log is late against that of the place; None where the log does not
        show the sun. [h]
    is_utc : bool
        Whether the log runs in UTC.
    is_off : bool
        Whether it runs neither by the local clock nor in UTC; `utc` is put right.
    said : bool
        Whether the log itself says its offset from UTC.
    """

    utc: NDArray[np.datetime64]
    shift_h: float | None
    is_utc: bool
    is_off: bool
    said: bool


def clock_of(log: Log, promised: Expected) -> Clock:
    """Find out by which clock a log was written."""
    if log.is_utc:
        local = log.at
    else:
        local = to_utc(log.at, log.again, promised.start_utc, promised.offset_min)
    shift = _shift_h(log, local, promised)
    is_light = bool({"solar", "solar_current"} & set(log.values))
    slack = SLACK_H if is_light else _BLIND_SLACK_H
    if shift is None or abs(shift) < slack:
        return Clock(local, shift, log.is_utc, False, log.is_utc)
    ahead = float(np.mean(promised.offset_min)) / 60.0
    if not log.is_utc and abs(shift + ahead) < slack:
        return Clock(log.at, shift, True, False, False)
    if not is_light:
        # A battery alone shows no hour well enough to set a clock by; UTC is a known slip.
        return Clock(local, None, log.is_utc, False, log.is_utc)
    moved = local - np.timedelta64(round(shift * 3600.0), "s")
    return Clock(moved, shift, False, True, log.is_utc)


def _shift_h(log: Log, utc: NDArray[np.datetime64], promised: Expected) -> float | None:
    """Hours by which the log's day is late, None where the log does not tell. [h]"""
    seen = _profile(log, utc, promised)
    if seen is None:
        return None
    # Daylight against dark: how high the panels stand in the sun says less, for a full battery
    # takes none and a wall takes the morning's.
    due = promised.clear_w > 0.03 * promised.clear_w.max()
    slot = np.floor(promised.solar_hour + 12.0).astype(int) % 24
    count = np.maximum(np.bincount(slot, minlength=24), 1)
    hours = np.bincount(slot, weights=due, minlength=24) / count
    centre = (np.arange(_BINS) + 0.5) * _BIN_H
    expected = np.interp(centre, np.arange(24) + 0.5, hours, period=24.0)
    expected, seen = expected - expected.mean(), seen - seen.mean()
    size = float(np.sqrt((expected @ expected) * (seen @ seen)))
    if size <= 0.0:
        return None
    match = np.array([np.roll(expected, n) @ seen for n in range(_BINS)]) / size
    best = int(np.argmax(match))
    if match[best] < 0.5:
        return None
    # The middle of all shifts that fit as well as the best.
    near = np.flatnonzero(match > match[best] - 0.003)
    turns = (near - best + _BINS // 2) % _BINS - _BINS // 2
    shift = (best + float(turns.mean())) * _BIN_H
    shift = (shift + 12.0) % 24.0 - 12.0
    return shift if match[best] - match[0] > _BETTER or abs(shift) < SLACK_H else 0.0


def _profile(log: Log, utc: NDArray[np.datetime64], promised: Expected) -> Floats | None:
    """How lit each quarter of an hour of the solar day is in a log. shape (96,)"""
    names = ("solar", "solar_current", "current", "power", "soc")
    name = next((x for x in names if x in log.values), None)
    if name is None:
        return None
    values = log.values[name]
    if name == "soc":
        values = np.clip(np.gradient(values), *np.nanquantile(np.gradient(values), [0.02, 0.98]))
    seconds = utc.astype(np.int64)
    starts = promised.start_utc.astype(np.int64)
    step = np.clip(np.searchsorted(starts, seconds, side="right") - 1, 0, len(starts) - 1)
    # How far the sun's clock is ahead of UTC where the van stood.
    ahead = promised.solar_hour + 12.0 - (starts / 3600.0 + 0.5) % 24.0
    inside = (seconds >= starts[0] - 86400) & (seconds <= starts[-1] + 86400)
    use = inside & np.isfinite(values)
    if use.sum() < _FEWEST_ROWS:
        return None
    slot = ((seconds[use] / 3600.0 + ahead[step[use]]) % 24.0 / _BIN_H).astype(int) % _BINS
    flow = values[use]
    if name.startswith("solar"):
        flow = (flow > _LIT * np.quantile(flow, 0.995)).astype(np.float64)
    count = np.bincount(slot, minlength=_BINS)
    known = count > 0
    mean = np.bincount(slot, weights=flow, minlength=_BINS)[known] / count[known]
    if not name.startswith("solar"):
        # By night the loads take from the battery; a full one takes nothing at noon either.
        below = mean[mean < 0.0]
        if len(below):
            # A heavy evening is no darker than a quiet night.
            mean = np.clip(mean, np.quantile(below, 0.7), 0.0)
    places = np.arange(_BINS) + 0.5
    return np.asarray(np.interp(places, places[known], mean, period=_BINS))
