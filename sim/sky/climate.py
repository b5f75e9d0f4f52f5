"""The world climate that comes with the program: sun and temperature of any land, any month.

Tables under ``profiles/climate`` (built by the script there) hold quantiles of the daily
clearness index KT, from the MERRA-2 reanalysis on cells of 3 degrees, and the monthly mean
temperature of ITU-R P.1510-1. Read at a point they are corrected for what the reanalysis is
known to get wrong.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from sim.errors import WeatherError
from sim.job.shelf import profiles_dir
from sim.sky.track import Floats
from sim.units import EARTH_RADIUS_KM

LAPSE_K_PER_M = 6.5e-3  # K/m, ICAO standard atmosphere; the tables are reduced with it
REACH_KM = 400.0  # beyond this the nearest cell says nothing about a place
_KT_PER_COUNT = 1.0 / 250.0  # as stored by the build script
_KELVIN_PER_COUNT = 0.1
_NODE_TOLERANCE = 1e-9  # degrees
_LEAST_KT = 0.03  # darkest day; a day under the heaviest cloud still has some light

# The reanalysis lets too much sun through in mild weather (monthly GHI +9 % against 100
# stations), not in hot weather, and less so in cold. The factor was fitted on half of the
# stations' cells and tested on the other half: RMSE 14.7 % before, 9.8 % after.
_SUN_FACTOR_MILD = 0.895
_SUN_FACTOR_COLD = 0.15  # added in full at -10 deg C
_SUN_FACTOR_HOT = 0.10  # added in full at 28 deg C

# Daily range of the temperature from the month's mean KT, straight line fitted on the same
# stations: RMSE 1.9 K.
_RANGE_K = 1.4
_RANGE_K_PER_KT = 18.2
_RANGE_K_COAST = -2.45


@dataclass(frozen=True)
class PointClimate:
    """Twelve months of climate at P points.

    Attributes
    ----------
    probabilities : ndarray, shape (11,)
        Of the quantiles in `clearness`.
    clearness : ndarray, shape (P, 12, 11)
        Quantiles of the daily clearness index KT.
    temperature_c : ndarray, shape (P, 12)
        Mean temperature. [deg C]
    temperature_range_c : ndarray, shape (P, 12)
        Mean of the daily range, highest minus lowest. [K]
    """

    probabilities: Floats
    clearness: Floats
    temperature_c: Floats
    temperature_range_c: Floats

    @property
    def clearness_mean(self) -> Floats:
        """Mean daily clearness index, shape (P, 12)."""
        return np.asarray(self.clearness @ mean_weights(self.probabilities))


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
    """

    ghi_kwh_m2_day: Floats
    clearness_index: Floats
    clearness_quantiles: Floats
    probabilities: Floats
    temperature_c: Floats
    temperature_range_c: Floats
    daylight_h: Floats


@dataclass(frozen=True)
class _Tables:
    probabilities: Floats  # (11,)
    clearness: NDArray[np.uint8]  # (44, 120, 12, 11), zero where there is no land
    clearness_latitude: Floats  # (44,)
    clearness_longitude: Floats  # (120,)
    sea_level_temperature: NDArray[np.int16]  # (12, 121, 240)
    coast: NDArray[np.uint8]  # (720, 180), bits along longitude


@cache
def _tables() -> _Tables:
    with np.load(profiles_dir() / "climate" / "climate.npz") as file:
        return _Tables(**{name: file[name] for name in _Tables.__dataclass_fields__})


def mean_weights(probabilities: Floats) -> Floats:
    """Weights that turn quantiles into the mean of their distribution.

    Parameters
    ----------
    probabilities : ndarray, shape (Q,)

    Returns
    -------
    ndarray, shape (Q,)
        They sum to 1. The distribution is taken as straight between its quantiles and flat
        beyond the outer two, as the weather generator draws it.
    """
    edges = np.concatenate([[0.0], (probabilities[1:] + probabilities[:-1]) / 2.0, [1.0]])
    return np.diff(edges)


