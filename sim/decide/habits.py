"""What people aboard can do to take less: each habit is tried on the job and told by its saving."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

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
from sim.job.model.job import Job
from sim.trip.demand import demand
from sim.trip.prepare import PreparedTrip, prepare_trip

MOST_HABITS = 3
COOLER_K = 2.0
# A saving smaller than this a day is no habit worth the name. [Wh]
_LEAST_SAVING_WH = 5.0


@dataclass(frozen=True)
class Habit:
    """Something people aboard can do.

    Attributes
    ----------
    name : str
    saving_wh : float
        A day, on the trip named. [Wh]
    trip : str
        Where it saves most.
    """

    name: str
    saving_wh: float
    trip: str


def habits_of(job: Job) -> tuple[Habit, ...]:
    """Habits by what they save on the trip where they save most.

    Parameters
    ----------
    job : Job

    Returns
    -------
    tuple of Habit
        At most `MOST_HABITS`, the best first.
    """
    prepared = [prepare_trip(job, trip) for trip in job.trips]
    found = []
    for name, changed in _possible(job):
        savings = [_wanted_wh_day(x, job) - _wanted_wh_day(x, changed) for x in prepared]
        best = int(np.argmax(savings))
        if savings[best] >= _LEAST_SAVING_WH:
            found.append(Habit(name, savings[best], job.trips[best].name))
    found.sort(key=lambda habit: -habit.saving_wh)
    return tuple(found[:MOST_HABITS])


def _wanted_wh_day(prepared: PreparedTrip, job: Job) -> float:
    wants = prepared.wants
    if job is not prepared.job:
        wants = demand(job, prepared.timeline, prepared.sky.weather, prepared.sky.sun)
    total = float(wants.wanted_w.sum(axis=(0, 1)).mean())
    return total * prepared.timeline.step_hours / prepared.days_long


def _possible(job: Job) -> Iterator[tuple[str, Job]]:
    for item in job.appliances:
        if item.count == 0 or item.priority == "essential":
            continue
        if item.priority == "extra":
            yield f"leave {item.name} off", _changed(job, item, {"count": 0})
        elif isinstance(item, Timed):
            yield f"use {item.name} half as long", _changed(job, item, {"duty": item.duty / 2.0})
        elif isinstance(item, (Lights, Steady)):
            yield f"use {item.name} half as long", _changed(job, item, {"watts": item.watts / 2.0})
        elif isinstance(item, Cooking) and item.fuel == "electricity":
            half = {"meals_pct": item.meals_pct / 2.0}
            yield f"cook every other meal without {item.name}", _changed(job, item, half)
        elif isinstance(item, Charging) and item.wh_day is not None:
            half = {"wh_day": item.wh_day / 2.0}
            yield f"use {item.name} half as much", _changed(job, item, half)
    yield from _by_warmth(job)
    if any(
        isinstance(x, HotWater) and x.count and x.source == "electricity" for x in job.appliances
    ):
        fewer = {"showers_person_week": job.living.showers_person_week / 2.0}
        living = job.living.model_copy(update=fewer)
        yield "shower half as often", job.model_copy(update={"living": living})
    if job.inverter is not None and job.inverter.runs == "always":
        inverter = job.inverter.model_copy(update={"runs": "when needed"})
        yield (
            "switch the inverter off when nothing needs it",
            job.model_copy(update={"inverter": inverter}),
        )


def _by_warmth(job: Job) -> Iterator[tuple[str, Job]]:
    """A cooler winter, a warmer summer."""
    step = f"{1.8 * COOLER_K:.0f} °F" if job.settings.units == "us" else f"{COOLER_K:.0f} °C"
    if any(isinstance(item, Heater) and item.count for item in job.appliances):
        yield f"heat {step} less, day and night", _with_appliances(job, _cooler)
    for item in job.appliances:
        if isinstance(item, (Fan, AirConditioner)) and item.count and item.on_above_c is not None:
            later = {"on_above_c": item.on_above_c + COOLER_K}
            yield f"start {item.name} when it is {step} warmer", _changed(job, item, later)


def _cooler(item: Appliance) -> Appliance:
    if not isinstance(item, Heater):
        return item
    update = {"day_c": item.day_c - COOLER_K, "night_c": item.night_c - COOLER_K}
    return item.model_copy(update=update)


def _changed(job: Job, item: Appliance, update: dict[str, float]) -> Job:
    return _with_appliances(job, lambda x: x.model_copy(update=update) if x is item else x)


def _with_appliances(job: Job, change: Callable[[Appliance], Appliance]) -> Job:
    return job.model_copy(update={"appliances": tuple(map(change, job.appliances))})
