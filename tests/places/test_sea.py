"""The map of the sea."""

from __future__ import annotations

import numpy as np

from sim.places.lookup import along, find_place
from sim.places.sea import at_sea, joined_by_land


def joined(start: str, end: str) -> bool:
    return joined_by_land(*along(find_place(start), find_place(end), np.linspace(0.0, 1.0, 50)))


def test_sea_and_land() -> None:
    # The Atlantic, the Pacific counted on past 180, the Sahara, Denver.
    latitude = np.array([0.0, 0.0, 22.0, 39.74])
    longitude = np.array([-30.0, 220.0, 10.0, -104.99])
    np.testing.assert_array_equal(at_sea(latitude, longitude), [True, True, False, False])


def test_seven_points_in_ten_of_the_earth_are_sea() -> None:
    """The oceans cover 71 % of it (common knowledge); north of 60 S, where the map ends, 70 %."""
    random = np.random.default_rng(3)
    latitude = np.degrees(np.arcsin(random.uniform(-1.0, 1.0, 20_000)))
    assert 0.69 < at_sea(latitude, random.uniform(-180.0, 180.0, 20_000)).mean() < 0.73


def test_a_detour_over_land_is_found() -> None:
    """Round the Gulf of Lion; not round the Gulf of Bothnia, three times as far aside."""
    assert joined("Marseille", "Barcelona, Spain")
    assert not joined("Umeå", "Vaasa")
    assert not joined("Dover, England", "Calais, France")


def test_a_town_on_a_cell_of_sea_takes_the_land_beside_it() -> None:
    beside = find_place("41.38, 2.25")  # off Barcelona's beach
    assert bool(at_sea(np.array([beside.latitude]), np.array([beside.longitude]))[0])
    assert joined("41.38, 2.25", "Girona, Catalonia")
