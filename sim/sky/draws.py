"""Possible weathers for a trip, drawn from the world climate.

A draw is one latent weather: for every day a number for how bright, one for how warm and one
for how wide the day's temperatures, for every hour one for the clouds. They are standard
normal, remember the day or hour before, and belong to the calendar, not to the trip: the same
seed has the same 14 January whenever the trip sets out and however long its steps are. What
the numbers mean is read from the climate of the place where the van happens to be.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, logit, ndtr, ndtri

from sim.sky.climate import PointClimate, mean_weights, point_climate
from sim.sky.sun import Sun, clear_sky, position, split_global
from sim.sky.track import Floats, Track, Weather

Ints = NDArray[np.int64]

# Day-to-day memory, fitted on typical-year files of the Americas: KT 0.31 after correction for
# 30-day samples. Daily mean temperature 0.72; see `_MEMORY_TEMPERATURE` for the number drawn.
_MEMORY_KT = 0.31
_MEMORY_TEMPERATURE = 0.72
_MEMORY_CLOUD = 0.6  # hour to hour
_CLOUD_SPREAD = 0.95  # of the hourly clear-sky index, on the logit scale
_RANGE_FOLLOWS_KT = 0.63  # share of a day's relative brightness seen in its temperature range
_RANGE_SCATTER = 0.29  # what is left, relative to the month's mean range
_RANGE_BOUNDS = (0.2, 2.0)  # of the month's mean range
_WARMEST_HOUR = 14.5  # local solar time
_BRIGHTEST_HOUR = 1.12  # hourly irradiance over the clear-sky model's
_PRUDENT_SPREAD = 1.1  # a 3-degree cell is smoother than the point weather inside it

_BURN_IN_DAYS = 30
_NORMALS_PER_DAY = 27  # brightness, warmth, range, then 24 hours of clouds
_DAY_ZERO = 1_000_000  # keeps the stream's key positive for any date
_GRID_MINUTES = 20  # for whole-day sums
_DAY_S = 86400
_BINS = 25  # UTC hours that a local day can touch


@dataclass(frozen=True)
class _Days:
    """Local solar days along a track.

    A *pair* is one place on one day. Places P, pairs R, steps H.
    """

    place: Ints  # (H,) place of each step
    pair: Ints  # (H,) pair of each step
    day: Ints  # (H,) local solar day, counted from 1970-01-01
    clock: Floats  # (H,) local mean solar time [days since 1970-01-01]
    places: Floats  # (P, 3) latitude, longitude, altitude
    pair_place: Ints  # (R,)
    pair_day: Ints  # (R,)
    pair_east: Floats  # (R,) longitude, not wrapped at the date line [degrees]


@dataclass(frozen=True)
class _Latent:
    """Standard normal numbers of every draw; D draws, days from `first_day` on."""

    first_day: int
    brightness: Floats  # (N, D)
    warmth: Floats  # (N, D)
    width: Floats  # (N, D)
    clouds: Floats  # (24 N, D), by UTC hour


def climate_draws(
    track: Track, sun: Sun, *, draws: int, seed: int, prudent: bool = False
) -> Weather:
    """Draw weathers for a track from the world climate.

    Parameters
    ----------
    track : Track
        H steps of 5 to 60 minutes.
    sun : Sun
        `sim.sky.sun.position` of the same track.
    draws : int
        How many weathers, D. The first ones are the same however many are asked for.
    seed : int
        Not negative. The same seed gives the same weathers on any machine.
    prudent : bool
        Widen the spread of the days by 1.1 about the same mean.

    Returns
    -------
    Weather
        Arrays of shape (H, D).

    Raises
    ------
    WeatherError
        The track leads farther than 400 km from land with data.
    """
    days = _local_days(track)
    climate = point_climate(*days.places.T)
    latent = _latent(int(days.day.min()) - 1, int(days.day.max()) + 1, draws, seed)
    quantiles = _day_quantiles(days.pair_day, days.pair_place, climate)
    if prudent:
        quantiles = _widened(quantiles, climate.probabilities, days.places[days.pair_place, 2])
    clearness = _mapped(
        latent.brightness[days.pair_day - latent.first_day], quantiles, climate.probabilities
    )
    ghi = _global_irradiance(track, sun, days, clearness, latent)
    dni, dhi = split_global(ghi, sun)
    return Weather(
        ghi=ghi,
        dni=dni,
        dhi=dhi,
        temp_air=_temperature(days, climate, latent),
        about=_about(track, draws, seed, prudent),
    )


def _local_days(track: Track) -> _Days:
    position_rows = np.column_stack([track.latitude, track.longitude, track.altitude_m])
    places, place = np.unique(position_rows, axis=0, return_inverse=True)
    place = place.reshape(-1).astype(np.int64)
    east = np.unwrap(track.longitude, period=360.0)
    clock = (track.mid_unix + east * 240.0) / _DAY_S
    day = np.floor(clock).astype(np.int64)
    pairs, first, pair = np.unique(
        np.column_stack([place, day]), axis=0, return_index=True, return_inverse=True
    )
    return _Days(
        place=place,
        pair=pair.reshape(-1).astype(np.int64),
        day=day,
        clock=clock,
        places=places,
        pair_place=pairs[:, 0],
        pair_day=pairs[:, 1],
        pair_east=east[first],
    )


def _latent(first_day: int, last_day: int, draws: int, seed: int) -> _Latent:
    """Latent weather for the days from `first_day` to `last_day`.

    Each day has its own random stream, laid out draw after draw; the memory is run in from
    30 days before, by when nothing is left of how it began.
    """
    numbers = [_normals(day, draws, seed) for day in range(first_day - _BURN_IN_DAYS, last_day + 1)]
    noise = np.stack(numbers)  # (N, D, 27)
    hours = noise[:, :, 3:].transpose(0, 2, 1).reshape(-1, draws)
    return _Latent(
        first_day=first_day,
        brightness=_remembering(noise[:, :, 0], _MEMORY_KT)[_BURN_IN_DAYS:],
        warmth=_remembering(noise[:, :, 1], _MEMORY_TEMPERATURE)[_BURN_IN_DAYS:],
        width=noise[_BURN_IN_DAYS:, :, 2],
        clouds=_remembering(hours, _MEMORY_CLOUD)[24 * _BURN_IN_DAYS :],
    )


def _normals(day: int, draws: int, seed: int) -> Floats:
    """Independent standard normal numbers of one day, shape (D, 27)."""
    stream = np.random.Generator(np.random.Philox(np.random.SeedSequence([seed, day + _DAY_ZERO])))
    uniform = stream.random((draws, _NORMALS_PER_DAY))
    # random() is in [0, 1); half a step of its grid keeps the ends out.
    return np.asarray(ndtri(uniform + 2.0**-54))


def _remembering(noise: Floats, memory: float) -> Floats:
    """First-order autoregression along axis 0 with unit variance throughout."""
    out = np.empty_like(noise)
    out[0] = noise[0]
    fresh = np.sqrt(1.0 - memory**2) * noise
    for i in range(1, len(noise)):
        out[i] = memory * out[i - 1] + fresh[i]
    return out


def _month_weights(date: Floats) -> tuple[Ints, Ints, Floats]:
    """The two months whose middles lie around a date, and the weight of the later.

    Parameters
    ----------
    date : ndarray
        [days since 1970-01-01]

    Returns
    -------
    earlier, later, weight : ndarray
        Months from 0 to 11.
    """
    months = np.floor(date).astype("datetime64[D]").astype("datetime64[M]")
    first = months.astype("datetime64[D]").astype(np.float64)
    length = (months + 1).astype("datetime64[D]").astype(np.float64) - first
    position_in_year = months.astype(np.int64) + (date - first) / length - 0.5
    earlier = np.floor(position_in_year)
    index = earlier.astype(np.int64)
    return index % 12, (index + 1) % 12, position_in_year - earlier


def _between_months(table: Floats, date: Floats, rows: Ints) -> Floats:
    """A monthly table at dates, straight between the middles of the months.

    Parameters
    ----------
    table : ndarray, shape (P, 12, ...)
    date : ndarray, shape (R,)
        [days since 1970-01-01]
    rows : ndarray of int, shape (R,)
        Row of the table for each date.

    Returns
    -------
    ndarray, shape (R, ...)
    """
    earlier, later, weight = _month_weights(date)
    nodes = np.einsum("mn,pn...->pm...", _NODES, table)
    weight = weight.reshape(-1, *([1] * (table.ndim - 2)))
    return np.asarray((1.0 - weight) * nodes[rows, earlier] + weight * nodes[rows, later])


def _mean_keeping_nodes() -> Floats:
    """Matrix from monthly means to the mid-month values that have these means, (12, 12).

    The mean over a month of lines through mid-month values is 1/8, 3/4, 1/8 of the values
    before, in and after it.
    """
    one = np.eye(12)
    mean_of = 0.75 * one + 0.125 * (np.roll(one, 1, axis=0) + np.roll(one, -1, axis=0))
    return np.asarray(np.linalg.inv(mean_of))


_NODES = _mean_keeping_nodes()


def _day_quantiles(day: Ints, place: Ints, climate: PointClimate) -> Floats:
    """KT quantiles of days, shape (R, 11)."""
    quantiles = _between_months(climate.clearness, np.asarray(day + 0.5), place)
    lowest, highest = climate.clearness.min(), climate.clearness.max()
    return np.maximum.accumulate(np.clip(quantiles, lowest, highest), axis=1)


def _widened(quantiles: Floats, probabilities: Floats, altitude_m: Floats) -> Floats:
    """Quantiles spread by 1.1 about their mean, (R, 11)."""
    weights = mean_weights(probabilities)
    mean = (quantiles @ weights)[:, None]
    brightest = (0.75 + 2e-5 * altitude_m)[:, None]
    wide = np.clip(mean + _PRUDENT_SPREAD * (quantiles - mean), 0.0, brightest)
    return np.minimum(wide * mean / (wide @ weights)[:, None], brightest)


def _mapped(normal: Floats, quantiles: Floats, probabilities: Floats) -> Floats:
    """Quantile function of each row at normal numbers.

    Parameters
    ----------
    normal : ndarray, shape (R, D)
    quantiles : ndarray, shape (R, Q)
    probabilities : ndarray, shape (Q,)

    Returns
    -------
    ndarray, shape (R, D)
        Straight between quantiles, flat beyond the outer two.
    """
    rank = ndtr(normal)
    out = np.repeat(quantiles[:, :1], normal.shape[1], axis=1)
    slopes = np.diff(quantiles, axis=1) / np.diff(probabilities)
    for i, low in enumerate(probabilities[:-1]):
        out += slopes[:, i : i + 1] * np.clip(rank - low, 0.0, probabilities[i + 1] - low)
    return out


def _global_irradiance(
    track: Track, sun: Sun, days: _Days, clearness: Floats, latent: _Latent
) -> Floats:
    """GHI of every step. [W/m2], shape (H, D)

    Parameters
    ----------
    clearness : ndarray, shape (R, D)
        Daily KT of every pair.
    """
    share, clear_clearness = _clear_days(days, track)
    first_hour = np.floor((days.pair_day * _DAY_S - days.pair_east * 240.0) / 3600.0)
    first_hour = first_hour.astype(np.int64)
    latent_hour = first_hour[:, None] + np.arange(_BINS) - 24 * latent.first_day
    clear_index = clearness / np.maximum(clear_clearness, 1e-6)[:, None]
    hourly = _hours_of_day(clear_index, share, latent.clouds[latent_hour])
    step_bin = np.floor(track.mid_unix / 3600.0).astype(np.int64) - first_hour[days.pair]
    ghi = clear_sky(track, sun)[0][:, None] * hourly[days.pair, np.clip(step_bin, 0, _BINS - 1)]
    return np.asarray(np.minimum(ghi, sun.ghi_extra[:, None]))


def _clear_days(days: _Days, track: Track) -> tuple[Floats, Floats]:
    """How clear-sky irradiance falls over the hours of each pair's day.

    Returns
    -------
    share : ndarray, shape (R, 25)
        Of the day's clear-sky sum, by UTC hour; each row sums to 1, or 0 in polar night.
    clear_clearness : ndarray, shape (R,)
        Clear-sky sum over extraterrestrial sum of the whole day; 0 in polar night.
    """
    steps = _DAY_S // (60 * _GRID_MINUTES)
    pairs = len(days.pair_day)
    start = np.round(days.pair_day * _DAY_S - days.pair_east * 240.0).astype(np.int64)
    seconds = start[:, None] + np.arange(steps) * 60 * _GRID_MINUTES
    here = np.repeat(days.places[days.pair_place], steps, axis=0)
    grid = Track(seconds.reshape(-1).astype("datetime64[s]"), _GRID_MINUTES, *here.T)
    sun = position(grid)
    clear = np.minimum(clear_sky(grid, sun)[0], sun.ghi_extra).reshape(pairs, steps)
    extra = sun.ghi_extra.reshape(pairs, steps).sum(axis=1)
    middle = seconds + 30 * _GRID_MINUTES
    hour = middle // 3600 - (start // 3600)[:, None]
    flat = np.arange(pairs)[:, None] * _BINS + np.clip(hour, 0, _BINS - 1)
    by_hour = np.bincount(flat.ravel(), clear.ravel(), pairs * _BINS).reshape(pairs, _BINS)
    total = by_hour.sum(axis=1)
    return (
        by_hour / np.where(total > 0.0, total, 1.0)[:, None],
        total / np.where(extra > 0.0, extra, 1.0),
    )


def _hours_of_day(clear_index: Floats, share: Floats, clouds: Floats) -> Floats:
    """Hourly clear-sky index of days whose mean index is given.

    Parameters
    ----------
    clear_index : ndarray, shape (R, D)
        Irradiation of the day over that of a clear day.
    share : ndarray, shape (R, 25)
        Weight of each hour in the day.
    clouds : ndarray, shape (R, 25, D)
        Standard normal.

    Returns
    -------
    ndarray, shape (R, 25, D)
        Its mean, weighted with `share`, is `clear_index`.

    Notes
    -----
    On the logit scale between 0 and the brightest hour the clouds are added to a level; the
    spread is thus widest on broken-cloud days and vanishes on overcast and on clear ones. The
    level is found by fixed-point steps on that scale, which shrink the error by five each.
    """
    top = np.maximum(_BRIGHTEST_HOUR, 1.03 * clear_index)
    target = np.clip(clear_index / top, 1e-4, 1.0 - 1e-4)
    swing = _CLOUD_SPREAD * clouds
    level = logit(target)
    for _ in range(5):
        mean = np.einsum("rb,rbd->rd", share, expit(level[:, None] + swing))
        level += logit(target) - logit(np.clip(mean, 1e-6, 1.0 - 1e-6))
    return np.asarray(top[:, None] * expit(level[:, None] + swing))


def _temperature(days: _Days, climate: PointClimate, latent: _Latent) -> Floats:
    """Air temperature of every step. [deg C], shape (H, D)"""
    mean = _between_months(climate.temperature_c, days.clock, days.place)
    width = _between_months(climate.temperature_range_c, days.clock, days.place)
    spread = _day_to_day_spread(days, climate)
    noon = days.clock - 0.5 - latent.first_day
    before = np.floor(noon).astype(np.int64)
    weight = (noon - before)[:, None]
    # Straight between noons, scaled to keep its variance.
    keep = np.sqrt((1 - weight) ** 2 + weight**2 + 2 * weight * (1 - weight) * _MEMORY_TEMPERATURE)
    warmth = ((1 - weight) * latent.warmth[before] + weight * latent.warmth[before + 1]) / keep
    swing = _daily_swing(days, climate, latent)
    return np.asarray(mean[:, None] + spread[:, None] * warmth + width[:, None] * swing)


def _day_to_day_spread(days: _Days, climate: PointClimate) -> Floats:
    """Standard deviation of the daily mean temperature about the month's. [K], shape (H,)

    From the distance between the warmest and the coldest month, fitted on the stations (RMSE
    1.2 K on the half that was not fitted).
    """
    yearly = np.ptp(climate.temperature_c, axis=1)[days.place]
    south = days.places[days.place, 0] < 0.0
    january = days.clock.astype("datetime64[D]").astype("datetime64[Y]").astype("datetime64[D]")
    year_share = (days.clock - january.astype(np.float64) - 15.0) / 365.25 + 0.5 * south
    return np.asarray(0.7 + yearly * (0.138 + 0.058 * np.cos(2.0 * np.pi * year_share)))


def _daily_swing(days: _Days, climate: PointClimate, latent: _Latent) -> Floats:
    """Temperature about its daily mean, in daily ranges, shape (H, D).

    Lowest at sunrise, highest at half past two, half cosines between (C. T. de Wit et al.,
    Simulation of assimilation, respiration and transpiration of crops, 1978).
    """
    factor = _range_factor(days, climate, latent)
    hour = (days.clock - days.day) * 24.0
    sunrise = _sunrise_hour(days)
    rising = (hour >= sunrise) & (hour < _WARMEST_HOUR)
    climb = (hour - sunrise) / (_WARMEST_HOUR - sunrise)
    fall = ((hour - _WARMEST_HOUR) % 24.0) / (24.0 - _WARMEST_HOUR + sunrise)
    height = 0.5 - 0.5 * np.cos(np.pi * np.where(rising, climb, 1.0 - fall))
    today = days.day - latent.first_day
    crest = today - (hour < sunrise)
    trough = today + (hour >= _WARMEST_HOUR)
    height = height[:, None]
    return np.asarray(0.5 * (factor[crest] * height - factor[trough] * (1.0 - height)))


def _sunrise_hour(days: _Days) -> Floats:
    """Local solar time of sunrise, kept between 3 and 9 for the temperature's sake. (H,)"""
    angle = 2.0 * np.pi * (days.clock / 365.2425 % 1.0 + 10.0 / 365.2425)
    declination = np.radians(-23.44) * np.cos(angle)
    phi = np.radians(np.clip(days.places[days.place, 0], -89.0, 89.0))
    half_day = np.arccos(np.clip(-np.tan(phi) * np.tan(declination), -1.0, 1.0))
    return np.asarray(np.clip(12.0 - half_day * 12.0 / np.pi, 3.0, 9.0))


