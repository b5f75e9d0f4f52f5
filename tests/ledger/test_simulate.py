"""The pipeline: a job simulated, the same on every run, whole in every sum."""

from __future__ import annotations

import tracemalloc
from collections.abc import Callable
from dataclasses import asdict

import numpy as np
import pytest

import sim
from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.ledger import simulate as pipeline
from sim.ledger.results import Result, TripResult
from sim.trip.inverter import INVERTER_NAME
from sim.trip.prepare import Skies, prepare_trip

MakeJob = Callable[..., Job]


def same(one: TripResult, other: TripResult) -> bool:
    names = ("soc", "served_w", "unserved_w", "losses_w", "cabin_c")
    taken = zip(one.sources, other.sources, strict=True)
    return all(np.array_equal(getattr(one, name), getattr(other, name)) for name in names) and all(
        np.array_equal(mine.taken_w, theirs.taken_w) for mine, theirs in taken
    )


def per_day(trip: TripResult) -> dict[str, float]:
    """All energies of a trip by name. [Wh/day]"""
    figures = asdict(trip.energy)
    return {**figures.pop("taken"), **figures}


def with_settings(job: Job, **changes: object) -> Job:
    return with_values(job, {"settings": with_values(job.settings, changes)})


def test_the_case_has_everything_in_it(full_result: Result) -> None:
    """Hunger, a full bank, all three sources, unharvested sun, heat and fans."""
    spring, summer = full_result.trips
    assert spring.taken_w()["drive"].max() > 0.0
    assert spring.taken_w()["shore"].max() > 0.0
    assert spring.unharvested_w.max() > 50.0
    assert spring.soc.max() > 0.99
    assert summer.unserved_w[0].max() > 0.0
    assert all(load.wanted_wh.min() > 0.0 for load in spring.loads)


def test_skies_are_kept_for_those_who_come_after(
    make_job: MakeJob, monkeypatch: pytest.MonkeyPatch
) -> None:
    job, skies = make_job(), Skies()
    result = sim.simulate(job, skies=skies)
    monkeypatch.delattr("sim.trip.prepare.trip_weather")  # nothing is drawn anew
    for trip, done in zip(job.trips, result.trips, strict=True):
        air = prepare_trip(job, trip, skies=skies).sky.weather.temp_air
        np.testing.assert_array_equal(air, done.temp_air)


def test_every_appliance_is_served_or_refused(full_result: Result) -> None:
    """Over appliances the ledger is the trip's, draw by draw, and no line gets more than wanted."""
    for trip in full_result.trips:
        hours = trip.timeline.step_hours
        wanted = sum(load.wanted_wh for load in trip.loads)
        served = sum(load.served_wh for load in trip.loads)
        trip_served = trip.served_w.sum(axis=0) * hours
        trip_unserved = trip.unserved_w.sum(axis=(0, 1)) * hours
        np.testing.assert_allclose(served, trip_served, rtol=1e-9)
        np.testing.assert_allclose(wanted, trip_served + trip_unserved, rtol=1e-9)
        np.testing.assert_allclose(wanted - served, trip_unserved, atol=1e-9 * wanted.max())
        for load in trip.loads:
            assert (load.served_wh <= load.wanted_wh + 1e-9).all(), load.name
            assert (load.served_wh >= 0.0).all(), load.name
            np.testing.assert_allclose(
                load.wanted_wh_day.sum(axis=0), load.wanted_wh, rtol=1e-12, err_msg=load.name
            )


def test_refused_energy_has_the_priority_of_its_line(full_result: Result) -> None:
    """Off the plug an AC appliance misses its own energy and the inverter's loss on the way."""
    summer = full_result.trips[1]
    unserved = summer.unserved_w.sum(axis=1) * summer.timeline.step_hours
    refused = {load.name: load.wanted_wh - load.served_wh for load in summer.loads}
    # A slope of 0.0447 and a bend that takes 0.138 at full load, of 1500 W; beside the dish
    # nothing else runs but the refrigerator at half its 60 W or so.
    dish, kettle = (1.0447 + 0.1378 * watts / 1500.0 for watts in (60.0 + 30.0, 1000.0 + 30.0))
    comfort = refused["Dish"] * dish + refused["Fan"]
    np.testing.assert_allclose(comfort, unserved[1], rtol=0.003)
    np.testing.assert_allclose(refused["Kettle"] * kettle, unserved[2], rtol=0.003)
    essential = sum(refused[name] for name in ("Monitor", "Lamps", "Box", "Heater"))
    assert (essential <= unserved[0] + 1e-9).all()
    assert unserved.max(axis=1)[1] > 0.0


