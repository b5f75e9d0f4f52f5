"""What one unit of each appliance draws: by the clock and by use, and, once that has warmed the
cabin, by its warmth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sim.arrays import Floats
from sim.job.model.appliances import Appliance
from sim.job.model.job import Job
from sim.sky.sun import Sun
from sim.trip.cabin import heating
from sim.trip.household import uses_of
from sim.trip.kinds.hot_water import hot_water_of
from sim.trip.kinds.load import ApplianceLoad, CabinInputs, ClockInputs
from sim.trip.kinds.table import kind_of
from sim.trip.timeline import Timeline
from sim.van.cabin import CabinHours


@dataclass(frozen=True)
class ClockLoads:
    """What is drawn before the cabin's warmth is known.

    Attributes
    ----------
    present : tuple of Appliance
        Those of a job that are aboard.
    inputs : ClockInputs
    loads : dict of ApplianceLoad
        By their number, of those that do not answer to the cabin's warmth.
    warmth_w : ndarray, shape (H, 1)
        What these leave in the cabin, all units together. [W]
    """

    present: tuple[Appliance, ...]
    inputs: ClockInputs
    loads: dict[int, ApplianceLoad]
    warmth_w: Floats


def clock_loads(job: Job, timeline: Timeline, sun: Sun) -> ClockLoads:
    """What one unit of each appliance draws by the clock and by use."""
    uses = uses_of(job, timeline)
    inputs = ClockInputs(job, timeline, sun, uses, hot_water_of(job, timeline, sun, uses))
    present = tuple(item for item in job.appliances if item.count > 0)
    made: dict[int, ApplianceLoad] = {}
    for numbers in _by_kind(present):
        by_clock = kind_of(present[numbers[0]]).by_clock
        if by_clock is not None:
            loads = by_clock([present[n] for n in numbers], inputs)
            made.update(zip(numbers, loads, strict=True))
    warmth_w = np.zeros((len(timeline), 1))
    for number in sorted(made):
        warmth_w = warmth_w + present[number].count * made[number].cabin_w
    return ClockLoads(present, inputs, made, warmth_w)


def all_loads(by_clock: ClockLoads, climate: CabinHours) -> list[ApplianceLoad]:
    """What one unit of each appliance draws, in their order, in the cabin that comes of it."""
    present, inputs = by_clock.present, by_clock.inputs
    made, heat_w = dict(by_clock.loads), dict(zip(heating(present), climate.heat_w, strict=True))
    for numbers in _by_kind(present):
        by_cabin = kind_of(present[numbers[0]]).by_cabin
        if by_cabin is not None:
            own_w = [heat_w[n] for n in numbers if n in heat_w]
            seen = CabinInputs(inputs.timeline, inputs.sun, climate, own_w)
            loads = by_cabin([present[n] for n in numbers], seen)
            made.update(zip(numbers, loads, strict=True))
    return [made[number] for number in range(len(present))]


def _by_kind(present: Sequence[Appliance]) -> list[list[int]]:
    """Numbers of the appliances of each kind."""
    groups: dict[type[Appliance], list[int]] = {}
    for number, item in enumerate(present):
        groups.setdefault(type(item), []).append(number)
    return list(groups.values())
