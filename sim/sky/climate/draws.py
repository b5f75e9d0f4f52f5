"""Possible weather for a trip, drawn from the world climate.

A draw is a set of numbers: slow ones for the season (`sim.sky.climate.slow`); for every day how
bright it is, how warm and how wide its temperatures; for every hour how cloudy. They are standard
normal, remember the day or hour before, and belong to the calendar, not to the trip: the same
seed has the same 14 January whenever the trip sets out and however long its steps are. What the
numbers mean is read from the climate of the place where the van happens to be.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
from scipy.special import ndtr, ndtri

from sim.arrays import Floats, Ints
from sim.sky.climate.about import about_draws
from sim.sky.climate.air import air_temperature, daily_range_factor, spell_weights
from sim.sky.climate.corrections import brightened
from sim.sky.climate.days import LocalDays, local_days, on_date
from sim.sky.climate.even import BLOCK_DAYS, even_days
from sim.sky.climate.hours import global_irradiance
from sim.sky.climate.measured import MeasuredMonths
from sim.sky.climate.slow import Season, of_places, season
from sim.sky.climate.tables import (
    DARKEST_CLEARNESS,
    PointClimate,
    brightest_clearness,
    point_climate,
    quantile_mean,
)
from sim.sky.sun import Sun, split_global
from sim.sky.track import Track, Weather

# Day-to-day memory of KT is 0.31 in typical-year files of the Americas, corrected for months of
# only 30 days. The number behind it remembers more: days pile up near the clear sky, and what
# they owe to each other there is lost in KT.
_MEMORY_BRIGHTNESS = 0.35
# Daily mean temperature remembers 0.76, 0.47, 0.29 over one, two and three days. The number
# drawn at noon remembers less; running straight from noon to noon adds the rest.
_MEMORY_WARMTH = 0.60
_MEMORY_CLOUDS = 0.5  # hour to hour, fitted with the spread of the clouds
# Cells of 3 degrees are smoother than the weather of a point inside them: without this the
# drawn days of a month spread 8 % less than the stations', and their worst three days in a row
# are 2 % too bright.
_POINT_SPREAD = 1.08
# In hot months the cells spread more than the stations' days do, not less: by 34 % (logarithm) at
# 28 deg C and above against 20 deg C, at the 48 stations of climate_stations.csv that tell it; with
# regions left out the RMSE of that logarithm falls from 0.324 to 0.310. That it comes in from 24
# deg C on, and its share, are what the worst three days of fortnights bear: with regions left out
# their CRPS falls from 0.446 to 0.438 kWh/m2/day, in hot fortnights from 0.61 to 0.56.
_NARROWER_IN_HEAT = 0.22
_HEAT_FROM_C, _HEAT_FULL_C = 24.0, 28.0
_PRUDENT_SPREAD = 1.1  # on top of it

_BURN_IN_DAYS = 48  # 0.6 to this power is 2e-11; whole blocks of even days
_CLOUD_BURN_IN_DAYS = 1  # 0.5 to the power of 24 hours is 6e-8
_NORMALS_PER_DAY = 25  # range, then 24 hours of clouds
_NUMBERS_AT_ONCE = 4  # that the stream makes, and skips
_WAYS_KEPT = 32
_DAYS_KEPT = 100  # of 200 draws they take 4 MB
_DAY_ZERO = 1_000_000  # keeps the stream's key positive for any date


@dataclass(frozen=True)
class _Latent:
    """Standard normal numbers of D draws for the N days from `first_day` on."""

    first_day: int  # counted from 1970-01-01
    season: Season
    brightness: Floats  # (N, D)
    warmth: Floats  # (N, D)
    scatter: Floats  # (N, D)
    clouds: Floats  # (24 N, D), by UTC hour


def climate_draws(
    track: Track,
    sun: Sun,
    *,
    draws: int,
    seed: int,
    prudent: bool = False,
    measured: MeasuredMonths | None = None,
    first: int = 0,
) -> Weather:
    """Draw the weather of a track from the world climate, or from months that a station measured.

    Parameters
    ----------
    track : Track
        H steps of 5 to 60 minutes.
    sun : Sun
        `sim.sky.sun.position` of the same track.
    draws : int
        How many, D. The first ones are the same however many are asked for.
    seed : int
        Not negative. The same seed gives the same weather on any machine.
    prudent : bool
        Widen the spread of the days by 1.1 about the same mean.
    measured : MeasuredMonths, optional
        What a station measured, in place of the world climate.
    first : int
        Number of the first draw, from 0: draws 200 to 999 go on where the first 200 end.

    Returns
    -------
    Weather
        Arrays of shape (H, D).

    Raises
    ------
    WeatherError
        The track leads into the open sea or onto the inner ice.
    """
    days = local_days(track)
    if measured is None:
        places = np.stack([days.latitude, days.longitude, days.altitude_m])
        climate = _climate_of(places.tobytes())
    else:
        climate = measured.at(days.altitude_m)
    latent = _latent(int(days.day.min()) - 1, int(days.day.max()) + 1, draws, seed, first)
    first_day = latent.first_day
    quantiles = _day_quantiles(days.pair_day, days.pair_place, days, climate, prudent)
    rank = ndtr(latent.brightness)
    clearness = _mapped(rank[days.pair_day - first_day], quantiles, climate.probabilities)
    clearness = _in_season(clearness, days, climate, latent.season)
    ghi = global_irradiance(track, sun, days, clearness, latent.clouds, 24 * first_day)
    dni, dhi = split_global(ghi, sun, track)
    return Weather(
        ghi=ghi,
        dni=dni,
        dhi=dhi,
        temp_air=_air(days, climate, latent, rank),
        about=about_draws(days, climate, first + draws, seed, prudent),
    )


@lru_cache(maxsize=_WAYS_KEPT)
def _climate_of(places: bytes) -> PointClimate:
    """The climate of places, given as latitudes, longitudes and altitudes one after the other; a
    trip's other weeks see the same places."""
    return point_climate(*np.frombuffer(places).reshape(3, -1))


