"""The rules to live by in words."""

from __future__ import annotations

from typing import get_args

import pytest

from sim.decide.habits import Habit, HabitKind
from sim.decide.living_rules import DullDay, NightRule, StayRules
from sim.report.words.living_words import habit_words, stay_sentences

Needed = tuple[float | None, ...]


def stay(parked: Needed, driving: Needed, dull: DullDay, hours: float = 1.0) -> StayRules:
    """Rules that hold in March alone."""
    other = NightRule(1, (None,) * 3, (None,) * 3), DullDay(1, 0.0, None, None)
    nights = [other[0]] * 2 + [NightRule(3, parked, driving)] + [other[0]] * 9
    dulls = [other[1]] * 2 + [dull] + [other[1]] * 9
    return StayRules("Trip", "Moab", 3, hours, tuple(nights), tuple(dulls))


def test_nights_and_a_dull_day() -> None:
    rules = stay((0.45, 0.7, None), (0.3, 0.4, 0.55), DullDay(3, 812.4, 2.04, 3.1))
    assert stay_sentences(rules) == (
        "In March at Moab, parked: 45 % at sunset for one more night, 70 % for two; three nights "
        "are more than a full battery carries.",
        "In March at Moab, with an hour of driving a day: 30 % at sunset for one more night, 40 % "
        "for two, 55 % for three.",
        "A dull day in March at Moab (one in ten is duller) leaves 812 Wh missing: 2.0 hours of "
        "driving or 3.1 hours on a plug bring it back.",
    )


def test_not_even_a_full_battery_and_nothing_that_brings_it_back() -> None:
    rules = stay((None,) * 3, (None,) * 3, DullDay(3, 100.0, None, None), hours=1.5)
    parked, driven, dull = stay_sentences(rules)
    assert parked.endswith(
        "parked: even a full battery at sunset carries the night in fewer than 9 of 10 "
        "simulated stays."
    )
    assert "with 1.5 hours of driving a day" in driven
    assert dull.endswith("leaves 100 Wh missing.")


def test_a_dull_day_that_is_bright_enough() -> None:
    rules = stay((0.1,) * 3, (0.1,) * 3, DullDay(3, 0.0, None, 1.0))
    assert stay_sentences(rules)[2].endswith("still gives what a day takes.")


@pytest.mark.parametrize("kind", get_args(HabitKind))
def test_every_habit_has_its_words(kind: HabitKind) -> None:
    text = habit_words(Habit(kind, "Television", 90.0, "Trip"), "us")
    assert "{" not in text
    about_one = kind not in ("half the showers", "inverter off", "heat less")
    assert ("Television" in text) == about_one


def test_habits_in_the_customers_degrees() -> None:
    fan, heat = Habit("start later", "Fan", 9.0, "Trip"), Habit("heat less", "", 9.0, "Trip")
    assert habit_words(fan, "us") == "start Fan when it is 4 °F warmer"
    assert habit_words(heat, "metric") == "heat 2 °C less, day and night"
