"""What weather stations say of the built-in sunshine: where it is too bright, where too dull,
and how sure a month's mean is.

The tables under ``profiles/climate/stations.npz`` hold how far stations lie from the climate of
`sim.sky.climate.tables`, smoothed over the globe and the year (built by the script there). All
shifts are on the logit scale of the clearness index between nothing and a little more than a
cloudless day: on it a dull month moves far, a bright one little, and none leaves its bounds.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, logit

from sim.arrays import Floats
from sim.resources import profiles_dir

# A day may be brighter than a cloudless one of the irrigation paper, by so much.
ROOM = 1.06
_STEPS = 3  # until the mean of a distribution has moved as far as it should

SHIFT_PER_COUNT = 0.005  # as stored
DOUBT_PER_COUNT = 0.002
HARMONICS = 5  # the mean of the year, and two waves in it

# Standard deviations on the logit scale, of a month's mean. That of years: what is left of the
# difference between years of 1,340 stations 2003 to 2021 when the chance of single days is
# taken out, median of latitudes and months.
_BETWEEN_YEARS = 0.13
# That of a place against the smoothed stations around it, on stations left out of them: much the
# same share of a cloudless day wherever the month is bright or dull. On the logit scale that is
# wider near the top. Larger in the cold, where even stations disagree over snow, and beyond 60
# degrees, where few are. Relief and coast were tried: they bring little. Chosen on the fortnights
# of tests/data/spells.csv with whole regions left out, see profiles/climate/README.md.
_OF_PLACE = 0.027  # of the brightest day there is
_OF_COLD = 0.38
_COLD_FROM_C, _COLD_FULL_C = 10.0, -5.0  # between which the cold comes in
_OF_NORTH = 0.20  # in full at 62 degrees

# What the reanalysis gets wrong by itself, whatever stations are near, on the logit scale. In cold
# air away from the sea it is too bright, most of all in winters of the interior of North America
# and of central Europe; in the north it is too dull. Fitted together on the winter fortnights of
# 182 stations with each of 15 regions left out in turn: 0.19 to 0.24 for the cold, 0.25 to 0.36 for
# the north. The cold is taken a little higher, as the CRPS of winter fortnights still falls there
# (0.197 to 0.193 kWh/m2/day; RMSE of months at 49 other stations 8.7 to 8.6 %); the north lower, as
# a fit of the whole year has 0.22 and few stations lie there.
_DULLER_IN_COLD = 0.25
_COLD_SEA_KM = 25.0  # within which the sea keeps the cold's share away, to 1/e
_BRIGHTER_IN_NORTH = 0.20
_NORTH_FROM_DEG, _NORTH_FULL_DEG = 52.0, 58.0
# It fades again toward the table's last row. Else the Arctic's mean would follow, and the light
# months of Ny-Ålesund, which come out right, would be 7 % too bright.
_ARCTIC_FROM_DEG, _ARCTIC_DEG = 64.0, 72.0


@dataclass(frozen=True)
class Doubt:
    """How unsure the mean sunshine of months is: standard deviations on the logit scale.

    Attributes
    ----------
    shared : ndarray, shape (P, 12)
        What places of a region have in common: the year, and what the stations leave open.
    own : ndarray, shape (P, 12)
        What is a place's own.
    """

    shared: Floats
    own: Floats

    @property
    def total(self) -> Floats:
        """Of both, shape (P, 12)."""
        return np.hypot(self.shared, self.own)


@dataclass(frozen=True)
class _Stations:
    shift: NDArray[np.int8]  # (5, rows, columns)
    doubt: NDArray[np.uint8]  # (rows, columns)
    south: float
    step: float
    at_sea: NDArray[np.bool_]  # (121, 240) nodes of the temperature map


@cache
def station_tables() -> _Stations:
    """As shipped."""
    with np.load(profiles_dir() / "climate" / "stations.npz") as file:
        return _Stations(
            shift=file["shift"],
            doubt=file["doubt"],
            south=float(file["south"]),
            step=float(file["step"]),
            at_sea=np.unpackbits(file["at_sea"], axis=1).astype(np.bool_),
        )


def year_waves() -> Floats:
    """Mean, first and second wave of the year at the months, shape (5, 12)."""
    angle = 2.0 * np.pi * np.arange(12) / 12.0
    return np.stack(
        [np.ones(12), np.cos(angle), np.sin(angle), np.cos(2.0 * angle), np.sin(2.0 * angle)]
    )


def station_shift(latitude: Floats, longitude: Floats) -> Floats:
    """How much brighter than the tables the stations around are, shape (P, 12)."""
    tables = station_tables()
    waves = _between_cells(tables, np.asarray(tables.shift * SHIFT_PER_COUNT), latitude, longitude)
    return np.asarray((waves.T[:, :, None] * year_waves()).sum(axis=1))


def shift_of_air(latitude: Floats, temperature_c: Floats, sea_km: Floats) -> Floats:
    """How much brighter cold and northern places are than the reanalysis, before any station
    counts. On the logit scale of the clearness index, shape (P, 12).

    Parameters
    ----------
    latitude, sea_km : ndarray, shape (P,)
        [degrees]; distance to the sea [km].
    temperature_c : ndarray, shape (P, 12)
        Mean of the months, as the map has it. [deg C]
    """
    north = np.clip((latitude - _NORTH_FROM_DEG) / (_NORTH_FULL_DEG - _NORTH_FROM_DEG), 0.0, 1.0)
    left = (_ARCTIC_DEG - latitude) / (_ARCTIC_DEG - _ARCTIC_FROM_DEG)
    north = north * np.clip(left, 0.0, 1.0)
    inland = 1.0 - np.exp(-sea_km / _COLD_SEA_KM)
    duller = _DULLER_IN_COLD * inland[:, None] * _cold(temperature_c)
    return np.asarray(_BRIGHTER_IN_NORTH * north[:, None] - duller)


def _cold(temperature_c: Floats) -> Floats:
    """0 in mild air, 1 in frost."""
    cold = (_COLD_FROM_C - temperature_c) / (_COLD_FROM_C - _COLD_FULL_C)
    return np.asarray(np.clip(cold, 0.0, 1.0))


def doubt(latitude: Floats, longitude: Floats, temperature_c: Floats, height: Floats) -> Doubt:
    """How unsure a month's mean sunshine is at points.

    Parameters
    ----------
    latitude, longitude : ndarray, shape (P,)
        [degrees]
    temperature_c : ndarray, shape (P, 12)
        Mean of the months. [deg C]
    height : ndarray, shape (P, 12)
        Mean clearness of the months over that of a cloudless day.
    """
    tables = station_tables()
    left = _between_cells(
        tables, np.asarray(tables.doubt[None] * DOUBT_PER_COUNT), latitude, longitude
    )[0]
    cold = _cold(temperature_c)
    north = np.clip((np.abs(latitude) - 58.0) / 4.0, 0.0, 1.0)[:, None]
    place = _OF_PLACE * ROOM**2 / (height * (ROOM - height))
    own = np.sqrt(place**2 + (_OF_COLD * cold) ** 2 + (_OF_NORTH * north) ** 2)
    shared = np.repeat(np.hypot(_BETWEEN_YEARS, left)[:, None], 12, axis=1)
    return Doubt(shared=shared, own=own)


def as_share(sd: Floats, mean: Floats, brightest: Floats) -> Floats:
    """A standard deviation on the logit scale as a share of the mean clearness, shape (P, 12)."""
    return np.asarray(sd * (1.0 - mean / (ROOM * brightest[:, None])))


def doubt_of_years(points: int) -> Doubt:
    """What is unsure where a station measured the place itself: the year alone."""
    return Doubt(np.full((points, 12), _BETWEEN_YEARS), np.zeros((points, 12)))


def moved(quantiles: Floats, weights: Floats, brightest: Floats, shift: Floats) -> Floats:
    """Distributions moved on the logit scale, so that their means move by `shift`.

    Parameters
    ----------
    quantiles : ndarray, shape (P, 12, Q)
        Of the daily clearness index.
    weights : ndarray, shape (Q,)
        That turn quantiles into their mean.
    brightest : ndarray, shape (P,)
        Clearness of a cloudless day.
    shift : ndarray, shape (P, 12)

    Returns
    -------
    ndarray, shape (P, 12, Q)
    """
    top = ROOM * brightest[:, None, None]
    days = _logit(quantiles / top)
    mean = (quantiles * weights).sum(axis=-1, keepdims=True)
    target = _logit(mean / top) + shift[:, :, None]
    by = target - _logit(mean / top)
    for _ in range(_STEPS):
        now = (expit(days + by) * weights).sum(axis=-1, keepdims=True)
        by = by + target - _logit(now)
    return np.asarray(top * expit(days + by))


def brightened(
    clearness: Floats, mean: Floats, brightest: Floats, normal: Floats, sd: Floats
) -> Floats:
    """Drawn days of seasons brighter or duller than the mean.

    Parameters
    ----------
    clearness : ndarray, shape (R, D)
        Of days, as the climate has them.
    mean, brightest, sd : ndarray, shape (R,)
        Mean of the month, clearness of a cloudless day, and how unsure the mean is.
    normal : ndarray, shape (R, D)
        Slow numbers of the draws, with standard deviation `sd`.

    Returns
    -------
    ndarray, shape (R, D)
        Their mean over the draws stays the climate's, to second order in `sd`.
    """
    top = (ROOM * brightest)[:, None]
    height = (mean / (ROOM * brightest))[:, None]
    bend = 0.5 * sd[:, None] ** 2 * (1.0 - 2.0 * height)
    return np.asarray(top * expit(_logit(clearness / top) + normal - bend))


def _logit(share: Floats) -> Floats:
    return np.asarray(logit(np.clip(share, 1e-3, 1.0 - 1e-3)))


def _between_cells(
    tables: _Stations, values: Floats, latitude: Floats, longitude: Floats
) -> Floats:
    """Values between the cells of the stations' grid, straight: (K, rows, columns) to (K, P)."""
    rows, columns = values.shape[1:]
    y = np.clip((latitude - tables.south) / tables.step, 0.0, rows - 1.0)
    x = ((longitude + 180.0) % 360.0) / tables.step
    row = np.minimum(np.floor(y), rows - 2).astype(np.int64)
    column = np.floor(x).astype(np.int64)
    up, east = y - row, x - column
    near = (
        values[:, row, column % columns] * (1 - east)
        + values[:, row, (column + 1) % columns] * east
    )
    far = (
        values[:, row + 1, column % columns] * (1 - east)
        + values[:, row + 1, (column + 1) % columns] * east
    )
    return np.asarray(near * (1.0 - up) + far * up)
