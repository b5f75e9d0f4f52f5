"""The table of kinds: for each, what it draws, what it does to the cabin, what it depends on.

A new kind is a model with its `kind` in `job.model.appliances`, its physics in `van`, and a row
here. Trip, ledger, audit, shelf and wiring sheet take it from the row and from what the model
says of itself.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Generic, Literal

from sim.arrays import Floats
from sim.job.model.appliance_base import ApplianceBase
from sim.job.model.appliances import (
    AirConditioner,
    Charging,
    ColdBox,
    Cooking,
    Fan,
    Heater,
    HotWater,
    Lights,
    Pump,
    Steady,
    Timed,
)
from sim.sky.sun import Sun
from sim.trip.kinds import by_cabin, by_clock
from sim.trip.kinds.by_cabin import HeatSource
from sim.trip.kinds.hot_water import hot_water
from sim.trip.kinds.load import A, ApplianceLoad, CabinInputs, ClockInputs, each
from sim.trip.timeline import Timeline

# What the use of an appliance may depend on: temperatures outside and inside, hours of night,
# hours with somebody aboard, on the plug or on the road, litres, meals, and what runs on AC.
Cause = Literal[
    "outside", "inside", "night", "aboard", "plug", "road", "water", "meals", "ac", "dc"
]  # fmt: skip
# With +1 where the appliance takes more as that grows, -1 where it takes less.
Answer = tuple[Cause, int]


def _nothing(item: ApplianceBase) -> tuple[Answer, ...]:
    return ()


@dataclass(frozen=True, kw_only=True)
class Kind(Generic[A]):
    """How one kind of appliance behaves. Either `by_clock` or `by_cabin` is given.

    Attributes
    ----------
    by_clock, by_cabin : callable
        From all appliances of the kind, in the order of the job, to what one unit of each draws:
        by the clock and by use, or, once that has warmed the cabin, by its warmth.
    heats : callable, optional
        What one appliance does to warm the cabin up to a set point.
    at_cabin_c : callable, optional
        What one unit draws, and leaves as heat, at a temperature of the air around it. [W]
    answers_to : callable
        What the use of one appliance depends on, what counts most first.
    """

    by_clock: Callable[[Sequence[A], ClockInputs], list[ApplianceLoad]] | None = None
    by_cabin: Callable[[Sequence[A], CabinInputs], list[ApplianceLoad]] | None = None
    heats: Callable[[A, Timeline, Sun], HeatSource] | None = None
    at_cabin_c: Callable[[A, Floats], Floats] | None = None
    answers_to: Callable[[A], tuple[Answer, ...]] = _nothing


def _hot_water_answers(item: HotWater) -> tuple[Answer, ...]:
    return (("road", 1), ("water", 1)) if item.source == "engine" else (("water", 1),)


KINDS: dict[type[ApplianceBase], Kind[Any]] = {
    Steady: Kind(by_clock=each(by_clock.steady)),
    Timed: Kind(by_clock=each(by_clock.timed)),
    Lights: Kind(by_clock=each(by_clock.lights), answers_to=lambda item: (("night", 1),)),
    Pump: Kind(by_clock=each(by_clock.pump), answers_to=lambda item: (("water", 1),)),
    Charging: Kind(by_clock=each(by_clock.charging)),
    Cooking: Kind(by_clock=each(by_clock.cooking), answers_to=lambda item: (("meals", 1),)),
    HotWater: Kind(by_clock=hot_water, answers_to=_hot_water_answers),
    ColdBox: Kind(
        by_cabin=each(by_cabin.cold_box),
        at_cabin_c=by_cabin.cold_box_watts,
        answers_to=lambda item: (("inside", 1),),
    ),
    Heater: Kind(
        by_cabin=by_cabin.heaters,
        heats=by_cabin.heat_source,
        answers_to=lambda item: (("outside", -1),),
    ),
    Fan: Kind(by_cabin=each(by_cabin.fan), answers_to=lambda item: (("inside", 1),)),
    AirConditioner: Kind(
        by_cabin=by_cabin.air_conditioners, answers_to=lambda item: (("inside", 1),)
    ),
}


def kind_of(item: ApplianceBase) -> Kind[Any]:
    """The row of an appliance."""
    return KINDS[type(item)]
