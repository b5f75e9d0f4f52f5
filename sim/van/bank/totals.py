"""The battery over a trip in sums, for studies with many lanes."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from sim.arrays import Floats, Ints
from sim.van.bank.lanes import GROUPS, Bank
from sim.van.bank.loop import walk
from sim.van.bank.offers import Offers
from sim.van.bank.sources import together

# A load counts as served when less than this is missing: rounding, not hunger.
UNSERVED_TOLERANCE_W = 1e-6


@dataclass(frozen=True)
class BankTotals:
    """The sum of what happened, for studies with many lanes. Arrays of shape (L,) unless said.

    Attributes
    ----------
    lowest_soc : ndarray
        Lowest state of charge at the start or at the end of any step or part of one. 0 to 1
    dark_hours : ndarray
        Hours since the start in which something wanted was not served; what is held to a charge
        waits for it and does not count. [h]
    essential_dark_hours : ndarray
        Those in which something essential was not. [h]
    sun_wh : ndarray
        Taken from the sun. [Wh]
    unserved_wh : ndarray, shape (G, L)
        Wanted and not given, by group, with what is beyond reach. [Wh]
    """

    lowest_soc: Floats
    dark_hours: Floats
    essential_dark_hours: Floats
    sun_wh: Floats
    unserved_wh: Floats

    def apart(self, count: int) -> list[BankTotals]:
        """The sums of so many runs that lay side by side, in equal numbers of lanes."""
        kept = [getattr(self, field.name) for field in fields(self)]
        parts = [np.split(values, count, axis=-1) for values in kept]
        return [BankTotals(*each) for each in zip(*parts, strict=True)]


def total_bank(bank: Bank, offers: Offers, *, start_soc: float, step_hours: float) -> BankTotals:
    """Carry the balance through a trip and keep the sums only: `run_bank` for many lanes.

    Parameters and meaning as in `run_bank`; the memory does not grow with the steps.
    """
    count = offers.lanes(bank)
    full = np.asarray(bank.capacity_wh, dtype=np.float64)
    lowest = np.full(count, np.inf)
    sun_w = np.zeros(count)
    unserved = np.zeros((len(offers.wanted_w), count))
    per_hour, tolerance = round(1.0 / step_hours), UNSERVED_TOLERANCE_W * step_hours
    dark, essential = _Hours(count, per_hour), _Hours(count, per_hour)
    runners = offers.runners(count, step_hours)
    for step, done in enumerate(walk(bank, offers, start_soc, step_hours, runners=runners)):
        np.minimum(lowest, done.lowest, out=lowest)
        for k in offers.suns:
            if offers.offering[step][k]:
                sun_w += done.taken[k]
        if done.lacking is not None:
            lacks, wh = done.lacking
            for kept, missing in zip(unserved, wh, strict=True):
                if np.count_nonzero(missing):
                    kept[lacks] += missing
            hour, (first, *others) = step // per_hour, wh[: len(GROUPS)]
            if np.count_nonzero(first):
                essential.count(hour, lacks[first > tolerance])
            dark.count(hour, lacks[together([first, *others]) > tolerance])
    lowest_soc = np.minimum(lowest / full, start_soc)
    return BankTotals(lowest_soc, dark.hours, essential.hours, sun_w * step_hours, unserved)


class _Hours:
    """In how many hours of the clock something was missing, lane by lane."""

    def __init__(self, count: int, per_hour: int) -> None:
        self.hours = np.zeros(count)
        self._per_hour = per_hour
        self._last = np.full(count, -1)

    def count(self, hour: int, lanes: Ints) -> None:
        """Count an hour in some lanes: once in each, in however many of its steps."""
        if self._per_hour > 1:
            lanes = lanes[self._last[lanes] != hour]
            self._last[lanes] = hour
        self.hours[lanes] += 1.0
