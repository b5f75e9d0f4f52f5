"""What goes by the clock and by use: meals, water, devices; how many, and who is there."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest

from sim.errors import JobError
from sim.job.model.job import Job
from sim.sky.sun import position
from sim.sky.track import Weather
from sim.trip.demand import Demand, demand
from sim.trip.timeline import Timeline, build_timeline
from sim.trip.weather import track_of
from sim.van.hot_water import heat_to_warm_wh

LoadJob = Callable[[str], Job]

# Out at noon, an hour's driving from 10:00, on the plug at night, equal day and night: two whole
# days in the middle of three nights.
PLACE = """\
title = "Household"

[van]
use = "medium-roof"

[living]
people = 2
wake_at = "07:00"
sleep_at = "22:00"
out = ["12:00-14:00"]
meals_at = [{meals}]
shower_at = ["17:00-18:00"]
{living}

[battery]
use = "lifepo4-200"

[alternator]
dcdc_amps = 30

[shore]
charger_amps = 20
inlet_volts = 120
inlet_amps = 30

[inverter]
watts = 3000
idle_watts = 10

[water]
fresh_l = 100
open_drains = ["kitchen", "basin", "shower"]

[propane]
tank_l = 20

{appliances}

[[trips]]
name = "Days"
depart = 2027-03-20
leave_at = "00:00"

[[trips.stops]]
place = "{place}"
nights = 4
local_drive_hours = 1
leave_at = "10:00"
plug_in = "nights"

