"""Loads that run on the plug alone, and an alternator that is hot or idles."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

import sim
from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.ledger.results import BALANCE_TOLERANCE, TripResult
from sim.ledger.study import run_designs
from sim.trip.designs import design_of
from sim.trip.prepare import prepare_trip
from sim.trip.timeline import build_timeline

MakeJob = Callable[..., Job]
HEAT = """
[[appliances]]
name = "Electric heater"
kind = "steady"
watts = 700
supply = "ac"
runs = "plugged"
"""


def test_a_load_on_the_plug_alone_leaves_the_battery_alone(make_job: MakeJob) -> None:
    job, without = make_job(end=HEAT), make_job()
    for index, (one, other) in enumerate(
        zip(sim.simulate(job).trips, sim.simulate(without).trips, strict=True)
    ):
        plugged = build_timeline(job, job.trips[index]).plugged.sum()
        (line,) = [load for load in one.loads if load.name == "Electric heater"]
        np.testing.assert_allclose(line.wanted_wh, 700.0 * plugged)
        np.testing.assert_allclose(line.served_wh, line.wanted_wh)
        # Its inverter does not run for it; the little more is for the cold box, which feels the
        # heater's warmth.
        own, theirs = (energy_of(trip, "inverter") for trip in (one, other))
        box, cool_box = (energy_of(trip, "ac", "Box") for trip in (one, other))
        assert (np.abs(own - theirs) <= 0.2 * np.abs(box - cool_box)).all()
        assert one.balance_error() <= BALANCE_TOLERANCE
        assert (one.taken_w()["shore"].sum(axis=0) >= other.taken_w()["shore"].sum(axis=0)).all()
    assert plugged == 0.0  # the summer trip has no plug
    np.testing.assert_array_equal(one.soc, other.soc)


def energy_of(trip: TripResult, supply: str, name: str | None = None) -> np.ndarray:
    """Wanted by the lines of one supply, or by one of them. [Wh]"""
    lines = [x for x in trip.loads if x.supply == supply and name in (None, x.name)]
    return np.sum([line.wanted_wh for line in lines], axis=0)


@pytest.mark.parametrize(
    ("keys", "watts"),
    [
        ("spare_amps = 30\nhot_loss_pct = 0", 30 * 13.5 * 0.9),
        ("spare_amps = 24\nhot_loss_pct = 0", 24 * 13.5 * 0.9),
        ("idle_share = 0.5", 0.7 * 30 * 13.4),
    ],
)
def test_the_engine_brings_what_its_keys_say(make_job: MakeJob, keys: str, watts: float) -> None:
    job = make_job(("dcdc_amps = 30", f"dcdc_amps = 30\n{keys}"))
    trip = sim.simulate(job).trips[0]
    driving = build_timeline(job, job.trips[0]).driving
    assert trip.taken_w()["drive"].max() <= watts + 1e-9
    hungry = make_job(
        ("dcdc_amps = 30", f"dcdc_amps = 30\n{keys}"),
        ("depart = 2027-03-30", "depart = 2027-03-30\nstart_soc = 0.3"),
        ('use = "lifepo4-100"', 'use = "lifepo4-100"\ncount = 8'),
    )
    started = np.concatenate([[True], np.diff(driving) > 0.0])
    full_hours = (driving == 1.0) & ~started
    assert full_hours.any()
    taken = sim.simulate(hungry).trips[0].taken_w()["drive"][full_hours]
    np.testing.assert_allclose(taken, watts, rtol=1e-9)


TWO_MORE = """
[[appliances]]
name = "Water heater"
kind = "steady"
watts = 1400
supply = "ac"
runs = "plugged"
priority = "essential"

[[appliances]]
name = "Room heater"
kind = "steady"
watts = 1000
supply = "ac"
runs = "plugged"
priority = "extra"
"""


def test_what_the_inlet_cannot_carry_is_dark(make_job: MakeJob) -> None:
    """1800 W at the inlet: 1400 W of the essential one, and 400 of the 1000 W of the extra one.
    The rest is dark whatever the battery holds, and the battery is not asked for it."""
    job = make_job(end=TWO_MORE)
    trip = sim.simulate(job).trips[0]
    plugged = build_timeline(job, job.trips[0]).plugged.sum()
    lines = {load.name: load for load in trip.loads}
    np.testing.assert_allclose(lines["Water heater"].served_wh, 1400.0 * plugged)
    np.testing.assert_allclose(lines["Room heater"].wanted_wh, 1000.0 * plugged)
    np.testing.assert_allclose(lines["Room heater"].served_wh, 400.0 * plugged)
    assert (trip.dark_hours >= plugged).all()
    wanted = sum(load.wanted_wh for load in trip.loads)
    served = sum(load.served_wh for load in trip.loads)
    missing = trip.unserved_w.sum(axis=(0, 1)) * trip.timeline.step_hours
    np.testing.assert_allclose(wanted - served, missing, rtol=1e-9)
    np.testing.assert_allclose(served, trip.served_w.sum(axis=0) * trip.timeline.step_hours)
    # A kettle that finds the inlet taken goes over to the inverter.
    assert (lines["Kettle"].served_wh > 0.0).all()


def test_a_study_counts_the_same_dark_hours(make_job: MakeJob) -> None:
    job = make_job(end=TWO_MORE)
    for trip, result in zip(job.trips, sim.simulate(job).trips, strict=True):
        found = run_designs(prepare_trip(job, trip), [design_of(job)])
        np.testing.assert_array_equal(found.dark_hours[0], result.dark_hours)
        missing = result.unserved_w.sum(axis=(0, 1)) * result.timeline.step_hours
        all_of_them = found.unserved_wh[:, 0].sum(axis=0)
        np.testing.assert_allclose(all_of_them, missing, rtol=1e-9, atol=1e-6)


def test_half_an_hour_on_the_plug_is_fed_for_half_an_hour(make_job: MakeJob) -> None:
    """A van that drives from 18:30 comes onto the plug in the middle of a step; a load as large
    as the inlet is served all the same."""
    full = TWO_MORE.replace("1400", "1800").split('[[appliances]]\nname = "Room')[0]
    job = make_job(('plug_in = "nights"', 'plug_in = "nights"\nlocal_drive_hours = 0.5'), end=full)
    trips = tuple(with_values(t, {"leave_at": "18:00"}) for t in job.trips[:1])
    (trip,) = sim.simulate(with_values(job, {"trips": trips})).trips
    share = trip.timeline.plugged
    assert ((share > 0.0) & (share < 1.0)).any()
    (line,) = [load for load in trip.loads if load.name == "Water heater"]
    np.testing.assert_allclose(line.wanted_wh, 1800.0 * share.sum())
    np.testing.assert_allclose(line.served_wh, line.wanted_wh)
