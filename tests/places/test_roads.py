"""How long a drive takes, and where there is none."""

from __future__ import annotations

import numpy as np
import pytest

from sim.places.lookup import find_place
from sim.places.roads import estimated_drive, relief_m_km, road_km, speed_km_h


def test_relief_is_climbs_and_falls_over_the_way() -> None:
    assert relief_m_km(np.array([100.0, 300.0, 200.0]), 10.0) == pytest.approx(30.0)
    assert relief_m_km(np.full(4, 100.0), 10.0) == 0.0


def test_hills_and_bays_make_a_road_longer() -> None:
    flat = road_km(100.0, 0.0, 0.0)
    assert 100.0 < flat < 115.0
    assert flat < road_km(100.0, 10.0, 0.0) < road_km(100.0, 20.0, 0.0) < 150.0
    assert road_km(100.0, 500.0, 0.0) == road_km(100.0, 20.0, 0.0)  # no longer than in the Alps
    assert road_km(100.0, 0.0, 0.5) > flat + 10.0


def test_long_drives_are_faster_and_some_countries_slower() -> None:
    speeds = [speed_km_h(km, fast=True) for km in (5.0, 50.0, 150.0, 300.0)]
    assert np.all(np.diff(speeds) > 0.0)
    assert speed_km_h(900.0, fast=True) == speed_km_h(300.0, fast=True)
    assert speed_km_h(150.0, fast=False) < speed_km_h(150.0, fast=True)


def test_the_same_place_is_no_drive_and_the_next_town_a_short_one() -> None:
    moab = find_place("Moab, UT")
    drive = estimated_drive(moab, moab)
    assert drive is not None
    assert drive.hours == 0.0
    near = estimated_drive(moab, find_place("38.60, -109.58"))
    assert near is not None
    assert near.hours == 0.25


@pytest.mark.parametrize(
    ("start", "end"),
    [
        ("Dover, England", "Calais, France"),
        ("Picton, New Zealand", "Wellington, New Zealand"),
        ("Honolulu", "Hilo, HI"),
        ("Barcelona, Spain", "Palma, Spain"),
        ("Honolulu", "Los Angeles, CA"),
        ("40, 20", "-40, -160"),  # opposite sides of the Earth
    ],
)
def test_over_the_sea_there_is_no_drive(start: str, end: str) -> None:
    assert estimated_drive(find_place(start), find_place(end)) is None


@pytest.mark.parametrize(
    ("start", "end"),
    [
        ("Copenhagen", "Malmö, Sweden"),
        ("Barcelona, Spain", "Valencia, Spain"),  # a bay, most of the line in the sea
        ("San Francisco, CA", "Oakland, CA"),
        ("Reykjavík", "Ísafjörður"),
        ("Suva", "Nadi, Fiji"),
    ],
)
def test_round_bays_and_over_bridges_there_is_one(start: str, end: str) -> None:
    there = estimated_drive(find_place(start), find_place(end))
    back = estimated_drive(find_place(end), find_place(start))
    assert there is not None
    assert back is not None
    assert there.hours == pytest.approx(back.hours, abs=0.25)
    assert there.line_km < there.road_km < 2.0 * there.line_km


def test_coordinates_take_the_country_of_the_nearest_town() -> None:
    """Norway's roads are slower: the same by names and by positions."""
    start, end = find_place("Oslo"), find_place("Lillehammer")
    by_name = estimated_drive(start, end)
    by_position = estimated_drive(
        *(find_place(f"{place.latitude}, {place.longitude}") for place in (start, end))
    )
    assert by_name == by_position
    assert by_name is not None
    assert by_name.road_km / by_name.hours < 80.0


def test_across_the_date_line() -> None:
    """In Chukotka, where 180 degrees runs over land: no longer there than anywhere else."""
    start, end = find_place("66.5, 179.5"), find_place("66.5, -179.5")
    drive = estimated_drive(start, end)
    assert drive is not None
    assert drive.line_km == pytest.approx(44.4, abs=0.5)
    assert drive.hours <= 1.5