def point_climate(latitude: Floats, longitude: Floats, altitude_m: Floats) -> PointClimate:
    """Climate at points.

    Parameters
    ----------
    latitude, longitude : ndarray, shape (P,)
        North and east positive. [degrees]
    altitude_m : ndarray, shape (P,)
        Height above sea level. [m]

    Returns
    -------
    PointClimate

    Raises
    ------
    WeatherError
        No land with data within 400 km of a point.
    """
    tables = _tables()
    temperature = _temperature(tables, latitude, longitude) - LAPSE_K_PER_M * altitude_m[:, None]
    raw = _clearness(tables, latitude, longitude)
    brightest = 0.75 + 2e-5 * altitude_m  # FAO-56 eq. 37, clear-sky share
    factor = _sun_factor(temperature)[:, :, None]
    clearness = np.clip(raw * factor, _LEAST_KT, brightest[:, None, None])
    mean = clearness @ mean_weights(tables.probabilities)
    coast = _on_coast(tables, latitude, longitude)[:, None]
    return PointClimate(
        probabilities=tables.probabilities,
        clearness=clearness,
        temperature_c=temperature,
        temperature_range_c=_RANGE_K + _RANGE_K_PER_KT * mean + _RANGE_K_COAST * coast,
    )


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
        No land with data within 400 km.
    """
    here = point_climate(np.array([latitude]), np.array([longitude]), np.array([altitude_m]))
    extra, daylight = _months_of_sun(latitude)
    mean = here.clearness_mean[0]
    return MonthlyClimate(
        ghi_kwh_m2_day=mean * extra / 1000.0,
        clearness_index=mean,
        clearness_quantiles=here.clearness[0],
        probabilities=here.probabilities,
        temperature_c=here.temperature_c[0],
        temperature_range_c=here.temperature_range_c[0],
        daylight_h=daylight,
    )


def _sun_factor(temperature_c: Floats) -> Floats:
    cold = np.clip(-temperature_c / 10.0, 0.0, 1.0)
    hot = np.clip((temperature_c - 20.0) / 8.0, 0.0, 1.0)
    return _SUN_FACTOR_MILD + _SUN_FACTOR_COLD * cold + _SUN_FACTOR_HOT * hot


def _corners(
    latitude: Floats, longitude: Floats, south: float, west: float, step: float, rows: int
) -> tuple[NDArray[np.int64], NDArray[np.int64], Floats]:
    """Rows, columns and bilinear weights of the four nodes around points.

    All of shape (4, P). Rows stop at the grid's edge, columns go round the world.
    """
    y = np.clip((latitude - south) / step, 0.0, rows - 1.0)
    x = (longitude - west) / step
    row, column = np.floor(y + _NODE_TOLERANCE), np.floor(x + _NODE_TOLERANCE)
    up, east = np.maximum(y - row, 0.0), np.maximum(x - column, 0.0)
    upper = np.minimum(row + 1, rows - 1)
    columns = round(360.0 / step)
    weights = [(1 - up) * (1 - east), (1 - up) * east, up * (1 - east), up * east]
    return (
        np.stack([row, row, upper, upper]).astype(np.int64),
        np.stack([column, column + 1, column, column + 1]).astype(np.int64) % columns,
        np.stack(weights),
    )


def _temperature(tables: _Tables, latitude: Floats, longitude: Floats) -> Floats:
    """Monthly mean temperature at sea level. [deg C], shape (P, 12)"""
    table = tables.sea_level_temperature
    step = 360.0 / table.shape[2]
    rows, columns, weights = _corners(latitude, longitude, -90.0, -180.0, step, table.shape[1])
    nodes = table[:, rows, columns] * _KELVIN_PER_COUNT
    return np.asarray((nodes * weights).sum(axis=1).T)


def _clearness(tables: _Tables, latitude: Floats, longitude: Floats) -> Floats:
    """KT quantiles as the reanalysis has them, shape (P, 12, 11)."""
    south, west = tables.clearness_latitude[0], tables.clearness_longitude[0]
    step = tables.clearness_latitude[1] - south
    rows, columns, weights = _corners(
        latitude, longitude, south, west, step, len(tables.clearness_latitude)
    )
    land = tables.clearness[:, :, 0, -1] > 0
    weights = np.where(land[rows, columns], weights, 0.0)
    total = weights.sum(axis=0)
    nearest, apart_km = _nearest_land(tables, land, latitude, longitude)
    if (apart_km > REACH_KM).any():
        far = int(np.argmax(apart_km))
        raise WeatherError(
            f"the built-in climate knows nothing of {latitude[far]:.2f}, {longitude[far]:.2f}: "
            f"the nearest land it covers is {apart_km[far]:.0f} km away (limit "
            f"{REACH_KM:.0f} km); give a weather file for this place"
        )
    alone = total == 0.0
    weights = np.where(alone, np.array([1.0, 0.0, 0.0, 0.0])[:, None], weights)
    weights = weights / np.where(alone, 1.0, total)
    rows = np.where(alone, nearest[0], rows)
    columns = np.where(alone, nearest[1], columns)
    nodes = tables.clearness[rows, columns] * _KT_PER_COUNT
    return np.asarray(np.einsum("cp,cpmq->pmq", weights, nodes))


def _nearest_land(
    tables: _Tables, land: NDArray[np.bool_], latitude: Floats, longitude: Floats
) -> tuple[NDArray[np.int64], Floats]:
    """Row and column, shape (2, P), of the nearest land cell, and how far it is. [km]"""
    cells = np.argwhere(land)
    here = _unit_vectors(latitude, longitude)
    there = _unit_vectors(
        tables.clearness_latitude[cells[:, 0]], tables.clearness_longitude[cells[:, 1]]
    )
    cosines = here @ there.T
    best = cosines.argmax(axis=1)
    angle = np.arccos(np.clip(cosines[np.arange(len(best)), best], -1.0, 1.0))
    return cells[best].T, EARTH_RADIUS_KM * angle


def _unit_vectors(latitude: Floats, longitude: Floats) -> Floats:
    phi, lam = np.radians(latitude), np.radians(longitude)
    return np.stack([np.cos(phi) * np.cos(lam), np.cos(phi) * np.sin(lam), np.sin(phi)], axis=1)


def _on_coast(tables: _Tables, latitude: Floats, longitude: Floats) -> NDArray[np.bool_]:
    """Whether the sea is within 40 km, shape (P,)."""
    rows = tables.coast.shape[0]
    per_degree = rows / 180.0
    row = np.clip(np.floor((90.0 - latitude) * per_degree).astype(int), 0, rows - 1)
    column = np.floor((longitude + 180.0) * per_degree).astype(int) % (2 * rows)
    bits = tables.coast[row, column // 8] >> (7 - column % 8).astype(np.uint8)
    return np.asarray((bits & 1).astype(bool))


def _months_of_sun(latitude: float) -> tuple[Floats, Floats]:
    """Irradiation outside the atmosphere and daylight, means of each month, shape (12,).

    [Wh/m2/day] and [h]; sunset with 0.833 degrees for refraction and the sun's radius.
    """
    from pvlib.irradiance import get_extra_radiation
    from pvlib.solarposition import declination_spencer71

    dates = np.arange("2001-01-01", "2002-01-01", dtype="datetime64[D]")
    month = dates.astype("datetime64[M]").astype(int) % 12
    day = np.arange(1, 366)
    declination = declination_spencer71(day)
    phi = np.radians(np.clip(latitude, -89.9, 89.9))
    up = np.arccos(np.clip(-np.tan(phi) * np.tan(declination), -1.0, 1.0))
    geometry = up * np.sin(phi) * np.sin(declination)
    geometry += np.cos(phi) * np.cos(declination) * np.sin(up)
    wh = get_extra_radiation(day) * 24.0 / np.pi * geometry
    horizon = np.sin(np.radians(-0.833)) - np.sin(phi) * np.sin(declination)
    seen = np.arccos(np.clip(horizon / (np.cos(phi) * np.cos(declination)), -1.0, 1.0))
    count = np.bincount(month)
    return (
        np.bincount(month, wh) / count,
        np.bincount(month, np.degrees(seen) / 7.5) / count,
    )
