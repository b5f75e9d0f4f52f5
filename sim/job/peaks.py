"""What appliances draw at most, together and by their clocks."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from sim.arrays import Floats
from sim.job.model.appliance_base import ApplianceBase
from sim.job.model.fields import DAY_MINUTES
from sim.job.model.living import Living

# The bank under load, over its nominal voltage, while it still feeds the inverter (common
# practice, no source): 12.0 V of 12.8 V, 11.25 V of 12 V.
LOWEST_OVER_NOMINAL = 0.9375


def peak_watts(item: ApplianceBase) -> float:
    """What all units of an appliance draw together while they run. [W]"""
    return item.count * item.most_watts


def at_once(items: Sequence[ApplianceBase], living: Living) -> tuple[float, float]:
    """All loads together, and the most that their clocks let run together. [W]"""
    by_clock: Floats = np.zeros(DAY_MINUTES)
    for item in items:
        by_clock += peak_watts(item) * _may_run(item, living)
    return total_watts(items), float(by_clock.max())


def total_watts(items: Iterable[ApplianceBase]) -> float:
    """All loads together. [W]"""
    return sum(peak_watts(item) for item in items)


def _may_run(item: ApplianceBase, living: Living) -> Floats:
    """1 in each minute of the local day in which an appliance may run, else 0."""
    windows = item.windows(living)
    if windows is None:
        return np.ones(DAY_MINUTES)
    on = np.zeros(DAY_MINUTES)
    for start, end in windows:
        length = (end - start) % DAY_MINUTES or DAY_MINUTES
        on[np.arange(start, start + length) % DAY_MINUTES] = 1.0
    return on
