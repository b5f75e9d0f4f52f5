"""The maps that come with pvlib, read cell by cell."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pvlib
import pytest

from sim.resources import MAP_CELLS, map_cell

MONTHS = pd.DatetimeIndex([f"2026-{month:02d}-01" for month in range(1, 13)], tz="UTC")


@pytest.mark.parametrize(
    ("north", "east"), [(463, -1315), (0, 0), (-1, -1), (-1080, -2160), (1079, 2159), (-400, 1700)]
)
def test_a_cell_is_the_one_that_the_library_finds(north: int, east: int) -> None:
    middle = (north + 0.5) / MAP_CELLS, (east + 0.5) / MAP_CELLS
    height = pvlib.location.lookup_altitude(*middle)
    units = map_cell("Altitude", north, east)
    assert height == (0 if units == 255 else units * 28.0 - 450.0)
    monthly = pvlib.clearsky.lookup_linke_turbidity(MONTHS, *middle, interp_turbidity=False)
    np.testing.assert_array_equal(map_cell("LinkeTurbidities", north, east) / 20.0, monthly)


def test_the_map_goes_round() -> None:
    assert map_cell("Altitude", 463, 2160 + 100) == map_cell("Altitude", 463, -2160 + 100)
