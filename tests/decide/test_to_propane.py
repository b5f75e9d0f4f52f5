"""Heat from propane in place of electricity: what is swapped, what stays, what it saves."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from sim.decide.levers.lever_catalogue import lever_list
from sim.decide.levers.to_propane import SMALL_TANK_L, is_electric_heat, on_propane
from sim.job.model.appliances import Cooking, Heater, HotWater
from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.trip.prepare import prepare_trip

MakeJob = Callable[..., Job]
WATER = """
[water]
fresh_l = 80
open_drains = ["kitchen", "basin", "shower"]
"""
ELECTRIC = f"""
[[appliances]]
use = "induction-hob"
meals_pct = 70
count = 2

[[appliances]]
use = "hot-water-electric"
tank_l = 30

[[appliances]]
use = "heater-electric"
name = "Plug heater"

[[appliances]]
use = "heater-electric"
name = "Heater"
runs = "always"
day_c = 18
{WATER}
"""


def test_electric_heat_becomes_its_like_with_the_habits_it_had(
    make_job: MakeJob, unsure_job: str
) -> None:
    before = make_job(unsure_job, end=ELECTRIC)
    after = on_propane(before)
    assert after.propane == before.propane
    by_name = {item.name: item for item in after.appliances}
    hob = by_name["Induction hob"]
    assert isinstance(hob, Cooking)
    assert (hob.fuel, hob.supply, hob.watts, hob.count) == ("propane", "dc", 1, 1)
    assert hob.meals_pct == 70
    tank = by_name["Electric hot water"]
    assert isinstance(tank, HotWater)
    assert (tank.source, tank.supply, tank.tank_l) == ("propane", "dc", 30)
    heater = by_name["Heater"]
    assert isinstance(heater, Heater)
    assert (heater.fuel, heater.supply, heater.day_c) == ("propane", "dc", 18)
    assert by_name["Coffee maker"].count == 0
    # What runs on the plug alone takes nothing from the battery.
    assert by_name["Plug heater"] in before.appliances
    assert not any(map(is_electric_heat, after.appliances))
    assert on_propane(after) == after


def test_flow_heaters_stay_flow_heaters(make_job: MakeJob, unsure_job: str) -> None:
    flow = '[[appliances]]\nuse = "hot-water-electric"\ntank_l = 0\n'
    tank = on_propane(make_job(unsure_job, end=flow + WATER)).appliances[-1]
    assert isinstance(tank, HotWater)
    assert (tank.tank_l, tank.heat_watts, tank.watts) == (0, 10_000, 8)


def test_a_job_without_propane_gets_a_tank_and_is_told_so(
    make_job: MakeJob, unsure_job: str
) -> None:
    none = ("[propane]\ntank_l = 20\n", ""), ('use = "furnace-propane"', 'use = "laptop"')
    job = make_job(unsure_job, *none)
    (lever,) = [x for x in lever_list(job)[0] if x.name.startswith("Propane")]
    assert lever.name.endswith("Coffee maker, with a tank of 20 litres")
    us = with_values(job, {"settings": with_values(job.settings, {"units": "us"})})
    assert {x.name for x in lever_list(us)[0]} - {x.name for x in lever_list(job)[0]} == {
        "Propane instead of electricity: Coffee maker, with a tank of 5 gal"
    }
    made = lever.change(job).propane
    assert made is not None
    assert made.tank_l == SMALL_TANK_L


def test_water_that_only_the_plug_heats_is_hot_everywhere(
    make_job: MakeJob, unsure_job: str
) -> None:
    before = make_job(
        unsure_job, end=f'[[appliances]]\nuse = "hot-water-electric"\nruns = "plugged"\n{WATER}'
    )
    (lever,) = [x for x in lever_list(before)[0] if x.name.startswith("Propane")]
    heater = lever.change(before).appliances[-1]
    assert isinstance(heater, HotWater)
    assert (heater.source, heater.runs) == ("propane", "always")


def test_the_battery_feels_it(make_job: MakeJob, unsure_job: str) -> None:
    before = make_job(unsure_job, end=ELECTRIC)
    trip = before.trips[0]
    wanted = [
        prepare_trip(job, trip).wants.wanted_w.sum(axis=(0, 1)).mean() * 24 / 1000
        for job in (before, on_propane(before))
    ]
    assert wanted[1] < 0.5 * wanted[0]
    burns = {burn.name for burn in prepare_trip(on_propane(before), trip).wants.burns}
    assert burns == {"Propane furnace", "Induction hob", "Electric hot water", "Heater"}


@pytest.mark.parametrize("use", ["hot-water-propane", "propane-stove", "air-heater-propane"])
def test_what_burns_propane_already_is_left_alone(
    make_job: MakeJob, unsure_job: str, use: str
) -> None:
    job = make_job(unsure_job, end=f'[[appliances]]\nuse = "{use}"\n{WATER}')
    assert not is_electric_heat(job.appliances[-1])
    assert on_propane(job).appliances[-1] == job.appliances[-1]
