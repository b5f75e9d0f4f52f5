"""The strip of nights: one for each, the charge at dawn, what happened from noon to noon."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from sim.ledger.results import Result, TripResult
from sim.report.charts.chart_data import charge_points, local_clock
from sim.report.charts.nights import nights_of


@pytest.fixture(scope="module")
def winter(small_result: Result) -> TripResult:
    """Five nights: three at the first stop, two on the plug at the second."""
    return small_result.trips[0]


def test_each_night_has_its_place_and_charge_at_dawn(winter: TripResult) -> None:
    nights = nights_of(winter, "hour", 4)
    assert [night.evening.day for night in nights] == [4, 5, 6, 7, 8]
    assert [night.stop for night in nights] == [0, 0, 0, 1, 1]
    clock = local_clock(winter)
    points = charge_points(winter, "hour", 4)
    for night in nights:
        dawn = clock[night.point]
        assert dawn.date() == night.evening + dt.timedelta(days=1)
        assert winter.sun_up[night.point]
        assert not winter.sun_up[night.point - 1]
        assert night.soc == winter.soc[night.point, 4] == points.bad[night.point]


def test_by_the_day_a_night_opens_the_day_of_its_dawn(winter: TripResult) -> None:
    times = charge_points(winter, "day", 4).times
    for night in nights_of(winter, "day", 4):
        assert times[night.point].date() == night.evening + dt.timedelta(days=1)


def test_what_happened_is_marked(winter: TripResult) -> None:
    assert [night.is_plugged for night in nights_of(winter, "hour", 0)] == [False] * 3 + [True] * 2
    unserved = np.zeros_like(winter.unserved_w)
    # 3 am of the 7th belongs to the night of the 6th; 1 pm to that of the 7th
    clock = local_clock(winter)
    for hour in (dt.datetime(2027, 1, 7, 3), dt.datetime(2027, 1, 7, 13)):
        unserved[2, clock.index(hour), 4] = 5.0
    dark = replace(winter, unserved_w=unserved)
    assert [n.evening.day for n in nights_of(dark, "hour", 4) if n.is_off] == [6, 7]
    # another draw is not the bad case
    assert not any(night.is_off for night in nights_of(dark, "hour", 5))


def test_where_the_sun_stays_away_a_night_ends_in_the_morning(winter: TripResult) -> None:
    for always in (True, False):
        polar = replace(winter, sun_up=np.full(len(winter.timeline), always))
        clock = local_clock(polar)
        assert {clock[night.point].hour for night in nights_of(polar, "hour", 0)} == {8}


def test_a_square_is_filled_as_high_as_the_charge(winter: TripResult) -> None:
    night = replace(nights_of(winter, "hour", 0)[0], soc=0.3, is_off=True)
    assert 'y="70%" width="100%" height="30%"' in night.drawing
    assert "f-floor" in night.drawing
    assert "f-floor" not in replace(night, is_off=False).drawing
