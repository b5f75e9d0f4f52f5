"""Height of the ground at any point, by the coarse map that comes with pvlib.

Towns have an altitude of their own in the table of `sim.places.gazetteer`; the map is for
coordinates and for the way between.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from sim.arrays import Floats
from sim.resources import MAP_CELLS, map_cell

# The map counts in so many metres, from the lowest ground; this number stands for sea.
_STEP_M = 28.0
_LOWEST_M = -450.0
_SEA = 255


def altitude_m(latitude: Floats, longitude: Floats) -> Floats:
    """Height of the ground above sea level at many points, 0 at sea. [m], shape (N,)

    Parameters
    ----------
    latitude, longitude : ndarray, shape (N,)
        North and east positive; a longitude may count on past 180. [degrees]

    Notes
    -----
    From the map that comes with pvlib, which knows one height for each twelfth of a degree, in
    steps of 28 m: it can be wrong by 100 m and more, and by 500 m in mountain valleys.
    """
    east = (np.asarray(longitude) + 180.0) % 360.0 - 180.0
    cells = np.floor(np.column_stack([latitude, east]) * MAP_CELLS)
    # The North Pole is the upper edge of the topmost row, which no row begins.
    cells[:, 0] = np.minimum(cells[:, 0], 90 * MAP_CELLS - 1)
    visited, which = np.unique(cells, axis=0, return_inverse=True)
    heights = [_height_m(*cell) for cell in visited.astype(np.int64).tolist()]
    return np.asarray(heights, dtype=np.float64)[which.ravel()]


@lru_cache(maxsize=65536)
def _height_m(north: int, east: int) -> float:
    """Of one cell: a study comes by the same cells again and again. [m]"""
    units = map_cell("Altitude", north, east)
    return 0.0 if units == _SEA else float(units) * _STEP_M + _LOWEST_M
