"""The calendar: every week a start, months by their worst, trips found by name."""

from __future__ import annotations

import datetime as dt
from calendar import month_name
from collections.abc import Callable

import numpy as np
import pytest

import sim
from sim.decide.calendar import Calendar
from sim.errors import JobError
from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.ledger.sampling import even_interval
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
    assert year.ample_share.shape == year.lowest_soc_p10.shape == (52, len(year.counts))
    assert year.job_count == 2
    assert year.trip == "November"


def test_a_week_is_the_trip_moved(year: Calendar, unsure: Job) -> None:
    settings = with_values(unsure.settings, {"draws": 10})
    job = with_values(unsure, {"settings": settings})
    week = 20
    trip = with_values(job.trip("November"), {"depart": year.departs[week]})
    found = run_designs(prepare_trip(job, trip), [Design((n,), 1) for n in year.counts])
    np.testing.assert_array_equal(year.ample_share[week], found.passed.mean(axis=1))


def test_months_go_by_their_worst_start(year: Calendar) -> None:
    own = year.counts.index(year.job_count)
    for month in year.months:
        weeks = [i for i, day in enumerate(year.departs) if day.month == month.month]
        assert month.ample_share == year.ample_share[weeks, own].min()
        assert year.month_share(month.month)[own] == month.ample_share
        # As everywhere else: the draws are placed evenly.
        held = round(month.ample_share * year.draws)
        assert month.interval == even_interval(held, year.draws)
        assert month.interval.low <= month.ample_share <= month.interval.high
        enough = [n for k, n in enumerate(year.counts) if year.ample_share[weeks, k].min() >= 0.95]
        assert month.panels == (min(enough) if enough else None)
    named = {month_name[month.month]: month for month in year.months}
    # In Utah the winter is the hard half.
    assert named["May"].ample_share > named["December"].ample_share + 0.5


def test_trips_by_name(unsure: Job) -> None:
    for name, said in (
        (None, 'say which trip: "March" or "November"'),
        ("June", 'no such trip; there is "March" or "November"'),
        ("", "more than one trip starts so"),
    ):
        with pytest.raises(JobError, match=said):
            sim.decide.calendar(unsure, name)
