"""What is asked of a design that is tried beside others is what its own result says of it."""

from __future__ import annotations

from collections.abc import Callable
from itertools import chain

import numpy as np
import pytest

import sim
from sim.job.model.job import Job
from sim.ledger.answer import answer_of
from sim.ledger.results import TripResult
from sim.ledger.simulate import tried_on
from sim.ledger.tried import TriedTrip
from sim.trip.designs import Design, design_of
from sim.trip.prepare import prepare_trip

MakeJob = Callable[..., Job]
GENERATOR = """[generator]
watts = 1600
charger_amps = 20
tank_l = 0.6
start_below_soc = 0.6
quiet = ["21:00-09:00"]

[inverter]"""
MEDICAL = ('name = "Lamps"', 'name = "Lamps"\nmedical = true')
JOBS = {
    "as it is": (),
    "a generator whose tank runs dry": (("[inverter]", GENERATOR),),
    "a medical device": (MEDICAL,),
    "a heated battery outside": (
        ('use = "lifepo4-100"', 'use = "lifepo4-100"\ncount = 2\nheating_watts = 60'),
        ('use = "medium-roof"', 'use = "medium-roof"\nbattery_place = "outside"'),
    ),
    "a lead-acid battery": (('use = "lifepo4-100"', 'use = "agm-100"'),),
    "held to a charge": (('name = "Dish"', 'name = "Dish"\nabove_soc = 0.6'),),
    "an inverter that is off": (
        ('runs = "when needed"', 'runs = "by hand"\nat = ["08:00-20:00"]'),
    ),
    "quarters of an hour": (("draws = 6", "draws = 6\nstep_minutes = 15"),),
}


def assert_the_same(tried: TriedTrip, result: TripResult) -> None:
    """All that is asked of what came of a trip."""
    np.testing.assert_allclose(tried.soc, result.soc, atol=1e-12)
    np.testing.assert_allclose(tried.lowest, result.lowest, atol=1e-12)
    np.testing.assert_allclose(tried.unserved_w, result.unserved_w, atol=1e-9)
    np.testing.assert_array_equal(tried.least_usable, result.least_usable)
    np.testing.assert_allclose(tried.wanted_w(), result.wanted_w(), atol=1e-9)
    assert (tried.name, tried.years, tried.draws) == (result.name, result.years, result.draws)
    assert tried.floors == result.floors
    assert tried.unharvested_wh_day == pytest.approx(result.unharvested_wh_day, abs=1e-6)
    for taken_w, line in zip(tried.taken_each_w(), result.sources, strict=True):
        np.testing.assert_allclose(taken_w, line.taken_w, atol=1e-9)
    for stop in range(len(result.timeline.stays)):
        (taken, wanted), (taken_too, wanted_too) = tried.at_stop_w(stop), result.at_stop_w(stop)
        assert list(taken) == list(taken_too)
        np.testing.assert_allclose(list(taken.values()), list(taken_too.values()), atol=1e-6)
        np.testing.assert_allclose(wanted, wanted_too, atol=1e-9)
    for one, other, wants in zip(tried.lines(), result.lines(), tried.lines_wanted(), strict=True):
        assert one.name == other.name == wants.name
        np.testing.assert_allclose(one.missed_wh, other.missed_wh, atol=1e-6)
        np.testing.assert_array_equal(wants.wanted_wh_day, other.wanted_wh_day)
        assert not wants.served_wh.any()
    lacks, others = tried.promise.lacks, result.promise.lacks
    assert [(x.kind, x.names, x.is_essential, x.count) for x in lacks] == [
        (x.kind, x.names, x.is_essential, x.count) for x in others
    ]
    assert list(map(tried.who_lacks, lacks)) == list(map(result.who_lacks, others))
    assert [x.name for x in tried.promise.medical] == [x.name for x in result.promise.medical]
    assert tried.promise.verdict == result.promise.verdict


@pytest.mark.parametrize("kind", JOBS)
def test_a_design_beside_others_is_its_own_result(make_job: MakeJob, kind: str) -> None:
    job = make_job(
        *JOBS[kind], ("controller_amps = 8\ncount = 1", "controller_amps = 8\ncount = 0")
    )
    designs = [Design((0, 0), 1), design_of(job), Design((2, 1), 2)]
    for trip, result in zip(job.trips, sim.simulate(job).trips, strict=True):
        least, own, most = chain.from_iterable(tried_on([prepare_trip(job, trip)], designs))
        assert_the_same(own, result)
        battery = job.battery
        assert own.floors == (battery.cutoff_soc, battery.reserve_soc, battery.extras_soc)
        assert least.lacking.missed_wh.sum() > most.lacking.missed_wh.sum()
        # Where an inverter is off, what wants it then alone gets nothing.
        given = [x.served_wh.any() for x in most.lines() if x.wanted_wh.any()]
        assert kind == "an inverter that is off" or all(given)
        answer, mine = answer_of(own), answer_of(result)
        assert (answer.verdict, answer.held, answer.first_dark) == (
            *(mine.verdict, mine.held),
            mine.first_dark,
        )
        # Losses, and why sun went unharvested, are not kept.
        assert np.isnan(own.hours.losses_w).all()
        assert np.isnan(own.hours.refused_sun_w).all()


def test_who_goes_without_is_no_inverter(make_job: MakeJob) -> None:
    """It is off with what hangs on it, and misses its own losses."""
    job = make_job()
    ((tried,),) = tried_on([prepare_trip(job, job.trips[0])], [Design((0, 0), 1)])
    off = [x.name for x in tried.lines() if x.missed_wh.max() > 0.5]
    (inverter,) = (x.name for x in tried.lines() if x.supply == "inverter")
    assert inverter in off
    named = {name for x in tried.promise.lacks[:2] for name in tried.who_lacks(x)}
    assert named == {*off} - {inverter}


def test_the_jobs_are_of_their_kind(make_job: MakeJob) -> None:
    """Without which the test above would hold nothing."""

    def least(kind: str) -> TriedTrip:
        job = make_job(*JOBS[kind])
        ((tried,),) = tried_on([prepare_trip(job, job.trips[0])], [Design((0, 0), 1)])
        return tried

    fuel = [x for x in least("a generator whose tank runs dry").promise.lacks if x.kind == "fuel"]
    assert fuel
    assert fuel[0].count > 0
    assert [x.name for x in least("a medical device").promise.medical] == ["Lamps"]
    assert least("as it is").promise.medical == ()
    assert len(least("held to a charge").wants.wanted_w) == 4
    assert least("an inverter that is off").wants.beyond_w is not None
    assert least("a lead-acid battery").least_usable.min() < 1.0
    assert "Battery heating" in [x.name for x in least("a heated battery outside").lines()]
