"""Altitude: of a town by its own entry, of a point by the map."""

from __future__ import annotations

import numpy as np
import pytest

from sim.places.altitude import altitude_m
from sim.places.gazetteer import table
from sim.places.lookup import find_place


def test_altitude_of_many_points() -> None:
    # Rounded town elevations, from memory: Moab 1,227 m, Denver 1,609 m, Leadville 3,094 m, Lhasa
    # 3,650 m; the sea 0. The map's own warning is 100 m and more; cells of 9 km in mountains are
    # held to 450 m.
    towns = ["Moab, UT", "Denver", "Leadville, CO", "Lhasa, Tibet", "0, -30", "89.9, 180"]
    places = [find_place(text) for text in towns]
    latitude = np.array([place.latitude for place in places])
    longitude = np.array([place.longitude for place in places])
    height = altitude_m(latitude, longitude)
    np.testing.assert_allclose(height, [1227.0, 1609.0, 3094.0, 3650.0, 0.0, 0.0], atol=450.0)
    assert list(height[4:]) == [0.0, 0.0]


def test_altitude_is_the_maps_at_each_point() -> None:
    from pvlib.location import lookup_altitude

    random = np.random.default_rng(5)
    latitude, longitude = random.uniform(-90.0, 90.0, 60), random.uniform(-180.0, 180.0, 60)
    expected = [lookup_altitude(*spot) for spot in zip(latitude, longitude, strict=True)]
    np.testing.assert_array_equal(altitude_m(latitude, longitude), expected)
    np.testing.assert_array_equal(altitude_m(latitude, longitude + 360.0), expected)
    edges = np.array([90.0, -90.0, 0.0, 0.0]), np.array([0.0, 0.0, 180.0, -180.0])
    assert np.all(np.isfinite(altitude_m(*edges)))


def test_every_town_has_an_altitude_where_people_can_live() -> None:
    gazetteer = table()
    # The shore of the Dead Sea and the highest mine town.
    assert gazetteer.altitude_m.min() >= -430
    assert gazetteer.altitude_m.max() <= 5500
    assert gazetteer.altitude_doubt_m.min() >= 10
    assert gazetteer.altitude_doubt_m.max() <= 500
    # GeoNames gives 84 of 100 places a height of their own.
    assert 0.80 < np.mean(gazetteer.altitude_doubt_m == gazetteer.altitude_doubt_m.min()) < 0.95


def test_a_town_has_its_own_altitude_and_a_point_has_none() -> None:
    town = find_place("Ouray, CO")
    assert town.altitude_m == pytest.approx(2375.0, abs=30.0)
    assert town.altitude_doubt_m is not None
    assert " m" not in town.label
    point = find_place(f"{town.latitude}, {town.longitude}")
    assert point.altitude_m is None
    assert point.altitude_doubt_m is None


def test_a_written_altitude_takes_the_place_of_the_towns() -> None:
    written = find_place("Ouray, CO, 2500 m")
    assert (written.altitude_m, written.altitude_doubt_m) == (2500.0, None)
    assert written.label.endswith("2500 m")