[settings]
draws = 1
step_minutes = {step}
"""


@dataclass(frozen=True)
class Case:
    job: Job
    timeline: Timeline
    wants: Demand

    def watts(self, name: str) -> np.ndarray:
        (line,) = [line for line in self.wants.lines if line.name == name]
        return np.broadcast_to(line.watts, (len(self.timeline), 1))[:, 0]

    def wh_day(self, name: str) -> float:
        """Mean of the two whole days."""
        return float(self.watts(name)[self.two_days].sum() * self.timeline.step_hours / 2.0)

    @property
    def two_days(self) -> slice:
        per_hour = round(1.0 / self.timeline.step_hours)
        return slice(24 * per_hour, 72 * per_hour)

    @property
    def hour(self) -> np.ndarray:
        return self.timeline.clock[:, 0] / 60.0


Household = Callable[..., Case]


MEALS = '"07:30-08:00", "18:30-19:30"'


def text_of(
    appliances: str,
    *,
    living: str = "",
    place: str = "0.0, 0.0",
    meals: str = MEALS,
    step: int = 60,
) -> str:
    return PLACE.format(appliances=appliances, living=living, place=place, meals=meals, step=step)


def case(job: Job, air_c: float = 15.0) -> Case:
    timeline = build_timeline(job, job.trips[0])
    shape = (len(timeline), 1)
    dark = np.zeros(shape)
    weather = Weather(dark, dark, dark, np.full(shape, air_c))
    return Case(job, timeline, demand(job, timeline, weather, position(track_of(timeline))))


@pytest.fixture
def household(edited: LoadJob) -> Household:
    return lambda *args, **keys: case(edited(text_of(*args, **keys)))


def item(kind: str, name: str = "It", **keys: object) -> str:
    lines = [f'kind = "{kind}"', f'name = "{name}"']
    lines += [
        f"{key} = {f'{chr(34)}{value}{chr(34)}' if isinstance(value, str) else value}"
        for key, value in keys.items()
    ]
    return "[[appliances]]\n" + "\n".join(lines) + "\n"


def hob(**keys: object) -> str:
    values = {"fuel": "electricity", "supply": "ac", "watts": 1500, "meal_wh_person": 150}
    return item("cooking", "Hob", **{**values, **keys})


def test_two_people_cook_two_meals(household: Household) -> None:
    full = household(hob())
    assert full.wh_day("Hob") == pytest.approx(2 * 2 * 150.0)
    on = full.hour[full.watts("Hob") > 0.0]
    assert set(on) == {7.0, 18.0, 19.0}
    # Half an hour at breakfast, the half of an hour's step.
    morning = full.watts("Hob")[full.two_days][7]
    assert morning == pytest.approx(300.0)


def test_a_part_of_the_meals_and_two_hobs(household: Household) -> None:
    assert household(hob(meals_pct=40)).wh_day("Hob") == pytest.approx(0.4 * 600.0)
    # Two hobs share the meals.
    assert household(hob(count=2)).wh_day("Hob") == pytest.approx(600.0)


def test_a_meal_on_the_road_or_while_out_falls_out(household: Household) -> None:
    full = household(hob(), meals='"10:00-11:00", "12:30-13:00", "19:00-20:00"')
    assert full.wh_day("Hob") == pytest.approx(2 * 150.0)
    assert set(full.hour[full.two_days][full.watts("Hob")[full.two_days] > 0.0]) == {19.0}
    # A gas stove that nobody uses draws nothing for its igniter.
    gas = household(
        hob(fuel="propane", supply="dc", watts=1),
        meals='"10:00-11:00", "12:30-13:00", "19:00-20:00"',
    )
    assert gas.wh_day("Hob") == pytest.approx(1.0)


def test_propane_cooks_with_next_to_no_electricity(household: Household) -> None:
    gas = hob(fuel="propane", supply="dc", watts=1, meal_wh_person=350)
    full = household(gas)
    assert full.wh_day("Hob") == pytest.approx(1.0 * 1.5)
    (burn,) = full.wants.burns
    assert burn.fuel == "propane"
    burnt = np.broadcast_to(burn.watts, (len(full.timeline), 1))[full.two_days].sum() / 2.0
    assert burnt == pytest.approx(2 * 2 * 350.0)


def test_cooking_warms_the_cabin_by_its_part(household: Household) -> None:
    none, some, most = (household(hob(cabin_pct=part)) for part in (0, 50, 100))
    warmer = [float((x.wants.cabin_c - none.wants.cabin_c).sum()) for x in (some, most)]
    assert warmer[0] > 0.5
    # Twice the heat warms twice as much: nothing else answers to it.
    assert warmer[1] == pytest.approx(2.0 * warmer[0], rel=1e-6)


def test_a_hob_too_weak_for_the_meals_is_an_error(household: Household) -> None:
    """300 Wh in half an hour are 600 W."""
    household(hob(watts=600))
    with pytest.raises(JobError, match="meals for 2 in the time of meals_at take 600"):
        household(hob(watts=590))
    household(hob(watts=300, count=2))
    household(hob(watts=150, meals_pct=25))
    with pytest.raises(JobError, match="watts = 0: must be more than 0"):
        household(hob(watts=0))


def test_the_pump_runs_for_the_litres(household: Household) -> None:
    """2 x (6 + 3) litres from taps, 2 x 3/7 showers of 12: at 8 L/min and 60 W, 7.5 Wh a minute
    and hour. Of the 13 waking hours in the van, one is spent on the road."""
    one = household(item("pump", "Pump", watts=60, flow_l_min=8))
    litres = 2 * 9.0 * 12.0 / 13.0 + 2 * 3 / 7 * 12.0
    assert one.wh_day("Pump") == pytest.approx(litres / 8.0 / 60.0 * 60.0)
    two = household(item("pump", "Pump", watts=60, flow_l_min=8, count=2))
    assert two.wh_day("Pump") == pytest.approx(one.wh_day("Pump"))


def heater(name: str = "Tank", **keys: object) -> str:
    values = {
        "source": "electricity",
        "supply": "ac",
        "tank_l": 20,
        "hot_c": 60,
        "heat_watts": 1000,
        "efficiency_pct": 80,
    }
    return item("hot water", name, **{**values, **keys})


# Water as the household draws it: 40 % of what the taps give, and the showers.
HOT_WH = float(
    heat_to_warm_wh(np.array(0.4 * 2 * 9.0 * 12.0 / 13.0), 12.0, 42.0)
    + heat_to_warm_wh(np.array(2 * 3 / 7 * 12.0), 12.0, 40.0)
)


@pytest.mark.parametrize("tank_l", [0, 20])
def test_hot_water_takes_its_heat_over_the_efficiency(household: Household, tank_l: int) -> None:
    full = household(heater(tank_l=tank_l))
    assert full.wh_day("Tank") == pytest.approx(HOT_WH / 0.8)
    assert not full.wants.hot.short_w.any()


def test_propane_heats_water_with_its_controls_alone(household: Household) -> None:
    full = household(heater(source="propane", supply="dc", watts=10))
    (burn,) = full.wants.burns
    burnt = np.broadcast_to(burn.watts, (len(full.timeline), 1))[full.two_days].sum() / 2.0
    assert burnt == pytest.approx(HOT_WH / 0.8)
    assert full.wh_day("Tank") == pytest.approx(10.0 * HOT_WH / 1000.0)


def test_the_engine_heats_while_it_runs(household: Household) -> None:
    engine = heater(source="engine", supply="dc", heat_watts=4000, watts=12, hot_c=80, tank_l=40)
    full = household(engine)
    assert full.wants.burns == ()
    heat = full.wants.hot.heat_w[0]
    assert heat.any()
    assert (full.timeline.driving[heat > 0.0] > 0.0).all()
    # Its pump runs as long as it heats.
    assert full.watts("Tank").sum() == pytest.approx(12.0 * heat.sum() / 4000.0)


def test_the_engine_heats_while_it_idles_in_camp(edited: LoadJob) -> None:
    engine = heater(source="engine", supply="dc", heat_watts=4000, hot_c=80, tank_l=40)
    text = text_of(engine).replace("local_drive_hours = 1", "idle_hours = 1")
    full = case(edited(text))
    heat = full.wants.hot.heat_w[0]
    assert heat.any()
    assert not full.timeline.driving.any()
    assert (full.timeline.idling[heat > 0.0] > 0.0).all()


def test_on_the_plug_alone_it_heats_there(household: Household) -> None:
    full = household(heater(runs="plugged"))
    on = full.watts("Tank") > 0.0
    assert on.any()
    assert (full.timeline.plugged[on] > 0.0).all()


def test_two_heaters_of_one_kind_are_twice_as_strong(household: Household) -> None:
    one, two = household(heater(heat_watts=240)), household(heater(heat_watts=120, count=2))
    np.testing.assert_allclose(one.watts("Tank"), two.watts("Tank"))


def test_the_engine_saves_electricity(household: Household) -> None:
    """It brings the tank to 80 deg C on the road; the element holds 60 for the rest."""
    engine = heater("Engine", source="engine", supply="dc", heat_watts=4000, hot_c=80)
    alone, both = household(heater()), household(engine + heater())
    assert both.wants.hot.stored_wh.max() > alone.wants.hot.stored_wh.max()
    saved = alone.wh_day("Tank") - both.wh_day("Tank")
    assert 0.8 * saved == pytest.approx(both.wants.hot.heat_w[0][both.two_days].sum() / 2.0)
    assert saved > 200.0


def test_what_the_tank_loses_warms_the_cabin(household: Household) -> None:
    tight, leaky = (household(heater(standing_w_k=leak)) for leak in (0, 2))
    assert (leaky.wants.cabin_c - tight.wants.cabin_c).min() >= 0.0
    assert leaky.wants.cabin_c.mean() > tight.wants.cabin_c.mean() + 0.5
    lost = leaky.wants.hot.lost_w[leaky.two_days].sum() / 2.0
    # What a shower took is back by the hour's end: the tank stays near 60 deg C, 42 K above 18.
    assert lost == pytest.approx(24.0 * 2.0 * 42.0, rel=0.1)
    assert leaky.wh_day("Tank") == pytest.approx((HOT_WH + lost) / 0.8, rel=0.05)


def charger(**keys: object) -> str:
    return item("device charging", "Charger", **{"watts": 100, **keys})


@pytest.mark.parametrize("runs", ["always", "sun", "driving"])
@pytest.mark.parametrize("step", [15, 60])
def test_devices_get_their_day(household: Household, runs: str, step: int) -> None:
    full = household(charger(wh_day=90, runs=runs), step=step)
    assert full.wh_day("Charger") == pytest.approx(90.0)
    assert full.wants.uncharged_wh == {} or runs == "driving"
    on = full.watts("Charger") > 0.0
    allowed = {
        "always": full.timeline.awake,
        "sun": (full.hour > 6.0) & (full.hour < 18.0),
        "driving": full.timeline.driving,
    }
    assert (allowed[runs][on] > 0.0).all()


def test_two_chargers_and_what_people_use(household: Household) -> None:
    two = household(charger(wh_day=90, count=2))
    assert two.wh_day("Charger") == pytest.approx(180.0)
    # Left out, it is what the people use, however many chargers share it.
    people = household(charger(count=2), living="devices_wh_person_day = 45")
    assert people.wh_day("Charger") == pytest.approx(90.0)


def test_what_a_weak_charger_cannot_is_told(household: Household) -> None:
    """An hour on the road a day, at 100 W: 100 Wh of 250, and a day's worth may wait."""
    full = household(charger(wh_day=250, runs="driving"))
    assert full.wh_day("Charger") == pytest.approx(100.0)
    total = full.watts("Charger").sum() + full.wants.uncharged_wh["Charger"]
    wanted = 250.0 * len(full.timeline) * full.timeline.step_hours / 24.0
    assert total == pytest.approx(wanted)


