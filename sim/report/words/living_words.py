"""The rules to live by, in sentences."""

from __future__ import annotations

from collections.abc import Iterator

from sim.decide.habits import COOLER_K, Habit, HabitKind
from sim.decide.living_rules import DullDay, StayRules
from sim.errors import join_or
from sim.report.words.numbers import month_name

_HABITS: dict[HabitKind, str] = {
    "leave off": "leave {item} off",
    "half as long": "use {item} half as long",
    "half as much": "use {item} half as much",
    "every other meal": "cook every other meal without {item}",
    "half the showers": "shower half as often",
    "inverter off": "switch the inverter off when nothing needs it",
    "heat less": "heat {step} less, day and night",
    "start later": "start {item} when it is {step} warmer",
}
_MORE_NIGHTS = ("one more night", "two", "three")


def habit_words(habit: Habit, units: str) -> str:
    """``use Television half as long``: what to do."""
    step = f"{1.8 * COOLER_K:.0f} °F" if units == "us" else f"{COOLER_K:.0f} °C"
    return _HABITS[habit.kind].format(item=habit.item, step=step)


def stay_sentences(stay: StayRules) -> tuple[str, ...]:
    """The rules of the trip's own month in plain words."""
    month = stay.month - 1
    return (*_night_sentences(stay), _dull_sentence(stay, stay.dull_days[month]))


def _night_sentences(stay: StayRules) -> Iterator[str]:
    rule = stay.nights[stay.month - 1]
    where = f"In {month_name(rule.month)} at {stay.place}"
    yield f"{where}, parked: {_carried(rule.parked)}."
    hours = f"{stay.driving_hours:g} hours" if stay.driving_hours != 1.0 else "an hour"
    yield f"{where}, with {hours} of driving a day: {_carried(rule.driving)}."


def _carried(needed: tuple[float | None, ...]) -> str:
    """``45 % at sunset for one more night, 70 % for two``."""
    enough = [charge for charge in needed if charge is not None]
    if not enough:
        return (
            "even a full battery at sunset carries the night in fewer than 9 of 10 simulated stays"
        )
    parts = [
        f"{100 * charge:.0f} % for {nights}"
        for charge, nights in zip(enough, _MORE_NIGHTS, strict=False)
    ]
    text = ", ".join([parts[0].replace(" %", " % at sunset"), *parts[1:]])
    if len(parts) < len(_MORE_NIGHTS):
        text += f"; {_MORE_NIGHTS[len(parts)]} nights are more than a full battery carries"
    return text


def _dull_sentence(stay: StayRules, dull: DullDay) -> str:
    start = f"A dull day in {month_name(dull.month)} at {stay.place} (one in ten is duller)"
    if dull.missing_wh == 0.0:
        return f"{start} still gives what a day takes."
    ways = []
    if dull.drive_hours is not None:
        ways.append(f"{dull.drive_hours:.1f} hours of driving")
    if dull.plug_hours is not None:
        ways.append(f"{dull.plug_hours:.1f} hours on a plug")
    if dull.generator_hours is not None:
        ways.append(f"{dull.generator_hours:.1f} hours of the generator")
    back = f": {join_or(ways)} bring it back" if ways else ""
    return f"{start} leaves {dull.missing_wh:,.0f} Wh missing{back}."
