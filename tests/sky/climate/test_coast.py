"""Shores under cold water: cooler and duller than the maps, and only there."""

from __future__ import annotations

import numpy as np
import pytest

from sim.sky.climate import coast
from sim.sky.climate.corrections import station_tables
from sim.sky.climate.monthly import monthly

JANUARY, JULY = 0, 6


@pytest.mark.parametrize(
    ("latitude", "longitude", "wet"),
    [
        (-45.0, -120.0, True),  # South Pacific
        (45.0, -40.0, True),  # North Atlantic
        (60.0, 90.0, False),  # Siberia
        (-60.0, 90.0, True),  # its mirror image, the Southern Ocean
        (24.0, 0.0, False),  # Sahara
        (-24.0, 0.0, True),  # its mirror image, the South Atlantic
        (-24.0, 135.0, False),  # Australia
    ],
)
def test_the_map_of_the_sea_lies_as_that_of_the_temperature(
    latitude: float, longitude: float, wet: bool
) -> None:
    """Rows from 90 S, columns from 180 W, every 1.5 degrees."""
    row, column = round((latitude + 90.0) / 1.5), round((longitude + 180.0) / 1.5)
    assert station_tables().at_sea[row, column] == wet


def test_a_shore_under_cold_water_is_cool_in_summer() -> None:
    """July at Los Angeles airport: 19.9 deg C in the typical year of the National Solar Radiation
    Data Base (tests/data/climate_stations.csv); the map alone has 26."""
    assert monthly(33.93, -118.4, 30.0).temperature_c[JULY] == pytest.approx(19.9, abs=1.5)


def test_cooler_shores_are_duller_up_to_a_bound() -> None:
    shift = coast.shore_shift(np.array([[0.0, 1.0, 3.0, 9.0]]))[0]
    assert shift[0] == 0.0
    assert shift[0] > shift[1] > shift[2]
    assert shift[3] == shift[2]


def test_warm_seas_change_nothing() -> None:
    """Twelve months at 20 deg C beside a sea of 26: nothing to cool."""
    nodes = np.full((12, 121, 240), 26.0)
    sea = np.ones((121, 240), dtype=np.bool_)
    here = np.array([10.0]), np.array([20.0]), np.array([2.0])
    warm = coast.cooling_by_sea(nodes, sea, *here, np.full((1, 12), 20.0))
    cold = coast.cooling_by_sea(nodes - 12.0, sea, *here, np.full((1, 12), 20.0))
    assert warm == pytest.approx(np.zeros((1, 12)))
    assert (cold > 1.0).all()
