"""Frost: where water could freeze, what a pad takes, when to winterise."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

import sim
from sim.job.model.job import Job
from sim.ledger.results import TripResult
from sim.report.terminal.answer import trip_table
from sim.report.words.warmth import pipes_otherwise

JOB = """
title = "Frost"

[van]
use = "medium-roof"

[living]
use = "weekend-away"

[battery]
use = "lifepo4-300"

[water]
fresh_l = 80

[[water.grey]]
name = "Under"
capacity_l = 60
takes = ["kitchen", "basin"]

[[water.grey]]
name = "Out"
capacity_l = 60
takes = ["shower"]
place = "outside"

[[appliances]]
use = "air-heater-fuel"

[[trips]]
name = "Winter"
depart = 2027-01-10

[[trips.stops]]
place = "Escalante, Utah"
nights = 4

[settings]
draws = 20
seed = 2
"""
Make = Callable[..., TripResult]
OFF = ('use = "air-heater-fuel"', 'use = "air-heater-fuel"\naway_c = "off"')
NORTH = ("Escalante, Utah", "49.90, -97.14")
STRONG = ('use = "air-heater-fuel"', 'use = "air-heater-fuel"\nheat_watts = 5000')


@pytest.fixture(scope="module")
def run(edited: Callable[..., Job]) -> Make:
    """Simulates the job's trip with some of its text changed."""
    return lambda *changes: sim.simulate(edited(JOB, *changes)).trips[0]


def test_tanks_outside_freeze_and_a_heated_cabin_does_not(run: Make) -> None:
    trip = run(OFF)
    places = [(spot.name, spot.place) for spot in trip.frost.spots]
    assert places == [
        ("Pipes and pump", "inside"),
        ("Fresh water", "inside"),
        ("Under", "under the floor"),
        ("Out", "outside"),
    ]
    pipes, fresh, under, out = trip.frost.spots
    assert out.share >= under.share >= 0.85
    assert out.coldest_c.mean() < under.coldest_c.mean()
    # Nobody aboard all day, the heater off: not cold for long enough here.
    assert pipes.hours.mean() < under.hours.mean()
    assert fresh.needed_watts.mean() < under.needed_watts.mean()


def test_a_van_without_heat_is_to_be_winterised(run: Make) -> None:
    cold = run(('[[appliances]]\nuse = "air-heater-fuel"\n', ""))
    assert cold.frost.winterise == (0,)
    assert cold.frost.spots[0].share > 0.8
    warm = run(("nights = 4", "nights = 4"), ("2027-01-10", "2027-07-10"))
    assert warm.frost.winterise == ()
    assert all(spot.share == 0.0 for spot in warm.frost.spots)


def test_heat_kept_while_away_keeps_the_pipes(run: Make) -> None:
    """And each says what the other would do: a second run of the cabin, nothing else."""
    held, off = run(NORTH, STRONG), run(NORTH, STRONG, OFF)
    assert held.frost.spots[0].share == 0.0
    assert held.frost.winterise == ()
    assert off.frost.spots[0].share > 0.5
    assert held.frost.away is not None
    assert off.frost.away is not None
    assert (held.frost.away.is_held, off.frost.away.is_held) == (True, False)
    np.testing.assert_allclose(held.frost.away.otherwise_hours, off.frost.spots[0].hours)
    np.testing.assert_allclose(off.frost.away.otherwise_hours, held.frost.spots[0].hours)
    words = pipes_otherwise(held)
    assert words is not None
    freezes = int((off.frost.spots[0].hours > 0.0).sum())
    assert f"could freeze in {freezes} of {held.draws} simulated trips" in words
    assert "switched off" in words
    assert "left on low" in (pipes_otherwise(off) or "")
    assert "Could freeze" in [row[0] for row in trip_table((held,), "si")[1]]


def test_a_heater_too_weak_for_the_deepest_cold_does_not_keep_them(run: Make) -> None:
    """2 kW against the air that leaks in and what the shell loses below -35 deg C."""
    weak = run(NORTH)
    froze = weak.frost.spots[0].hours > 0.0
    assert 0.0 < froze.mean() < 0.5
    outside_c = weak.temp_air.min(axis=0)
    assert outside_c[froze].max() < outside_c[~froze].min()
    assert weak.frost.winterise == (0,)


def test_heat_that_makes_no_difference_is_not_told(run: Make) -> None:
    summer = run(("2027-01-10", "2027-07-10"))
    assert summer.frost.away is None
    assert pipes_otherwise(summer) is None


def test_a_pad_of_what_it_needs_keeps_it_and_is_paid_for(run: Make) -> None:
    bare = run()
    need = float(np.max(bare.frost.spots[2].needed_watts))
    place = 'capacity_l = 60\ntakes = ["kitchen", "basin"]'
    kept = run((place, f"{place}\nwarmer_watts = {need + 1:.1f}"))
    assert kept.frost.spots[2].share == 0.0
    (pad,) = [load for load in kept.loads if load.name == "Tank warmer, Under"]
    assert pad.priority == "essential"
    assert 0.0 < pad.wanted_wh.mean() <= (need + 1) * kept.hours_long
    weak = run((place, f"{place}\nwarmer_watts = {need / 3:.1f}"))
    assert 0.0 < weak.frost.spots[2].hours.mean() < bare.frost.spots[2].hours.mean()


def test_a_heater_that_is_too_small_is_told(run: Make) -> None:
    enough = run()
    small = run(('use = "air-heater-fuel"', 'use = "air-heater-fuel"\nheat_watts = 500'))
    assert small.chill.hours.mean() > 5.0 + enough.chill.hours.mean()
    assert small.chill.kelvin_hours.mean() > small.chill.hours.mean()
    none = run(('[[appliances]]\nuse = "air-heater-fuel"\n', ""))
    assert not none.chill.hours.any()


def test_only_a_van_that_is_left_could_be_heated_otherwise_meanwhile(run: Make) -> None:
    """Out by day it has its other way; with somebody aboard at all times there is none."""
    at_home = ('use = "weekend-away"', 'use = "weekend-away"\nout = []')
    assert run(NORTH).frost.away is not None
    assert run(NORTH, at_home).frost.away is None
