"""Sunshine where the world table has no cell: islands, and the Arctic beyond it.

Within `CELLS_ALONE_KM` of a cell everything stays as the table has it. Farther out the cells fade,
and the sea takes over: the clearness of its air follows its warmth, dull over cold seas and
brighter over warm ones, put right by the island stations of ``profiles/climate/islands.csv``.
Beyond 72 N the mean of the table's northernmost cells takes the place of the sea, since over ice
and snow it is bright in spring and dull in late summer whatever the warmth.
"""

from __future__ import annotations

import csv
from collections.abc import Callable
from functools import cache

import numpy as np

from sim.arrays import Bools, Floats
from sim.errors import WeatherError
from sim.places import gazetteer
from sim.resources import profiles_dir
from sim.units import EARTH_RADIUS_KM

# Half the diagonal of a cell at the equator: no point on the mainland is farther from one.
CELLS_ALONE_KM = 240.0
# Fitted on the 36 stations of islands.csv, those of one ocean left out at a time: the months' KT
# is 10.4 % off (rms) for such an ocean, the year's 9.1 %; with single stations and what lies
# within 60 km left out 9.9 and 8.6 %. The nearest cell alone is 16.6 % off and 10 % too bright.
# A second power of the warmth, latitude, season and the warmth of the sea against that of its
# latitude brought nothing on oceans left out.
CELLS_FADE_KM = 400.0
KT_AT_0_C, KT_PER_K = 0.356, 0.0061
STATION_FADE_KM = 800.0  # over which what a station knows fades to 1/e
STATION_NUGGET = 0.2  # of a station's departure from the rest, its own alone or chance

# Mean of the table's cells at 72 N as corrected, January first, and the latitudes between which
# it takes the place of the sea. Months without sun have a KT that nothing hangs on.
ARCTIC_KT = np.array([0.31, 0.34, 0.42, 0.50, 0.50, 0.44, 0.40, 0.38, 0.35, 0.34, 0.33, 0.31])
ARCTIC_FROM_DEG, ARCTIC_FULL_DEG = 64.0, 72.0

# Days over their month's mean, by the month's KT: mean of the cells with more than four fifths
# of sea. That the mean alone decides is an old finding: B. Y. H. Liu, R. C. Jordan, The
# interrelationship and characteristic distribution of direct, diffuse and total solar radiation,
# Solar Energy 4 (1960) 1-19.
SHAPE_KT = np.array([0.325, 0.375, 0.425, 0.475, 0.525, 0.575, 0.625])
SHAPE = np.array(
    [
        [0.12, 0.22, 0.34, 0.51, 0.73, 0.94, 1.18, 1.48, 1.77, 1.97, 2.14],
        [0.20, 0.31, 0.43, 0.59, 0.79, 0.98, 1.18, 1.41, 1.61, 1.75, 1.88],
        [0.32, 0.43, 0.53, 0.67, 0.84, 1.00, 1.15, 1.33, 1.48, 1.59, 1.68],
        [0.37, 0.47, 0.57, 0.71, 0.87, 1.01, 1.15, 1.29, 1.42, 1.50, 1.55],
        [0.41, 0.51, 0.61, 0.76, 0.91, 1.03, 1.14, 1.25, 1.33, 1.39, 1.42],
        [0.49, 0.60, 0.71, 0.84, 0.97, 1.04, 1.11, 1.17, 1.22, 1.26, 1.29],
        [0.61, 0.72, 0.82, 0.92, 0.99, 1.03, 1.07, 1.10, 1.13, 1.16, 1.18],
    ]
)

# Relative standard error of a month's KT: at cells as the climate's README has it, over the sea
# as above, beyond 64 degrees as the README has it for the north.
CELL_DOUBT, SEA_DOUBT, ARCTIC_DOUBT = 0.09, 0.11, 0.20

# The open sea begins so far from a cell and from a town.
FROM_CELLS_KM, FROM_TOWNS_KM = 400.0, 200.0
# Greenland's ice between its western and eastern edge, by latitude (read off maps, from memory,
# good to about a degree). Its height does not tell it: the altitude map has the rock below.
ICE_LATITUDE = np.array([60.5, 62.0, 64.0, 66.0, 68.0, 70.0, 72.0, 74.0, 76.0, 78.0, 80.0, 82.0])
ICE_WEST = np.array([-46.0, -49.0, -50.0, -50.5, -50.5, -51, -53, -55, -60, -64, -62, -50])
ICE_EAST = np.array([-44.0, -43.0, -41.0, -38.0, -30.0, -27.5, -28, -26, -23, -22, -22, -25])
ICE_TOWNS_KM = 50.0
POLAR_SOUTH_DEG = -60.0

SeaTemperature = Callable[[Floats, Floats], Floats]


def cell_share(apart_km: Floats, known: Floats | float = 0.0) -> Floats:
    """Share of the nearest cells in a point's clearness.

    Parameters
    ----------
    apart_km : ndarray, shape (P,)
        Distance to the nearest cell. [km]
    known : ndarray, shape (P,)
        How much the island stations know of it, 0 to 1: where they know more, cells far away
        count less.

    Returns
    -------
    ndarray, shape (P,)
        Exactly 1 within `CELLS_ALONE_KM`.
    """
    fade = CELLS_FADE_KM * np.maximum(1.0 - np.asarray(known), 1e-3)
    return np.asarray(np.exp(-np.maximum(apart_km - CELLS_ALONE_KM, 0.0) / fade))


