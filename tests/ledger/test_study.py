"""Many designs over one trip: the numbers of the pipeline, whatever the blocks and threads."""

from __future__ import annotations

import datetime as dt
import threading
from collections.abc import Callable, Sequence
from dataclasses import fields

import numpy as np
import pytest

import sim
from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.ledger import simulate, study
from sim.ledger.answer import answer_of
from sim.ledger.lacking import Lacking
from sim.ledger.study import Outcomes, run_designs, run_jobs, run_trips
from sim.threads import run_tasks
from sim.trip.designs import Design, design_of, offers_of
from sim.trip.prepare import PreparedTrip, Skies, prepare_trip, prepare_trips
from sim.trip.sources import controller_amps
from sim.trip.timeline import build_timeline

MakeJob = Callable[..., Job]
ARRAYS = ("lowest_soc", "dark_hours", "unharvested_wh", "unserved_wh")
DESIGNS = [
    Design((first, second), units) for first in (0, 1, 3) for second in (0, 2) for units in (1, 2)
]


def equal(one: Outcomes, other: Outcomes) -> bool:
    return all(np.array_equal(getattr(one, name), getattr(other, name)) for name in ARRAYS)


def test_the_job_itself_is_the_pipeline(make_job: MakeJob) -> None:
    job = make_job()
    for trip, result in zip(job.trips, sim.simulate(job).trips, strict=True):
        found = run_designs(prepare_trip(job, trip), [*DESIGNS, design_of(job)])
        np.testing.assert_allclose(found.lowest_soc[-1], result.lowest, atol=1e-12)
        np.testing.assert_array_equal(found.dark_hours[-1], result.dark_hours)
        hours = result.timeline.step_hours
        expected = result.unharvested_w.sum(axis=0) * hours
        np.testing.assert_allclose(found.unharvested_wh[-1], expected, atol=1e-6)
        unserved = result.unserved_w.sum(axis=1) * hours
        np.testing.assert_allclose(found.unserved_wh[:, -1], unserved, atol=1e-6)
        assert found.days_long == pytest.approx(result.days_long)


def test_each_design_is_its_own_job(make_job: MakeJob) -> None:
    """A lane of a study against a job that is written out, smaller than the first in its groups
    so that the controllers stay."""
    job = make_job()
    smaller = make_job(
        ("controller_amps = 8\ncount = 1", "controller_amps = 8\ncount = 0"),
        ('use = "lifepo4-100"', 'use = "lifepo4-100"\ncount = 3'),
    )
    found = run_designs(prepare_trip(job, job.trips[0]), [Design((0, 1), 3)])
    result = sim.simulate(smaller).trips[0]
    np.testing.assert_allclose(found.lowest_soc[0], result.lowest, atol=1e-12)
    np.testing.assert_array_equal(found.dark_hours[0], result.dark_hours)


@pytest.mark.parametrize("block_lane_steps", [1, 97 * 5, 97 * 17, 10**9])
def test_blocks_change_no_digit(make_job: MakeJob, block_lane_steps: int) -> None:
    job = make_job(("controller_amps = 8", "controller_amps = 8\ncontroller_standby_watts = 2"))
    prepared = prepare_trip(job, job.trips[0])
    whole = run_designs(prepared, DESIGNS)
    assert equal(run_designs(prepared, DESIGNS, block_lane_steps=block_lane_steps), whole)
    assert whole.dark_hours.any()
    assert (whole.dark_hours == 0).any()


def test_threads_change_no_digit(make_job: MakeJob) -> None:
    job = make_job()

    def run(index: int, tell: Callable[[float], None]) -> Outcomes:
        return run_designs(prepare_trip(job, job.trips[index % 2]), DESIGNS, progress=tell)

    one, four = (run_tasks(run, range(4), jobs=jobs) for jobs in (1, 4))
    assert all(equal(a, b) for a, b in zip(one, four, strict=True))
    assert equal(one[0], one[2])


def test_tasks_keep_their_order_and_tell_the_share() -> None:
    told: list[float] = []
    threads = set()

    def work(task: int, tell: Callable[[float], None]) -> int:
        threads.add(threading.current_thread().name)
        tell(0.5)
        return task * task

    assert run_tasks(work, range(5), jobs=3, progress=told.append) == [0, 1, 4, 9, 16]
    assert told == sorted(told)
    assert told[-1] == pytest.approx(1.0)
    assert all("MainThread" not in name for name in threads)

    def fail(task: int, tell: Callable[[float], None]) -> int:
        raise ValueError(task)

    with pytest.raises(ValueError, match="0"):
        run_tasks(fail, range(3), jobs=2)


def test_jobs_side_by_side_are_jobs_alone(make_job: MakeJob) -> None:
    job = make_job()
    bank, alternator = job.battery, job.alternator[0]
    changed = [
        job,
        with_values(job, {"battery": with_values(bank, {"count": bank.count + 1})}),
        with_values(job, {"alternator": (with_values(alternator, {"dcdc_amps": 60.0}),)}),
        # Other floors: no lane beside those above.
        with_values(job, {"battery": with_values(bank, {"extras_soc": 0.4})}),
        with_values(job, {"appliances": job.appliances[1:]}),
    ]
    for index, trip in enumerate(job.trips):
        together = run_jobs(changed, index, skies=Skies(), jobs=2)
        for one, made in zip(together, changed, strict=True):
            alone = run_designs(prepare_trip(made, made.trips[index]), [design_of(made)])
            assert equal(one, alone)
            assert one.answers(trip.name, (0.95, 0.8)) == alone.answers(trip.name, (0.95, 0.8))
    assert run_jobs([], 0, skies=Skies()) == []


