"""The battery over a trip in sums, for studies with many lanes."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import NamedTuple

import numpy as np

from sim.arrays import Bools, Floats, Ints
from sim.van.bank.lanes import GROUPS, Bank
from sim.van.bank.loop import walk
from sim.van.bank.offers import Offers
from sim.van.bank.sources import together
from sim.van.bank.span import Lacking

# A load counts as served when less than this is missing: rounding, not hunger.
UNSERVED_TOLERANCE_W = 1e-6
# Hours after which what was not served is added up: what is gathered by then takes little memory.
_HOURS_AT_ONCE = 48


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
    missed = _Missed(len(offers.wanted_w), count, step_hours)
    runners = offers.runners(count, step_hours)
    for step, done in enumerate(walk(bank, offers, start_soc, step_hours, runners=runners)):
        np.minimum(lowest, done.lowest, out=lowest)
        for k in offers.suns:
            if offers.offering[step][k]:
                sun_w += done.taken[k]
        missed.add(step, done.lacking)
    missed.count()
    lowest_soc = np.minimum(lowest / full, start_soc)
    return BankTotals(
        lowest_soc, missed.dark, missed.essential_dark, sun_w * step_hours, missed.unserved_wh
    )


class _Missed:
    """What was not served, lane by lane, and in how many hours of the clock; as of `BankTotals`."""

    def __init__(self, groups: int, count: int, step_hours: float) -> None:
        self.unserved_wh = np.zeros((groups, count))
        self.dark, self.essential_dark = np.zeros(count), np.zeros(count)
        self._gathered = _Gathered(step_hours)
        self._per_hour, self._tolerance = round(1.0 / step_hours), UNSERVED_TOLERANCE_W * step_hours

    def add(self, step: int, lacking: tuple[Lacking, ...]) -> None:
        """What is lacking in a step."""
        if self._gathered.add(step, lacking):
            self.count()

    def count(self) -> None:
        """Add up what was added by now."""
        lacked = self._gathered.taken()
        if lacked is None:
            return
        for kept, wh in zip(self.unserved_wh, lacked.wh, strict=True):
            some = wh.nonzero()[0]
            np.add.at(kept, lacked.lanes.take(some), wh.take(some))
        first, *others = lacked.wh[: len(GROUPS)]
        self._count_hours(self.essential_dark, lacked, first > self._tolerance)
        self._count_hours(self.dark, lacked, together([first, *others]) > self._tolerance)

    def _count_hours(self, hours: Floats, lacked: _Lacked, is_missed: Bools) -> None:
        """Count hours in which something was missed: once in each, in however many of its steps."""
        some = is_missed.nonzero()[0]
        if not some.size:
            return
        hour = lacked.steps.take(some) // self._per_hour
        dark = np.zeros((hour[-1] - hour[0] + 1, len(hours)), dtype=bool)
        dark[hour - hour[0], lacked.lanes.take(some)] = True
        hours += np.count_nonzero(dark, axis=0)


class _Lacked(NamedTuple):
    """What lanes lacked in some steps.

    Attributes
    ----------
    steps, lanes : ndarray of int, shape (N,)
        Which; in the order of steps.
    wh : ndarray, shape (G, N)
        By group. [Wh]
    """

    steps: Ints
    lanes: Ints
    wh: Floats


class _Gathered:
    """What the steps of a trip lack, gathered until it is written down.

    Parameters
    ----------
    step_hours : float
    """

    def __init__(self, step_hours: float) -> None:
        self._at_once = round(_HOURS_AT_ONCE / step_hours)
        self._lacking: list[Lacking] = []
        self._steps: list[int] = []

    def add(self, step: int, lacking: tuple[Lacking, ...]) -> bool:
        """Keep what is lacking in a step; whether it is time to write it all down, which is never
        within an hour of the clock."""
        for each in lacking:
            self._lacking.append(each)
            self._steps.append(step)
        return bool(self._lacking) and (step + 1) % self._at_once == 0

    def taken(self) -> _Lacked | None:
        """What was kept, and is forgotten; None: nothing."""
        if not self._lacking:
            return None
        lanes = [each.lanes for each in self._lacking]
        steps = np.repeat(self._steps, [len(each) for each in lanes])
        wh = np.concatenate([each.wh for each in self._lacking], axis=1)
        self._lacking, self._steps = [], []
        return _Lacked(steps, np.concatenate(lanes), wh)
