"""Tanks of a job over its trips: services, drains, what runs out first."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

import sim
from sim.job.model.job import Job
from sim.ledger.results import TripResult
from sim.trip.tanks import StoreLine, first_out_of
from sim.van import tanks

JOB = """
title = "Tanks"

[van]
use = "medium-roof"

[living]
use = "weekend-away"
people = 2
out = []
meals_at = ["12:00-13:00"]
kitchen_l_person_day = 6
basin_l_person_day = 2
showers_person_week = 7
shower_l = 10
shower_at = ["18:00-19:00"]

[battery]
use = "lifepo4-200"

[water]
fresh_gal = 33

[[water.grey]]
name = "Sinks"
capacity_gal = 5
takes = ["kitchen", "basin"]

[[water.grey]]
name = "Shower"
capacity_gal = 20
takes = ["shower"]

[propane]
tank_l = 5

[[appliances]]
use = "furnace-propane"

[[appliances]]
use = "propane-stove"

[[appliances]]
use = "water-pump"

[[trips]]
name = "Winter"
depart = 2027-01-10
leave_at = "00:00"

[[trips.stops]]
place = "38.57, -109.55"
nights = 6

[settings]
draws = 12
"""
Make = Callable[..., TripResult]


@pytest.fixture(scope="module")
def run(edited: Callable[..., Job]) -> Make:
    """Simulates the job's trip with some of its text changed."""
    return lambda *changes: sim.simulate(edited(JOB, *changes)).trips[0]


@pytest.fixture(scope="module")
def plain(run: Make) -> TripResult:
    return run()


def named(trip: TripResult, name: str) -> StoreLine:
    (line,) = [line for line in trip.stores if line.name == name]
    return line


def test_order_kinds_and_capacities(plain: TripResult) -> None:
    told = [(x.name, x.kind, x.unit, round(x.capacity, 3)) for x in plain.stores]
    assert told == [
        ("Fresh water", "fresh", "L", 124.919),
        ("Sinks", "grey", "L", 18.927),
        ("Shower", "grey", "L", 75.708),
        ("Propane", "propane", "kg", round(5 * 0.8 * tanks.PROPANE_KG_L, 3)),
    ]


def test_a_day_in_the_van_uses_a_days_litres(plain: TripResult) -> None:
    fresh = named(plain, "Fresh water")
    per_day = (fresh.levels.moved + fresh.levels.missed)[:24, 0].sum()
    assert per_day == pytest.approx(2 * (6 + 2 + 10))
    assert fresh.by_use["shower"] == pytest.approx(2 * 10.0)
    assert fresh.by_use["kitchen"] == pytest.approx(2 * 6.0)


def test_what_is_drawn_runs_down_its_own_drain(plain: TripResult) -> None:
    sinks, shower = named(plain, "Sinks"), named(plain, "Shower")
    # Of sixteen litres a day five are drunk or cooked away.
    assert (sinks.levels.moved + sinks.levels.missed)[:24].sum() == pytest.approx(11.0)
    assert (shower.levels.moved + shower.levels.missed)[:24].sum() == pytest.approx(20.0)
    # Five gallons take eleven litres a day for nearly two.
    assert sinks.out_share == 1.0
    assert 36.0 < sinks.out_at_h[0] < 48.0


def test_what_is_drunk_reaches_no_grey_tank(run: Make, plain: TripResult) -> None:
    """Three litres each, and never more than is drawn at the kitchen."""
    dishes = ("kitchen_l_person_day = 6", "kitchen_l_person_day = 6\ndrunk_l_person_day = 3")
    some, every = run(dishes), run(("kitchen_l_person_day = 6", "kitchen_l_person_day = 1"))
    sinks = named(some, "Sinks").levels
    assert (sinks.moved + sinks.missed)[:24].sum() == pytest.approx(2 * 3.0 + 2 * 2.0)
    assert named(every, "Sinks").by_use["kitchen"] == 0.0
    for trip in (some, plain):
        assert named(trip, "Fresh water").by_use["kitchen"] == pytest.approx(12.0)


def test_an_outdoor_shower_runs_into_no_tank(run: Make) -> None:
    trip = run(("showers_person_week = 7", 'showers_person_week = 7\nshower_place = "outside"'))
    assert named(trip, "Shower").levels.level.max() == 0.0
    assert named(trip, "Fresh water").by_use["outdoor shower"] == pytest.approx(20.0)


def test_grey_space_is_full_before_the_fresh_tank_is_empty(run: Make) -> None:
    """33 gal fresh, 5 gal for the kitchen and 20 gal for the shower, all water down its drains
    (a fact of the trade; common practice, no source)."""
    trip = run(("tank_l = 5", "tank_l = 60"))
    fresh = named(trip, "Fresh water").nights_until[0]
    assert named(trip, "Sinks").nights_until[0] < fresh
    assert trip.first_out.store == "grey"
    assert trip.first_out.name == "Sinks"
    assert trip.first_out.share == 1.0


