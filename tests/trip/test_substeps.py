"""Which steps the battery does in parts, and what the parts make up."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from sim.job.model.job import Job
from sim.sky.sun import Sun, position
from sim.trip.inverter import curve_of
from sim.trip.substeps import _laid_out, parts_of
from sim.trip.timeline import Timeline, build_timeline
from sim.trip.weather import track_of

MakeJob = Callable[..., Job]


def sun_over(timeline: Timeline) -> Sun:
    return position(track_of(timeline))


def test_parts_make_up_their_step(make_job: MakeJob) -> None:
    job = make_job()
    for trip in job.trips:
        timeline = build_timeline(job, trip)
        engine = timeline.engine.sum(axis=0)
        found = parts_of(job, timeline, sun_over(timeline), [None, engine, timeline.plugged])
        cut = (engine > 0.0) & (engine < 1.0) | (timeline.plugged > 0.0) & (timeline.plugged < 1.0)
        assert set(np.flatnonzero(cut)) <= set(found)
        for step, parts in found.items():
            share = np.array([part.share for part in parts])
            assert len(parts) > 1
            assert share.min() > 0.0
            assert share.sum() == pytest.approx(1.0)
            for k, mean in enumerate((1.0, engine[step], timeline.plugged[step])):
                factors = np.array([part.offers[k] for part in parts])
                assert share @ factors == pytest.approx(1.0 if mean > 0.0 else 0.0)
            assert all(part.offers[0] == 1.0 for part in parts)
            total = sum(part.share * part.more_w for part in parts)
            np.testing.assert_allclose(total, 0.0, atol=1e-9)


def test_minutes_run_on_into_an_hour_that_runs_longer() -> None:
    """Half an hour before a whole one comes last; before another half, and at the end, first."""
    minutes = _laid_out(np.array([0.5, 1.0, 0.5, 0.5, 0.25]), 4)
    assert minutes.astype(int).tolist() == [
        [0, 0, 1, 1],
        [1, 1, 1, 1],
        [1, 1, 0, 0],
        [1, 1, 0, 0],
        [1, 0, 0, 0],
    ]


def test_a_kettle_splits_its_hour_at_its_minutes(make_job: MakeJob) -> None:
    """1000 W and what the inverter loses from 7:10 to 7:20; with 40 W it does not count."""
    job, weak = make_job(), make_job(("watts = 1000", "watts = 40"))
    trip = job.trips[0]
    timeline = build_timeline(job, trip)
    shares, sun = (timeline.engine.sum(axis=0), timeline.plugged), sun_over(timeline)
    found, others = (parts_of(each, timeline, sun, shares) for each in (job, weak))
    brewing = (timeline.clock[:, 0] == 7 * 60) & (timeline.plugged == 0.0)
    quiet = set(np.flatnonzero(brewing).tolist()) - set(others)
    assert quiet
    assert set(found) == set(others) | quiet
    for step in quiet:
        assert [part.share for part in found[step]] == pytest.approx([1 / 6, 1 / 6, 2 / 3])
        more = np.hstack([part.more_w for part in found[step]])
        assert not more[:2].any()
        curve = curve_of(job.inverter)
        watts = float(curve.input_w(1000.0)) - 12.0
        assert more[2].tolist() == pytest.approx([-watts / 6, watts * 5 / 6, -watts / 6])


@pytest.mark.parametrize(("watts", "counts"), [(50, False), (52, True)])
def test_a_load_is_strong_from_a_25th_of_the_bank_an_hour(
    make_job: MakeJob, watts: int, counts: bool
) -> None:
    """Of 1280 Wh that is 51.2 W."""
    job = make_job(
        ("watts = 1000", f"watts = {watts}"),
        ('at = ["07:10-07:20"]\nsupply = "ac"', 'at = ["07:10-07:20"]'),
    )
    timeline = build_timeline(job, job.trips[1])
    found = parts_of(job, timeline, sun_over(timeline), [None])
    brewing = np.flatnonzero(timeline.clock[:, 0] == 7 * 60)
    assert len(brewing)
    assert (set(brewing.tolist()) <= set(found)) == counts


def test_two_loads_of_a_kind_are_as_strong_as_one_of_twice_the_watts(make_job: MakeJob) -> None:
    one, two = make_job(), make_job(("watts = 1000", "watts = 500\ncount = 2"))
    timeline = build_timeline(one, one.trips[1])
    found = [parts_of(job, timeline, sun_over(timeline), [None]) for job in (one, two)]
    assert found[0]
    assert list(found[0]) == list(found[1])
    for parts, same in zip(*(each.values() for each in found), strict=True):
        for part, other in zip(parts, same, strict=True):
            np.testing.assert_allclose(part.more_w, other.more_w)
