"""Which clock a log was written by: seen from when its sun rises and sets.

A log of the battery alone shows no sunrise: there the whole course of its flows is laid beside the
promise, an hour earlier or later at a time.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.arrays import Floats
from sim.fit.expected import Expected
from sim.fit.measured import measured
from sim.job.model.power import Battery
from sim.log.reading import Log
from sim.log.steps import to_utc

_BIN_H = 0.25
_BINS = round(24.0 / _BIN_H)
# A clock nearer than this to the right one is taken as right. [h]
SLACK_H = 0.75
# Of the most that the panels ever gave: daylight, under a wall's shade too.
_LIT = 0.015
# Rows from which a day's course can be seen.
_FEWEST_ROWS = 48
# So much better must another clock fit the sun before it is believed.
_BETTER = 0.1
# The same of the battery's flows: so much of their distance from the promise may be left.
_LEFT = 0.8
_MOST_SHIFT_H = 13
# From here on a battery may turn the sun away, and its flows say no hour.
_NEARLY_FULL = 0.97


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


def clock_of(log: Log, promised: Expected, bank: Battery) -> Clock:
    """Find out by which clock a log was written."""
    if log.is_utc:
        local = log.at
    else:
        local = to_utc(log.at, log.again, promised.start_utc, promised.offset_min)
    ahead = float(np.mean(promised.offset_min)) / 60.0
    is_light = bool({"solar", "solar_current"} & set(log.values))
    if is_light:
        shift = _shift_h(log, local, promised)
    else:
        shift = _flow_shift_h(log, local, promised, bank, ahead)
    if shift is None or abs(shift) < SLACK_H:
        return Clock(local, shift, log.is_utc, False, log.is_utc)
    if not log.is_utc and abs(shift + ahead) < SLACK_H:
        return Clock(log.at, shift, True, False, False)
    if not is_light:
        # A battery alone shows no hour well enough to set a clock by; UTC is a known slip.
        return Clock(local, None, log.is_utc, False, log.is_utc)
    moved = local - np.timedelta64(round(shift * 3600.0), "s")
    return Clock(moved, shift, False, True, log.is_utc)


def _flow_shift_h(
    log: Log, local: NDArray[np.datetime64], promised: Expected, bank: Battery, ahead: float
) -> float | None:
    """Hours by which a battery's flows are late; None where the log does not tell. [h]"""
    due_w = promised.sun_w.mean(axis=1) - promised.loads_w.mean(axis=1)
    due_w = due_w + promised.engine_w + promised.plug_w

    def flow_w(utc: NDArray[np.datetime64]) -> Floats:
        seen = measured(log, utc, promised, bank)
        tells = np.isfinite(seen.battery_w) & (seen.soc_at < _NEARLY_FULL).all(axis=1)
        return np.where(tells, seen.battery_w, np.nan)

    def apart_w(flow_w: Floats, late_h: int = 0) -> float:
        gap = np.abs(np.roll(flow_w, -late_h) - due_w)
        return float(np.nanmean(gap)) if np.isfinite(gap).sum() >= _FEWEST_ROWS else np.inf

    own = flow_w(local)
    as_it_is = apart_w(own)
    if not np.isfinite(as_it_is):
        return None
    # Its hours may not be those of UTC all along: summer time begins and ends.
    if not log.is_utc and apart_w(flow_w(log.at)) < _LEFT * as_it_is:
        return -ahead
    late = range(-_MOST_SHIFT_H, _MOST_SHIFT_H + 1)
    best = min(late, key=lambda hours: apart_w(own, hours))
    return float(best) if apart_w(own, best) < _LEFT * as_it_is else 0.0


def _shift_h(log: Log, utc: NDArray[np.datetime64], promised: Expected) -> float | None:
    """Hours by which the log's day is late, None where the log does not tell. [h]"""
    seen = _profile(log, utc, promised)
    if seen is None:
        return None
    # Daylight against dark: how high the panels stand in the sun says less, for a full battery
    # takes none and a wall takes the morning's.
    due = promised.clear_w > 0.03 * promised.clear_w.max()
    # Each hour in its four quarters: at a place all hours lie at the same part of a bin.
    quarter = promised.solar_hour[:, None] + 12.0 + (np.arange(4) - 1.5) * _BIN_H
    slot = np.floor(quarter / _BIN_H).astype(int).ravel() % _BINS
    count = np.maximum(np.bincount(slot, minlength=_BINS), 1)
    expected = np.bincount(slot, weights=due.repeat(4), minlength=_BINS) / count
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
    values = log.values["solar" if "solar" in log.values else "solar_current"]
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
    flow = (values[use] > _LIT * np.quantile(values[use], 0.995)).astype(np.float64)
    count = np.bincount(slot, minlength=_BINS)
    known = count > 0
    mean = np.bincount(slot, weights=flow, minlength=_BINS)[known] / count[known]
    places = np.arange(_BINS) + 0.5
    return np.asarray(np.interp(places, places[known], mean, period=_BINS))