def test_services_keep_tanks_full_or_empty(run: Make) -> None:
    trip = run(("nights = 6", 'nights = 6\nservices = ["water", "dump", "propane"]'))
    for line in trip.stores:
        edge = 0.0 if line.kind == "grey" else line.capacity
        np.testing.assert_allclose(line.levels.level[:-1], edge)
        assert line.out_share == 0.0
    assert trip.first_out.store is None


def test_each_service_serves_its_own(run: Make) -> None:
    trip = run(("nights = 6", 'nights = 6\nservices = ["water"]'))
    assert named(trip, "Fresh water").out_share == 0.0
    assert named(trip, "Sinks").out_share == 1.0


def test_a_stop_that_is_only_passed_serves_on_arrival(run: Make) -> None:
    two = (
        '[[trips.stops]]\nplace = "38.57, -109.55"\nnights = 6',
        '[[trips.stops]]\nplace = "38.57, -109.55"\nnights = 3\n'
        '[[trips.stops]]\nplace = "38.67, -109.55"\nnights = 0\ndrive_hours = 1.5\n'
        'services = ["water", "dump"]\n'
        '[[trips.stops]]\nplace = "38.57, -109.55"\nnights = 3\ndrive_hours = 1.5',
    )
    trip = run(two)
    fresh, shower = named(trip, "Fresh water"), named(trip, "Shower")
    # An arrival at midnight is that of the evening before: off two days later, there at half
    # past one, and the next hour begins full.
    (at,) = np.flatnonzero(fresh.levels.renewed[:, 0])
    assert at == 2 * 24 + 2
    assert fresh.levels.level[at, 0] == fresh.capacity
    assert shower.levels.level[at - 1, 0] > 0.0
    assert shower.levels.level[at, 0] == 0.0


def test_a_stop_without_services_fills_nothing(run: Make) -> None:
    trip = run(("fresh_gal = 33", "fresh_l = 100\nstart_pct = 50"))
    fresh = named(trip, "Fresh water")
    assert fresh.levels.level[0, 0] == 50.0
    assert not fresh.levels.renewed.any()


def test_a_dry_tank_sends_nothing_down_the_drains(run: Make) -> None:
    trip = run(("fresh_gal = 33", "fresh_l = 40"))
    fresh, sinks, shower = (named(trip, x) for x in ("Fresh water", "Sinks", "Shower"))
    # 36 L a day: dry on the second day, and short in every hour of use after that.
    assert 24.0 < fresh.out_at_h[0] < 48.0
    assert fresh.worst_share == 0.0
    wanted = fresh.levels.moved + fresh.levels.missed
    dry = fresh.levels.level[:-1, 0] == 0.0
    assert fresh.short_h[0] == pytest.approx((wanted[dry] > 0.0).sum(), abs=1)
    down = sum((x.levels.moved + x.levels.missed) for x in (sinks, shower))
    # All but the five litres of a day's thirty-six that are drunk or cooked away.
    showers = shower.levels.moved + shower.levels.missed
    np.testing.assert_allclose(down - showers, (fresh.levels.moved - showers) * 11.0 / 16.0)
    assert down[dry].max() == 0.0


def test_cans_are_carried_where_there_is_no_tap(run: Make, plain: TripResult) -> None:
    trip = run(("fresh_gal = 33", "fresh_gal = 33\ncarry_l = 10\ncarries_day = 2"))
    fresh = named(trip, "Fresh water")
    # Twenty litres a day from the second day on, when there is room for them.
    assert 9.0 < fresh.carries <= 12.5
    assert fresh.levels.renewed.sum() == pytest.approx(10.0 * fresh.carries)
    assert fresh.nights_until[0] > named(plain, "Fresh water").nights_until[0]
    served = run(
        ("fresh_gal = 33", "fresh_gal = 33\ncarry_l = 10\ncarries_day = 2"),
        ("nights = 6", 'nights = 6\nservices = ["water"]'),
    )
    assert named(served, "Fresh water").carries == 0.0


def test_propane_is_what_heater_and_stove_burn(plain: TripResult) -> None:
    line = named(plain, "Propane")
    assert set(line.by_use) == {"Propane furnace", "Propane stove"}
    assert sum(line.by_use.values()) == pytest.approx(float(line.use_per_day.mean()))
    # 350 Wh for each meal of two people once a day.
    stove_kg = 2 * 350.0 / tanks.PROPANE_WH_KG
    assert line.by_use["Propane stove"] == pytest.approx(stove_kg, rel=1e-6)
    assert line.levels.level.shape == (len(plain.timeline) + 1, 12)
    assert line.out_share > 0.5