def test_one_line_for_the_inverter(full_result: Result) -> None:
    for trip in full_result.trips:
        names = [load.name for load in trip.loads]
        assert names.count(INVERTER_NAME) == 1
        assert names[-1] == INVERTER_NAME
        assert trip.loads[-1].priority == "essential"
        assert len(names) == 8


def test_sources_loads_and_losses_close_in_every_step(full_result: Result) -> None:
    for trip in full_result.trips:
        change = np.diff(trip.soc, axis=0) * trip.capacity_wh / trip.timeline.step_hours
        moved = sum(source.taken_w for source in trip.sources)
        left = moved - trip.served_w - trip.losses_w - change
        assert np.abs(left).max() < 1e-9 * trip.capacity_wh


def test_unharvested_is_what_was_offered_and_not_used(make_job: MakeJob) -> None:
    """Sun used and left is the same whatever the battery takes: with panels and sky alike."""
    job = make_job()
    small = sim.simulate(job).trips[0]
    battery = with_values(job.battery, {"count": 4})
    large = sim.simulate(with_values(job, {"battery": battery})).trips[0]
    np.testing.assert_allclose(
        small.taken_w()["sun"] + small.unharvested_w,
        large.taken_w()["sun"] + large.unharvested_w,
        atol=1e-9,
    )
    for trip in (small, large):
        assert trip.unharvested_w.min() >= 0.0
    assert large.unharvested_w.sum() < small.unharvested_w.sum()


def test_same_seed_same_answer_and_another_seed_another(make_job: MakeJob) -> None:
    job = make_job()
    one, two = sim.simulate(job), sim.simulate(job)
    assert all(same(a, b) for a, b in zip(one.trips, two.trips, strict=True))
    other = sim.simulate(with_settings(job, seed=5))
    assert not any(same(a, b) for a, b in zip(one.trips, other.trips, strict=True))


def test_trips_do_not_know_of_each_other(make_job: MakeJob) -> None:
    job = make_job()
    one = sim.simulate(job)
    turned = sim.simulate(with_values(job, {"trips": job.trips[::-1]}))
    assert [trip.name for trip in turned.trips] == ["Summer", "Spring"]
    for name in ("Spring", "Summer"):
        assert same(one.trip(name), turned.trip(name))


def test_more_draws_begin_with_the_fewer(make_job: MakeJob) -> None:
    """Six draws are the first six of nine: lanes do not touch each other anywhere."""
    job = make_job()
    six, nine = (sim.simulate(with_settings(job, draws=n)).trips[0] for n in (6, 9))
    np.testing.assert_array_equal(nine.soc[:, :6], six.soc)
    np.testing.assert_array_equal(nine.unserved_w[:, :, :6], six.unserved_w)
    np.testing.assert_array_equal(nine.cabin_c[:, :6], six.cabin_c)


def test_clear_sky_brings_at_least_what_the_climate_does(make_job: MakeJob) -> None:
    job = make_job(("draws = 6", "draws = 40"))
    drawn, clear = (
        sim.simulate(with_settings(job, weather=name)).trips for name in ("climate", "clear")
    )
    for some, most in zip(drawn, clear, strict=True):
        offered = some.taken_w()["sun"] + some.unharvested_w
        upper = most.taken_w()["sun"] + most.unharvested_w
        # Hour by hour on average; 1 % for the noise of forty draws, and 4 W for the hours in
        # which the sun rises or sets: a clear hour is that of its middle, a drawn one a mean.
        assert (upper.mean(axis=1) * 1.01 + 4.0 >= offered.mean(axis=1)).all()
        assert upper.sum() > 1.1 * offered.sum()


