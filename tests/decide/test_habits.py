"""Habits: each does what it says, and is told by what it saves."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from sim.decide.habits import MOST_HABITS, Habit, habits_of
from sim.job.model.job import Job

MakeJob = Callable[..., Job]
WATER = """
[water]
fresh_l = 80
open_drains = ["kitchen", "basin", "shower"]
"""


def best(job: Job) -> Habit:
    found = habits_of(job)
    assert len(found) <= MOST_HABITS
    savings = [habit.saving_wh for habit in found]
    assert savings == sorted(savings, reverse=True)
    return found[0]


INVERTER = "[inverter]\nwatts = 3000\nidle_watts = 0\nefficiency = 1.0\n"


@pytest.mark.parametrize(
    ("use", "habit", "wh"),
    [
        # Half of two meals for one person.
        ("induction-hob", "cook every other meal without Induction hob", 160.0),
        # Half of a day's bicycle.
        ("e-bike-charger", "leave E-bike charger off", 280.0),
        ('e-bike-charger"\npriority = "comfort', "use E-bike charger half as much", 140.0),
        ("television", "leave Television off", 90.0),
        ('television"\npriority = "comfort', "use Television half as long", 45.0),
    ],
)
def test_one_thing_less(
    make_job: MakeJob, balance_job: str, use: str, habit: str, wh: float
) -> None:
    load = ("watts = 40", 'watts = 40\npriority = "essential"')
    more = f'\n{INVERTER}[[appliances]]\nuse = "{use}"\n'
    found = best(make_job(balance_job, load, ("nights = 24", "nights = 4"), end=more))
    assert found.name == habit
    # Four days and a little: the first and the last are not whole.
    assert found.saving_wh == pytest.approx(wh, rel=0.15)


def test_fewer_showers_from_an_electric_tank(make_job: MakeJob, balance_job: str) -> None:
    load = ("watts = 40", 'watts = 40\npriority = "essential"')
    tank = '[[appliances]]\nuse = "hot-water-electric"\n'
    job = make_job(balance_job, load, ("nights = 24", "nights = 4"), end=INVERTER + tank + WATER)
    found = best(job)
    assert found.name == "shower half as often"
    # Half of 3/7 showers of 12 litres, 28 K warmer, at 98 %.
    wh = 0.5 * 3 / 7 * 12 * 1.153 * 28 / 0.98
    assert found.saving_wh == pytest.approx(wh, rel=0.15)


def test_a_cooler_winter_by_all_heaters_at_once(make_job: MakeJob, unsure_job: str) -> None:
    two = ('use = "furnace-propane"', 'use = "furnace-propane"\n[[appliances]]\nname = "B"\n')
    same = 'kind = "heater"\nfuel = "propane"\nheat_watts = 4000\nblower_watts = 42\n'
    same += "efficiency_pct = 78\nday_c = 19\nnight_c = 13\n"
    job = make_job(unsure_job, (two[0], two[1] + same))
    names = [habit.name for habit in habits_of(job)]
    assert names.count("heat 2 °C less, day and night") == 1


@pytest.mark.parametrize(("units", "step"), [("metric", "2 °C"), ("us", "4 °F")])
def test_a_fan_that_starts_later(
    make_job: MakeJob, balance_job: str, units: str, step: str
) -> None:
    load = ("watts = 40", 'watts = 40\npriority = "essential"')
    said = ("draws = 1", f'draws = 1\nunits = "{units}"')
    fan = '[[appliances]]\nuse = "roof-fan"\n'
    job = make_job(balance_job, load, ("nights = 24", "nights = 4"), said, end=fan)
    assert best(job).name == f"start Roof fan when it is {step} warmer"