def test_nights_until_it_is_gone(plain: TripResult) -> None:
    fresh = named(plain, "Fresh water")
    # 36 L a day: three nights and a half.
    assert fresh.nights_until[0] == pytest.approx(124.919 / 36.0, abs=0.5)
    lasting = replace(fresh, capacity=1000.0)
    assert (lasting.nights_until >= fresh.nights_until).all()


def test_nights_until_a_grey_tank_is_full() -> None:
    # 10 L a day for two days into 100 L: eight more days of room.
    arriving = np.full((48, 1), 10.0 / 24.0)
    levels = tanks.filling(arriving, np.zeros(48, dtype=bool), capacity=100.0, start=0.0)
    line = StoreLine("Grey", "grey", "L", 100.0, levels, {"kitchen": 10.0}, step_hours=1.0)
    assert line.nights_until[0] == pytest.approx(10.0)


def test_every_tank_closes(plain: TripResult) -> None:
    for line in plain.stores:
        assert line.balance_error() < 1e-12
    tampered = plain.stores[0]
    tampered.levels.level[5] += 1.0
    assert tampered.balance_error() > 1e-3
    tampered.levels.level[5] -= 1.0


def test_steps_of_any_length_use_the_same(run: Make, plain: TripResult) -> None:
    fine = run(("draws = 12", "draws = 12\nstep_minutes = 5"))
    for one, other in zip(plain.stores, fine.stores, strict=True):
        assert one.use_per_day.mean() == pytest.approx(other.use_per_day.mean(), rel=0.01)
        apart = np.abs(one.nights_until - other.nights_until)
        assert apart[np.isfinite(apart)].max() < 0.2


def test_first_out_counts_each_draw_once() -> None:
    late, never = np.array([5.0, np.inf, 7.0, np.inf]), np.full(4, np.inf)
    assert first_out_of(never, ()).store is None
    alone = first_out_of(late, ())
    assert (alone.store, alone.share, alone.at_h) == ("battery", 0.5, 6.0)


def test_first_out_is_the_store_that_is_first_in_most_draws() -> None:
    """A tank is empty at 2, 9 and 4 hours, the battery at 5 hours in the second draw."""
    missed = np.zeros((10, 3))
    missed[[2, 9, 4], [0, 1, 2]] = 1.0
    levels = tanks.Levels(np.zeros((11, 3)), np.zeros((10, 3)), missed, np.zeros((10, 3)))
    tank = StoreLine("Fresh water", "fresh", "L", 9.0, levels, {}, 1.0)
    first = first_out_of(np.array([np.inf, 5.0, np.inf]), (tank,))
    assert (first.store, first.name) == ("fresh", "Fresh water")
    assert first.share == pytest.approx(2.0 / 3.0)
    assert first.at_h == 3.0


def test_diesel_comes_from_the_vehicle(run: Make) -> None:
    trip = run(('use = "furnace-propane"', 'use = "air-heater-fuel"'))
    assert set(named(trip, "Propane").by_use) == {"Propane stove"}
    (litres,) = trip.engine_fuel_l_day.values()
    heat = litres * tanks.ENGINE_FUEL_WH_L["diesel"] * 0.80
    # What the furnace gave the same cabin.
    other = run().stores[-1].by_use["Propane furnace"] * tanks.PROPANE_WH_KG * 0.78
    assert heat == pytest.approx(other, rel=0.1)


def test_a_job_without_tanks_has_none(job: Job) -> None:
    trip = sim.simulate(job).trips[0]
    assert trip.stores == ()
    assert trip.frost.spots == ()


def test_of_two_stores_that_run_out_together_the_battery_is_told() -> None:
    """In the same hour of every draw, and as often as each other."""
    missed = np.zeros((10, 4))
    missed[[5, 5, 2, 2], [0, 1, 2, 3]] = 1.0
    levels = tanks.Levels(np.zeros((11, 4)), np.zeros((10, 4)), missed, np.zeros((10, 4)))
    fresh, grey = (
        StoreLine(name, kind, "L", 9.0, levels, {}, 1.0)
        for name, kind in (("Fresh water", "fresh"), ("Sink tank", "grey"))
    )
    both = first_out_of(np.array([5.0, 5.0, 2.0, 2.0]), (fresh,))
    assert (both.store, both.share, both.at_h) == ("battery", 1.0, 3.5)
    apart = first_out_of(np.array([4.0, 4.0, np.inf, np.inf]), (fresh,))
    assert (apart.store, apart.share, apart.at_h) == ("battery", 0.5, 4.0)
    # Of two tanks the one that comes first in the job.
    assert first_out_of(np.full(4, np.inf), (fresh, grey)).name == "Fresh water"
