"""A lean result says what a whole one says, in a fraction of its memory."""

from __future__ import annotations

from dataclasses import fields, replace

import pandas as pd
import pytest

import sim
from sim.decide.compare import figures_of
from sim.job.model.changes import with_values
from sim.ledger.answer import answer_of
from sim.ledger.audit import audit
from sim.ledger.put_away import put_away
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


def test_what_is_put_away_says_the_same(full_result: Result, lean: Result) -> None:
    brief = replace(lean, trips=tuple(put_away(trip, None) for trip in lean.trips))
    assert json_text(trip_json(brief)) == json_text(trip_json(full_result))
    assert audit(brief) == audit(full_result)
    assert figures_of(brief.trips[0]) == figures_of(full_result.trips[0])
    for whole, less in zip(full_result.trips, brief.trips, strict=True):
        for name in ("hours", "days", "ledger", "store_levels"):
            pd.testing.assert_frame_equal(getattr(less, name)(), getattr(whole, name)())
        assert answer_of(less) == answer_of(whole)
        assert less.battery_life == whole.battery_life
        for grain in ("hour", "day"):
            points, of_whole = (charge_points(x, grain, whole.bad) for x in (less, whole))
            for field in fields(points):
                mine, theirs = (getattr(x, field.name) for x in (points, of_whole))
                assert repr(mine) == repr(theirs), field.name


def test_of_what_is_put_away_the_bad_case_alone_is_held(lean: Result) -> None:
    trip = put_away(lean.trips[0], None)
    assert trip.soc.shape == (len(trip.timeline) + 1, 1)
    assert trip.column(trip.bad) == 0
    with pytest.raises(LookupError, match="alone was kept"):
        trip.column((trip.bad + 1) % trip.draws)


def test_more_draws_take_hardly_more_memory(full_result: Result) -> None:
    """What a trip keeps does not grow with steps times draws."""
    held = []
    for draws in (20, 120):
        settings = with_values(full_result.job.settings, {"draws": draws})
        job = with_values(full_result.job, {"settings": settings})
        trip = simulate_trip(job, job.trips[0], lean=True)
        assert trip.draws == draws
        held.append(held_bytes(trip))
    # A few numbers of each draw; its charge alone would be eight bytes a step.
    assert held[1] - held[0] < 100 * 8 * len(trip.timeline)


def test_the_days_of_a_weather_file_are_kept_beside(full_result: Result, lean: Result) -> None:
    days = full_result.trips[0].soc[:, 0]
    trip = put_away(lean.trips[0], days)
    assert trip.file_days_soc is days
    assert trip.dark_hours.tolist() == full_result.trips[0].dark_hours.tolist()


def test_simulate_makes_it(full_result: Result) -> None:
    few = with_values(full_result.job.settings, {"draws": 3})
    job = with_values(full_result.job, {"settings": few})
    whole, less = sim.simulate(job), sim.simulate(job, lean=True)
    assert whole.trips[0].served_w.shape[1] == 3
    assert less.trips[0].served_w.shape[1] == 1
    assert json_text(trip_json(less)) == json_text(trip_json(whole))
