"""Air temperature of drawn weather: the month, the spell of days, the time of day."""

from __future__ import annotations

import numpy as np

from sim.arrays import Floats, Ints
from sim.sky.climate.days import LocalDays, on_date
from sim.sky.climate.slow import Season
from sim.sky.climate.tables import PointClimate

# The shape of the day and the shares below are fitted to typical-year files of North America.
_WARMEST_HOUR = 14.3  # local solar time
_RISE_POWER, _FALL_POWER = 0.85, 0.7  # the evening cools faster than a cosine
_MEAN_HEIGHT = 0.46  # of that shape, between 0 at sunrise and 1 at its warmest
_SUNRISE_BOUNDS = (3.0, 9.0)  # local solar time, for the temperature's sake
_RANGE_FOLLOWS_KT = 0.63  # share of a day's relative brightness seen in its temperature range
_RANGE_SCATTER = 0.29  # what is left, relative to the month's mean range
_RANGE_BOUNDS = (0.2, 2.0)  # of the month's mean range
# Spells that outlast a month hide in its mean: 30 days show 0.9 of the spread there is.
_WHOLE_SPREAD = 1.11
# The spells of days add to the range of a day what is left out here.
_SWING = 0.93
# How unsure the level of a whole season is: what the table leaves open of a place's mean
# temperature and what years add to their spells; and how unsure the mean daily range is,
# relative. Chosen so that fortnights of stations left out fall evenly among the drawn ones: of
# 2,196 lowest temperatures 19 % lay below the drawn 10 % before, 13 % with both.
_SEASON_K = 0.8
_PLACE_RANGE = 0.2


def spell_weights(clock: Floats, first_day: int, memory: float) -> tuple[Ints, Floats, Floats]:
    """How the numbers of two days mix at a time between their noons.

    Parameters
    ----------
    clock : ndarray, shape (H,)
        Local solar time. [days since 1970-01-01]
    first_day : int
        Day of the first number.
    memory : float
        Correlation of one day's number with the next.

    Returns
    -------
    row, weight, next_weight : ndarray, shape (H,)
        Weight of number `row` and of the one after it: straight from noon to noon, scaled so
        that the variance stays 1.
    """
    noons = clock - 0.5 - first_day
    row = np.floor(noons).astype(np.int64)
    later = noons - row
    scale = np.sqrt((1.0 - later) ** 2 + later**2 + 2.0 * later * (1.0 - later) * memory)
    return row, (1.0 - later) / scale, later / scale


def air_temperature(
    days: LocalDays, climate: PointClimate, warmth: Floats, range_factor: Floats, season: Season
) -> Floats:
    """Air temperature of every step in every draw.

    Parameters
    ----------
    days : LocalDays
        H steps at P places.
    climate : PointClimate
        Of the P places.
    warmth : ndarray, shape (H, D)
        How warm the spell is, standard normal.
    range_factor : ndarray, shape (N, D)
        Daily range over the month's mean, for the local days from `first_day` on; the day
        before the track and the day after it are among them.
    season : Season
        From the same day on.

    Returns
    -------
    ndarray, shape (H, D)
        [deg C]
    """
    mean = on_date(climate.temperature_c, days.clock, days.place)
    width = on_date(climate.temperature_range_c, days.clock, days.place)
    swing = _daily_swing(days, range_factor, season.first_day)
    spread = _spell_spread(days, climate)
    noon = days.clock - 0.5 - season.first_day
    row = np.floor(noon).astype(np.int64)
    later = (noon - row)[:, None]
    slow = _SEASON_K * ((1.0 - later) * season.warm[row] + later * season.warm[row + 1])
    spells = spread[:, None] * warmth
    return np.asarray(mean[:, None] + slow + spells + _SWING * width[:, None] * swing)


def daily_range_factor(brightness: Floats, scatter: Floats, wide: Floats) -> Floats:
    """Daily temperature range over the month's mean: wide on bright days.

    Parameters
    ----------
    brightness : ndarray, shape (N, D)
        Daily KT over the month's mean KT.
    scatter : ndarray, shape (N, D)
        Standard normal.
    wide : ndarray, shape (D,)
        How wide the days of this place are against the table, standard normal.

    Returns
    -------
    ndarray, shape (N, D)
    """
    factor = 1.0 + _RANGE_FOLLOWS_KT * (brightness - 1.0) + _RANGE_SCATTER * scatter
    place = np.exp(_PLACE_RANGE * wide - 0.5 * _PLACE_RANGE**2)
    return np.asarray(np.clip(factor, *_RANGE_BOUNDS) * place)


def _spell_spread(days: LocalDays, climate: PointClimate) -> Floats:
    """Standard deviation of the daily mean temperature about the month's. [K], shape (H,)

    Where it was not measured, from the distance between the warmest and the coldest month and
    the season, fitted on stations; RMSE 1.2 K on those left out of the fit.
    """
    if climate.spell_spread_k is not None:
        return _WHOLE_SPREAD * on_date(climate.spell_spread_k, days.clock, days.place)
    yearly = np.ptp(climate.temperature_c, axis=1)[days.place]
    january = days.clock.astype("datetime64[D]").astype("datetime64[Y]").astype("datetime64[D]")
    south = days.latitude[days.place] < 0.0
    since_mid_january = days.clock - january.astype(np.float64) - 15.0 + 182.6 * south
    season = np.cos(2.0 * np.pi * since_mid_january / 365.25)
    return np.asarray(_WHOLE_SPREAD * (0.7 + yearly * (0.138 + 0.058 * season)))


def _daily_swing(days: LocalDays, range_factor: Floats, first_day: int) -> Floats:
    """Temperature about its daily mean, in mean daily ranges, shape (H, D).

    Lowest at sunrise, highest in the afternoon; each climb and each fall joins the trough and
    the crest of the days it lies between, so that nothing jumps at midnight.
    """
    hour = (days.clock - days.day) * 24.0
    sunrise = _sunrise_hour(days)
    rising = (hour >= sunrise) & (hour < _WARMEST_HOUR)
    climb = np.clip((hour - sunrise) / (_WARMEST_HOUR - sunrise), 0.0, 1.0)
    fall = (hour - _WARMEST_HOUR) % 24.0 / (24.0 - _WARMEST_HOUR + sunrise)
    phase = np.where(rising, climb**_RISE_POWER, 1.0 - np.clip(fall, 0.0, 1.0) ** _FALL_POWER)
    height = (0.5 - 0.5 * np.cos(np.pi * phase))[:, None]
    today = days.day - first_day
    crest = range_factor[today - (hour < sunrise)]
    trough = range_factor[today + (hour >= _WARMEST_HOUR)]
    return np.asarray(
        crest * (1.0 - _MEAN_HEIGHT) * height - trough * _MEAN_HEIGHT * (1.0 - height)
    )


def _sunrise_hour(days: LocalDays) -> Floats:
    """Local solar time of sunrise within bounds. [h], shape (H,)"""
    # Declination as a cosine of the year, within a degree: enough for the hour of sunrise.
    angle = 2.0 * np.pi * (days.clock + 10.0) / 365.2425
    declination = np.radians(-23.44) * np.cos(angle)
    phi = np.radians(np.clip(days.latitude[days.place], -89.0, 89.0))
    half_day = np.arccos(np.clip(-np.tan(phi) * np.tan(declination), -1.0, 1.0))
    return np.asarray(np.clip(12.0 - half_day * 12.0 / np.pi, *_SUNRISE_BOUNDS))
