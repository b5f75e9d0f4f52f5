"""The climate of one place, month by month, as a person reads it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from sim.arrays import Floats
from sim.errors import WeatherError
from sim.places.altitude import altitude_m as ground_m
from sim.places.lookup import Place
from sim.sky.climate.corrections import as_share, doubt_of_years
from sim.sky.climate.tables import brightest_clearness, months_of_sun, point_climate


@dataclass(frozen=True)
class MonthlyClimate:
    """The climate of one place, month by month; every array has shape (12,).

    Attributes
    ----------
    ghi_kwh_m2_day : ndarray
        Mean daily irradiation on flat ground. [kWh/m2/day]
    clearness_index : ndarray
        The same as a share of what falls outside the atmosphere.
    clearness_quantiles : ndarray, shape (12, 11)
        Of the single days, at `probabilities`.
    probabilities : ndarray, shape (11,)
    temperature_c : ndarray
        Mean temperature. [deg C]
    temperature_range_c : ndarray
        Mean of the daily range. [K]
    daylight_h : ndarray
        Mean time from sunrise to sunset. [h]
    ghi_doubt, ghi_doubt_with_file : ndarray
        One standard deviation of a month's sunshine in one year, as a share of it: as the draws
        have it, and where a weather file of the place leaves the difference between years.
    """

    ghi_kwh_m2_day: Floats
    clearness_index: Floats
    clearness_quantiles: Floats
    probabilities: Floats
    temperature_c: Floats
    temperature_range_c: Floats
    daylight_h: Floats
    ghi_doubt: Floats
    ghi_doubt_with_file: Floats


def monthly(latitude: float, longitude: float, altitude_m: float) -> MonthlyClimate:
    """The climate of one place, month by month.

    Parameters
    ----------
    latitude, longitude : float
        North and east positive. [degrees]
    altitude_m : float
        Height above sea level. [m]

    Returns
    -------
    MonthlyClimate

    Raises
    ------
    WeatherError
        It lies in the open sea or on the inner ice.
    """
    here = point_climate(np.array([latitude]), np.array([longitude]), np.array([altitude_m]))
    extra, daylight = months_of_sun(np.array([latitude]))
    mean = here.clearness_mean[0]
    brightest = brightest_clearness(np.array([altitude_m]))
    return MonthlyClimate(
        ghi_kwh_m2_day=mean * extra[0] / 1000.0,
        clearness_index=mean,
        clearness_quantiles=here.clearness[0],
        probabilities=here.probabilities,
        temperature_c=here.temperature_c[0],
        temperature_range_c=here.temperature_range_c[0],
        daylight_h=daylight[0],
        ghi_doubt=as_share(here.doubt.total, here.clearness_mean, brightest)[0],
        ghi_doubt_with_file=as_share(doubt_of_years(1).total, here.clearness_mean, brightest)[0],
    )


@lru_cache(maxsize=256)  # a talk asks for the same nights with every question
def usual_night_c(place: Place, month: int) -> float | None:
    """How cold the nights of a month usually get; None where a place has no climate. [deg C]

    Parameters
    ----------
    place : Place
    month : int
        From 1.
    """
    height = place.altitude_m
    if height is None:
        height = float(ground_m(np.array([place.latitude]), np.array([place.longitude]))[0])
    try:
        found = monthly(place.latitude, place.longitude, height)
    except WeatherError:
        return None
    return float(found.temperature_c[month - 1] - found.temperature_range_c[month - 1] / 2.0)
