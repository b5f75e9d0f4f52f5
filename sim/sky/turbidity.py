"""How much the air dims the sun: Linke turbidity by place and day, from the map of pvlib."""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise

import numpy as np

from sim.arrays import Floats
from sim.resources import MAP_CELLS, map_cell
from sim.sky.track import Track

# The map's whole numbers are twentieths.
_UNITS = 20.0


def linke_turbidity(track: Track) -> Floats:
    """Linke turbidity along a track: monthly map, interpolated to the day. shape (H,)

    The map covers land, sea and both poles in cells of a twelfth of a degree. A track that
    crosses the date line may count its longitude on past 180 degrees.

    References
    ----------
    J. Remund et al., Worldwide Linke turbidity information, ISES Solar World Congress, 2003.
    """
    east = (track.longitude + 180.0) % 360.0 - 180.0
    # The North Pole is the upper edge of the topmost row, which no row begins.
    row = np.minimum(np.floor(track.latitude * MAP_CELLS), 90 * MAP_CELLS - 1).astype(np.int64)
    column = np.floor(east * MAP_CELLS).astype(np.int64)
    since = track.start_utc.astype("datetime64[Y]")
    day = (track.start_utc.astype("datetime64[D]") - since).astype(np.int64)
    year = since.astype(np.int64) + 1970
    keys = (year * 180 * MAP_CELLS + row) * 360 * MAP_CELLS + column
    # A track stays in a cell for many steps.
    begins = np.flatnonzero(np.diff(keys, prepend=keys[:1] - 1))
    out = np.empty(len(track))
    for first, end in pairwise([*begins.tolist(), len(track)]):
        of_days = _turbidity_of_year(int(row[first]), int(column[first]), int(year[first]))
        out[first:end] = of_days[day[first:end]]
    return out


@lru_cache(maxsize=4096)
def _turbidity_of_year(north: int, east: int, year: int) -> Floats:
    """Linke turbidity of each day of a year in one cell of the map: a study comes by the same
    cells again and again."""
    first = np.datetime64(f"{year}-01-01")
    edges = np.arange(f"{year - 1}-12", f"{year + 1}-03", dtype="datetime64[M]")
    edges_day = (edges.astype("datetime64[D]") - first).astype(np.float64)
    days = (np.datetime64(f"{year + 1}-01-01") - first).astype(np.int64)
    monthly = np.asarray(map_cell("LinkeTurbidities", north, east), dtype=np.float64) / _UNITS
    # Each value is that of its month's middle, December's and January's of the years beside.
    middles = (edges_day[:-1] + edges_day[1:]) / 2.0
    around = np.concatenate([monthly[-1:], monthly, monthly[:1]])
    return np.asarray(np.interp(np.arange(1.0, days + 1.0), middles, around), dtype=np.float64)
