"""The sheet for the van: what the charge at sunset means, by hand; nothing that is not aboard."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

import sim
from sim.decide.handover import LEVELS, HandoverSheet, _names, trip_of
from sim.decide.living_rules import NIGHTS
from sim.decide.winter_list import rest_months, winter_steps
from sim.job.model.changes import with_values
from sim.job.model.handover import Handover
from sim.job.model.job import Job
from sim.job.model.power import Alternator, Generator, Shore
from sim.job.model.tanks import GreyTank, Propane, Water
from sim.places.lookup import Place
from sim.report.words.by_locale import Writing
from sim.report.words.shed_words import shed_sentences

JOBS = Path(__file__).parents[1] / "data" / "jobs"

MakeJob = Callable[..., Job]


@pytest.fixture(scope="session")
def sheet(unsure: Job) -> HandoverSheet:
    return sim.decide.handover(unsure, jobs=2)


def kinds(job: Job) -> list[str]:
    return [step.kind for step in winter_steps(job)]


# --- the charge at sunset ----------------------------------------------------------------------


def test_without_sun_a_charge_lasts_as_long_as_it_is_large(
    make_job: MakeJob, balance_job: str
) -> None:
    job = make_job(balance_job, ("[[panels]]\ncount = 1", "[[panels]]\ncount = 0"))
    winter, summer = sim.decide.handover(job).seasons
    # 40 W from 3,840 Wh, of which 2 % are kept back. In mid-June the sun of Moab sets between
    # eight and nine: until noon that is 15 to 16 hours or 624 Wh, and 960 Wh with each day more.
    assert (winter.month, summer.month) == (1, 6)
    assert summer.lasting == (1,) * 9 + (0,)
    assert summer.nights == (0.2, 0.45, 0.7)
    # A winter's night is longer, and the cold bank of an unheated van holds less.
    assert winter.nights[0] is not None
    assert winter.nights[0] > summer.nights[0]
    # The load is a comfort: without essentials those always last.
    assert summer.essentials == (1,) * 10


def test_a_generator_is_left_off_and_brings_a_dull_day_back(
    make_job: MakeJob, balance_job: str
) -> None:
    job = make_job(balance_job, ("[[panels]]\ncount = 1", "[[panels]]\ncount = 0"))
    generator = Generator(watts=1000, charger_amps=25, tank_l=4, start_below_soc=0.5)
    with_one = with_values(job, {"generator": generator})
    for plain, season in zip(
        sim.decide.handover(job).seasons, sim.decide.handover(with_one).seasons, strict=True
    ):
        # One that starts at a low charge would make that last longer than a high one.
        assert season.lasting == plain.lasting
        assert plain.dull.generator_hours is None
        # 25 A into the bank at its charging voltage, less what the bank loses.
        watts = 25 * job.battery.charging_v * job.battery.charge_efficiency
        assert season.dull.generator_hours == pytest.approx(season.dull.missing_wh / watts)


def test_the_van_is_parked_while_a_charge_lasts(make_job: MakeJob, balance_job: str) -> None:
    job = make_job(balance_job, ("[[panels]]\ncount = 1", "[[panels]]\ncount = 0"))
    with_one = with_values(job, {"alternator": (Alternator(dcdc_amps=30.0),)})
    for plain, season in zip(
        sim.decide.handover(job).seasons, sim.decide.handover(with_one).seasons, strict=True
    ):
        assert (season.lasting, season.nights) == (plain.lasting, plain.nights)
        # What driving brings is said beside it.
        assert plain.dull.drive_hours is None
        assert season.dull.drive_hours is not None


def test_more_charge_never_lasts_less_and_essentials_last_longest(sheet: HandoverSheet) -> None:
    for season in sheet.seasons:
        assert list(season.lasting) == sorted(season.lasting, reverse=True)
        assert all(e >= a for e, a in zip(season.essentials, season.lasting, strict=True))
        assert season.draws == 40
        known = [x for x in season.nights if x is not None]
        assert known == sorted(known)
        assert len(season.nights) == len(NIGHTS)
        for level, held in zip(LEVELS, season.lasting, strict=True):
            if season.nights[0] is not None and level >= season.nights[0]:
                assert held >= 0.9 * season.draws


def test_a_dull_day_is_brought_back_by_sun_too(sheet: HandoverSheet) -> None:
    winter, _ = sheet.seasons
    dull = winter.dull
    assert dull.missing_wh > 0.0
    assert dull.sun_hours is not None
    # 340 W of panels give no more than they are rated for, and something at noon.
    watts = dull.missing_wh / dull.sun_hours / sheet.job.battery.charge_efficiency
    assert 100.0 < watts < 340.0


@pytest.mark.parametrize(
    ("latitude", "winter", "summer"),
    [
        # March and November are as near to January, and as far from July: the first is taken.
        (38.57, (0, 3), (0, 7)),
        (-38.57, (0, 7), (0, 3)),
    ],
)
def test_the_season_takes_the_trip_that_is_nearest(
    unsure: Job, latitude: float, winter: tuple[int, int], summer: tuple[int, int]
) -> None:
    place = {"place": Place("X", "", "", latitude, 10.0, "UTC")}
    trips = tuple(
        with_values(trip, {"stops": tuple(with_values(stop, place) for stop in trip.stops)})
        for trip in unsure.trips
    )
    job = with_values(unsure, {"trips": trips})
    assert trip_of(job, "winter") == winter
    assert trip_of(job, "summer") == summer


# --- what goes off, tanks ----------------------------------------------------------------------


def test_groups_go_off_in_order_each_with_what_it_feeds(sheet: HandoverSheet) -> None:
    bank = sheet.job.battery
    floors = {"extra": bank.extras_soc, "comfort": bank.reserve_soc, "essential": bank.cutoff_soc}
    # Nothing of this van is a comfort.
    assert [group.priority for group in sheet.shed] == ["extra", "essential"]
    for group in sheet.shed:
        assert group.floor_soc == floors[group.priority]
        assert group.back_soc == pytest.approx(group.floor_soc + bank.reconnect_above_soc)
        # The cabin is heated, the battery in it warm enough.
        assert group.cold_soc == pytest.approx(group.floor_soc, abs=0.05)
    priorities = {item.name: item.priority for item in sheet.job.appliances}
    named = {name: group.priority for group in sheet.shed for name in group.names}
    assert named == {name: priorities[name] for name in named}
    assert "Coffee maker" in named
    assert not any("nverter" in name for name in named)


def test_cold_raises_the_floor_and_medical_devices_come_first(
    edited: Callable[..., Job],
) -> None:
    """Outside in January: what the coldest battery of the trip cannot give is counted from full."""
    aid = '\n[[appliances]]\nuse = "medical-night-device"\n'
    pump = '\n[[appliances]]\nkind = "steady"\nname = "Pump"\nwatts = 30\npriority = "essential"\n'
    job = edited((JOBS / "parked-in-january.toml").read_text("utf-8"), end=aid + pump)
    sheet = sim.decide.handover(job)
    (group,) = sheet.shed
    usable = float(np.quantile(sim.simulate(job).trips[0].least_usable, 0.1))
    assert usable < 0.9
    assert group.cold_soc == pytest.approx(1.0 - (1.0 - job.battery.cutoff_soc) * usable)
    # The pump wants more, the aid matters more.
    assert group.names[:2] == ("Breathing aid", "Pump")
    (said,) = shed_sentences(sheet, Writing("en_US", "us"))
    assert said.startswith(
        f"Below 5\xa0% (in the cold {100 * group.cold_soc:.0f}\xa0%): all that is left ("
    )
    assert "Refrigerator" in said
    warm = replace(sheet, shed=(replace(group, cold_soc=group.floor_soc + 0.01),))
    assert next(shed_sentences(warm, Writing("en_US", "us"))).startswith("Below 5\xa0%: all that ")


def test_what_waits_for_charge_goes_off_at_a_charge_of_its_own(unsure: Job) -> None:
    waiting = tuple(
        with_values(x, {"above_soc": 0.6}) if x.name == "Coffee maker" else x
        for x in unsure.appliances
    )
    job = with_values(unsure, {"appliances": waiting, "trips": unsure.trips[1:]})
    first = sim.decide.handover(job).shed[0]
    assert (first.priority, first.floor_soc, first.names) == ("held", 0.6, ("Coffee maker",))
    assert all("Coffee maker" not in group.names for group in sim.decide.handover(job).shed[1:])


def test_a_tank_in_nights_is_what_it_holds_over_what_a_day_takes(unsure: Job) -> None:
    living = with_values(
        unsure.living,
        {"kitchen_l_person_day": 6.0, "basin_l_person_day": 4.0, "showers_person_week": 0.0},
    )
    water = Water(fresh_l=60.0, grey=(GreyTank(name="G", capacity_l=50.0, takes=("basin",)),))
    found = sim.decide.handover(with_values(unsure, {"water": water, "living": living}))
    names = [line.name for line in found.tanks]
    for season in found.seasons:
        nights = dict(zip(names, season.tanks, strict=True))
        # A whole trip's days begin and end with a part of one.
        assert nights["Fresh water"] == pytest.approx(60.0 / 20.0, rel=0.15)
        assert nights["G"] == pytest.approx(50.0 / 8.0, rel=0.15)


# --- the winter list ---------------------------------------------------------------------------


def test_without_water_there_is_nothing_to_drain(unsure: Job) -> None:
    assert kinds(unsure) == ["propane", "panels", "battery"]
    bare = with_values(unsure, {"propane": None, "panels": ()})
    assert kinds(bare) == ["battery"]


def test_the_list_is_that_of_this_van_in_order(unsure: Job, full_van: Job) -> None:
    assert kinds(full_van) == [
        "heat off", "grey", "fresh", "drains", "hot tank", "taps", "pump", "air", "own", "traps",
        "open", "pads", "propane", "panels", "battery",
    ]  # fmt: skip
    by_kind = {step.kind: step for step in winter_steps(full_van)}
    assert by_kind["grey"].names == ("Kitchen tank", "Second tank")
    assert by_kind["grey"].litres == 55.0
    assert by_kind["taps"].names == ("kitchen", "shower")
    # The shower runs onto the ground: it has no trap.
    assert by_kind["traps"].names == ("kitchen",)
    assert by_kind["pads"].names == ("Second tank",)
    sheet = with_values(full_van.handover or Handover(), {"blow_out": None, "drains": None})
    changed = kinds(with_values(full_van, {"handover": sheet}))
    assert "by gravity" in changed
    assert not {"air", "drains"} & set(changed)


def test_a_battery_may_rest_until_it_has_lost_a_fifth(unsure: Job) -> None:
    assert rest_months(unsure) == pytest.approx(0.2 / 0.03)
    bank = with_values(unsure.battery, {"self_discharge_pct_month": 0.0})
    assert rest_months(with_values(unsure, {"battery": bank})) is None


@pytest.fixture
def full_van(make_job: MakeJob, unsure_job: str) -> Job:
    end = """
