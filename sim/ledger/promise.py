"""What a trip is promised, and what falls behind: essentials, comforts, stores and cold.

Three things are promised, each by itself. The *essentials* are what priority `essential` holds:
food, warmth, health, light, alarms. The *comforts* are all other loads. *Stores and cold* are
tanks that run out or fill up, hot water that is not made, and hours below the heater's set point.

Everything is kept by draw: the hour of the trip at which a thing first falls behind, infinite
where it never does. A share of draws is always a count of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from sim.arrays import Bools, Floats, first_hours, over_steps
from sim.job.model.appliance_base import ApplianceBase
from sim.ledger.lines import LoadLine
from sim.ledger.verdict import Verdict, verdict_of
from sim.trip.cabin import Chill
from sim.trip.tanks import StoreLine
from sim.van.bank.totals import UNSERVED_TOLERANCE_W

LackKind = Literal["electricity", "fresh", "grey", "propane", "fuel", "hot water", "warmth"]
Group = Literal["essentials", "comforts", "stores"]
# What an appliance misses over a trip before it is named. [Wh]
NAMED_FROM_WH = 0.5
# Hot water that is a little less hot is hot. [Wh/day]
HOT_FROM_WH_DAY = 10.0
# The first missing watt-hour of a medical device counts, in whatever weather. [Wh]
MEDICAL_FROM_WH = 1e-3


@dataclass(frozen=True)
class Lack:
    """One thing that may fall behind on a trip.

    Attributes
    ----------
    group : str
        "essentials", "comforts" or "stores".
    kind : str
        Of what there is too little.
    names : tuple of str
        The tank; who goes without electricity says `TripOutcome.who_lacks`.
    is_essential : bool
        Whether food, warmth, health or light depend on it.
    first_h : ndarray, shape (D,)
        Hours from the departure until it first falls behind; inf where it never does. [h]
    missing : float
        Mean over the draws in which it falls behind: Wh for electricity and hot water, hours for
        warmth, what a tank is counted in for tanks.
    """

    group: Group
    kind: LackKind
    names: tuple[str, ...]
    is_essential: bool
    first_h: Floats
    missing: float

    @cached_property
    def falls(self) -> Bools:
        """Whether it falls behind in a draw. shape (D,)"""
        return np.isfinite(self.first_h)

    @cached_property
    def count(self) -> int:
        """Draws in which it falls behind."""
        return int(np.count_nonzero(self.falls))

    @cached_property
    def usual_h(self) -> float | None:
        """When it first falls behind, median of the draws in which it does. [h]"""
        return float(np.median(self.first_h[self.falls])) if self.count else None


@dataclass(frozen=True)
class MedicalLack:
    """A medical device that went without: draws in which it did, and the Wh missed in the worst."""

    name: str
    count: int
    worst_wh: float


@dataclass(frozen=True)
class Promise:
    """What held on a trip of D draws.

    Attributes
    ----------
    lacks : tuple of Lack
        All that may fall behind, also what never does.
    medical : tuple of MedicalLack
        Devices that went without, in whatever weather.
    draws : int
        D.
    bounds : (float, float)
        Share of draws in which everything must hold for ample, and the essentials for tight.
    """

    lacks: tuple[Lack, ...]
    medical: tuple[MedicalLack, ...]
    draws: int
    bounds: tuple[float, float]

    @cached_property
    def essentials_hold(self) -> Bools:
        """Whether the essentials and what they depend on held. shape (D,)"""
        return self._hold([lack for lack in self.lacks if lack.is_essential])

    @cached_property
    def all_hold(self) -> Bools:
        """Whether everything held. shape (D,)"""
        return self._hold(self.lacks)

    def holds(self, group: Group) -> Bools:
        """Whether everything of one group held. shape (D,)"""
        return self._hold([lack for lack in self.lacks if lack.group == group])

    def _hold(self, lacks: Sequence[Lack]) -> Bools:
        return none_falls(lacks, self.draws)

    @property
    def verdict(self) -> Verdict:
        """short, tight or ample."""
        return verdict_of(
            float(self.essentials_hold.mean()), float(self.all_hold.mean()), self.bounds
        )

    @cached_property
    def decides(self) -> Lack | None:
        """What the verdict hangs on: of what falls behind in most draws the earliest; of the
        essentials alone where they make the trip short. None where nothing ever falls behind."""
        candidates = [lack for lack in self.lacks if lack.count]
        if self.verdict == "short":
            candidates = [lack for lack in candidates if lack.is_essential]
        if not candidates:
            return None
        return max(candidates, key=lambda lack: (lack.count, -(lack.usual_h or 0.0)))


def none_falls(lacks: Sequence[Lack], draws: int) -> Bools:
    """Whether none of some things falls behind in a draw. shape (D,)"""
    held = np.ones(draws, dtype=bool)
    for lack in lacks:
        held &= ~lack.falls
    return held


def missed_by_group(unserved_w: Floats, step_hours: float) -> tuple[Floats, Floats]:
    """When the essentials and the comforts first lack electricity, and how much they do.

    Parameters
    ----------
    unserved_w : ndarray, shape (3, H, D)
        Wanted and not given: essential, comfort, extra. [W]
    step_hours : float

    Returns
    -------
    first_h, missed_wh : ndarray, shape (2, D)
        Hours from the departure, inf where nothing lacks any; and of the whole trip. [h], [Wh]
    """
    both = unserved_w[0], unserved_w[1] + unserved_w[2]
    first = [first_hours(lacking > UNSERVED_TOLERANCE_W, step_hours) for lacking in both]
    return np.array(first), np.array([over_steps(lacking) * step_hours for lacking in both])


def electric_lacks(first_h: Floats, missed_wh: Floats) -> tuple[Lack, Lack]:
    """What the battery could not serve: of the essentials, and of the comforts.

    Parameters
    ----------
    first_h, missed_wh : ndarray, shape (2, D)
        As of `missed_by_group`.
    """
    made = []
    groups: tuple[tuple[Group, bool], ...] = (("essentials", True), ("comforts", False))
    for (group, is_essential), first, missed in zip(groups, first_h, missed_wh, strict=True):
        falls = np.isfinite(first)
        made.append(
            Lack(
                group=group,
                kind="electricity",
                names=(),
                is_essential=is_essential,
                first_h=first,
                missing=float(missed[falls].mean()) if falls.any() else 0.0,
            )
        )
    return made[0], made[1]


def missing_most(loads: Sequence[LoadLine]) -> tuple[str, ...]:
    """Names of what goes without, those that miss most first; medical devices before all."""
    missed = [
        (not _is_medical(x), -float(x.missed_wh.mean()), x.name)
        for x in loads
        if float(x.missed_wh.max()) > _named_from(x)
    ]
    return tuple(dict.fromkeys(name for _, _, name in sorted(missed)))


def _is_medical(line: LoadLine) -> bool:
    return line.appliance is not None and line.appliance.medical


def _named_from(line: LoadLine) -> float:
    return MEDICAL_FROM_WH if _is_medical(line) else NAMED_FROM_WH


def medical_lacks(loads: Sequence[LoadLine]) -> tuple[MedicalLack, ...]:
    """Medical devices that went without in any draw, the worst first."""
    found = []
    for line in loads:
        missed = line.missed_wh
        if _is_medical(line) and (missed > MEDICAL_FROM_WH).any():
            count = int((missed > MEDICAL_FROM_WH).sum())
            found.append(MedicalLack(line.name, count, float(missed.max())))
    return tuple(sorted(found, key=lambda x: -x.worst_wh))


def store_lacks(
    stores: Sequence[StoreLine], appliances: Sequence[ApplianceBase], draws: int
) -> tuple[Lack, ...]:
    """Tanks that run out, or fill up, before they are served.

    Parameters
    ----------
    stores : sequence of StoreLine
    appliances : sequence of ApplianceBase
        Propane is essential where something essential burns it; fresh water always is.
    draws : int
    """
    burnt = any(
        x.count > 0 and x.priority == "essential" and x.heat_from == "propane" for x in appliances
    )
    return tuple(
        Lack(
            group="stores",
            kind=line.kind,
            names=(line.name,),
            is_essential=line.kind == "fresh" or (line.kind == "propane" and burnt),
            first_h=np.broadcast_to(line.out_at_h, (draws,)),
            missing=line.missed_per_day,
        )
        for line in stores
    )


def cold_lacks(chill: Chill, hot_short_w: Floats, step_hours: float) -> tuple[Lack, Lack]:
    """Warmth that the heaters did not reach, and hot water that was not made.

    Parameters
    ----------
    chill : Chill
        D draws.
    hot_short_w : ndarray, shape (H,)
        Heat wanted in hot water and not there; the same in all draws. [W]
    step_hours : float
    """
    draws = len(chill.first_h)
    cold = np.isfinite(chill.first_h)
    short_wh = float(hot_short_w.sum() * step_hours)
    first = first_hours(hot_short_w[:, None] > 0.0, step_hours)
    if short_wh * 24.0 < HOT_FROM_WH_DAY * len(hot_short_w) * step_hours:
        first = np.full(1, np.inf)
    return (
        Lack(
            group="stores",
            kind="warmth",
            names=(),
            is_essential=False,
            first_h=chill.first_h,
            missing=float(chill.hours[cold].mean()) if cold.any() else 0.0,
        ),
        Lack(
            group="stores",
            kind="hot water",
            names=(),
            is_essential=False,
            first_h=np.broadcast_to(first, (draws,)),
            missing=short_wh,
        ),
    )
