"""The what-if grid: every cell a design of its own, packed for a page."""

from __future__ import annotations

import base64
import json

import numpy as np
import pytest

import sim
from sim.decide import what_if
from sim.decide.own_cell import as_answered
from sim.decide.what_if import Grid, grid, largest_comforts, packed
from sim.job.model.changes import with_values
from sim.job.model.job import Job, Trip
from sim.job.overrides import overridden
from sim.job.reading.load import load_job
from sim.ledger.answer import Answer, answer_of
from sim.ledger.results import TripResult
from sim.trip.prepare import Skies, prepare_trip

COMFORTS = """
[[appliances]]
name = "Microwave"
kind = "timed"
supply = "ac"
watts = 900
at = ["12:00-12:06"]

[[appliances]]
name = "Television"
kind = "timed"
watts = 30
at = ["20:00-22:00"]

[[appliances]]
name = "Lamp"
kind = "steady"
watts = 1

[[appliances]]
name = "Gas oven"
kind = "cooking"
fuel = "propane"
watts = 5
meal_wh_person = 100
"""


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory, unsure_job: str) -> Job:
    """The unsure job in few draws, with comforts of all sizes."""
    text = unsure_job.replace("draws = 40", "draws = 8")
    path = tmp_path_factory.mktemp("comforts") / "job.toml"
    path.write_text(text + COMFORTS, "utf-8")
    return load_job(path)


def says(planned: Trip, trip: TripResult, answer: Answer) -> tuple[str, ...]:
    """Something of the trip, of its result and of its answer."""
    return planned.name, f"{trip.soc[-1].mean():.6f}, {answer.held}"


@pytest.fixture(scope="module")
def found(job: Job) -> Grid:
    return grid(job, says, jobs=2)


def test_axes(found: Grid) -> None:
    assert found.panels == tuple(range(5))
    assert found.batteries == (1, 2)
    assert found.driving_hours == (0.0, 1.0)
    assert found.comforts == ("Coffee maker", "Microwave", "Television")
    assert found.base == (2, 0, 0)
    assert [trip.name for trip in found.trips] == ["March", "November"]


def test_a_coarse_grid_holds_the_same_answers_at_fewer_places(found: Grid, job: Job) -> None:
    coarse = grid(job, says, coarse=True)
    assert (coarse.panels, coarse.batteries, coarse.driving_hours) == (
        (1, 2, 3),
        (1, 2),
        (0.0, 1.0),
    )
    assert coarse.comforts == found.comforts[:1]
    assert coarse.base == (1, 0, 0)
    for few, many in zip(coarse.trips, found.trips, strict=True):
        # One panel, one battery, no more driving, the coffee maker left off.
        assert few.answers[1] == many.answers[1 * 2 * 2 * 8 + 1]
        np.testing.assert_array_equal(few.soc[0, 1, 1, 1], many.soc[1, 1, 1, 1])
    assert what_if.lane_steps(job, coarse=True) < what_if.lane_steps(job) / 5


def test_its_own_cell_is_the_answer_of_the_report(found: Grid, job: Job) -> None:
    """In more draws than the others are tried in."""
    settings = with_values(job.settings, {"draws": 20})
    more = with_values(job, {"settings": settings})
    result, every = sim.simulate(more, lean=True), sim.simulate(more)
    whole = as_answered(found, result, says)
    for before, after, trip in zip(found.trips, whole.trips, result.trips, strict=True):
        own = 2 * 2 * 2 * 8  # two panels, one battery
        assert (before.answers[own].draws, after.answers[own].draws) == (8, 20)
        assert after.answers[own] == answer_of(trip)
        assert after.said[own] != before.said[own]
        middle = np.quantile(every.trip(trip.name).soc, 0.5, axis=1)[: len(after.times)]
        np.testing.assert_allclose(after.soc[2, 0, 0, 0, 1] / 250, middle, atol=0.0021)
        others = [n for n in range(len(before.answers)) if n != own]
        assert all(before.answers[n] == after.answers[n] for n in others)
        np.testing.assert_array_equal(before.soc[3], after.soc[3])
    assert as_answered(found, sim.simulate(job, lean=True), says) == found