def test_a_low_winter_sun_is_sun_all_the_same(edited: LoadJob) -> None:
    """At 60 N at midwinter the sun climbs to 6.5 degrees."""
    text = text_of(charger(wh_day=90, runs="sun"), place="60.0, 25.0")
    full = case(edited(text.replace("2027-03-20", "2027-12-19")))
    assert full.wh_day("Charger") == pytest.approx(90.0)
    height = 90.0 - position(track_of(full.timeline)).apparent_zenith[full.two_days]
    assert height.max() < 7.5
    on = full.watts("Charger")[full.two_days] > 0.0
    assert height[on].min() > height.max() / 2.0 - 0.1


def test_nobody_lights_the_cabin_on_the_road(edited: LoadJob) -> None:
    def lit(drives: str) -> list[float]:
        text = text_of(item("lights", "Lamps", watts=20))
        full = case(edited(text.replace('local_drive_hours = 1\nleave_at = "10:00"', drives)))
        return full.watts("Lamps")[full.two_days][[19, 20, 21]].tolist()

    assert lit("") == [20.0] * 3
    assert lit('local_drive_hours = 2\nleave_at = "19:00"') == [0.0, 0.0, 20.0]


AT = "at = ['22:15-06:00']"
BY_THE_CLOCK = {
    "steady": item("steady", "It", watts=30, at=["22:15-06:00"]),
    "lights": item("lights", "It", watts=30, at=["22:15-06:00"]),
    "cold box": item(
        "cold box",
        "It",
        rated_wh_day=400,
        rated_ambient_c=25,
        inside_c=4,
        max_watts=60,
        at=["22:15-06:00"],
    ),
    "heater": item(
        "heater",
        "It",
        fuel="electricity",
        heat_watts=600,
        blower_watts=0,
        day_c=20,
        night_c=20,
        at=["22:15-06:00"],
    ),
    "air conditioner": item(
        "air conditioner", "It", cool_watts=600, cop=3, on_above_c=16, at=["22:15-06:00"]
    ),
    "hot water": item(
        "hot water",
        "It",
        source="electricity",
        tank_l=20,
        heat_watts=800,
        standing_w_k=2,
        at=["22:15-06:00"],
    ),
    "device charging": item("device charging", "It", watts=50, wh_day=90, at=["22:15-06:00"]),
}


