"""The world climate that comes with the program: sun and temperature of any land, any month.

Tables under ``profiles/climate`` (built by the script there) hold quantiles of the daily
clearness index KT, from the MERRA-2 reanalysis on cells of 3 degrees, and the monthly mean
temperature of ITU-R P.1510-1. Read at a point they are corrected for what the reanalysis is
known to get wrong.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, partial

import numpy as np
from numpy.typing import NDArray

from sim.arrays import Bools, Floats, Ints
from sim.resources import profiles_dir
from sim.sky.climate import coast, islands
from sim.sky.climate.corrections import (
    ROOM,
    Doubt,
    doubt,
    moved,
    shift_of_air,
    station_shift,
    station_tables,
)
from sim.sky.sun_means import DEGREES_PER_HOUR, SunClock, sun_clock
from sim.units import EARTH_RADIUS_KM

LAPSE_K_PER_M = 6.5e-3  # K/m, ICAO standard atmosphere; the tables are reduced with it
_KT_PER_COUNT = 1.0 / 250.0  # as stored by the build script
_KELVIN_PER_COUNT = 0.1
_NODE_TOLERANCE = 1e-9  # degrees
DARKEST_CLEARNESS = 0.03  # darkest day; a day under the heaviest cloud still has some light

# The reanalysis lets too much sun through in mild weather (monthly GHI +9 % against 100
# stations), not in hot weather, and less so in cold; where it is hot and dull it lets too
# little through. The factor was fitted on half of the stations' cells and tested on the other
# half: RMSE 14.7 % before, 9.8 % after. Hot and dull came later, from Florida and Singapore:
# with whole regions left out of the fit it takes the RMSE from 9.4 to 9.0 %. Taken at 0.6 of
# the fit, since other places of the tropics were not there to try it on.
_SUN_FACTOR_MILD = 0.895
_SUN_FACTOR_COLD = 0.15  # added in full at -10 deg C
_SUN_FACTOR_HOT = 0.08  # added in full at 28 deg C
_SUN_FACTOR_HOT_AND_DULL = 0.14  # on top of it, in full where the month's KT is 0.45
_DULL_FROM, _DULL_TO = 0.55, 0.45  # uncorrected KT between which it comes in

# Left over after the shores are cooled: stations are cooler by so much, with regions left out.
_TOO_WARM_K = 0.3


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
    doubt : Doubt
        How unsure the months' mean clearness is.
    cell_km : ndarray, shape (P,)
        Distance to the nearest cell with data, see `sim.sky.climate.islands`. [km]
    spell_spread_k : ndarray, shape (P, 12), or None
        Standard deviation of the days' mean temperatures, where it was measured. [K]
    measured : bool
        Whether a station measured all this there, so that its level is hardly in doubt and its
        days spread as those of a point do.
    """

    probabilities: Floats
    clearness: Floats
    temperature_c: Floats
    temperature_range_c: Floats
    doubt: Doubt
    cell_km: Floats
    spell_spread_k: Floats | None = None
    measured: bool = False

    @property
    def clearness_mean(self) -> Floats:
        """Mean daily clearness index, shape (P, 12)."""
        return quantile_mean(self.clearness, self.probabilities)


@dataclass(frozen=True)
class _Tables:
    probabilities: Floats  # (11,)
    clearness: NDArray[np.uint8]  # (44, 120, 12, 11), zero where there is no land
    clearness_latitude: Floats  # (44,)
    clearness_longitude: Floats  # (120,)
    sea_level_temperature: NDArray[np.int16]  # (12, 121, 240)
    sea: NDArray[np.uint8]  # (2160, 540), bits along longitude


@cache
def _tables() -> _Tables:
    with np.load(profiles_dir() / "climate" / "climate.npz") as file:
        return _Tables(**{name: file[name] for name in _Tables.__dataclass_fields__})


def probabilities() -> Floats:
    """Of the quantiles that a month's days are described with, shape (11,)."""
    return _tables().probabilities


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


