"""In how many draws a trip is simulated, and that it does not matter in what blocks."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import sim
from sim.job.model.changes import with_values
from sim.job.model.job import FIRST_DRAWS, MOST_DRAWS, Job
from sim.ledger import simulate
from sim.ledger.answer import answer_of
from sim.ledger.results import Result, TripResult
from sim.ledger.sampling import is_settled
from sim.report.data.export import csv_files, trip_json
from sim.trip.prepare import Skies, prepare_trip

MakeJob = Callable[..., Job]
JOBS = Path(__file__).parents[1] / "data" / "jobs"
FULL = (JOBS / "full.toml").read_text("utf-8")
# Some nights in the snow with tanks, and a heater that holds while nobody is aboard.
COLD = (
    (JOBS / "parked-in-january.toml")
    .read_text("utf-8")
    .replace("nights = 8", "nights = 4")
    .replace("36.91, -111.45, 1310 m", "44.06, -121.31, 1100 m")
    .replace("lifepo4-200", "lifepo4-100")
    + """
[water]
fresh_l = 150
place = "under the floor"

[[water.grey]]
name = "Sink tank"
capacity_l = 120
takes = ["kitchen", "basin"]

[propane]
tank_l = 20

[[appliances]]
use = "furnace-propane"
"""
)


def with_draws(job: Job, draws: int | None) -> Job:
    return with_values(job, {"settings": with_values(job.settings, {"draws": draws})})


@pytest.fixture(scope="module")
def cold(edited: MakeJob) -> Job:
    """Its answer is open."""
    return with_draws(edited(COLD), None)


@pytest.fixture(scope="module")
def answered(cold: Job) -> Result:
    return sim.simulate(cold, lean=True)


@pytest.fixture(scope="module")
def whole(edited: MakeJob) -> Callable[[str], tuple[Result, Any, Any]]:
    """A job of six draws simulated at once, and what is written of it."""

    @cache
    def run(text: str) -> tuple[Result, Any, Any]:
        result = sim.simulate(with_draws(edited(text), 6))
        return result, trip_json(result), csv_files(result, "job")

    return run


def in_blocks(job: Job, size: int, monkeypatch: pytest.MonkeyPatch, *, lean: bool) -> Result:
    monkeypatch.setattr(simulate, "LANE_STEPS", 1)
    monkeypatch.setattr(simulate, "_LEAST_AT_ONCE", size)
    return sim.simulate(job, lean=lean)


def assert_alike(one: Any, other: Any) -> None:
    """The same but for the rounding of sums, whose order is not the same."""
    if isinstance(one, dict):
        assert one.keys() == other.keys()
        for key in one:
            assert_alike(one[key], other[key])
    elif isinstance(one, (list, tuple)):
        assert len(one) == len(other)
        for a, b in zip(one, other, strict=True):
            assert_alike(a, b)
    elif isinstance(one, float):
        assert one == pytest.approx(other, rel=1e-12, abs=1e-12)
    else:
        assert one == other


@pytest.mark.parametrize("lean", [True, False])
@pytest.mark.parametrize("size", [1, 4])
@pytest.mark.parametrize("text", [FULL, COLD], ids=["full", "cold"])
def test_the_blocks_of_draws_change_no_number(
    text: str,
    size: int,
    lean: bool,
    whole: Callable[[str], tuple[Result, Any, Any]],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    result, numbers, files = whole(text)
    parts = in_blocks(result.job, size, monkeypatch, lean=lean)
    assert_alike(trip_json(parts), numbers)
    assert csv_files(parts, "job") == files
    for one, other in zip(parts.trips, result.trips, strict=True):
        np.testing.assert_array_equal(one.soc, other.soc[:, [other.bad]] if lean else other.soc)
        np.testing.assert_array_equal(one.lowest, other.lowest)
        np.testing.assert_array_equal(one.course.soc, other.course.soc)
        assert one.about == other.about
        assert answer_of(one).first_dark == answer_of(other).first_dark
        assert one.battery_life == other.battery_life
        for mine, theirs in zip(one.loads, other.loads, strict=True):
            days = theirs.on_days_of(_first_draw(other)) if lean else theirs
            np.testing.assert_array_equal(mine.wanted_wh_day, days.wanted_wh_day)
        for mine, theirs in zip(one.stores, other.stores, strict=True):
            # Of the mean use of its steps, whose sum numpy adds in another order for one draw.
            np.testing.assert_allclose(mine.nights_until, theirs.nights_until, rtol=1e-12)
            assert lean or mine.balance_error() < 1e-9


def _first_draw(trip: TripResult) -> int:
    first = answer_of(trip).first_dark
    return trip.bad if first is None else first.draw


def test_an_open_answer_takes_more_draws(cold: Job, answered: Result) -> None:
    trip = answered.trips[0]
    few = sim.simulate(with_draws(cold, FIRST_DRAWS), lean=True).trips[0]
    assert not is_settled(answer_of(few).all_held, FIRST_DRAWS)
    assert (trip.draws, few.draws) == (MOST_DRAWS, FIRST_DRAWS)
    # The first of them are the very same.
    np.testing.assert_array_equal(trip.lowest[:FIRST_DRAWS], few.lowest)
    assert trip.promise.all_hold[:FIRST_DRAWS].tolist() == few.promise.all_hold.tolist()
    assert "1,000 simulated trips" in trip.about[0]


def test_they_are_those_that_a_job_may_ask_for(cold: Job, answered: Result) -> None:
    asked = sim.simulate(with_draws(cold, MOST_DRAWS), lean=True).trips[0]
    np.testing.assert_array_equal(answered.trips[0].lowest, asked.lowest)
    np.testing.assert_array_equal(answered.trips[0].course.soc, asked.course.soc)
    mine, theirs = (answer_of(trip) for trip in (answered.trips[0], asked))
    assert (mine.all_held, mine.essentials_held) == (theirs.all_held, theirs.essentials_held)


def test_a_settled_answer_takes_no_more(cold: Job) -> None:
    full = with_values(cold, {"battery": with_values(cold.battery, {"count": 20})})
    dry = with_values(full, {"water": None, "propane": None, "appliances": cold.appliances[:1]})
    assert sim.simulate(dry, lean=True).trips[0].draws == FIRST_DRAWS


@pytest.mark.parametrize("draws", [7, 150, 200])
def test_a_number_that_is_asked_for_is_exact(cold: Job, draws: int) -> None:
    assert sim.simulate(with_draws(cold, draws), lean=True).trips[0].draws == draws


def test_changes_are_tried_in_the_first(cold: Job) -> None:
    skies = Skies()
    trip = sim.simulate(cold, lean=True, skies=skies).trips[0]
    tried = prepare_trip(cold, cold.trips[0], skies=skies)
    assert (trip.draws, tried.draws) == (MOST_DRAWS, FIRST_DRAWS)


def test_more_draws_stay_within_the_bound_of_memory(
    cold: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    steps = len(prepare_trip(with_draws(cold, 1), cold.trips[0]).timeline)
    monkeypatch.setattr(simulate, "MAX_LANE_STEPS", steps * 300)
    assert FIRST_DRAWS < sim.simulate(cold, lean=True).trips[0].draws <= 310


def test_settled_is_within_a_point() -> None:
    """Standard error of dice times 0.9: 1.08 points at 194 of 200, 0.99 at 195."""
    settled = [is_settled(held, 200) for held in (0, 5, 6, 100, 194, 195, 200)]
    assert settled == [True, True, False, False, False, True, True]
