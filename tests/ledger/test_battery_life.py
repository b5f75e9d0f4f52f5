"""The battery's expected life in a trip's result."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

import sim
from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.ledger.results import Result
from sim.report.data.export import trip_json
from sim.van.bank.wear import expected_life

MakeJob = Callable[..., Job]


def test_it_is_that_of_the_trips_charge(full_result: Result) -> None:
    for trip, plain in zip(full_result.trips, trip_json(full_result)["trips"], strict=True):
        life = trip.battery_life
        assert life is not None
        assert life == expected_life(trip.soc, trip.days_long, "lifepo4")
        # Half of what goes in and out is what went in: its order of size without rainflow.
        through = np.abs(np.diff(trip.soc, axis=0)).sum(axis=0).mean() / 2.0
        per_year = through * 365.25 / trip.days_long
        assert life.full_cycles_per_year == pytest.approx(per_year, rel=0.05)
        assert plain["battery_life"]["years"] == life.years
        assert plain["battery_life"]["years_low"] < life.years < plain["battery_life"]["years_high"]


def test_lead_wears_faster(make_job: MakeJob, full_result: Result) -> None:
    lead = sim.simulate(make_job(('use = "lifepo4-100"', 'use = "agm-100"')))
    for ours, theirs in zip(lead.trips, full_result.trips, strict=True):
        assert ours.battery_life is not None
        assert theirs.battery_life is not None
        assert ours.battery_life.years < theirs.battery_life.years


def test_one_night_is_no_sample_of_a_year(job: Job) -> None:
    (trip,) = job.trips
    stop = with_values(trip.stops[0], {"nights": 1})
    short = with_values(trip, {"stops": (stop,)})
    result = sim.simulate(with_values(job, {"trips": (short,)}))
    (trip,) = result.trips
    assert trip.battery_life is None
    assert trip_json(result)["trips"][0]["battery_life"] is None
