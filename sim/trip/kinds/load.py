"""What an appliance draws in every step, and what it needs to know for that."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal, TypeVar

import numpy as np

from sim.arrays import Floats
from sim.job.model.appliance_base import ApplianceBase
from sim.job.model.job import Job
from sim.sky.sun import Sun
from sim.trip.household import Uses
from sim.trip.timeline import Timeline
from sim.van.cabin import CabinHours
from sim.van.hot_water import HotHours

NOTHING: Floats = np.zeros((1, 1))

A = TypeVar("A", bound=ApplianceBase)
Inputs = TypeVar("Inputs")


@dataclass(frozen=True)
class ClockInputs:
    """What is known of a trip before the cabin's warmth: the steps, the sun over them, what
    people use, the hot water that takes."""

    job: Job
    timeline: Timeline
    sun: Sun
    uses: Uses
    hot: HotHours


@dataclass(frozen=True)
class CabinInputs:
    """What is known once the cabin's warmth is.

    Attributes
    ----------
    timeline : Timeline
    sun : Sun
        H steps.
    climate : CabinHours
        D draws.
    heat_w : sequence of ndarray, shape (H, D)
        What each of these appliances gave, all units of it; empty for a kind that heats nothing.
        [W]
    """

    timeline: Timeline
    sun: Sun
    climate: CabinHours
    heat_w: Sequence[Floats]


@dataclass(frozen=True)
class ApplianceLoad:
    """One unit of an appliance. Arrays of shape (H, 1) or (H, D).

    Attributes
    ----------
    watts : ndarray
        Electricity wanted, at the appliance. [W]
    share : ndarray
        Share of each step in which it runs.
    cabin_w : ndarray
        Heat it leaves in the cabin, that of a heater apart. [W]
    fuel : str or None
        What it burns.
    fuel_w : ndarray or None
        Heat of the fuel it burns. [W]
    missed_wh : float
        What it would have charged and found no time for. [Wh]
    ready : ndarray, shape (H, 1), or None
        Share of each step in which it may start by itself; None for one that people switch on.
    """

    watts: Floats
    share: Floats
    cabin_w: Floats
    fuel: Literal["propane", "diesel", "petrol"] | None = None
    fuel_w: Floats | None = None
    missed_wh: float = 0.0
    ready: Floats | None = None


def electric(watts: Floats, share: Floats, ready: Floats | None = None) -> ApplianceLoad:
    """Electricity, all of which becomes heat in the cabin."""
    return ApplianceLoad(watts, share, watts, ready=ready)


def each(
    load: Callable[[A, Inputs], ApplianceLoad],
) -> Callable[[Sequence[A], Inputs], list[ApplianceLoad]]:
    """The loads of a kind whose appliances know nothing of each other."""

    def loads(items: Sequence[A], inputs: Inputs) -> list[ApplianceLoad]:
        return [load(item, inputs) for item in items]

    return loads
