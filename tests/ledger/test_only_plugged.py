"""Loads that run on the plug alone, and an alternator that is hot or idles."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

import sim
from sim.job.model import Job
from sim.job.timeline import build_timeline
from sim.ledger.results import BALANCE_TOLERANCE

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
        # Its inverter does not run for it, and what it takes at the inlet the charger misses.
        own = [load.wanted_wh for load in one.loads if load.supply == "inverter"]
        theirs = [load.wanted_wh for load in other.loads if load.supply == "inverter"]
        np.testing.assert_allclose(own, theirs)
        assert one.balance_error() <= BALANCE_TOLERANCE
        assert (one.shore_w.sum(axis=0) >= other.shore_w.sum(axis=0)).all()
    assert plugged == 0.0  # the summer trip has no plug
    np.testing.assert_array_equal(one.soc, other.soc)


@pytest.mark.parametrize(
    ("keys", "watts"),
    [
        ("spare_amps = 30", 30 * 0.8 * 13.5 * 0.9),
        ("spare_amps = 30\nhot_loss_pct = 0", 30 * 13.5 * 0.9),
        ("idle_share = 0.5", 0.7 * 30 * 13.6),
    ],
)
def test_the_engine_brings_what_its_keys_say(make_job: MakeJob, keys: str, watts: float) -> None:
    job = make_job(("dcdc_amps = 30", f"dcdc_amps = 30\n{keys}"))
    trip = sim.simulate(job).trips[0]
    driving = build_timeline(job, job.trips[0]).driving
    assert trip.drive_w.max() <= watts + 1e-9
    hungry = make_job(
        ("dcdc_amps = 30", f"dcdc_amps = 30\n{keys}"),
        ("depart = 2027-03-30", "depart = 2027-03-30\nstart_soc = 0.3"),
        ('use = "lifepo4-100"', 'use = "lifepo4-100"\ncount = 8'),
    )
    full_hours = driving == 1.0
    taken = sim.simulate(hungry).trips[0].drive_w[full_hours]
    np.testing.assert_allclose(taken, watts, rtol=1e-9)