@pytest.mark.parametrize(
    ("p", "b", "r", "c"), [(2, 0, 0, 0), (1, 1, 0, 1), (2, 1, 1, 6), (0, 0, 1, 7), (1, 0, 1, 2)]
)
def test_each_cell_is_its_own_job(found: Grid, job: Job, p: int, b: int, r: int, c: int) -> None:
    """A cell of the grid against the whole pipeline with the same design."""
    changes: dict[str, object] = {"panels.count": found.panels[p], "battery.count": b + 1}
    for bit, name in enumerate(found.comforts):
        if c >> bit & 1:
            changes[f"appliances[{name}].count"] = 0
    for number, trip in enumerate(job.trips, 1):
        for place, stop in enumerate(trip.stops, 1):
            hours = stop.local_drive_hours + found.driving_hours[r]
            changes[f"trips[{number}].stops[{place}].local_drive_hours"] = hours
    changed = overridden(job, changes)
    number = ((p * 2 + b) * 2 + r) * 8 + c
    for trip, result in zip(found.trips, sim.simulate(changed).trips, strict=True):
        quantiles = np.quantile(result.soc, (0.1, 0.5, 0.9), axis=1)
        np.testing.assert_allclose(trip.soc[p, b, r, c] / 250.0, quantiles, atol=0.002 + 1e-9)
        cell, own = trip.answers[number], answer_of(result)
        assert (cell.verdict, cell.held, cell.all_held) == (own.verdict, own.held, own.all_held)
        assert cell.lowest_soc.p10 == pytest.approx(result.lowest_soc.p10)
        assert cell.dark_hours.mean == result.dark_hours.mean()
        assert cell.unharvested_wh_per_day == pytest.approx(result.energy.unharvested, abs=1e-6)
        assert trip.said[number] == (trip.name, says(job.trips[0], result, own)[1])
        clock = result.local_times()
        assert trip.times[0] == f"{clock[0]:%Y-%m-%d %H:%M}"
        assert trip.times[-1] == f"{clock[-1]:%Y-%m-%d %H:%M}"
        assert len(trip.times) == len(clock)


def test_only_what_people_can_do_without_is_a_comfort(job: Job) -> None:
    """No essential, no heater, no pump, nothing that burns gas, nothing held to a charge; the one
    that wants most first."""
    places = largest_comforts(job, Skies(), 9)
    names = [job.appliances[place].name for place in places]
    assert names == ["Coffee maker", "Microwave", "Television", "Lamp"]
    held = overridden(job, {"appliances[Microwave].above_soc": 0.6})
    places = largest_comforts(held, Skies(), 9)
    assert "Microwave" not in [held.appliances[place].name for place in places]


def test_comforts_are_found_under_skies_that_are_there(
    job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    skies = Skies()
    for trip in job.trips:
        prepare_trip(job, trip, skies=skies)
    monkeypatch.delattr("sim.trip.prepare.trip_weather")  # nothing is drawn anew
    assert largest_comforts(job, skies, 3)


def test_packed_reads_back(found: Grid) -> None:
    data = json.loads(json.dumps(packed(found)))
    assert data["axes"]["batteries"] == [1, 2]
    assert data["axes"]["comforts"] == list(found.comforts)
    assert data["base"] == {"panels": 2, "batteries": 0, "driving_hours": 0}
    for trip, kept in zip(found.trips, data["trips"], strict=True):
        count = len(kept["times"])
        raw = np.frombuffer(base64.b64decode(kept["soc"]), dtype=np.uint8)
        np.testing.assert_array_equal(raw.reshape(5, 2, 2, 8, 3, count), trip.soc)
        assert kept["verdict"] == [cell.verdict for cell in trip.answers]
        assert len(kept["verdict"]) == 5 * 2 * 2 * 8
        assert trip.soc.max() <= data["levels"]


def test_long_trips_and_many_are_thinned(job: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(what_if, "MOST_BYTES", 3 * 2 * 2 * 2 * 3 * 2 * 20)
    thin = grid(job, says, coarse=True)
    assert all(10 <= len(trip.times) <= 21 for trip in thin.trips)
    assert sum(trip.soc.size for trip in thin.trips) <= 1.1 * what_if.MOST_BYTES


def test_without_an_alternator_nobody_gains_by_driving(job: Job) -> None:
    parked = with_values(job, {"alternator": (), "trips": job.trips[1:]})
    assert grid(parked, says).driving_hours == (0.0,)


def test_as_many_counts_as_a_page_can_offer(job: Job) -> None:
    group = with_values(job.panels[0], {"count": 12})
    many = with_values(job, {"panels": (group,), "trips": job.trips[1:]})
    found = grid(many, says)
    assert found.panels == (10, 11, 12, 13, 14)
    assert found.base[0] == 2


def test_the_grid_as_plain_data(found: Grid) -> None:
    """A row for each design, in the order of the cells."""
    from sim.report.data.decision_json import grid_json

    data = json.loads(json.dumps(grid_json(found)))
    for trip, told in zip(found.trips, data["trips"], strict=True):
        assert told["name"] == trip.name
        assert len(told["designs"]) == 5 * 2 * 2 * 8
        number = ((3 * 2 + 1) * 2 + 1) * 8 + 5
        row, answer = told["designs"][number], trip.answers[number]
        assert (row["panels"], row["batteries"]) == (3, 2)
        assert row["more_driving_hours_per_day"] == 1.0
        assert row["left_off"] == [found.comforts[0], found.comforts[2]]
        assert row["ample_share"] == answer.ample_share
        assert row["dark_hours_mean"] == answer.dark_hours.mean
