"""What the hours of a weather file say of its station's months."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from sim.arrays import Bools, Floats, Ints
from sim.sky.climate.measured import MeasuredDays, MeasuredMonths, measured_months, month_of_day
from sim.sky.files.reader import WeatherYears
from sim.sky.sun_means import mean_sun, sun_clock

# Days of a month that say what that month is like: of half an April the other half is warmer.
LEAST_DAYS = 20


@lru_cache(maxsize=4)
def station_months(years: WeatherYears) -> MeasuredMonths:
    """The months of a file's station, from all days that it covers whole.

    A month of which it has no day is read between its neighbours. Worked out once for a file
    that lies under many trips.
    """
    day_of_year, column = np.nonzero(_whole_days(years))
    light = _by_day(years.ghi).sum(axis=1)
    air = _by_day(years.temp_air)
    outside = np.stack([_outside(years, at) for at in range(len(years.years))], axis=1)
    days = MeasuredDays(
        day_of_year=day_of_year.astype(np.int64),
        light=light[day_of_year, column],
        light_outside=outside[day_of_year, column],
        mean_c=air.mean(axis=1)[day_of_year, column],
        range_k=np.ptp(air, axis=1)[day_of_year, column],
    )
    return measured_months(days, years.altitude_m)


def days_known(years: WeatherYears) -> Ints:
    """Whole days that the file covers of each month, over all its years. shape (12,)"""
    day_of_year = np.nonzero(_whole_days(years))[0].astype(np.int64)
    return np.bincount(month_of_day(day_of_year), minlength=12)


def _by_day(hours: Floats) -> Floats:
    """Hours of years as days. shape (365, 24, Y)"""
    return hours.reshape(365, 24, -1)


def _whole_days(years: WeatherYears) -> Bools:
    """Days of which every hour is known. shape (365, Y)"""
    return np.asarray(~np.isnan(_by_day(years.ghi)).any(axis=1))


def _outside(years: WeatherYears, column: int) -> Floats:
    """Sum of each day outside the atmosphere, on the level. [Wh/m2], shape (365,)"""
    clock = sun_clock(years.start_utc(column), 60)
    cosine, _ = mean_sun(clock, years.latitude, years.longitude, -0.5, 0.5)
    return np.asarray((cosine * clock.dni_extra).reshape(365, 24).sum(axis=1))
