"""The what-if grid: every cell a design of its own, packed for a page."""

from __future__ import annotations

import base64
import json

import numpy as np
import pytest

import sim
from sim.decide import what_if
from sim.decide.what_if import Grid, grid, packed
from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.job.overrides import overridden


@pytest.fixture(scope="module")
def job(request: pytest.FixtureRequest) -> Job:
    unsure: Job = request.getfixturevalue("unsure")
    settings = with_values(unsure.settings, {"draws": 8})
    return with_values(unsure, {"settings": settings})


@pytest.fixture(scope="module")
def found(job: Job) -> Grid:
    return grid(job, jobs=2)


def test_axes(found: Grid) -> None:
    assert found.panels == tuple(range(7))
    assert found.batteries == (1, 2, 3)
    assert found.driving_hours == (0.0, 0.5, 1.0, 2.0)
    assert found.base == (2, 0, 0)
    assert [trip.name for trip in found.trips] == ["March", "November"]


def test_a_coarse_grid_holds_the_same_answers_at_fewer_places(found: Grid, job: Job) -> None:
    coarse = grid(job, coarse=True)
    assert (coarse.panels, coarse.batteries, coarse.driving_hours) == (
        (1, 2, 3),
        (1, 2),
        (0.0, 1.0),
    )
    assert coarse.base == (1, 0, 0)
    for few, many in zip(coarse.trips, found.trips, strict=True):
        assert few.answers[0] == many.answers[12]
        np.testing.assert_array_equal(few.soc[0, 1, 1], many.soc[1, 1, 2])
    assert what_if.lane_steps(job, coarse=True) < what_if.lane_steps(job) / 5


@pytest.mark.parametrize(("p", "b", "r"), [(2, 0, 0), (1, 1, 0), (2, 2, 3), (0, 0, 1)])
def test_each_cell_is_its_own_job(found: Grid, job: Job, p: int, b: int, r: int) -> None:
    """A cell of the grid against the whole pipeline with the same design."""
    changes: dict[str, object] = {"panels.count": found.panels[p], "battery.count": b + 1}
    for number, trip in enumerate(job.trips, 1):
        for place, stop in enumerate(trip.stops, 1):
            hours = stop.local_drive_hours + found.driving_hours[r]
            changes[f"trips[{number}].stops[{place}].local_drive_hours"] = hours
    for trip, result in zip(found.trips, sim.simulate(overridden(job, changes)).trips, strict=True):
        quantiles = np.quantile(result.soc, (0.1, 0.5, 0.9), axis=1)
        np.testing.assert_allclose(trip.soc[p, b, r] / 250.0, quantiles, atol=0.002 + 1e-9)
        cell = trip.answers[(p * 3 + b) * 4 + r]
        assert cell.ample_share == result.share_without_dark
        assert cell.lowest_soc.p10 == pytest.approx(result.lowest_soc.p10)
        assert cell.dark_hours.mean == result.dark_hours.mean()
        assert cell.held == int((result.dark_hours == 0).sum())
        assert cell.unharvested_wh_per_day == pytest.approx(result.energy.unharvested, abs=1e-6)
        clock = result.local_times()
        assert trip.times[0] == f"{clock[0]:%Y-%m-%d %H:%M}"
        assert trip.times[-1] == f"{clock[-1]:%Y-%m-%d %H:%M}"
        assert len(trip.times) == len(clock)


def test_packed_reads_back(found: Grid) -> None:
    data = json.loads(json.dumps(packed(found)))
    assert data["axes"]["batteries"] == [1, 2, 3]
    assert data["base"] == {"panels": 2, "batteries": 0, "driving_hours": 0}
    for trip, kept in zip(found.trips, data["trips"], strict=True):
        count = len(kept["times"])
        raw = np.frombuffer(base64.b64decode(kept["soc"]), dtype=np.uint8)
        np.testing.assert_array_equal(raw.reshape(7, 3, 4, 3, count), trip.soc)
        assert kept["verdict"] == [cell.verdict for cell in trip.answers]
        assert len(kept["verdict"]) == 7 * 3 * 4
        assert trip.soc.max() <= data["levels"]


def test_long_trips_and_many_are_thinned(job: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(what_if, "MOST_BYTES", 7 * 3 * 4 * 3 * 2 * 20)
    thin = grid(job)
    assert all(10 <= len(trip.times) <= 21 for trip in thin.trips)
    assert sum(trip.soc.size for trip in thin.trips) <= 1.1 * what_if.MOST_BYTES


def test_without_an_alternator_nobody_gains_by_driving(job: Job) -> None:
    parked = with_values(job, {"alternator": (), "trips": job.trips[1:]})
    assert grid(parked).driving_hours == (0.0,)


def test_as_many_counts_as_a_page_can_offer(job: Job) -> None:
    group = with_values(job.panels[0], {"count": 12})
    many = with_values(job, {"panels": (group,), "trips": job.trips[1:]})
    found = grid(many)
    assert found.panels == (8, 9, 10, 11, 12, 13, 14)
    assert found.base[0] == 4


def test_the_grid_as_plain_data(found: Grid) -> None:
    """A row for each design, in the order of the cells."""
    from sim.report.data.decision_json import grid_json

    data = json.loads(json.dumps(grid_json(found)))
    for trip, told in zip(found.trips, data["trips"], strict=True):
        assert told["name"] == trip.name
        assert len(told["designs"]) == 7 * 3 * 4
        p, b, r = 3, 1, 2
        row = told["designs"][(p * 3 + b) * 4 + r]
        assert (row["panels"], row["batteries"]) == (3, 2)
        assert row["more_driving_hours_per_day"] == 1.0
        answer = trip.answers[(p * 3 + b) * 4 + r]
        assert row["ample_share"] == answer.ample_share
        assert row["dark_hours_mean"] == answer.dark_hours.mean
