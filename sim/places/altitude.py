"""Height of the ground at any point, by the coarse map that comes with pvlib.

Towns have an altitude of their own in the table of `sim.places.gazetteer`; the map is for
coordinates and for the way between.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from sim.arrays import Floats

# The map has one cell for each twelfth of a degree.
_CELLS_PER_DEGREE = 12


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
    cells = np.floor(np.column_stack([latitude, east]) * _CELLS_PER_DEGREE)
    # The North Pole is the upper edge of the topmost row, which no row begins.
    cells[:, 0] = np.minimum(cells[:, 0], 90 * _CELLS_PER_DEGREE - 1)
    visited, which = np.unique(cells, axis=0, return_inverse=True)
    heights = [_height_m(*middle) for middle in ((visited + 0.5) / _CELLS_PER_DEGREE).tolist()]
    return np.asarray(heights, dtype=np.float64)[which.ravel()]


@lru_cache(maxsize=65536)
def _height_m(latitude: float, longitude: float) -> float:
    """Of one cell; the map is a file that is slow to open, and a study comes by the same cells
    again and again. [m]"""
    from pvlib.location import lookup_altitude

    return float(lookup_altitude(latitude, longitude))
