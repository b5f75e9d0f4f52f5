"""Where the profiles and data tables lie that come with the program, and the maps of pvlib."""

from __future__ import annotations

from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any

# Cells a degree in each map that comes with pvlib.
MAP_CELLS = 12


def profiles_dir() -> Path:
    """The folder of profiles and tables: beside ``sim/`` in a checkout, inside it in a wheel."""
    package = Path(__file__).resolve().parent
    installed = package / "_profiles"
    return installed if installed.is_dir() else package.parent / "profiles"


def map_cell(name: str, north: int, east: int) -> Any:
    """What a map that comes with pvlib holds of one cell, in the map's own numbers.

    Parameters
    ----------
    name : str
        Of the map's file, such as ``Altitude``.
    north, east : int
        Twelfths of a degree from the equator and from Greenwich to the cell's southwest corner.
    """
    return _map(name)[90 * MAP_CELLS - 1 - north, (180 * MAP_CELLS + east) % (360 * MAP_CELLS)]


@cache
def _map(name: str) -> Any:
    """The map, whose file stays open: the library opens and unpacks it anew for each cell, and a
    drive comes by dozens that lie side by side."""
    import h5py

    library = find_spec("pvlib")
    assert library is not None
    assert library.origin is not None
    (found,) = h5py.File(Path(library.origin).parent / "data" / f"{name}.h5", "r").values()
    return found
