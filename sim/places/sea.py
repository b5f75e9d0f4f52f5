"""Where the sea is, to a twelfth of a degree, and whether land joins two points."""

from __future__ import annotations

from functools import cache

import numpy as np

from sim.arrays import Bools, Floats, Ints
from sim.resources import profiles_dir

CELLS_PER_DEGREE = 12
_ROWS, _COLUMNS = 180 * CELLS_PER_DEGREE, 360 * CELLS_PER_DEGREE


@cache
def _mask() -> Bools:
    """True at sea, rows from north to south, columns from 180 W. shape (2160, 4320)"""
    with np.load(profiles_dir() / "climate" / "climate.npz") as file:
        return np.unpackbits(file["sea"], axis=1, count=_COLUMNS).astype(np.bool_)


def at_sea(latitude: Floats, longitude: Floats) -> Bools:
    """Whether the map has sea at each point. shape (N,)

    Parameters
    ----------
    latitude, longitude : ndarray, shape (N,)
        North and east positive; a longitude may count on past 180. [degrees]
    """
    row, column = _cell(latitude, longitude)
    return np.asarray(_mask()[row, column % _COLUMNS])


def joined_by_land(latitude: Floats, longitude: Floats) -> bool:
    """Whether a way over land leads from the first of some points to the last.

    Parameters
    ----------
    latitude, longitude : ndarray, shape (N,)
        Along the straight way between them. [degrees]

    Notes
    -----
    The map closes straits narrower than a cell, 9 km, and does not know which of them have a
    bridge: Copenhagen and Malmö are joined, Dover and Calais are not. The detour may lead as far
    aside as the way is long. A point in a cell of sea takes the land of the eight cells around.
    """
    from scipy.ndimage import label

    row, column = _cell(latitude, longitude)
    # Where the longitude jumps by a turn the way goes on across 180.
    column = np.unwrap(column, period=_COLUMNS).astype(np.int64)
    aside = int(max(np.ptp(row), np.ptp(column))) + CELLS_PER_DEGREE
    rows = np.arange(max(row.min() - aside, 0), min(row.max() + aside + 1, _ROWS))
    columns = np.arange(column.min() - aside, column.max() + aside + 1)
    land = ~_mask()[np.ix_(rows, columns % _COLUMNS)]
    region, _ = label(land, structure=np.ones((3, 3)))
    first, last = (
        region[y - 1 : y + 2, x - 1 : x + 2]
        for y, x in zip(row[[0, -1]] - rows[0], column[[0, -1]] - columns[0], strict=True)
    )
    return bool(np.intersect1d(first[first > 0], last[last > 0]).size)


def _cell(latitude: Floats, longitude: Floats) -> tuple[Ints, Ints]:
    """Row, and column counted on past the map's edge."""
    row = np.floor((90.0 - np.asarray(latitude)) * CELLS_PER_DEGREE)
    column = np.floor((np.asarray(longitude) + 180.0) * CELLS_PER_DEGREE)
    return np.clip(row, 0, _ROWS - 1).astype(np.int64), column.astype(np.int64)