def _air(days: LocalDays, climate: PointClimate, latent: _Latent, rank: Floats) -> Floats:
    """Air temperature of every step in every draw. [deg C], shape (H, D)"""
    row, weight, next_weight = spell_weights(days.clock, latent.first_day, _MEMORY_WARMTH)
    warmth = weight[:, None] * latent.warmth[row] + next_weight[:, None] * latent.warmth[row + 1]
    relative = _relative_brightness(days, climate, rank, latent.first_day)
    width = daily_range_factor(relative, latent.scatter, latent.season.wide)
    return air_temperature(days, climate, warmth, width, latent.season)


def _latent(first_day: int, last_day: int, draws: int, seed: int, first_draw: int = 0) -> _Latent:
    """The numbers of the days from `first_day` to `last_day`.

    The memory is run in from before the first day, until nothing is left of how it began.
    """
    begin = (first_day - _BURN_IN_DAYS) // BLOCK_DAYS * BLOCK_DAYS
    end = -(-(last_day + 1) // BLOCK_DAYS) * BLOCK_DAYS
    first, last = first_day - begin, last_day + 1 - begin
    bright, warm = even_days(begin, end - 1, draws, seed, first_draw)
    dice = np.stack(
        [
            _dice(day, draws, seed, first_draw)
            for day in range(first_day - _CLOUD_BURN_IN_DAYS, last_day + 1)
        ]
    )
    hours = dice[:, :, 1:].transpose(0, 2, 1).reshape(-1, draws)
    return _Latent(
        first_day=first_day,
        season=season(first_day, last_day, draws, seed, first_draw),
        brightness=_remembering(bright, _MEMORY_BRIGHTNESS)[first:last],
        warmth=_remembering(warm, _MEMORY_WARMTH)[first:last],
        scatter=dice[_CLOUD_BURN_IN_DAYS:, :, 0],
        clouds=_remembering(hours, _MEMORY_CLOUDS)[24 * _CLOUD_BURN_IN_DAYS :],
    )


def _in_season(
    clearness: Floats, days: LocalDays, climate: PointClimate, season_: Season
) -> Floats:
    """Days of pairs, shape (R, D), as bright or dull as the draw's season makes them."""
    date, place = days.pair_day + 0.5, days.pair_place
    mean = on_date(climate.clearness_mean, np.asarray(date), place)
    shared, own = (
        on_date(part, np.asarray(date), place)[:, None]
        for part in (climate.doubt.shared, climate.doubt.own)
    )
    apart = of_places(season_.waves, days.latitude, days.longitude)[place]
    slow = shared * season_.bright[days.pair_day - season_.first_day] + own * apart
    brightest = brightest_clearness(days.altitude_m[place])
    return brightened(clearness, mean, brightest, slow, np.hypot(shared, own)[:, 0])


@lru_cache(maxsize=_DAYS_KEPT)
def _dice(day: int, draws: int, seed: int, first: int = 0) -> Floats:
    """Independent standard normal numbers of one day, shape (D, 25).

    Every day has its own stream, laid out draw after draw. Trips over the same days, and a trip's
    other weeks, see the same: the latest are kept, and nobody changes them.
    """
    stream = np.random.Philox(np.random.SeedSequence([seed, day + _DAY_ZERO]))
    skipped, more = divmod(first * _NORMALS_PER_DAY, _NUMBERS_AT_ONCE)
    stream.advance(skipped)
    uniform = np.random.Generator(stream).random(more + draws * _NORMALS_PER_DAY)[more:]
    uniform = uniform.reshape(draws, _NORMALS_PER_DAY)
    # random() lies in [0, 1) on a grid of 2**-53; half a step keeps it off both ends.
    return np.asarray(ndtri(uniform + 2.0**-54))


def _remembering(noise: Floats, memory: float) -> Floats:
    """First-order autoregression along axis 0, with unit variance throughout."""
    out = np.sqrt(1.0 - memory**2) * noise
    out[0], kept = noise[0], np.empty_like(noise[0])
    for before, now in pairwise(out):
        now += np.multiply(before, memory, out=kept)
    return np.asarray(out)


def _day_quantiles(
    day: Ints, place: Ints, days: LocalDays, climate: PointClimate, prudent: bool
) -> Floats:
    """KT quantiles on days at places, spread about their mean, shape (R, 11)."""
    factor = _spread_of_days(day, place, climate) * (_PRUDENT_SPREAD if prudent else 1.0)
    brightest = brightest_clearness(days.altitude_m[place])[:, None]
    table = on_date(climate.clearness, np.asarray(day + 0.5), place)
    mean = quantile_mean(table, climate.probabilities)[:, None]
    wide = np.clip(mean + factor * (table - mean), DARKEST_CLEARNESS, brightest)
    # The clear sky cuts off the top; dark days are drawn nearer to it, that the mean stays.
    wide_mean = quantile_mean(wide, climate.probabilities)[:, None]
    shrink = (brightest - mean) / (brightest - wide_mean)
    return np.maximum.accumulate(brightest - shrink * (brightest - wide), axis=1)


def _spread_of_days(day: Ints, place: Ints, climate: PointClimate) -> Floats:
    """By how much a point's days spread more than the climate's, shape (R, 1)."""
    if climate.measured:
        return np.ones((len(day), 1))
    temperature_c = on_date(climate.temperature_c, np.asarray(day + 0.5), place)[:, None]
    heat = np.clip((temperature_c - _HEAT_FROM_C) / (_HEAT_FULL_C - _HEAT_FROM_C), 0.0, 1.0)
    return np.asarray(_POINT_SPREAD * (1.0 - _NARROWER_IN_HEAT * heat))


def _mapped(rank: Floats, quantiles: Floats, probabilities: Floats) -> Floats:
    """Quantile function of each row.

    Parameters
    ----------
    rank : ndarray, shape (R, D)
        Between 0 and 1.
    quantiles : ndarray, shape (R, Q)
    probabilities : ndarray, shape (Q,)

    Returns
    -------
    ndarray, shape (R, D)
        Straight between quantiles, flat beyond the outer two.
    """
    out = np.repeat(quantiles[:, :1], rank.shape[1], axis=1)
    slopes = np.diff(quantiles, axis=1) / np.diff(probabilities)
    for i, low in enumerate(probabilities[:-1]):
        out += slopes[:, i : i + 1] * np.clip(rank - low, 0.0, probabilities[i + 1] - low)
    return out


def _relative_brightness(
    days: LocalDays, climate: PointClimate, rank: Floats, first_day: int
) -> Floats:
    """Daily KT over the month's mean, shape (N, D).

    A day is read at the place where the van is first seen on it, the days before and after
    the track at its first and last place: one number a day, that nothing jumps on the road.
    """
    number = np.arange(len(rank)) + first_day
    step = np.clip(np.searchsorted(days.day, number), 0, len(days.day) - 1)
    quantiles = _day_quantiles(number, days.place[step], days, climate, prudent=False)
    mean = quantile_mean(quantiles, climate.probabilities)
    return _mapped(rank, quantiles, climate.probabilities) / mean[:, None]