def test_starts_side_by_side_are_starts_alone(make_job: MakeJob) -> None:
    """In both seasons, on days with and without a change of the clocks."""
    job = make_job()
    days = [dt.date(2027, month, day) for month in (3, 7) for day in (8, 11, 15)]
    starts = [(job, with_values(job.trips[0], {"depart": day})) for day in days]
    together = run_trips(prepare_trips(starts, skies=Skies()), DESIGNS)
    assert len(together) == len(starts)
    for one, (_, trip) in zip(together, starts, strict=True):
        assert equal(one, run_designs(prepare_trip(job, trip), DESIGNS))


def test_what_came_of_a_job_is_not_run_again(
    make_job: MakeJob, monkeypatch: pytest.MonkeyPatch
) -> None:
    job, runs = make_job(), list[int]()
    more = with_values(job, {"battery": with_values(job.battery, {"count": 2})})
    run = study._side_by_side

    def counted(prepared: Sequence[PreparedTrip], jobs: int) -> list[Outcomes]:
        runs.append(len(prepared))
        return run(prepared, jobs)

    monkeypatch.setattr(study, "_side_by_side", counted)
    skies = Skies()
    (first,) = run_jobs([job], 0, skies=skies)
    again, other = run_jobs([job, more], 0, skies=skies)
    assert again is first
    assert not equal(other, first)
    run_jobs([job], 1, skies=skies)
    assert runs == [1, 1, 1]


def test_the_size_of_a_run_changes_no_digit(
    make_job: MakeJob, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where no two designs are carried through at once, each is what it was beside the other."""
    job = make_job()
    way, designs = prepare_trip(job, job.trips[0]), [DESIGNS[0], design_of(job)]
    ((*together,),) = simulate.tried_on([way], designs)
    monkeypatch.setattr(simulate, "LANE_STEPS", 1)
    (other,), (own,) = simulate.tried_on([way], designs)
    assert [answer_of(x) for x in together] == [answer_of(other), answer_of(own)]
    assert answer_of(other) != answer_of(own)
    np.testing.assert_array_equal(together[1].soc, own.soc)


def test_ways_side_by_side_are_ways_alone(
    make_job: MakeJob, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of a trip that goes several ways some are alike and some are not."""
    job, designs = make_job(), DESIGNS[2:5]
    off = [
        with_values(x, {"count": 0}) if place == 0 else x for place, x in enumerate(job.appliances)
    ]
    less = with_values(job, {"appliances": tuple(off)})
    other_sky = with_values(job, {"settings": with_values(job.settings, {"seed": 5})})
    stops = [
        with_values(x, {"local_drive_hours": x.local_drive_hours + 1.5}) for x in job.trips[0].stops
    ]
    driven = with_values(job.trips[0], {"stops": tuple(stops)})
    ways = [
        prepare_trip(*one)
        for one in (
            *((job, job.trips[0]), (less, job.trips[0]), (other_sky, job.trips[0])),
            *((job, driven), (less, driven)),
        )
    ]
    runs = list(simulate.tried_on(ways, designs))
    # Those that drive as much lie side by side.
    assert [len(run) for run in runs] == [9, 6]
    together = [one for run in runs for one in run]
    monkeypatch.setattr(simulate, "LANES", 1)
    alone = [one for way in ways for (one,) in simulate.tried_on([way], designs)]
    assert len(together) == len(alone) == 15
    for one, other in zip(together, alone, strict=True):
        for name in ("soc", "unserved_w", "lowest"):
            np.testing.assert_array_equal(getattr(one, name), getattr(other, name))
        for field in fields(Lacking):
            np.testing.assert_array_equal(
                getattr(one.lacking, field.name), getattr(other.lacking, field.name)
            )
        assert answer_of(one) == answer_of(other)
    # Each is another's way.
    assert len({float(one.soc.sum()) for one in together}) == 15


def test_skies_are_shared_as_far_as_the_way_goes(make_job: MakeJob) -> None:
    job = make_job()
    skies = Skies()
    trip = job.trips[0]
    first = skies.over(job, trip, build_timeline(job, trip))
    driven = with_values(
        trip, {"stops": tuple(with_values(s, {"shade_pct": 90.0}) for s in trip.stops)}
    )
    assert skies.over(job, driven, build_timeline(job, driven)) is first
    other = with_values(job, {"settings": with_values(job.settings, {"seed": 5})})
    assert skies.over(other, trip, build_timeline(other, trip)) is not first
    later = with_values(trip, {"depart": job.trips[1].depart})
    assert skies.over(job, later, build_timeline(job, later)) is not first
    clear = with_values(
        trip, {"stops": tuple(with_values(s, {"weather": "clear"}) for s in trip.stops)}
    )
    assert skies.over(job, clear, build_timeline(job, clear)).weather is not first.weather


def test_a_controller_grows_with_more_panels_than_the_job_has(make_job: MakeJob) -> None:
    group = make_job().panels[0]
    assert controller_amps(group, 1, 13.6) == 8.0
    # 3 x 170 W at 13.6 V are 37.5 A.
    assert controller_amps(group, 3, 13.6) == 40.0


def test_offers_count_panels_and_keep_to_the_controller(make_job: MakeJob) -> None:
    job = make_job()
    prepared = prepare_trip(job, job.trips[1])
    none, one, three = (
        offers_of(prepared, [Design((count, 0), 1)]).sources[0].offered_w for count in (0, 1, 3)
    )
    assert none.max() == 0.0
    assert one.max() == pytest.approx(8 * job.battery.charging_v)
    unit = prepared.units[0].watts * job.panels[0].controller_efficiency
    np.testing.assert_allclose(three, np.minimum(3 * unit, 40 * job.battery.charging_v))
