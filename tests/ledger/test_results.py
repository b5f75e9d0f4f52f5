"""Results: verdicts, dark hours, and views that add up."""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Callable
from dataclasses import asdict, replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pvlib
import pytest

import sim
from sim.job.model.job import Job
from sim.ledger.results import BALANCE_TOLERANCE, Result, TripResult
from sim.ledger.verdict import verdict_of

MakeJob = Callable[..., Job]
SAMOA = """[[trips.stops]]
place = "-13.83, -171.77"
nights = 3
weather = "miami.tm2"
"""
POWERS = ("sun", "drive", "shore", "served", "unserved", "losses", "unharvested")


@pytest.fixture
def spring(full_result: Result) -> TripResult:
    return full_result.trips[0]


@pytest.fixture
def summer(full_result: Result) -> TripResult:
    return full_result.trips[1]


# Shares in which the essentials hold, and everything.
VERDICTS = [
    (1.0, 1.0, "ample"),
    (0.95, 0.95, "ample"),
    (1.0, 0.95 - 1e-12, "tight"),
    (0.9, 0.0, "tight"),
    (0.9 - 1e-12, 0.0, "short"),
    (0.9 - 1e-12, 0.9 - 1e-12, "short"),
]


@pytest.mark.parametrize(("essentials", "everything", "verdict"), VERDICTS)
def test_verdict_by_its_bounds(essentials: float, everything: float, verdict: str) -> None:
    assert verdict_of(essentials, everything, (0.95, 0.9)) == verdict


def hungry(trip: TripResult, where: np.ndarray, group: int = 2) -> TripResult:
    """The trip with 10 W missing in the steps and draws of a mask and nowhere else."""
    unserved = np.zeros_like(trip.unserved_w)
    unserved[group] = 10.0 * where
    return replace(trip, unserved_w=unserved)


def test_verdict_counts_the_draws_without_a_dark_hour(spring: TripResult) -> None:
    shape = spring.soc[1:].shape
    none = np.zeros(shape, dtype=bool)
    assert hungry(spring, none).share_without_dark == 1.0
    assert hungry(spring, none).promise.holds("comforts").all()
    assert hungry(spring, none, group=0).promise.holds("essentials").all()
    one = none.copy()
    one[7, 2] = True
    trip = hungry(spring, one)
    assert trip.share_without_dark == pytest.approx(5.0 / 6.0)
    assert trip.verdict == "tight"
    assert trip.dark_hours.tolist() == [0.0, 0.0, 1.0, 0.0, 0.0, 0.0]
    # The television off is no reason to call a trip short; the heater's blower is.
    assert hungry(spring, one, group=1).verdict == "tight"
    assert hungry(spring, one, group=0).verdict == "short"
    # The bounds are the job's.
    blower = hungry(spring, one, group=0)
    assert replace(trip, ample_share=0.8).verdict == "ample"
    assert replace(blower, ample_share=0.9, tight_share=0.8).verdict == "tight"


def test_rounding_is_no_hunger(spring: TripResult) -> None:
    unserved = np.full_like(spring.unserved_w, 1e-9)
    assert replace(spring, unserved_w=unserved).dark_hours.tolist() == [0.0] * 6


def test_dark_hours_by_priority(spring: TripResult) -> None:
    shape = spring.soc[1:].shape
    where = np.zeros(shape, dtype=bool)
    where[3:6] = True
    trip = hungry(spring, where, group=1)
    assert trip.dark_by_priority() == {"essential": 0.0, "comfort": 3.0, "extra": 0.0}
    assert trip.dark.sum() == 3 * 6