def with_sea(
    clearness: Floats,
    latitude: Floats,
    longitude: Floats,
    apart_km: Floats,
    sea_temperature: SeaTemperature,
) -> Floats:
    """Clearness quantiles with the sea's share in them.

    Parameters
    ----------
    clearness : ndarray, shape (P, 12, 11)
        Quantiles of the nearest cells, corrected.
    latitude, longitude, apart_km : ndarray, shape (P,)
        [degrees, km]
    sea_temperature : callable
        From latitude and longitude, shape (N,), to monthly means at sea level [deg C], (N, 12).

    Returns
    -------
    ndarray, shape (P, 12, 11)
        Points within `CELLS_ALONE_KM` of a cell as they were.
    """
    far = np.flatnonzero(apart_km > CELLS_ALONE_KM)
    if not len(far):
        return clearness
    mean, known = sea_clearness(latitude[far], longitude[far], sea_temperature)
    share = cell_share(apart_km[far], known)[:, None, None]
    mixed = clearness.copy()
    mixed[far] = share * clearness[far] + (1.0 - share) * spread_of_days(mean)
    return mixed


def sea_clearness(
    latitude: Floats, longitude: Floats, sea_temperature: SeaTemperature
) -> tuple[Floats, Floats]:
    """Mean clearness over the sea, and how much of it island stations know.

    Returns
    -------
    mean : ndarray, shape (P, 12)
    known : ndarray, shape (P,)
        0 to 1.
    """
    where, measured = stations()
    own = KT_AT_0_C + KT_PER_K * sea_temperature(latitude, longitude)
    departure = measured - KT_AT_0_C - KT_PER_K * sea_temperature(where[:, 0], where[:, 1])
    between = np.exp(-_apart_km(where[:, 0], where[:, 1], *where.T) / STATION_FADE_KM)
    toward = np.exp(-_apart_km(latitude, longitude, *where.T) / STATION_FADE_KM)
    weight = np.linalg.solve(between + STATION_NUGGET * np.eye(len(where)), toward.T).T
    sea = own + weight @ departure
    north = (latitude - ARCTIC_FROM_DEG) / (ARCTIC_FULL_DEG - ARCTIC_FROM_DEG)
    arctic = np.clip(north, 0.0, 1.0)[:, None]
    return (1.0 - arctic) * sea + arctic * ARCTIC_KT, (weight * toward).sum(axis=1)


def spread_of_days(mean: Floats) -> Floats:
    """Quantiles of the days' clearness from the months' mean: (P, 12) to (P, 12, 11)."""
    place = np.clip(np.interp(mean, SHAPE_KT, np.arange(len(SHAPE_KT))), 0, len(SHAPE_KT) - 1)
    below = np.minimum(place.astype(np.int64), len(SHAPE_KT) - 2)
    part = (place - below)[..., None]
    shape = (1.0 - part) * SHAPE[below] + part * SHAPE[below + 1]
    return np.asarray(mean[..., None] * shape)


def clearness_doubt(latitude: Floats, apart_km: Floats) -> Floats:
    """Relative standard error of a month's mean clearness, shape (P,)."""
    share = cell_share(apart_km)
    doubt = share * CELL_DOUBT + (1.0 - share) * SEA_DOUBT
    return np.where(np.abs(latitude) > ARCTIC_FROM_DEG, ARCTIC_DOUBT, doubt)


@cache
def stations() -> tuple[Floats, Floats]:
    """Latitude and longitude, shape (S, 2), and monthly KT, (S, 12), of the island stations."""
    with (profiles_dir() / "climate" / "islands.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.reader(file) if not row[0].startswith("#")][1:]
    numbers = np.array([[float(cell) for cell in (*row[1:3], *row[4:])] for row in rows])
    return numbers[:, :2], numbers[:, 2:]


def expect_people(latitude: Floats, longitude: Floats, apart_km: Floats) -> None:
    """Refuse the open sea and the inner ice.

    Raises
    ------
    WeatherError
        A point where nobody lives and about which nothing is known.
    """
    east = (longitude + 180.0) % 360.0 - 180.0
    on_ice = _inside(latitude, ICE_LATITUDE[0], ICE_LATITUDE[-1]) & _inside(
        east,
        np.interp(latitude, ICE_LATITUDE, ICE_WEST),
        np.interp(latitude, ICE_LATITUDE, ICE_EAST),
    )
    asked = on_ice | (apart_km > FROM_CELLS_KM)
    for north, where, ice in sorted(
        {*zip(latitude[asked], east[asked], on_ice[asked], strict=True)}
    ):
        _, town_km = gazetteer.table().nearest_town(north, where)
        if town_km > (ICE_TOWNS_KM if ice else FROM_TOWNS_KM):
            inner = ice or north < POLAR_SOUTH_DEG
            raise WeatherError(
                f"the built-in climate knows nothing of {north:.2f}, {where:.2f}: it is "
                f"{'on the inner ice' if inner else 'far out at sea'}, {town_km:.0f} km from the "
                "nearest town; if this is what you mean, give a weather file for this place"
            )


def _inside(values: Floats, least: Floats | float, most: Floats | float) -> Bools:
    return np.asarray((values > least) & (values < most))


def _apart_km(latitude: Floats, longitude: Floats, to_lat: Floats, to_lon: Floats) -> Floats:
    """Great circles from P points to N others. [km], shape (P, N)"""
    phi, lam, phi2, lam2 = (np.radians(x) for x in (latitude, longitude, to_lat, to_lon))
    cosine = np.sin(phi)[:, None] * np.sin(phi2) + np.cos(phi)[:, None] * np.cos(phi2) * np.cos(
        lam[:, None] - lam2
    )
    return np.asarray(EARTH_RADIUS_KM * np.arccos(np.clip(cosine, -1.0, 1.0)))
