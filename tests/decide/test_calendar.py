"""The calendar: every week a start, months by their worst, trips found by name."""

from __future__ import annotations

import datetime as dt
from calendar import month_name
from collections.abc import Callable

import pytest

import sim
from sim.decide.calendar import Calendar
from sim.errors import JobError
from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.ledger.answer import answer_of, lowest_verdict
from sim.ledger.study import run_designs
from sim.trip.designs import Design
from sim.trip.prepare import prepare_trip

MakeJob = Callable[..., Job]


@pytest.fixture(scope="module")
def year(request: pytest.FixtureRequest) -> Calendar:
    unsure: Job = request.getfixturevalue("unsure")
    settings = with_values(unsure.settings, {"draws": 10})
    return sim.decide.calendar(with_values(unsure, {"settings": settings}), "Nov", jobs=2)


def test_a_start_in_every_week(year: Calendar) -> None:
    assert len(year.departs) == 52
    assert year.departs[0] == dt.date(2027, 1, 1)
    assert {(b - a).days for a, b in zip(year.departs, year.departs[1:], strict=False)} == {7}
    assert [len(row) for row in year.answers] == [len(year.counts)] * 52
    assert year.job_count == 2
    assert year.trip == "November"


def test_a_week_is_the_trip_moved(year: Calendar, unsure: Job) -> None:
    settings = with_values(unsure.settings, {"draws": 10})
    job = with_values(unsure, {"settings": settings})
    week = 20
    trip = with_values(job.trip("November"), {"depart": year.departs[week]})
    found = run_designs(prepare_trip(job, trip), [Design((n,), 1) for n in year.counts])
    assert year.answers[week] == found.answers("November", job.settings.bounds)


def test_months_go_by_their_worst_start(year: Calendar) -> None:
    own = year.counts.index(year.job_count)
    for month in year.months:
        rows = [
            row
            for row, day in zip(year.answers, year.departs, strict=True)
            if day.month == month.month
        ]
        assert month.worst.rank == min(row[own].rank for row in rows)
        assert month.verdict == lowest_verdict(row[own].verdict for row in rows)
        assert year.month_held(month.month)[own] == min(row[own].held for row in rows)
        enough = [
            n for k, n in enumerate(year.counts) if all(row[k].electric == "ample" for row in rows)
        ]
        assert month.panels == (min(enough) if enough else None)
    named = {month_name[month.month]: month for month in year.months}
    # In Utah the winter is the hard half.
    assert named["May"].worst.held > named["December"].worst.held + 5


def test_a_start_has_the_verdict_of_the_trip_itself(year: Calendar, unsure: Job) -> None:
    """Propane included: the calendar judges as `simulate` does."""
    settings = with_values(unsure.settings, {"draws": 10})
    week = 2
    trip = with_values(unsure.trip("November"), {"depart": year.departs[week]})
    job = with_values(unsure, {"settings": settings, "trips": (trip,)})
    (result,) = sim.simulate(job).trips
    answer = year.answers[week][year.counts.index(year.job_count)]
    assert answer.verdict == result.verdict
    assert answer.essentials_held == int(result.promise.essentials_hold.sum())
    assert answer.comforts_held == int(result.promise.holds("comforts").sum())
    assert answer.all_held == int(result.promise.all_hold.sum())
    kinds = {lack.kind for lack in result.promise.lacks if lack.count}
    assert {one.kind for one in answer.behind} == kinds


def test_a_job_without_panels_is_started_as_it_is(unsure: Job) -> None:
    settings = with_values(unsure.settings, {"draws": 4})
    trip = unsure.trip("November")
    trip = with_values(trip, {"stops": (with_values(trip.stops[0], {"nights": 2}),)})
    bare = with_values(unsure, {"settings": settings, "panels": (), "trips": (trip,)})
    found = sim.decide.calendar(bare)
    assert (found.panel, found.job_count, found.counts) == ("", 0, (0,))
    assert [len(row) for row in found.answers] == [1] * 52
    for week in (3, 27):
        moved = with_values(trip, {"depart": found.departs[week]})
        (result,) = sim.simulate(with_values(bare, {"trips": (moved,)})).trips
        (answer,) = found.answers[week]
        assert (answer.verdict, answer.held) == (result.verdict, answer_of(result).held)
        assert answer.lowest_soc.p10 == pytest.approx(result.lowest_soc.p10)
        assert answer.unharvested_wh_per_day == 0.0
    # One verdict for each month, none of which panels were tried for.
    for month in found.months:
        assert month.panels == (0 if month.worst.electric == "ample" else None)


def test_trips_by_name(unsure: Job) -> None:
    for name, said in (
        (None, 'say which trip: "March" or "November"'),
        ("June", 'no such trip; there is "March" or "November"'),
        ("", "more than one trip starts so"),
    ):
        with pytest.raises(JobError, match=said):
            sim.decide.calendar(unsure, name)