def test_dark_hours_of_short_steps_are_hours_of_the_clock(make_job: MakeJob) -> None:
    """Twelve hungry steps of five minutes within one hour are one dark hour, two steps on both
    sides of a full hour are two."""
    trip = sim.simulate(make_job(end="step_minutes = 5\n")).trips[0]
    where = np.zeros(trip.soc[1:].shape, dtype=bool)
    where[24:36, 0] = True
    where[24:37, 1] = True
    where[35:37, 2] = True
    where[[0, 13, 26], 3] = True
    assert hungry(trip, where).dark_hours.tolist() == [1.0, 2.0, 2.0, 3.0, 0.0, 0.0]
    # The trip lasts 98 hours and a departure on the full hour: hours of the trip are the clock's.
    assert trip.local_times()[0].minute == 0
    assert trip.dark.shape == (len(trip.timeline) // 12, 6)
    # The last hour may be cut short.
    cut = replace(trip, unserved_w=trip.unserved_w[:, : 12 * 5 + 3])
    assert cut.dark.shape == (6, 6)


def test_hunger_hour_by_hour_is_that_of_the_steps(summer: TripResult) -> None:
    hungry_steps = summer.unserved_w.sum(axis=0) > 1e-6
    np.testing.assert_array_equal(summer.dark, hungry_steps)
    assert summer.dark_hours.min() >= 1.0


def test_balance_is_there_and_trips_on_any_tampered_array(spring: TripResult) -> None:
    assert spring.balance_error() <= 1e-12
    for name in ("soc", "served_w", "losses_w"):
        array = getattr(spring, name).copy()
        array[40, 3] += 1e-3 if name == "soc" else 0.01
        tampered = replace(spring, **{name: array})
        assert tampered.balance_error() > BALANCE_TOLERANCE, name
    for k, source in enumerate(spring.sources):
        array = source.taken_w.copy()
        array[40, 3] += 0.01
        sources = (*spring.sources[:k], replace(source, taken_w=array), *spring.sources[k + 1 :])
        assert replace(spring, sources=sources).balance_error() > BALANCE_TOLERANCE, source.name


def test_ran_out_is_a_battery_at_its_cut_off(spring: TripResult, summer: TripResult) -> None:
    at_floor = summer.soc.min(axis=0) <= 0.05 + 1e-9
    assert 0.0 < at_floor.mean() < 1.0
    assert summer.ran_out_share == at_floor.mean()
    # An hour of the steps: the first at whose end the lithium bank stands at its floor.
    first = (summer.soc[1:] <= 0.05 + 1e-9).argmax(axis=0) + 1.0
    np.testing.assert_array_equal(summer.cut_off_h, np.where(at_floor, first, np.inf))
    assert summer.first_out.store == "battery"
    assert summer.first_out.share == at_floor.mean()
    # What is dark for another reason does not empty the battery.
    where = np.ones(spring.soc[1:].shape, dtype=bool)
    whole = replace(spring, cut_off_h=np.full(spring.draws, np.inf))
    assert hungry(whole, where, group=0).ran_out_share == 0.0


def test_lowest_charge_is_a_quantile_over_draws(summer: TripResult) -> None:
    lowest = np.sort(summer.lowest)
    assert (summer.lowest <= summer.soc.min(axis=0)).all()
    assert summer.lowest_soc.p50 == pytest.approx((lowest[2] + lowest[3]) / 2.0)
    assert lowest[0] <= summer.lowest_soc.p10 <= lowest[1]
    assert lowest[4] <= summer.lowest_soc.p90 <= lowest[5]


def test_days_add_up_to_the_trips_energy(full_result: Result) -> None:
    for trip in full_result.trips:
        frame = trip.days()
        assert frame["date"].iloc[0] == trip.depart.date()
        assert frame["date"].iloc[-1] == trip.local_times()[-2].date()
        energies = {**trip.energy.taken, **asdict(trip.energy)}
        for name in POWERS:
            per_day = frame[f"{name}_wh"].sum() / trip.days_long
            assert per_day == pytest.approx(energies[name], rel=1e-9, abs=1e-9)
        whole = trip.soc[1:].min(axis=0)
        assert frame["lowest_soc_p10"].min() >= whole.min() - 1e-12
        assert (frame["lowest_soc_p10"] <= frame["lowest_soc_p90"]).all()


def test_a_days_row_is_that_day(spring: TripResult) -> None:
    frame = spring.days()
    dates = np.array([time.date() for time in spring.local_times()[:-1]])
    assert frame["date"].tolist() == sorted(set(dates))
    for _, row in frame.iterrows():
        of_day = dates == row["date"]
        assert row["sun_wh"] == pytest.approx(spring.taken_w()["sun"][of_day].mean(axis=1).sum())
        lowest = spring.soc[1:][of_day].min(axis=0)
        for name, q in (("p10", 0.1), ("p50", 0.5), ("p90", 0.9)):
            assert row[f"lowest_soc_{name}"] == pytest.approx(np.quantile(lowest, q))


def test_hours_add_up_to_the_trips_energy(full_result: Result) -> None:
    for trip in full_result.trips:
        frame = trip.hours()
        assert len(frame) == len(trip.timeline)
        energies = {**trip.energy.taken, **asdict(trip.energy)}
        for name in POWERS:
            per_day = frame[f"{name}_w"].sum() * trip.timeline.step_hours / trip.days_long
            assert per_day == pytest.approx(energies[name], rel=1e-9, abs=1e-9)
        np.testing.assert_allclose(frame["soc_end_p50"], np.quantile(trip.soc[1:], 0.5, axis=1))
        assert frame["dark_share"].to_numpy().sum() * 6 == pytest.approx(trip.dark.sum())
        np.testing.assert_allclose(frame["cabin_c"], trip.cabin_c.mean(axis=1))
        assert frame["local_time"].iloc[0] == trip.depart.isoformat()


def test_ledger_adds_up_to_the_trips_energy(full_result: Result) -> None:
    for trip in full_result.trips:
        frame = trip.ledger()
        assert frame["appliance"].tolist() == [load.name for load in trip.loads]
        assert frame["served_wh_day"].sum() == pytest.approx(trip.energy.served, rel=1e-9)
        wanted = trip.energy.served + trip.energy.unserved
        assert frame["wanted_wh_day"].sum() == pytest.approx(wanted, rel=1e-9)


def test_energy_in_is_energy_out_and_what_the_battery_holds(full_result: Result) -> None:
    for trip in full_result.trips:
        energy = trip.energy
        gained = (trip.soc[-1] - trip.soc[0]).mean() * trip.capacity_wh / trip.days_long
        taken = sum(energy.taken.values())
        assert taken == pytest.approx(energy.served + energy.losses + gained, rel=1e-9)


def test_energy_by_hand(spring: TripResult) -> None:
    """Mean over draws of the sum over hours, by the days of the trip: 24-hour days."""
    assert spring.hours_long == len(spring.timeline)
    by_hand = spring.taken_w()["sun"].sum() / 6 / (len(spring.timeline) / 24.0)
    assert spring.energy.taken["sun"] == pytest.approx(by_hand, rel=1e-12)


def test_local_times_and_days(spring: TripResult) -> None:
    times = spring.local_times()
    assert len(times) == len(spring.timeline) + 1
    assert spring.depart == times[0]
    assert times[0].isoformat() == "2027-03-30T10:00:00-06:00"
    assert all(b - a == dt.timedelta(hours=1) for a, b in pairwise(times))
    days = [(time.date() - times[0].date()).days for time in times[:-1]]
    assert spring.day_index.tolist() == days


def test_times_over_a_clock_change(make_job: MakeJob) -> None:
    job = make_job(("depart = 2027-07-10", "depart = 2027-03-13"))
    trip = sim.simulate(job).trips[1]
    times = trip.local_times()
    assert {time.utcoffset() for time in times} == {dt.timedelta(hours=-7), dt.timedelta(hours=-6)}
    assert times[-1].isoformat() == "2027-03-16T10:00:00-06:00"
    assert np.bincount(trip.day_index).tolist() == [14, 23, 24, 10]


def test_a_clock_set_back_over_midnight_keeps_its_day(spring: TripResult) -> None:
    """Who drives west over a time zone just after midnight does not live the day before again."""
    start = np.datetime64("2027-04-03T22:00", "s") + np.timedelta64(3600, "s") * np.arange(6)
    # By the clock: 23:00, 00:00, then 23:00 again, 00:00, 01:00 and 02:00.
    offsets = np.array([60, 60, -60, -60, -60, -60])
    line = replace(spring.timeline, start_utc=start, utc_offset_minutes=offsets)
    assert line.local_day.tolist() == [0, 1, 1, 1, 1, 1]


def test_a_day_that_a_zone_left_out_is_none(make_job: MakeJob, tmp_path: Path) -> None:
    """Samoa went from 29 to 31 December 2011 and never had a 30th."""
    shutil.copy(Path(pvlib.__file__).parent / "data" / "12839.tm2", tmp_path / "miami.tm2")
    job = make_job(
        ("depart = 2027-07-10", "depart = 2011-12-28"),
        ('[[trips.stops]]\nplace = "38.57, -109.55"\nnights = 3', SAMOA),
    )
    trip = sim.simulate(job).trips[1]
    days = trip.days()
    written = [str(date) for date in days["date"]]
    assert written == ["2011-12-28", "2011-12-29", "2011-12-31"]
    assert np.isfinite(days.select_dtypes("number").to_numpy()).all()
    assert trip.day_index.max() == 2
    assert [len(load.wanted_wh_day) for load in trip.loads] == [3] * len(trip.loads)


def test_a_stop_passed_within_an_hour_has_no_hours_of_its_own(make_job: MakeJob) -> None:
    passed = '[[trips.stops]]\nplace = "38.58, -109.55"\nnights = 0\ndrive_hours = 0.25\n\n'
    stay = '[[trips.stops]]\nplace = "38.57, -109.55"\nnights = 3'
    moved = stay.replace("nights = 3", "nights = 3\ndrive_hours = 0.25")
    trip = sim.simulate(make_job((stay, passed * 3 + moved))).trips[1]
    taken_w, wanted_w = trip.at_stops_w
    steps = [int((trip.timeline.stop == stop).sum()) for stop in range(4)]
    assert 0 in steps
    for stop, count in enumerate(steps):
        there = trip.timeline.stop == stop
        assert (wanted_w[stop] > 0.0).all() == (count > 0)
        if count:
            np.testing.assert_array_equal(
                taken_w["sun"][stop], trip.taken_w()["sun"][there].mean(axis=0)
            )


def test_trip_by_name(full_result: Result) -> None:
    assert full_result.trip("Summer") is full_result.trips[1]
    with pytest.raises(KeyError):
        full_result.trip("Autumn")
