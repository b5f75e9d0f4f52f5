"""Lines of the ledger: one for each appliance, the day's energy, why sun was not harvested."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from sim.arrays import Floats, with_answers
from sim.job.model.appliance_base import ApplianceBase
from sim.job.model.living import Priority
from sim.trip.lines import Supply
from sim.van.bank.refused import BANK_CAUSES
from sim.van.bank.sources import together

# Why sun was not harvested: the bank's causes, then the solar controllers' current limit.
CAUSES = (*BANK_CAUSES, "controller limit")


@dataclass(frozen=True)
class LoadLine:
    """One appliance's line in the ledger, or one of what the van itself draws.

    Attributes
    ----------
    name : str
    priority : str
        essential, comfort or extra.
    supply : str
        "dc", "ac", or "converter" or "inverter" for its own draw and losses.
    wanted_wh_day : ndarray, shape (days, D)
        Wanted on each local day. [Wh]
    wanted_wh, served_wh : ndarray, shape (D,)
        Over the trip. [Wh]
    waited_wh : ndarray, shape (D,)
        Wanted and not given because it is held to a charge, and the battery was below. [Wh]
    appliance : ApplianceBase or None
        Of the job; None for what the van itself draws, as the inverter and a tank's pad do.
    """

    name: str
    priority: Priority
    supply: Supply
    wanted_wh_day: Floats
    wanted_wh: Floats
    served_wh: Floats
    waited_wh: Floats
    appliance: ApplianceBase | None = None

    @cached_property
    def missed_wh(self) -> Floats:
        """What it goes without over the trip. [Wh], shape (D,)"""
        return self.wanted_wh - self.served_wh - self.waited_wh

    def on_days_of(self, draw: int) -> LoadLine:
        """The same with the days of one draw in each."""
        days = self.wanted_wh_day
        return replace(self, wanted_wh_day=np.broadcast_to(days[:, [draw]], days.shape))


@dataclass(frozen=True)
class SourceLine:
    """One source's line in the ledger.

    Attributes
    ----------
    name, kind
        As of `sim.van.bank.sources.Source`.
    offered_wh_day : float
        What it could have given, mean over draws. [Wh/day]
    taken_w : ndarray, shape (H, D)
        Taken of it, by the battery and past it. [W]
    hours_day : float or None
        How long it ran, mean over draws; None for one that runs by itself. [h/day]
    """

    name: str
    kind: str
    offered_wh_day: float
    taken_w: Floats
    hours_day: float | None = None

    @cached_property
    def used_wh_day(self) -> float:
        """What was taken of it, mean over draws. [Wh/day]"""
        return 24.0 * float(self.taken_w.mean())

    def lean(self) -> SourceLine:
        """The same with the mean over the draws alone, `taken_w` of shape (H, 1)."""
        mean_w = self.taken_w.mean(axis=1, keepdims=True)
        return with_answers(replace(self, taken_w=mean_w), self, ["used_wh_day"])


@dataclass(frozen=True)
class EnergyPerDay:
    """Mean over draws and days. [Wh/day]

    Attributes
    ----------
    taken : dict
        From the sources, by their kind in the order of use.
    served, unserved, losses, unharvested : float
    """

    taken: dict[str, float]
    served: float
    unserved: float
    losses: float
    unharvested: float


def by_kind(kinds: Sequence[str], watts: Sequence[Floats]) -> dict[str, Floats]:
    """What sources gave, those of a kind together, in the order of use. [W]"""
    return {
        kind: together([own for own, at in zip(watts, kinds, strict=True) if at == kind])
        for kind in dict.fromkeys(kinds)
    }
