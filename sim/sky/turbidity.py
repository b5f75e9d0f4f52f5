"""How much the air dims the sun: Linke turbidity by place and day, from the map of pvlib."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

import numpy as np
import pvlib

from sim.arrays import Floats
from sim.sky.track import Track

# Cells a degree in the Linke turbidity map that ships with pvlib.
_CELLS = 12
# What was read of it, by row and column.
_known: dict[tuple[int, int], tuple[float, ...]] = {}


def linke_turbidity(track: Track) -> Floats:
    """Linke turbidity along a track: monthly map, interpolated to the day. shape (H,)

    The map covers land, sea and both poles in cells of a twelfth of a degree. A track that
    crosses the date line may count its longitude on past 180 degrees.

    References
    ----------
    J. Remund et al., Worldwide Linke turbidity information, ISES Solar World Congress, 2003.
    """
    east = (track.longitude + 180.0) % 360.0 - 180.0
    row = np.floor(track.latitude * _CELLS).astype(np.int64) + 90 * _CELLS
    column = np.floor(east * _CELLS).astype(np.int64) + 180 * _CELLS
    # The North Pole is the upper edge of the topmost row, which no row begins.
    row = np.minimum(row, 180 * _CELLS - 1)
    since = track.start_utc.astype("datetime64[Y]")
    day = (track.start_utc.astype("datetime64[D]") - since).astype(np.int64)
    year = since.astype(np.int64) + 1970
    keys = (year * 180 * _CELLS + row) * 360 * _CELLS + column
    _, first, which = np.unique(keys, return_index=True, return_inverse=True)
    of_months = _monthly(list(zip(row[first].tolist(), column[first].tolist(), strict=True)))
    out = np.empty(len(track))
    for number, one in enumerate(first.tolist()):
        here = np.flatnonzero(which == number)
        out[here] = _of_days(of_months[number], int(year[one]))[day[here]]
    return out


def _monthly(cells: Sequence[tuple[int, int]]) -> list[tuple[float, ...]]:
    """Of cells of the map, by row from the south and column from the west, the twelve months.

    The map is a file that is slow to open, and a study comes by the same cells again and again.
    """
    new = [cell for cell in dict.fromkeys(cells) if cell not in _known]
    if new:
        import h5py  # pvlib needs it to run

        with h5py.File(Path(pvlib.__file__).parent / "data" / "LinkeTurbidities.h5", "r") as file:
            table = file["LinkeTurbidity"]
            for row, column in new:
                # It begins in the north, and holds twentieths.
                months = table[180 * _CELLS - 1 - row, column] / 20.0
                _known[row, column] = tuple(months.tolist())
    return [_known[cell] for cell in cells]


@lru_cache(maxsize=4096)
def _of_days(of_month: tuple[float, ...], year: int) -> Floats:
    """Linke turbidity of each day of a year.

    Laid over the days here: what the library does for them asks the newest pandas for what it
    warns of.
    """
    first = np.datetime64(f"{year}-01-01")
    edges = np.arange(f"{year - 1}-12", f"{year + 1}-03", dtype="datetime64[M]")
    edges_day = (edges.astype("datetime64[D]") - first).astype(np.float64)
    days = (np.datetime64(f"{year + 1}-01-01") - first).astype(np.int64)
    # Each value is that of its month's middle, December's and January's of the years beside.
    middles = (edges_day[:-1] + edges_day[1:]) / 2.0
    around = [of_month[-1], *of_month, of_month[0]]
    return np.asarray(np.interp(np.arange(1.0, days + 1.0), middles, around), dtype=np.float64)
