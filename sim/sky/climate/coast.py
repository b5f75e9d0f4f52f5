"""What the nearness of the sea does to the air: cool shores and small daily ranges."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sim.arrays import Floats
from sim.units import EARTH_RADIUS_KM

# Daily range of the temperature from the month's mean KT, its daylight and the distance to
# the sea: at the shore a bright month is no wider than a dull one. Fitted on 51 stations;
# RMSE 1.93 K with regions left out of the fit.
_RANGE_K = -3.3
_RANGE_K_PER_KT = 22.3
_RANGE_K_PER_DAYLIGHT_H = 0.21
_SHORE_KT = 0.25  # what counts at the shore, whatever the month's KT
_SEA_KM = 20.0  # within which the shore fades to 1/e
_SEA_REACH_KM = 80.0  # farther away the sea is not looked for
_LEAST_RANGE_K = 2.0

# Between a node of the temperature map inland and one at sea a straight line makes shores under
# cold water too warm: 5 K in July at Los Angeles and Arcata. Where the sea's nodes are cooler
# than that line, part of the difference is taken off. With whole regions left out of the fit it
# takes the RMSE of summers within 25 km of the sea from 2.1 to 1.8 K (51 stations) and from 1.4
# to 1.2 K (182 others). Seas warmer than the land need no such thing.
_COOLING_SHARE = 1.2  # at the very shore
_COOLING_KM = 10.0  # within which it fades to 1/e
_COOLING_REACH_KM = 50.0
# Not in the Arctic, where the sun shines on fjords day and night: it made July at Longyearbyen
# 2.8 K too cold. Fades between these latitudes. [degrees]
_COOLING_FADES_FROM, _NO_COOLING_FROM = 66.0, 72.0
# The same shores lie under the sea's low cloud: on the logit scale of the clearness index they are
# duller by so much for every kelvin. With whole regions left out of the fit it takes the RMSE of
# such months from 0.27 to 0.26 (monthly irradiation) and from 0.33 to 0.32 (hours of sunshine).
_DULLER_PER_K = 0.10
_DULLER_UP_TO_K = 3.0
_NODES_REACH_KM = 250.0  # within which nodes at sea are looked for
_NODES_FADE_KM = 100.0
_KM_PER_DEGREE = np.pi / 180.0 * EARTH_RADIUS_KM
_LEAST_COS = 0.2


def temperature_range(sea_km: Floats, clearness_mean: Floats, daylight_h: Floats) -> Floats:
    """Mean daily temperature range. [K], shape (P, 12)

    Parameters
    ----------
    sea_km : ndarray, shape (P,)
        Distance to the sea. [km]
    clearness_mean, daylight_h : ndarray, shape (P, 12)
        Mean daily clearness index; sunrise to sunset [h].
    """
    inland = 1.0 - np.exp(-sea_km / _SEA_KM)
    counts = _SHORE_KT + (clearness_mean - _SHORE_KT) * inland[:, None]
    width = _RANGE_K + _RANGE_K_PER_KT * counts + _RANGE_K_PER_DAYLIGHT_H * daylight_h
    return np.maximum(width, _LEAST_RANGE_K)


def sea_distance_km(sea: NDArray[np.uint8], latitude: Floats, longitude: Floats) -> Floats:
    """Distance to the nearest sea, infinite beyond about 80 km. [km], shape (P,)

    Parameters
    ----------
    sea : ndarray, shape (2160, 540)
        One bit per twelfth of a degree along longitude, from 90 N and 180 W.
    latitude, longitude : ndarray, shape (P,)
        [degrees]
    """
    rows = sea.shape[0]
    per_degree = rows / 180.0
    cos_latitude = np.maximum(np.cos(np.radians(latitude)), _LEAST_COS)
    reach = int(_SEA_REACH_KM / _KM_PER_DEGREE * per_degree) + 1
    wide = int(_SEA_REACH_KM / _KM_PER_DEGREE * per_degree / cos_latitude.min()) + 1
    row = np.floor((90.0 - latitude) * per_degree)[:, None] + np.arange(-reach, reach + 1)
    column = np.floor((longitude + 180.0) * per_degree)[:, None] + np.arange(-wide, wide + 1)
    north = 90.0 - (row + 0.5) / per_degree - latitude[:, None]
    east = (column + 0.5) / per_degree - 180.0 - longitude[:, None]
    apart = _KM_PER_DEGREE * np.hypot(north[:, :, None], (east * cos_latitude[:, None])[:, None, :])
    row = np.clip(row, 0, rows - 1).astype(np.int64)[:, :, None]
    column = (column.astype(np.int64) % (2 * rows))[:, None, :]
    wet = (sea[row, column // 8] >> (7 - column % 8).astype(np.uint8)) & 1
    return np.asarray(np.where(wet == 1, apart, np.inf).min(axis=(1, 2)))


def cooling_by_sea(
    nodes_c: Floats,
    at_sea: NDArray[np.bool_],
    latitude: Floats,
    longitude: Floats,
    sea_km: Floats,
    temperature_c: Floats,
) -> Floats:
    """How much cooler shores are than between the nodes of the map. [K], shape (P, 12)

    Parameters
    ----------
    nodes_c : ndarray, shape (12, 121, 240)
        Temperature at sea level every 1.5 degrees, from 90 S and 180 W. [deg C]
    at_sea : ndarray of bool, shape (121, 240)
        Nodes with hardly any land around them.
    latitude, longitude, sea_km : ndarray, shape (P,)
        [degrees], [km]
    temperature_c : ndarray, shape (P, 12)
        Read between the nodes, at sea level. [deg C]
    """
    cooler = np.zeros_like(temperature_c)
    near = np.flatnonzero(sea_km < _COOLING_REACH_KM)
    step = 180.0 / (at_sea.shape[0] - 1)
    for point in near:
        north = -90.0 + step * np.arange(at_sea.shape[0]) - latitude[point]
        band = np.flatnonzero(np.abs(north) * _KM_PER_DEGREE < _NODES_REACH_KM)
        east = (-180.0 + step * np.arange(at_sea.shape[1]) - longitude[point] + 180.0) % 360.0
        across = (east - 180.0) * max(np.cos(np.radians(latitude[point])), _LEAST_COS)
        apart = _KM_PER_DEGREE * np.hypot(north[band, None], across)
        row, column = np.nonzero(at_sea[band] & (apart < _NODES_REACH_KM))
        if len(row) == 0:
            continue
        weight = np.exp(-apart[row, column] / _NODES_FADE_KM)
        water_c = (nodes_c[:, band[row], column] * weight).sum(axis=1) / weight.sum()
        cooler[point] = np.maximum(temperature_c[point] - water_c, 0.0)
    share = np.minimum(_COOLING_SHARE * np.exp(-sea_km / _COOLING_KM), 1.0)
    south = (_NO_COOLING_FROM - latitude) / (_NO_COOLING_FROM - _COOLING_FADES_FROM)
    return np.asarray((share * np.clip(south, 0.0, 1.0))[:, None] * cooler)


def shore_shift(cooling_k: Floats) -> Floats:
    """How much duller shores under cold water are, on the logit scale of the clearness index.

    Parameters
    ----------
    cooling_k : ndarray, shape (P, 12)
        Of `cooling_by_sea`. [K]
    """
    return np.asarray(-_DULLER_PER_K * np.minimum(cooling_k, _DULLER_UP_TO_K))
