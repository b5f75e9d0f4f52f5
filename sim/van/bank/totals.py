"""The battery over a trip in sums, for studies with many lanes."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from sim.arrays import Floats
from sim.van.bank.lanes import GROUPS, Bank
from sim.van.bank.loop import walk
from sim.van.bank.offers import Offers
from sim.van.bank.substeps import added

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
    sun_w, dark_hours, essential_hours = (np.zeros(count) for _ in range(3))
    unserved = np.zeros((len(offers.wanted_w), count))
    per_hour, tolerance = round(1.0 / step_hours), UNSERVED_TOLERANCE_W * step_hours
    dark, essential = np.zeros(count, dtype=bool), np.zeros(count, dtype=bool)
    runners = offers.runners(count, step_hours)
    for step, done in enumerate(walk(bank, offers, start_soc, step_hours, runners=runners)):
        np.minimum(lowest, done.lowest, out=lowest)
        for k in offers.suns:
            if offers.offering[step][k]:
                sun_w += done.taken[k]
        missing = None
        for group, part in enumerate(done.unserved):
            if part is not None:
                unserved[group] += part
                missing = added(missing, part) if group < len(GROUPS) else missing
        if missing is not None:
            dark |= missing > tolerance
            if done.unserved[0] is not None:
                essential |= done.unserved[0] > tolerance
        if step % per_hour == per_hour - 1:
            dark_hours += dark
            essential_hours += essential
            dark[:] = essential[:] = False
    dark_hours += dark
    essential_hours += essential
    lowest_soc = np.minimum(lowest / full, start_soc)
    return BankTotals(lowest_soc, dark_hours, essential_hours, sun_w * step_hours, unserved)