@pytest.mark.parametrize("kind", sorted(BY_THE_CLOCK))
def test_any_kind_keeps_to_its_parts_of_the_day(household: Household, kind: str) -> None:
    full = household(BY_THE_CLOCK[kind], step=15)
    on = full.watts("It") > 0.0
    allowed = (full.hour >= 22.25) | (full.hour < 6.0)
    assert not on[~allowed].any()
    if kind == "lights":
        assert not on.any()  # out at 22:00
    else:
        assert on[allowed].any()
    if kind == "steady":
        assert full.wh_day("It") == pytest.approx(30.0 * 7.75)
    if kind == "device charging":
        assert full.wh_day("It") == pytest.approx(90.0)


def test_outside_its_hours_a_heater_has_nothing_to_hold(household: Household) -> None:
    """So nobody is told that it falls short then; in them it holds what it is set to."""
    full = household(BY_THE_CLOCK["heater"].replace("600", "6000"))
    assert full.wants.chill.hours.tolist() == [0.0]
    weak = household(BY_THE_CLOCK["heater"].replace("600", "200"))
    assert 0.0 < weak.wants.chill.hours[0] <= 4 * 8.75


def test_a_box_by_the_clock_warms_the_cabin_by_the_clock(household: Household) -> None:
    """What it draws is what it leaves."""
    always = household(BY_THE_CLOCK["cold box"].replace(AT, ""))
    nights = household(BY_THE_CLOCK["cold box"])
    empty = household("")
    by_day = (nights.hour >= 8.0) & (nights.hour < 22.0)
    warmer = (always.wants.cabin_c - nights.wants.cabin_c)[by_day]
    assert warmer.min() >= 0.0
    assert warmer.max() > 0.1
    assert (nights.wants.cabin_c - empty.wants.cabin_c)[nights.hour == 5.0].min() > 0.0


@pytest.mark.parametrize("kind", ["steady", "cold box", "hot water"])
def test_any_kind_is_held_to_the_sun(household: Household, kind: str) -> None:
    full = household(BY_THE_CLOCK[kind].replace(AT, 'runs = "sun"'), step=15)
    on = full.watts("It") > 0.0
    # At an equinox on the equator it is 15 degrees up from an hour after sunrise.
    assert on.any()
    assert not on[(full.hour < 6.75) | (full.hour > 17.25)].any()
    if kind == "steady":
        assert full.wh_day("It") == pytest.approx(30.0 * 10.0, rel=0.05)


def test_sun_and_hours_must_both_be_there(household: Household) -> None:
    text = item("steady", "It", watts=30, runs="sun", at=["12:00-20:00"])
    full = household(text, step=15)
    on = full.watts("It") > 0.0
    assert full.hour[on].min() == 12.0
    assert full.hour[on].max() < 17.25


def test_a_fan_by_its_thermostat_minds_no_hours(edited: LoadJob) -> None:
    """Its `at` says when it is switched on by hand."""

    def household(text: str) -> Case:
        return case(edited(text_of(text)), air_c=24.0)

    by_hand = household(item("fan", "It", watts=30, at=["20:00-21:00"]))
    assert by_hand.wh_day("It") == pytest.approx(30.0)
    both = household(item("fan", "It", watts=30, at=["20:00-21:00"], on_above_c=10))
    assert both.wh_day("It") > 60.0
