"""Food in the dark: cold boxes that are off warm up, and the trip says for how long."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

import sim
from sim.job.model.job import Job
from sim.ledger.boxes import WARMED_BY_K, BoxWarmth
from sim.ledger.results import TripResult

MakeJob = Callable[..., Job]
SHED = 'inside_c = 4\nmax_watts = 60\nsupply = "ac"\npriority = "essential"'


def box_of(trip: TripResult) -> BoxWarmth:
    (box,) = trip.boxes
    return box


def extra(more: str = "") -> tuple[str, str]:
    return SHED, SHED.replace('"essential"', f'"extra"{more}')


def test_a_box_that_is_always_fed_stays_cold(make_job: MakeJob) -> None:
    """A bank that never runs down."""
    job = make_job(('use = "lifepo4-100"', 'use = "lifepo4-100"\ncount = 30'))
    for trip in sim.simulate(job).trips:
        box = box_of(trip)
        assert box.limit_c == 4.0 + WARMED_BY_K
        assert not trip.dark.any()
        np.testing.assert_allclose(box.warmest_c, 4.0)
        assert not box.warm_hours.any()


def test_dark_hours_warm_it_by_how_long_they_are(make_job: MakeJob) -> None:
    result = sim.simulate(make_job(extra()))
    for trip in result.trips:
        box = box_of(trip)
        dark = trip.unserved_w[2] > 0.0
        for draw in range(trip.draws):
            if not dark[:, draw].any():
                assert box.warmest_c[draw] == 4.0
            else:
                assert 4.0 < box.warmest_c[draw] <= trip.cabin_c[:, draw].max()
        # It takes hours in the dark before it is warm.
        assert (box.warm_hours <= trip.hours_long).all()
    assert any(box_of(trip).warm_hours.any() for trip in result.trips)


def test_a_box_that_holds_longer_stays_colder(make_job: MakeJob) -> None:
    short, long = (
        sim.simulate(make_job(extra(f"\nholds_hours = {hours}"))).trips[0] for hours in (5, 50)
    )
    np.testing.assert_array_equal(short.soc, long.soc)  # the battery does not know
    assert (box_of(long).warmest_c <= box_of(short).warmest_c).all()
    assert box_of(long).warmest_c.max() < box_of(short).warmest_c.max() - 1.0


def test_what_runs_on_the_road_alone_is_warm_between(make_job: MakeJob) -> None:
    dc = SHED.replace('"ac"', '"dc"\nruns = "driving"')
    trip = sim.simulate(make_job((SHED, dc))).trips[0]
    box = box_of(trip)
    assert (box.warm_hours > 24.0).all()
    assert (box.warm_hours < trip.hours_long).all()
    driven = trip.timeline.driving.sum() * trip.timeline.step_hours
    assert driven > 0.0
    assert (box.warmest_c > 10.0).all()


def test_the_plug_feeds_it_whatever_the_battery_has(make_job: MakeJob) -> None:
    """On the plug day and night from the first stop on, with an empty bank."""
    job = make_job(
        extra(),
        ("horizon_deg = 10", 'horizon_deg = 10\nplug_in = "always"'),
        ('plug_in = "nights"\nshade_pct = 40', 'plug_in = "always"\nshade_pct = 40'),
    )
    on_plug, off = (box_of(sim.simulate(x).trips[0]) for x in (job, make_job(extra())))
    assert on_plug.warm_hours.mean() <= off.warm_hours.mean()
    assert on_plug.warm_hours.max() == pytest.approx(0.0)
