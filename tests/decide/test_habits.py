"""Habits: each does what it says and saves what it should."""

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
        ("induction-hob", ("every other meal", "Induction hob"), 160.0),
        # Half of a day's bicycle.
        ("e-bike-charger", ("leave off", "E-bike charger"), 280.0),
        ('e-bike-charger"\npriority = "comfort', ("half as much", "E-bike charger"), 140.0),
        ("television", ("leave off", "Television"), 90.0),
        ('television"\npriority = "comfort', ("half as long", "Television"), 45.0),
    ],
)
def test_one_thing_less(
    make_job: MakeJob, balance_job: str, use: str, habit: tuple[str, str], wh: float
) -> None:
    load = ("watts = 40", 'watts = 40\npriority = "essential"')
    more = f'\n{INVERTER}[[appliances]]\nuse = "{use}"\n'
    found = best(make_job(balance_job, load, ("nights = 24", "nights = 4"), end=more))
    assert (found.kind, found.item) == habit
    # Four days and a little: the first and the last are not whole.
    assert found.saving_wh == pytest.approx(wh, rel=0.15)


def test_fewer_showers_from_an_electric_tank(make_job: MakeJob, balance_job: str) -> None:
    load = ("watts = 40", 'watts = 40\npriority = "essential"')
    tank = '[[appliances]]\nuse = "hot-water-electric"\n'
    job = make_job(balance_job, load, ("nights = 24", "nights = 4"), end=INVERTER + tank + WATER)
    found = best(job)
    assert (found.kind, found.item) == ("half the showers", "")
    # Half of 3/7 showers of 12 litres, 28 K warmer, at 98 %.
    wh = 0.5 * 3 / 7 * 12 * 1.153 * 28 / 0.98
    assert found.saving_wh == pytest.approx(wh, rel=0.15)


def test_a_cooler_winter_by_all_heaters_at_once(make_job: MakeJob, unsure_job: str) -> None:
    two = ('use = "furnace-propane"', 'use = "furnace-propane"\n[[appliances]]\nname = "B"\n')
    same = 'kind = "heater"\nfuel = "propane"\nheat_watts = 4000\nblower_watts = 42\n'
    same += "efficiency_pct = 78\nday_c = 19\nnight_c = 13\n"
    job = make_job(unsure_job, (two[0], two[1] + same))
    kinds = [habit.kind for habit in habits_of(job)]
    assert kinds.count("heat less") == 1


def test_a_fan_that_starts_later(make_job: MakeJob, balance_job: str) -> None:
    load = ("watts = 40", 'watts = 40\npriority = "essential"')
    fan = '[[appliances]]\nuse = "roof-fan"\n'
    job = make_job(balance_job, load, ("nights = 24", "nights = 4"), end=fan)
    found = best(job)
    assert (found.kind, found.item) == ("start later", "Roof fan")