def quantile_mean(quantiles: Floats, probabilities: Floats) -> Floats:
    """Mean of distributions given by quantiles along the last axis; see `mean_weights`."""
    # No matrix product: that may round a row differently alone and among others.
    return np.asarray((quantiles * mean_weights(probabilities)).sum(axis=-1))


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
        A point in the open sea or on the inner ice.
    """
    tables = _tables()
    sea_km = coast.sea_distance_km(tables.sea, latitude, longitude)
    air, cooling = _air(tables, latitude, longitude, sea_km)
    temperature = air - LAPSE_K_PER_M * altitude_m[:, None]
    brightest = brightest_clearness(altitude_m)
    weights = mean_weights(tables.probabilities)
    cells, cell_km = reanalysis_clearness(latitude, longitude, altitude_m)
    islands.expect_people(latitude, longitude, cell_km)
    shift = coast.shore_shift(cooling) + air_shift(latitude, longitude, altitude_m, sea_km)
    shift += station_shift(latitude, longitude)
    cells = moved(cells, weights, brightest, shift)
    warmth = partial(_temperature, tables)
    clearness = islands.with_sea(cells, latitude, longitude, cell_km, warmth)
    clearness = np.clip(clearness, DARKEST_CLEARNESS, brightest[:, None, None])
    mean = quantile_mean(clearness, tables.probabilities)
    _, daylight_h = months_of_sun(latitude)
    height = mean / brightest[:, None]
    known = doubt(latitude, longitude, temperature, height)
    return PointClimate(
        probabilities=tables.probabilities,
        clearness=clearness,
        temperature_c=temperature,
        temperature_range_c=coast.temperature_range(sea_km, mean, daylight_h),
        doubt=_with_far(known, latitude, cell_km, height),
        cell_km=cell_km,
    )


def _with_far(found: Doubt, latitude: Floats, cell_km: Floats, height: Floats) -> Doubt:
    """At least as unsure as islands far from any cell are; `height` over a cloudless day's."""
    far = (cell_km > islands.CELLS_ALONE_KM)[:, None]
    share = islands.clearness_doubt(latitude, cell_km)[:, None]
    least = np.where(far, share / (1.0 - height / ROOM), 0.0)
    return Doubt(shared=found.shared, own=np.maximum(found.own, least))


def reanalysis_clearness(
    latitude: Floats, longitude: Floats, altitude_m: Floats
) -> tuple[Floats, Floats]:
    """Quantiles of daily KT before stations nearby correct them, shape (P, 12, 11), and how far
    the nearest cell with data is [km], shape (P,)."""
    tables = _tables()
    temperature = _map_temperature(latitude, longitude, altitude_m)
    raw, cell_km = _clearness(tables, latitude, longitude)
    factor = _sun_factor(temperature, quantile_mean(raw, tables.probabilities))[:, :, None]
    brightest = brightest_clearness(altitude_m)[:, None, None]
    return np.clip(raw * factor, DARKEST_CLEARNESS, brightest), cell_km


def air_shift(latitude: Floats, longitude: Floats, altitude_m: Floats, sea_km: Floats) -> Floats:
    """What cold and the north change of the clearness, see `corrections.shift_of_air`; (P, 12)."""
    return shift_of_air(latitude, _map_temperature(latitude, longitude, altitude_m), sea_km)


def _map_temperature(latitude: Floats, longitude: Floats, altitude_m: Floats) -> Floats:
    """Monthly means at points as the map has them. [deg C], shape (P, 12)"""
    return _temperature(_tables(), latitude, longitude) - LAPSE_K_PER_M * altitude_m[:, None]


def _air(
    tables: _Tables, latitude: Floats, longitude: Floats, sea_km: Floats
) -> tuple[Floats, Floats]:
    """Monthly mean temperature at sea level [deg C], and by how much shores under cold water are
    cooled in it [K]; both (P, 12)."""
    at_sea = station_tables().at_sea
    cooling = sea_cooling(at_sea, latitude, longitude, sea_km)
    air = _temperature(tables, latitude, longitude)
    return np.asarray(air - cooling - _TOO_WARM_K), cooling


def sea_cooling(
    at_sea: NDArray[np.bool_], latitude: Floats, longitude: Floats, sea_km: Floats
) -> Floats:
    """How much cooler shores are than the temperature map has them, see `coast.cooling_by_sea`.
    [K], shape (P, 12)"""
    tables = _tables()
    return coast.cooling_by_sea(
        np.asarray(tables.sea_level_temperature * _KELVIN_PER_COUNT),
        at_sea,
        latitude,
        longitude,
        sea_km,
        _temperature(tables, latitude, longitude),
    )


def brightest_clearness(altitude_m: Floats) -> Floats:
    """Clearness index of a cloudless day, shape of `altitude_m`.

    References
    ----------
    R. G. Allen et al., FAO Irrigation and Drainage Paper 56, 1998, eq. 37.
    """
    return 0.75 + 2e-5 * altitude_m


