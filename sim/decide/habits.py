"""What people aboard can do to take less: each habit is tried on the job for its saving."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from sim.job.model.appliances import (
    AirConditioner,
    Appliance,
    Charging,
    Cooking,
    Fan,
    Heater,
    HotWater,
    Lights,
    Steady,
    Timed,
)
from sim.job.model.changes import with_values
from sim.job.model.fields import bounds
from sim.job.model.job import Job
from sim.job.model.living import PRIORITIES
from sim.trip.demand import Asked, Demand, cabins_at_once, demands
from sim.trip.inverter import keeps_awake
from sim.trip.prepare import PreparedTrip, Skies, prepare_trip
from sim.trip.weather import under_shade

MOST_HABITS = 3
COOLER_K = 2.0
# A saving smaller than this a day is no habit worth the name. [Wh]
_LEAST_SAVING_WH = 5.0


HabitKind = Literal[
    "leave off", "half as long", "half as much", "every other meal", "half the showers",
    "inverter off", "heat less", "start later",
]  # fmt: skip


@dataclass(frozen=True)
class Habit:
    """Something people aboard can do.

    Attributes
    ----------
    kind : str
    item : str
        Name of the appliance it is about; empty where it is about none alone.
    saving_wh : float
        A day, on the trip named. [Wh]
    trip : str
        Where it saves most.
    """

    kind: HabitKind
    item: str
    saving_wh: float
    trip: str


def habits_of(job: Job, most: int = MOST_HABITS, skies: Skies | None = None) -> tuple[Habit, ...]:
    """Habits by what they save on the trip where they save most.

    Parameters
    ----------
    job : Job
    most : int
        How many.
    skies : Skies, optional
        Where sky and loads of its trips may be known already.

    Returns
    -------
    tuple of Habit
        The best first.
    """
    skies = skies or Skies()
    prepared = [prepare_trip(job, trip, skies=skies) for trip in job.trips]
    possible = list(_possible(job))
    savings = np.array([_savings_wh_day(x, [job for _, _, job in possible]) for x in prepared])
    found = []
    for number, (kind, item, _) in enumerate(possible):
        best = int(np.argmax(savings[:, number]))
        saving_wh = float(savings[best, number])
        if saving_wh >= _LEAST_SAVING_WH:
            found.append(Habit(kind, item, saving_wh, job.trips[best].name))
    found.sort(key=lambda habit: -habit.saving_wh)
    return tuple(found[:most])


def _savings_wh_day(prepared: PreparedTrip, others: Sequence[Job]) -> list[float]:
    """What other jobs want less than its own on a prepared trip. [Wh/day]"""
    line, above = prepared.timeline, prepared.sky
    under = under_shade(above.weather, line, above.sun)
    asked = [Asked(other, line, under, above.sun) for other in others]
    now, at_once = (
        _wanted_wh_day(prepared, prepared.wants),
        cabins_at_once(len(line), prepared.draws),
    )
    # All loads of a year are large: none are kept for longer than they are looked at.
    blocks = (asked[first : first + at_once] for first in range(0, len(asked), at_once))
    return [now - _wanted_wh_day(prepared, x) for block in blocks for x in demands(block)]


def _wanted_wh_day(prepared: PreparedTrip, wants: Demand) -> float:
    # What is held to a charge takes nothing from a low battery.
    total = float(wants.wanted_w[: len(PRIORITIES)].sum(axis=(0, 1)).mean())
    return total * prepared.timeline.step_hours / prepared.days_long


def _possible(job: Job) -> Iterator[tuple[HabitKind, str, Job]]:
    for item in job.appliances:
        if item.count == 0 or item.priority == "essential":
            continue
        if (less := _less_of(item)) is not None:
            kind, values = less
            yield kind, item.name, _with(job, item, values)
    yield from _by_warmth(job)
    if any(
        isinstance(x, HotWater) and x.count and x.source == "electricity" for x in job.appliances
    ):
        fewer = {"showers_person_week": job.living.showers_person_week / 2.0}
        yield "half the showers", "", with_values(job, {"living": with_values(job.living, fewer)})
    if job.inverter is not None and job.inverter.runs == "always" and not keeps_awake(job):
        inverter = with_values(job.inverter, {"runs": "when needed"})
        yield "inverter off", "", with_values(job, {"inverter": inverter})


def _less_of(item: Appliance) -> tuple[HabitKind, dict[str, Any]] | None:
    """How an appliance is used less, and what that sets."""
    if item.priority == "extra":
        return "leave off", {"count": 0}
    match item:
        case Timed():
            return "half as long", {"duty": item.duty / 2.0}
        case Lights() | Steady():
            return "half as long", {"watts": item.watts / 2.0}
        case Cooking() if item.fuel == "electricity":
            return "every other meal", {"meals_pct": item.meals_pct / 2.0}
        case Charging() if item.wh_day is not None:
            return "half as much", {"wh_day": item.wh_day / 2.0}
        case _:
            return None


def _by_warmth(job: Job) -> Iterator[tuple[HabitKind, str, Job]]:
    """A cooler winter, a warmer summer, by `COOLER_K`."""
    if any(isinstance(item, Heater) and item.count for item in job.appliances):
        yield "heat less", "", _with_appliances(job, _cooler)
    for item in job.appliances:
        if isinstance(item, (Fan, AirConditioner)) and item.count and item.on_above_c is not None:
            most = bounds(type(item), "on_above_c")[1]
            later = {"on_above_c": min(item.on_above_c + COOLER_K, most)}
            yield "start later", item.name, _with(job, item, later)


def _cooler(item: Appliance) -> Appliance:
    if not isinstance(item, Heater):
        return item
    return with_values(
        item,
        {
            key: max(getattr(item, key) - COOLER_K, bounds(Heater, key)[0])
            for key in ("day_c", "night_c")
        },
    )


def _with(job: Job, item: Appliance, values: dict[str, Any]) -> Job:
    return _with_appliances(job, lambda x: with_values(x, values) if x is item else x)


def _with_appliances(job: Job, change: Callable[[Appliance], Appliance]) -> Job:
    return with_values(job, {"appliances": tuple(map(change, job.appliances))})
