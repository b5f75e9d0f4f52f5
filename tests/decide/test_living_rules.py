"""Living rules: what the charge at sunset means, a dull day, habits."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

import sim
from sim.decide.living_rules import LivingRules
from sim.job.model.changes import with_values
from sim.job.model.job import Job

JOBS = Path(__file__).parents[1] / "data" / "jobs"
MakeJob = Callable[..., Job]
# Cells below 20 deg C give less: a heater that draws nothing keeps them out of the sums.
WARM = """
[[appliances]]
name = "Heater"
kind = "heater"
fuel = "diesel"
heat_watts = 9000
blower_watts = 0
day_c = 24
night_c = 24
"""


@pytest.fixture(scope="module")
def rules(request: pytest.FixtureRequest) -> LivingRules:
    unsure: Job = request.getfixturevalue("unsure")
    settings = with_values(unsure.settings, {"draws": 20})
    return sim.decide.living_rules(with_values(unsure, {"settings": settings}), jobs=2)


def with_heater(text: str) -> str:
    return text.replace("\n[[trips]]", f"{WARM}\n[[trips]]")


def test_one_night_by_hand(make_job: MakeJob, balance_job: str) -> None:
    """Of a bank of 3840 Wh a steady load of 40 W takes 40 Wh an hour: 9.3 dark hours of June
    at 38.6 degrees north are 10 %, 15 of December 16 %; below 2 % the load is off. Rounded up
    to 5 %: 15 and 20 %."""
    rules = sim.decide.living_rules(make_job(with_heater(balance_job)))
    (stay,) = rules.stays
    assert stay.nights[5].parked[0] == pytest.approx(0.15)
    assert stay.nights[11].parked[0] == pytest.approx(0.20)
    # One panel of 100 W brings less than the 960 Wh of a winter's day: each night takes more.
    december = stay.nights[11].parked
    assert december[0] is not None
    assert december[2] is not None
    assert december[2] > december[0]
    dull = stay.dull_days[11]
    assert 300.0 < dull.missing_wh < 960.0
    assert dull.drive_hours is None
    assert dull.plug_hours is None
    assert (rules.habits[0].kind, rules.habits[0].item) == ("half as long", "Load")
    assert rules.habits[0].saving_wh == pytest.approx(480.0)


def test_more_nights_need_more_and_driving_needs_no_more(rules: LivingRules) -> None:
    full = 1.05  # what is not enough even full counts as more
    for stay in rules.stays:
        assert len(stay.nights) == len(stay.dull_days) == 12
        for rule in stay.nights:
            for needed in (rule.parked, rule.driving):
                levels = [full if value is None else value for value in needed]
                assert levels == sorted(levels)
            for parked, driven in zip(rule.parked, rule.driving, strict=True):
                assert (driven or full) <= (parked or full) + 1e-9


def test_a_dull_day_in_hours(rules: LivingRules, unsure: Job) -> None:
    """30 A of DC-DC at 13.4 V are 402 W, 20 A on the plug 268 W. What goes into the cells at
    13.24 V, less the 8 milliohm at 20 A, comes out at 12.8 V, and 99.5 % of it. Of the hour's
    drive the first two minutes go to the engine's own battery."""
    stored = 0.995 * 12.8 / (13.4 - 20.0 * 0.008)
    for dull in rules.stays[0].dull_days:
        driving, plugged = 58 / 60 * 30 * 13.4 * stored, 20 * 13.4 * stored
        assert dull.drive_hours == pytest.approx(dull.missing_wh / driving)
        assert dull.plug_hours == pytest.approx(dull.missing_wh / plugged)
    assert rules.stays[0].dull_days[11].missing_wh > rules.stays[0].dull_days[5].missing_wh


def test_each_trip_has_its_own_month(rules: LivingRules) -> None:
    march, november = rules.stays
    assert march.driving_hours == 1.0
    assert (march.month, november.month) == (3, 11)


def test_habits_by_what_they_save(rules: LivingRules) -> None:
    # An AC refrigerator aboard needs the inverter: that it is switched off is no habit.
    assert len(rules.habits) == 2
    savings = [habit.saving_wh for habit in rules.habits]
    assert savings == sorted(savings, reverse=True)
    assert (rules.habits[0].kind, rules.habits[0].item) == ("leave off", "Coffee maker")
    assert {habit.trip for habit in rules.habits} <= {"March", "November"}


def test_under_a_sun_that_does_not_set(make_job: MakeJob, balance_job: str) -> None:
    job = make_job(with_heater(balance_job), ("38.57, -109.55", "70.0, 25.0"))
    stay = sim.decide.living_rules(job).stays[0]
    assert all(value is not None for value in stay.nights[5].parked)
    # In the polar night nothing comes back: a kilowatt-hour a day.
    december = stay.nights[11].parked
    assert december[0] is not None
    assert december[1] == pytest.approx(december[0] + 0.25, abs=0.06)


def test_a_battery_that_holds_no_night_of_the_year(make_job: MakeJob, balance_job: str) -> None:
    """40 W are 370 Wh in the shortest night; one unit of 20 Ah holds 256 Wh."""
    job = make_job(with_heater(balance_job), ("count = 3", "capacity_ah = 20"))
    (stay,) = sim.decide.living_rules(job).stays
    assert {value for rule in stay.nights for value in rule.parked + rule.driving} == {None}
    assert stay.dull_days[0].missing_wh > 0.0


def test_sun_that_a_cold_battery_cannot_take_fills_no_dull_day(edited: Callable[..., Job]) -> None:
    """Outside in January the cells are below freezing: sun only runs what is on just then."""
    text = (JOBS / "parked-in-january.toml").read_text("utf-8")
    high = ("36.91, -111.45, 1310 m", "44.43, -110.59, 2300 m")
    takes = ('use = "lifepo4-200"', 'use = "lifepo4-200"\ncharge_above_c = -40')
    cold, hardy = (
        sim.decide.living_rules(edited(text, high, *change), jobs=2)
        .stays[0]
        .dull_days[0]
        .missing_wh
        for change in ((), (takes,))
    )
    assert cold > hardy + 100.0