def _sun_factor(temperature_c: Floats, clearness_mean: Floats) -> Floats:
    """What the reanalysis' KT is multiplied with, shape of both."""
    cold = np.clip(-temperature_c / 10.0, 0.0, 1.0)
    hot = np.clip((temperature_c - 20.0) / 8.0, 0.0, 1.0)
    dull = np.clip((_DULL_FROM - clearness_mean) / (_DULL_FROM - _DULL_TO), 0.0, 1.0)
    in_heat = _SUN_FACTOR_HOT + _SUN_FACTOR_HOT_AND_DULL * dull
    return np.asarray(_SUN_FACTOR_MILD + _SUN_FACTOR_COLD * cold + in_heat * hot)


def _corners(
    latitude: Floats, longitude: Floats, south: float, west: float, step: float, rows: int
) -> tuple[Ints, Ints, Floats]:
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


def _clearness(tables: _Tables, latitude: Floats, longitude: Floats) -> tuple[Floats, Floats]:
    """KT quantiles as the reanalysis has them, shape (P, 12, 11), and how far the nearest cell
    with data is [km]."""
    south, west = tables.clearness_latitude[0], tables.clearness_longitude[0]
    step = tables.clearness_latitude[1] - south
    rows, columns, weights = _corners(
        latitude, longitude, south, west, step, len(tables.clearness_latitude)
    )
    land = tables.clearness[:, :, 0, -1] > 0
    weights = np.where(land[rows, columns], weights, 0.0)
    total = weights.sum(axis=0)
    nearest, apart_km = _nearest_land(tables, land, latitude, longitude)
    alone = total == 0.0
    weights = np.where(alone, np.array([1.0, 0.0, 0.0, 0.0])[:, None], weights)
    weights = weights / np.where(alone, 1.0, total)
    rows = np.where(alone, nearest[0], rows)
    columns = np.where(alone, nearest[1], columns)
    nodes = tables.clearness[rows, columns] * _KT_PER_COUNT
    return np.asarray(np.einsum("cp,cpmq->pmq", weights, nodes)), apart_km


def _nearest_land(
    tables: _Tables, land: Bools, latitude: Floats, longitude: Floats
) -> tuple[Ints, Floats]:
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


def months_of_sun(latitude: Floats) -> tuple[Floats, Floats]:
    """Monthly means of the sun that needs no weather to be known.

    Parameters
    ----------
    latitude : ndarray, shape (P,)
        [degrees]

    Returns
    -------
    extraterrestrial, daylight : ndarray, shape (P, 12)
        Irradiation outside the atmosphere [Wh/m2/day]; time from sunrise to sunset [h], both
        at 0.833 degrees below the horizon for refraction and the sun's radius.

    Notes
    -----
    The sun of 2002, midway between two leap years. Textbook series for the
    declination run up to a day late by now, which is 2 % of the sun in spring and autumn.
    """
    clock, month = _sun_of_a_year()
    phi = np.radians(np.clip(latitude, -89.9, 89.9))[:, None]
    steady = np.sin(phi) * np.sin(clock.declination)
    swing = np.cos(phi) * np.cos(clock.declination)
    up = np.arccos(np.clip(-steady / swing, -1.0, 1.0))
    wh = clock.dni_extra * 24.0 / np.pi * (up * steady + swing * np.sin(up))
    seen = np.arccos(np.clip((np.sin(np.radians(-0.833)) - steady) / swing, -1.0, 1.0))
    first, count = np.searchsorted(month, np.arange(12)), np.bincount(month)
    day_h = np.degrees(seen) * 2.0 / DEGREES_PER_HOUR
    sums = (np.add.reduceat(daily, first, axis=1) for daily in (wh, day_h))
    extraterrestrial, daylight = (np.asarray(total / count) for total in sums)
    return extraterrestrial, daylight


@cache
def _sun_of_a_year() -> tuple[SunClock, Ints]:
    """The sun at Greenwich noon of every day of 2002, and the days' months from 0 to 11."""
    dates = np.arange("2002-01-01", "2003-01-01", dtype="datetime64[D]")
    noon = np.asarray(dates + np.timedelta64(12, "h"), dtype="datetime64[s]")
    return sun_clock(noon, 0), dates.astype("datetime64[M]").astype(np.int64) % 12
