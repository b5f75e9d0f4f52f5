"""A lean result says what a whole one says, in a fraction of its memory."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest

import sim
from sim.job.model.changes import with_values
from sim.ledger.answer import answer_of
from sim.ledger.audit import audit
from sim.ledger.results import Result
from sim.ledger.simulate import simulate_trip
from sim.report.charts.chart_data import charge_points, periods
from sim.report.data.export import json_text, trip_json
from sim.trip.known import held_bytes


@pytest.fixture(scope="module")
def lean(full_result: Result) -> Result:
    return replace(full_result, trips=tuple(trip.lean() for trip in full_result.trips))


def test_its_json_is_the_same(full_result: Result, lean: Result) -> None:
    assert json_text(trip_json(lean)) == json_text(trip_json(full_result))
    assert audit(lean) == audit(full_result)


def test_its_tables_are_the_same(full_result: Result, lean: Result) -> None:
    for whole, less in zip(full_result.trips, lean.trips, strict=True):
        for name in ("hours", "days", "ledger", "store_levels"):
            pd.testing.assert_frame_equal(
                getattr(less, name)(), getattr(whole, name)(), check_exact=True
            )


def test_its_answer_and_its_curves_are_the_same(full_result: Result, lean: Result) -> None:
    for whole, less in zip(full_result.trips, lean.trips, strict=True):
        assert answer_of(less) == answer_of(whole)
        assert periods(less) == periods(whole)
        points, of_whole = (charge_points(trip, "hour", 0) for trip in (less, whole))
        assert points.served_w.tolist() == of_whole.served_w.tolist()
        assert points.dark.tolist() == of_whole.dark.tolist()


def test_it_holds_a_fraction(full_result: Result) -> None:
    many = with_values(full_result.job.settings, {"draws": 200})
    job = with_values(full_result.job, {"settings": many})
    whole = simulate_trip(job, job.trips[0])
    lean = whole.lean()
    assert lean.served_w.shape == (len(whole.timeline), 1)
    assert held_bytes(lean) < 0.3 * held_bytes(whole)


def test_simulate_makes_it(full_result: Result) -> None:
    few = with_values(full_result.job.settings, {"draws": 3})
    job = with_values(full_result.job, {"settings": few})
    whole, less = sim.simulate(job), sim.simulate(job, lean=True)
    assert whole.trips[0].served_w.shape[1] == 3
    assert less.trips[0].served_w.shape[1] == 1
    assert json_text(trip_json(less)) == json_text(trip_json(whole))