def _range_factor(days: _Days, climate: PointClimate, latent: _Latent) -> Floats:
    """Daily temperature range over the month's mean, (N, D): wide on bright days.

    A day has one factor, that of the place where the van is first seen on it; the days before
    and after the track take the first and the last place.
    """
    number = np.arange(len(latent.brightness)) + latent.first_day
    first_step = np.clip(np.searchsorted(days.day, number), 0, len(days.day) - 1)
    place = days.place[first_step]
    quantiles = _day_quantiles(number, place, climate)
    mean = quantiles @ mean_weights(climate.probabilities)
    clearness = _mapped(latent.brightness, quantiles, climate.probabilities)
    bright = clearness / mean[:, None] - 1.0
    factor = 1.0 + _RANGE_FOLLOWS_KT * bright + _RANGE_SCATTER * latent.width
    return np.asarray(np.clip(factor, *_RANGE_BOUNDS))


def _about(track: Track, draws: int, seed: int, prudent: bool) -> tuple[str, ...]:
    """What the report says of this weather."""
    lines = [
        f"{draws} possible weathers drawn with seed {seed} from the built-in world climate: "
        "daily sunshine of the MERRA-2 reanalysis 2011 to 2015 corrected against weather "
        "stations, monthly temperatures of ITU-R P.1510-1.",
        "A month's mean sunshine is good to about 10 % (one standard deviation), its mean "
        "temperature to 1.4 K and its daily temperature range to 1.9 K.",
    ]
    if np.abs(track.latitude).max() > 60.0:
        lines.append(
            "Beyond 60 degrees of latitude the sunshine is less certain, about 20 %, and in "
            "polar night there is none."
        )
    if prudent:
        lines.append("The spread between bright and dark days is widened by a tenth (prudent).")
    return tuple(lines)
