"""Twelve months of climate as one station measured them, in the form the draws read.

One year of a station says how bright, how warm and how changeable each month is there. It does
not say how one year differs from the next, nor give a second fortnight for a trip's dates: that
is the weather generator's part.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.arrays import Bools, Floats, Ints
from sim.sky.climate.corrections import doubt_of_years
from sim.sky.climate.days import on_date
from sim.sky.climate.tables import (
    DARKEST_CLEARNESS,
    LAPSE_K_PER_M,
    PointClimate,
    brightest_clearness,
    probabilities,
    quantile_mean,
)

# Days of the month before and after count for the shape of a month's distribution: 30 days
# alone know their own spread to about 13 %, 90 days to 8 %.
_NEAR_MONTHS = (-1, 0, 1)
_LEAST_ROOM = 0.01  # of clearness, that the mean stays below a cloudless day's
_LEAST_SPREAD_K = 0.3


@dataclass(frozen=True)
class MeasuredMonths:
    """The months of one station.

    Attributes
    ----------
    altitude_m : float
        Of the station. [m]
    clearness : ndarray, shape (12, Q)
        Quantiles of the daily clearness index, at `tables.probabilities`.
    temperature_c, temperature_range_c : ndarray, shape (12,)
        Mean temperature [deg C] and mean daily range [K].
    spell_spread_k : ndarray, shape (12,)
        Standard deviation of the days' mean temperatures about the season's course. [K]
    """

    altitude_m: float
    clearness: Floats
    temperature_c: Floats
    temperature_range_c: Floats
    spell_spread_k: Floats

    def at(self, altitude_m: Floats) -> PointClimate:
        """The same months at P altitudes: as clear as at the station, and as warm as the standard
        atmosphere makes it. [m], shape (P,)"""
        count = len(altitude_m)
        brightest = brightest_clearness(altitude_m)[:, None] - _LEAST_ROOM
        mean = quantile_mean(self.clearness, probabilities())
        dim = np.minimum(brightest / mean, 1.0)[:, :, None]
        higher_m = (altitude_m - self.altitude_m)[:, None]
        return PointClimate(
            probabilities=probabilities(),
            clearness=dim * self.clearness,
            temperature_c=self.temperature_c - LAPSE_K_PER_M * higher_m,
            temperature_range_c=np.tile(self.temperature_range_c, (count, 1)),
            cell_km=np.zeros(count),
            doubt=doubt_of_years(count),
            spell_spread_k=np.tile(self.spell_spread_k, (count, 1)),
            measured=True,
        )


@dataclass(frozen=True)
class MeasuredDays:
    """Days of a station, N of them, of any years.

    Attributes
    ----------
    day_of_year : ndarray of int, shape (N,)
        0 for 1 January, in a year of 365 days.
    light, light_outside : ndarray, shape (N,)
        Sum of the day on the ground and outside the atmosphere. [Wh/m2]
    mean_c, range_k : ndarray, shape (N,)
        Mean temperature [deg C] and highest less lowest hour [K].
    """

    day_of_year: Ints
    light: Floats
    light_outside: Floats
    mean_c: Floats
    range_k: Floats


def measured_months(days: MeasuredDays, altitude_m: float) -> MeasuredMonths:
    """What a station's days say of its months.

    Parameters
    ----------
    days : MeasuredDays
        With at least one day.
    altitude_m : float
        Of the station. [m]

    Returns
    -------
    MeasuredMonths
        A month without a day, or the sun of one without light, is read between its neighbours.
    """
    month = month_of_day(days.day_of_year)
    light, outside, count = (
        np.bincount(month, weights, 12) for weights in (days.light, days.light_outside, None)
    )
    known = count > 0
    lit = outside > 1.0
    mean = _between(np.divide(light, outside, out=np.full(12, np.nan), where=lit))
    per_day = np.maximum(count, 1)
    warm = _between(np.where(known, np.bincount(month, days.mean_c, 12) / per_day, np.nan))
    wide = _between(np.where(known, np.bincount(month, days.range_k, 12) / per_day, np.nan))
    date = np.asarray(days.day_of_year + 0.5, dtype=np.float64)
    # Both run in straight lines through the months, as the draws read them.
    course = on_date(warm[None], date, np.zeros(len(date), dtype=np.int64))
    bright = on_date(mean[None], date, np.zeros(len(date), dtype=np.int64))
    seen = days.light_outside > 1.0
    ratio = np.divide(days.light, days.light_outside, out=np.ones(len(date)), where=seen)
    ratio = ratio / np.maximum(bright, DARKEST_CLEARNESS)
    return MeasuredMonths(
        altitude_m=altitude_m,
        clearness=_quantiles(mean, ratio, month, seen),
        temperature_c=warm,
        temperature_range_c=wide,
        spell_spread_k=_spread(days.mean_c - course, month),
    )


def month_of_day(day_of_year: Ints) -> Ints:
    """Month, 0 to 11, of days of a year of 365 days."""
    dates = np.datetime64("2001-01-01", "D") + day_of_year.astype("timedelta64[D]")
    return np.asarray(dates.astype("datetime64[M]").astype(np.int64) % 12)


def _between(months: Floats) -> Floats:
    """Twelve months with the unknown ones read between their neighbours, round the year."""
    known = np.flatnonzero(~np.isnan(months))
    return np.asarray(np.interp(np.arange(12), known, months[known], period=12))


def _near(values: Floats, month: Ints, at: int) -> Floats:
    """Values of a month and of those beside it; of all where these hold none."""
    near = np.isin(month, [(at + step) % 12 for step in _NEAR_MONTHS])
    return values[near] if near.any() else values


def _quantiles(mean: Floats, ratio: Floats, month: Ints, seen: Bools) -> Floats:
    """Quantiles of the clearness index with the months' own means, shape (12, Q).

    `ratio` is each day's clearness over what the season gives on its date.
    """
    out = np.empty((12, len(probabilities())))
    for at in range(12):
        some = _near(ratio[seen], month[seen], at)
        drawn = np.quantile(some, probabilities()) if len(some) else np.ones(out.shape[1])
        out[at] = mean[at] * drawn / quantile_mean(drawn, probabilities())
    return np.maximum(out, DARKEST_CLEARNESS)


def _spread(apart: Floats, month: Ints) -> Floats:
    """Standard deviation of the days about the season's course. [K], shape (12,)"""
    spread = [np.sqrt(np.mean(_near(apart, month, at) ** 2)) for at in range(12)]
    return np.maximum(spread, _LEAST_SPREAD_K)