def test_a_frozen_battery_takes_no_charge(make_job: MakeJob) -> None:
    """Outside in January at 38 N: a lithium bank below 0 deg C leaves the sun unharvested."""
    winter = ("depart = 2027-07-10", "depart = 2027-01-10")
    outside = ('use = "medium-roof"', 'use = "medium-roof"\nbattery_place = "outside"')
    job = make_job(winter, outside)
    warm = ('use = "lifepo4-100"', 'use = "lifepo4-100"\ncharge_above_c = -40')
    cold, heated = (
        sim.simulate(job).trips[1],
        sim.simulate(make_job(winter, outside, warm)).trips[1],
    )
    assert cold.temp_air.mean() < 0.0
    charged = np.diff(cold.soc, axis=0) > 1e-9
    # Six hours behind the air: after a day of hard frost nothing goes in.
    frost = np.array(
        [cold.temp_air[max(0, i - 24) : i + 1].max(axis=0) for i in range(len(charged))]
    )
    assert not charged[frost < -1.0].any()
    assert cold.taken_w()["sun"].sum() < 0.9 * heated.taken_w()["sun"].sum()
    inside = sim.simulate(make_job(winter)).trips[1]
    assert inside.taken_w()["sun"].sum() > cold.taken_w()["sun"].sum()


def test_the_battery_in_numbers(make_job: MakeJob) -> None:
    job = make_job(('use = "lifepo4-100"', 'use = "lifepo4-100"\ncount = 3\nhealth_pct = 80'))
    bank = pipeline.bank_of(job.battery)
    assert bank.capacity_wh == pytest.approx(3 * 1280.0 * 0.8)
    assert bank.charge_limit_w == pytest.approx(0.5 * 3 * 1280.0 * 0.8)
    assert bank.discharge_limit_w == pytest.approx(3 * 1280.0 * 0.8)
    # 8 milliohm each, three side by side: at 128 W of 12.8 V, 10 A, 0.27 W.
    assert bank.resistance_per_w * 128.0**2 == pytest.approx(0.008 / 3 * 10.0**2)
    # 3 % of a full bank in a month of 30 days.
    assert bank.self_discharge_per_h * 24 * 30 == pytest.approx(0.03)
    assert bank.tail_share == pytest.approx(0.1)
    assert bank.floors == (0.05, 0.15, 0.25)
    assert bank.reconnect_above == 0.05


def test_start_soc_is_where_it_starts(make_job: MakeJob) -> None:
    job = make_job(("depart = 2027-07-10", "depart = 2027-07-10\nstart_soc = 0.42"))
    trips = sim.simulate(job).trips
    np.testing.assert_array_equal(trips[0].soc[0], 1.0)
    np.testing.assert_array_equal(trips[1].soc[0], 0.42)


def test_progress_is_told_up_to_the_end(make_job: MakeJob) -> None:
    told: list[float] = []
    pipeline.simulate(make_job(), progress=told.append)
    assert told == sorted(told)
    assert 0.0 < told[0] < 0.2
    assert 0.9 <= told[-1] <= 1.0


def test_progress_is_told_while_the_battery_runs(make_job: MakeJob) -> None:
    """Its steps take most of the time of a long trip."""
    job = make_job(("nights = 3", "nights = 30"))
    job = with_values(job, {"trips": job.trips[1:]})
    told: list[float] = []
    pipeline.simulate(job, progress=told.append)
    assert told == sorted(told)
    assert len({share for share in told if 0.45 < share < 0.99}) > 5


def test_a_ledger_that_does_not_close_stops_the_run(
    make_job: MakeJob, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A source that is counted at a millionth more than it gave is found."""
    right = pipeline.run_bank

    def wrong(*args: object, **kwargs: object) -> object:
        done = right(*args, **kwargs)  # type: ignore[arg-type]
        done.taken_w[0][:] *= 1.0 + 1e-6
        return done

    monkeypatch.setattr(pipeline, "run_bank", wrong)
    with pytest.raises(AssertionError, match="ledger of Spring does not close"):
        pipeline.simulate(make_job())


def test_memory_is_a_few_arrays(make_job: MakeJob) -> None:
    """Thirty-six arrays of steps by draws at most: a year of 200 draws takes some half a
    gigabyte; the result keeps half of them."""
    job = make_job(("nights = 3", "nights = 30"), ("draws = 6", "draws = 240"))
    job = with_values(job, {"trips": job.trips[1:]})
    sim.simulate(job)  # tables, imports, and the numbers of days that are kept for others
    tracemalloc.start()
    try:
        result = sim.simulate(job)
        kept, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    array = len(result.trips[0].timeline) * 240 * 8
    assert kept <= 16 * array
    assert peak <= 36 * array
