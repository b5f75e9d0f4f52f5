"""What happened at the battery's terminals, step by step: of all lanes, or of some."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from sim.arrays import Floats, Ints
from sim.van.bank.running import Run


@dataclass(frozen=True)
class BankHours:
    """What happened at the battery's terminals; mean watts over each step.

    Attributes
    ----------
    soc : ndarray, shape (H + 1, L)
        State of charge at the start of each step and at the end of the last, 0 to 1.
    taken_w : tuple of ndarray, shape (H, L)
        Taken from each source. [W]
    losses_w : ndarray, shape (H, L)
        Charging, discharging and self-discharge. [W]
    unserved_w : ndarray, shape (G, H, L)
        Wanted and not given, by group, with what is beyond reach. [W]
    refused_sun_w : ndarray, shape (3, H)
        Sun offered and not taken, by `BANK_CAUSES`, mean over the lanes. [W]
    lowest_soc : ndarray, shape (L,)
        Lowest state of charge at the start or at the end of any step or part of one. 0 to 1
    cut_off_h : ndarray, shape (L,)
        Hours from the start to the end of the first step in which the essential loads were cut
        off at their floor; inf where they never were. [h]
    runs : dict of int to Run
        How sources ran that start by the charge or burn fuel, by their place in the list.
    """

    soc: Floats
    taken_w: tuple[Floats, ...]
    losses_w: Floats
    unserved_w: Floats
    refused_sun_w: Floats
    lowest_soc: Floats
    cut_off_h: Floats
    runs: dict[int, Run]

    def of_lanes(self, own: slice | Ints) -> BankHours:
        """The same of some lanes; why they refused sun is not known of them alone: NaN."""
        return _SomeHours(self, own)


class _SomeHours(BankHours):
    """Those of some lanes. Lanes that are picked out are copied, so each array is when it is first
    asked for: few are."""

    _every: BankHours
    _own: slice | Ints

    def __init__(self, every: BankHours, own: slice | Ints) -> None:
        # The class above is frozen.
        vars(self).update(_every=every, _own=own)

    @cached_property
    def soc(self) -> Floats:
        return _of_lanes(self._every.soc, self._own)

    @cached_property
    def taken_w(self) -> tuple[Floats, ...]:
        return tuple(_of_lanes(watts, self._own) for watts in self._every.taken_w)

    @cached_property
    def losses_w(self) -> Floats:
        return _of_lanes(self._every.losses_w, self._own)

    @cached_property
    def unserved_w(self) -> Floats:
        return _of_lanes(self._every.unserved_w, self._own)

    @cached_property
    def refused_sun_w(self) -> Floats:
        return np.full_like(self._every.refused_sun_w, np.nan)

    @cached_property
    def lowest_soc(self) -> Floats:
        return _of_lanes(self._every.lowest_soc, self._own)

    @cached_property
    def cut_off_h(self) -> Floats:
        return _of_lanes(self._every.cut_off_h, self._own)

    @cached_property
    def runs(self) -> dict[int, Run]:
        return {k: run.of_lanes(self._own) for k, run in self._every.runs.items()}


def _of_lanes(values: Floats, own: slice | Ints) -> Floats:
    return values[..., own] if isinstance(own, slice) else values.take(own, axis=-1)
