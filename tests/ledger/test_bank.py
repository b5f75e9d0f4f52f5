"""The battery of a job in its trips: chemistries, cold, heating, and why sun was left."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

import sim
from sim.job.model.job import Job
from sim.ledger.lines import CAUSES
from sim.ledger.results import BALANCE_TOLERANCE
from sim.ledger.study import run_designs
from sim.trip.bank import HEATING_NAME
from sim.trip.designs import design_of
from sim.trip.prepare import prepare_trip

MakeJob = Callable[..., Job]
WINTER = ("depart = 2027-07-10", "depart = 2027-01-10")
OUTSIDE = ('use = "medium-roof"', 'use = "medium-roof"\nbattery_place = "outside"')
LITHIUM = 'use = "lifepo4-100"'


@pytest.mark.parametrize("name", ["lifepo4-100", "agm-100", "flooded-225"])
def test_every_chemistry_closes_its_ledger_and_its_causes(make_job: MakeJob, name: str) -> None:
    job = make_job(WINTER, OUTSIDE, (LITHIUM, f'use = "{name}"'))
    for trip in sim.simulate(job).trips:
        assert trip.balance_error() <= BALANCE_TOLERANCE
        by_cause = trip.unharvested_by_cause_w
        np.testing.assert_allclose(by_cause.sum(axis=0), trip.unharvested_w.mean(axis=1), atol=1e-9)
        assert (by_cause >= -1e-9).all()
        told = trip.unharvested_by_cause
        assert tuple(told) == CAUSES
        assert sum(told.values()) == pytest.approx(trip.energy.unharvested, rel=1e-9)
        days = trip.days()
        columns = [f"unharvested_{cause.replace(' ', '_')}_wh" for cause in CAUSES]
        np.testing.assert_allclose(days[columns].sum(axis=1), days["unharvested_wh"], atol=1e-6)


@pytest.mark.parametrize("name", ["lifepo4-100", "agm-100"])
def test_a_study_meets_the_same_battery(make_job: MakeJob, name: str) -> None:
    pad = f'use = "{name}"\nheating_watts = 20'
    job = make_job(WINTER, OUTSIDE, (LITHIUM, pad))
    for trip, result in zip(job.trips, sim.simulate(job).trips, strict=True):
        found = run_designs(prepare_trip(job, trip), [design_of(job)])
        np.testing.assert_allclose(found.lowest_soc[0], result.soc.min(axis=0), atol=1e-9)
        np.testing.assert_array_equal(found.dark_hours[0], result.dark_hours)


def test_frost_is_named_as_the_cause(make_job: MakeJob) -> None:
    cold = sim.simulate(make_job(WINTER, OUTSIDE)).trips[1].unharvested_by_cause
    warm = sim.simulate(make_job(WINTER)).trips[1].unharvested_by_cause
    assert cold["too cold"] > 100.0
    assert warm["too cold"] < 0.2 * cold["too cold"]


def test_a_pad_lets_the_sun_in_and_is_paid_for(make_job: MakeJob) -> None:
    pad = (LITHIUM, LITHIUM + "\nheating_watts = 40\nheat_to_f = 41")
    cold = sim.simulate(make_job(WINTER, OUTSIDE)).trips[1]
    warmed = sim.simulate(make_job(WINTER, OUTSIDE, pad)).trips[1]
    line = next(load for load in warmed.loads if load.name == HEATING_NAME)
    assert line.wanted_wh.min() > 10.0
    assert line.priority == "essential"
    assert warmed.unharvested_by_cause["too cold"] < 0.7 * cold.unharvested_by_cause["too cold"]
    assert warmed.energy.taken["sun"] > cold.energy.taken["sun"]
    assert warmed.balance_error() <= BALANCE_TOLERANCE


def test_the_limit_of_cool_cells(make_job: MakeJob) -> None:
    """At most 0.05 C below 15 deg C: 64 W into 1280 Wh, the rest is too cold."""
    cool = (LITHIUM, LITHIUM + "\ncool_max_charge_c = 0.05")
    trip = sim.simulate(make_job(WINTER, OUTSIDE, cool)).trips[1]
    rise = np.diff(trip.soc, axis=0).max()
    assert 0.03 < rise <= 0.05 + 1e-9
    free = sim.simulate(make_job(WINTER, OUTSIDE)).trips[1]
    assert trip.unharvested_by_cause["too cold"] > free.unharvested_by_cause["too cold"]


def test_cold_lead_gives_less_outside_than_in_the_cabin(make_job: MakeJob) -> None:
    agm = (LITHIUM, 'use = "agm-100"')
    cold = sim.simulate(make_job(WINTER, OUTSIDE, agm)).trips[1]
    warm = sim.simulate(make_job(WINTER, agm)).trips[1]
    assert cold.energy.unserved > warm.energy.unserved
    # The floor of half is raised by the cold.
    assert cold.soc.min() > 0.5
    # It ran out all the same: at the raised floor the essential loads were cut off.
    dark = (cold.unserved_w[0] > 1e-6).any(axis=0)
    assert dark.any()
    np.testing.assert_array_equal(np.isfinite(cold.cut_off_h), dark)
    assert cold.ran_out_share == dark.mean()
    assert cold.first_out.share == dark.mean()
