"""From a day's clearness to its hours: clouds over the clear-sky shape."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import logit

from sim.arrays import Floats, Ints
from sim.sky.climate.days import DAY_S, LocalDays
from sim.sky.daylight import may_be_light
from sim.sky.sun import Sun, clear_sky, position
from sim.sky.track import Track

# Hourly irradiance over the clear-sky model's. The four numbers of the clouds were fitted to
# the hourly clearness of 18 typical-year files of North America, Sydney and Aberdeen.
_DARKEST_HOUR = 0.2
_BRIGHTEST_HOUR = 1.08
_CLOUD_SPREAD = 1.9  # standard deviation on the logit scale, before it fades with brightness
_FADE_POWER = 4
_OVERCAST_SHARE = 0.7  # of the spread that is left on the darkest days
# Whole day over the clear-sky model's; 95 in 100 days of those files stay below 1.04 on
# average. Where the sun stays low, days brighter than the model's are common (snow, and the
# model is dark there): the bound is then taken halfway to a clearness index of 0.6.
_BRIGHTEST_DAY = 1.1
_LOW_SUN_CLEARNESS = 0.6
_FIXED_POINT_STEPS = 6

_GRID_MINUTES = 20  # for sums over whole days
_HOUR_S = 3600
_BINS = 25  # UTC hours that a local day can touch


def global_irradiance(
    track: Track, sun: Sun, days: LocalDays, clearness: Floats, clouds: Floats, first_hour: int
) -> Floats:
    """GHI of every step in every draw.

    Parameters
    ----------
    track : Track
        H steps.
    sun : Sun
        `sim.sky.sun.position` of the same track.
    days : LocalDays
        Of the same track, with R pairs.
    clearness : ndarray, shape (R, D)
        Clearness index of every pair's whole day.
    clouds : ndarray, shape (N, D)
        Standard normal, one for every UTC hour.
    first_hour : int
        UTC hour of the first row of `clouds`. [hours since 1970-01-01]

    Returns
    -------
    ndarray, shape (H, D)
        [W/m2]. Steps of one UTC hour share its clouds, so that short steps and long ones see
        the same weather.
    """
    start_hour = np.floor(days.pair_start_unix / _HOUR_S).astype(np.int64)
    share, clear_clearness = clear_days(days, start_hour)
    clear_index = np.minimum(clearness, brightest_day(clear_clearness)[:, None])
    clear_index /= np.where(clear_clearness > 0.0, clear_clearness, np.inf)[:, None]
    lit = np.flatnonzero((share > 0.0).any(axis=0))
    first_row = start_hour - first_hour
    broken = broken_days(clear_index, share[:, lit], clouds[first_row[:, None] + lit])
    # On the highest mountains the clear-sky model gives more than there is; days are cut alike.
    clear = np.minimum(clear_sky(track, sun)[0], sun.ghi_extra)
    up = np.flatnonzero(clear > 0.0)
    pair = days.pair[up]
    hour = np.floor(track.mid_unix[up] / _HOUR_S).astype(np.int64) - start_hour[pair]
    cell, which = np.unique(pair * _BINS + np.clip(hour, *_seen_hours(lit)), return_inverse=True)
    row, hour = np.divmod(cell, _BINS)
    ghi = np.zeros((len(track), clearness.shape[1]))
    index = broken.index(row, clouds[first_row[row] + hour])
    ghi[up] = np.minimum(clear[up, None] * index[which], sun.ghi_extra[up, None])
    return ghi


def _seen_hours(lit: Ints) -> tuple[int, int]:
    """The first and the last hour in which a step may see the sun: short steps one more on either
    side than the grid. All of them in polar night."""
    if len(lit) == 0:
        return 0, _BINS - 1
    return max(int(lit[0]) - 1, 0), min(int(lit[-1]) + 1, _BINS - 1)


def brightest_day(clear_clearness: Floats) -> Floats:
    """Highest clearness index of a whole day, from that of the clear-sky model."""
    low_sun = (clear_clearness + _LOW_SUN_CLEARNESS) / 2.0
    return np.asarray(_BRIGHTEST_DAY * np.maximum(clear_clearness, low_sun))


def clear_days(days: LocalDays, start_hour: Ints) -> tuple[Floats, Floats]:
    """How clear-sky irradiance falls over the hours of each pair's whole day.

    Returns
    -------
    share : ndarray, shape (R, 25)
        Of the day's clear-sky sum, by UTC hour from `start_hour` on; each row sums to 1, or
        to 0 in polar night.
    clear_clearness : ndarray, shape (R,)
        Clear-sky sum over the sum outside the atmosphere; 0 in polar night.
    """
    steps = DAY_S // (60 * _GRID_MINUTES)
    start = np.round(days.pair_start_unix).astype(np.int64)
    seconds = start[:, None] + np.arange(steps) * 60 * _GRID_MINUTES
    place = np.repeat(days.pair_place, steps)
    grid = Track(
        seconds.reshape(-1).astype("datetime64[s]"),
        _GRID_MINUTES,
        days.latitude[place],
        days.longitude[place],
        days.altitude_m[place],
    )
    light = np.flatnonzero(may_be_light(grid))
    by_day = grid.at(light)
    sun = position(by_day)
    clear, extra = np.zeros(len(grid)), np.zeros(len(grid))
    clear[light] = np.minimum(clear_sky(by_day, sun)[0], sun.ghi_extra)
    extra[light] = sun.ghi_extra
    outside = extra.reshape(seconds.shape).sum(axis=1)
    hour = (seconds + 30 * _GRID_MINUTES) // _HOUR_S - start_hour[:, None]
    cell = np.arange(len(start))[:, None] * _BINS + hour
    by_hour = np.bincount(cell.ravel(), clear, len(start) * _BINS).reshape(-1, _BINS)
    total = by_hour.sum(axis=1)
    return (
        by_hour / np.where(total > 0.0, total, 1.0)[:, None],
        total / np.where(outside > 0.0, outside, 1.0),
    )


@dataclass(frozen=True)
class BrokenDays:
    """R days under broken clouds, in D draws. Arrays of shape (R, D).

    Attributes
    ----------
    top, floor : ndarray
        The brightest and the darkest an hour gets, over the clear sky.
    level : ndarray
        Of the day between them, on the logit scale.
    spread : ndarray
        How wide the clouds swing about it.
    """

    top: Floats
    floor: Floats
    level: Floats
    spread: Floats

    def index(self, row: Ints, clouds: Floats) -> Floats:
        """Clear-sky index of hours of these days.

        Parameters
        ----------
        row : ndarray of int, shape (N,)
            Day of each hour.
        clouds : ndarray, shape (N, D)
            Standard normal, those that `broken_days` had for the hour.
        """
        index = self.level[row] + self.spread[row] * clouds
        _expit(index)
        floor = self.floor[row]
        index *= self.top[row] - floor
        index += floor
        return index


def broken_days(clear_index: Floats, share: Floats, clouds: Floats) -> BrokenDays:
    """Days whose mean clear-sky index is given.

    Parameters
    ----------
    clear_index : ndarray, shape (R, D)
        Irradiation of the day over that of a clear day.
    share : ndarray, shape (R, B)
        Weight of each hour in the day; rows sum to 1.
    clouds : ndarray, shape (R, B, D)
        Standard normal.

    Returns
    -------
    BrokenDays
        The mean of its hours' index, weighted with `share`, is `clear_index`.

    Notes
    -----
    On the logit scale between the darkest and the brightest hour the clouds are added to the
    day's level. The index therefore swings widest on broken-cloud days and stays within
    bounds; the swing itself fades towards clear days, and is a little smaller on overcast
    ones. The level that keeps the day's sum is found by fixed-point steps on that scale.
    """
    top = np.maximum(_BRIGHTEST_HOUR, 1.03 * clear_index)
    floor = np.minimum(_DARKEST_HOUR, 0.5 * clear_index)
    height = np.clip((clear_index - floor) / (top - floor), 1e-3, 1.0 - 1e-3)
    fade = (1.0 - height**_FADE_POWER) * (_OVERCAST_SHARE + (1.0 - _OVERCAST_SHARE) * height)
    spread = _CLOUD_SPREAD * fade
    target = logit(height)
    # Hours first: they are added up one after the other, however many days and draws there are.
    level = target.copy()
    swing = np.multiply(spread, clouds.transpose(1, 0, 2), order="C")
    within, weight = np.empty_like(swing), share.T[:, :, None]
    for _ in range(_FIXED_POINT_STEPS):
        np.add(level, swing, out=within)
        _expit(within)
        within *= weight
        mean = np.add.reduce(within, axis=0)
        level += target - logit(np.clip(mean, 1e-6, 1.0 - 1e-6))
    return BrokenDays(top, floor, level, spread)


def _expit(values: Floats) -> None:
    """The logistic function in place, of values that are not beyond +-700: a third of the time
    that scipy's takes, which knows of all others."""
    np.negative(values, out=values)
    np.exp(values, out=values)
    values += 1.0
    np.reciprocal(values, out=values)