[water]
fresh_l = 80

[[water.grey]]
name = "Kitchen tank"
capacity_l = 40
takes = ["kitchen"]

[[water.grey]]
name = "Second tank"
capacity_l = 15
takes = ["basin"]
warmer_watts = 40

[handover]
drains = "Two levers"
blow_out = "Red cap"
winter = ["Bleed the outside shower."]
"""
    more = '[[appliances]]\nuse = "water-pump"\n\n[[appliances]]\nuse = "hot-water-propane"\n\n'
    job = make_job(
        unsure_job,
        ("people = 2", 'people = 2\nbasin_l_person_day = 0\nshower_place = "outside"'),
        ('[[appliances]]\nuse = "lights-led"', more + '[[appliances]]\nuse = "lights-led"'),
        end=end,
    )
    return job


def test_alarms_are_those_that_must_be_aboard(unsure: Job, sheet: HandoverSheet) -> None:
    assert sheet.alarms == ("carbon monoxide", "propane")
    assert sheet.burns
    electric = tuple(x for x in unsure.appliances if x.heat_from in (None, "electricity"))
    job = with_values(unsure, {"propane": None, "appliances": electric})
    assert sim.decide.handover(job).alarms == ()


def test_the_numbers_do_not_depend_on_the_threads(unsure: Job, sheet: HandoverSheet) -> None:
    again = sim.decide.handover(unsure, jobs=1)
    for one, other in zip(again.seasons, sheet.seasons, strict=True):
        assert one == other
    assert again.habits == sheet.habits
    assert [x.name for x in again.tanks] == [x.name for x in sheet.tanks]
    assert np.isfinite([habit.saving_wh for habit in sheet.habits]).all()


def test_several_of_a_kind_and_none(unsure: Job) -> None:
    plug = Shore(charger_amps=20.0, inlet_volts=120.0, inlet_amps=15.0)
    job = with_values(unsure, {"shore": (plug, plug), "propane": Propane(tank_l=5.0)})
    assert sim.decide.handover(job).seasons[0].dull.plug_hours is not None
    none = with_values(unsure, {"shore": ()})
    assert sim.decide.handover(none).seasons[0].dull.plug_hours is None


def test_what_takes_next_to_nothing_is_named_and_what_takes_nothing_is_not(unsure: Job) -> None:
    def load(name: str, wh: float) -> SimpleNamespace:
        return SimpleNamespace(
            name=name, wanted_wh=np.full(3, wh), supply="dc", priority="essential", appliance=None
        )

    loads = (load("CO alarm", 0.9), load("Radio", 0.0), load("Pump", 30.0))
    trip = SimpleNamespace(loads=loads, days_long=3.0)
    assert _names([trip], "essential") == ("Pump", "CO alarm")  # type: ignore[list-item]
