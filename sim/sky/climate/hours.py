"""From a day's clearness to its hours: clouds over the clear-sky shape."""

from __future__ import annotations

import numpy as np
from scipy.special import expit, logit

from sim.arrays import Floats, Ints
from sim.sky.climate.days import DAY_S, LocalDays
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
    lit = _lit_bins(share)
    hours = start_hour[:, None] - first_hour + lit
    index = hours_of_day(clear_index, share[:, lit], clouds[hours])
    step_hour = np.floor(track.mid_unix / _HOUR_S).astype(np.int64) - start_hour[days.pair]
    step_hour = np.clip(step_hour - lit[0], 0, len(lit) - 1)
    # On the highest mountains the clear-sky model gives more than there is; days are cut alike.
    clear = np.minimum(clear_sky(track, sun)[0], sun.ghi_extra)
    ghi = clear[:, None] * index[days.pair, step_hour]
    return np.asarray(np.minimum(ghi, sun.ghi_extra[:, None]))


def _lit_bins(share: Floats) -> Ints:
    """Hours that see the sun on any of the days, and one more on either side: the night needs no
    clouds. All of them in polar night."""
    lit = np.flatnonzero((share > 0.0).any(axis=0))
    if len(lit) == 0:
        return np.arange(_BINS)
    return np.arange(max(lit[0] - 1, 0), min(lit[-1] + 2, _BINS))


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
    sun = position(grid)
    clear = np.minimum(clear_sky(grid, sun)[0], sun.ghi_extra)
    extra = sun.ghi_extra.reshape(seconds.shape).sum(axis=1)
    hour = (seconds + 30 * _GRID_MINUTES) // _HOUR_S - start_hour[:, None]
    cell = np.arange(len(start))[:, None] * _BINS + hour
    by_hour = np.bincount(cell.ravel(), clear, len(start) * _BINS).reshape(-1, _BINS)
    total = by_hour.sum(axis=1)
    return (
        by_hour / np.where(total > 0.0, total, 1.0)[:, None],
        total / np.where(extra > 0.0, extra, 1.0),
    )


def hours_of_day(clear_index: Floats, share: Floats, clouds: Floats) -> Floats:
    """Clear-sky index of the hours of days whose mean index is given.

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
    ndarray, shape (R, B, D)
        Its mean, weighted with `share`, is `clear_index`.

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
    swing = _CLOUD_SPREAD * fade[:, None] * clouds
    target = logit(height)
    level = target.copy()
    within = np.empty_like(swing)

    def spread() -> Floats:
        np.add(level[:, None], swing, out=within)
        return np.asarray(expit(within, out=within))

    for _ in range(_FIXED_POINT_STEPS):
        mean = np.einsum("rb,rbd->rd", share, spread())
        level += target - logit(np.clip(mean, 1e-6, 1.0 - 1e-6))
    index = spread()
    index *= (top - floor)[:, None]
    index += floor[:, None]
    return index
