"""A trip that was carried through in blocks of its draws, joined to one result.

Blocks are reduced as they end, so that a year in thousands of draws is never whole in memory.
What is counted by draw is put side by side; means are weighted with the draws that they are of.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import fields, replace
from typing import Any, TypeVar

import numpy as np

from sim.arrays import Floats
from sim.ledger.lines import EnergyPerDay, SourceLine
from sim.ledger.results import TripResult
from sim.ledger.wide import whole_of
from sim.trip.frost import AwayHeat, Frost
from sim.trip.inverter import AcPeak
from sim.trip.tanks import StoreLine

_T = TypeVar("_T")
# Kept of each draw, and in a lean result as means of each step.
_ARRAYS_BY_DRAW = ("soc", "lowest", "cut_off_h", "damp_hours", "least_usable")
_OF_STEPS = (
    *("unharvested_w", "served_w", "unserved_w", "losses_w"),
    *("ghi", "temp_air", "cabin_c"),
)
# What a lean result knows of all its draws: of each, and as means of them.
_MEANS = ("missed_w", "dark_steps_share", "unharvested_wh_day", "mean_outside_c", "mean_inside_c")
_STORE_BY_DRAW = ("out_at_h", "use_per_day", "nights_until", "short_h")


def joined(blocks: Sequence[TripResult], *, lean: bool) -> TripResult:
    """One result from those of a trip's draws, block after block.

    Parameters
    ----------
    blocks : sequence of TripResult
        Of the same trip, each in other draws, the first ones first.
    lean : bool
        Whether they are lean, and what comes of them is.
    """
    if len(blocks) == 1:
        return blocks[0]
    return _Join([block.draws for block in blocks], lean).trip(blocks)


class _Join:
    """Values of B blocks of draws to one."""

    def __init__(self, draws: Sequence[int], lean: bool) -> None:
        self.draws, self.lean = draws, lean
        # A lean result holds the mean over its draws alone.
        self.of_steps: Callable[[Sequence[Floats]], Floats] = self.mean if lean else self.side

    def mean(self, parts: Sequence[Any]) -> Any:
        """The mean over all draws, of numbers or arrays; what all agree on is left alone."""
        if all(np.array_equal(part, parts[0]) for part in parts):
            return parts[0]
        total = sum(part * count for part, count in zip(parts, self.draws, strict=True))
        return total / sum(self.draws)

    def side(self, parts: Sequence[Any]) -> Any:
        """Arrays whose last axis are the draws, side by side; what is the same in all draws is
        kept once."""
        first = parts[0][..., :1]
        alike = all(part.shape[-1] == 1 or part.strides[-1] == 0 for part in parts)
        if alike and all(np.array_equal(part[..., :1], first) for part in parts):
            return np.broadcast_to(first, (*first.shape[:-1], sum(self.draws)))
        if (whole := whole_of(parts)) is not None:
            return whole
        wide = [
            np.broadcast_to(part, (*part.shape[:-1], count))
            for part, count in zip(parts, self.draws, strict=True)
        ]
        return np.concatenate(wide, axis=-1)

    def beside(self, parts: Sequence[_T]) -> _T:
        """Dataclasses all of whose arrays have the draws on their last axis."""
        one: Any = parts[0]
        names = [x.name for x in fields(one) if isinstance(getattr(one, x.name), np.ndarray)]
        arrays = {name: self.side([getattr(part, name) for part in parts]) for name in names}
        whole: _T = replace(one, **arrays)
        return whole

    def named(self, parts: Sequence[dict[str, float]]) -> dict[str, float]:
        return {name: self.mean([part[name] for part in parts]) for name in parts[0]}

    def trip(self, blocks: Sequence[TripResult]) -> TripResult:
        def of(name: str) -> list[Any]:
            return [getattr(block, name) for block in blocks]

        first = blocks[0]
        arrays: dict[str, Any] = {name: self.side(of(name)) for name in _ARRAYS_BY_DRAW}
        arrays |= {name: self.of_steps(of(name)) for name in _OF_STEPS}
        whole = replace(
            first,
            **arrays,
            sources=tuple(map(self.source, zip(*of("sources"), strict=True))),
            unharvested_by_cause_w=self.mean(of("unharvested_by_cause_w")),
            loads=tuple(map(self.beside, zip(*of("loads"), strict=True))),
            # The last says how many there are.
            about=blocks[-1].about,
            stores=tuple(map(self.store, zip(*of("stores"), strict=True))),
            boxes=tuple(map(self.beside, zip(*of("boxes"), strict=True))),
            snowed_wh_day=self.mean(of("snowed_wh_day")),
            uncharged_wh_day=self.named(of("uncharged_wh_day")),
            chill=self.beside(of("chill")),
            frost=self.frost(of("frost")),
            engine_fuel_l_day=self.named(of("engine_fuel_l_day")),
            ac_peak=None if first.ac_peak is None else self.peak(of("ac_peak")),
        )
        if self.lean:
            vars(whole)["dark"] = self.side(of("dark"))
            vars(whole)["lacking"] = self.beside(of("lacking"))
            vars(whole).update({name: self.mean(of(name)) for name in _MEANS})
            vars(whole)["energy"] = self.energy(of("energy"))
            vars(whole)["at_stops_w"] = self.at_stops(of("at_stops_w"))
        return whole

    def source(self, parts: Sequence[SourceLine]) -> SourceLine:
        def of(name: str) -> list[Any]:
            return [getattr(part, name) for part in parts]

        ran = parts[0].hours_day is not None
        whole = replace(
            parts[0],
            offered_wh_day=self.mean(of("offered_wh_day")),
            taken_w=self.of_steps(of("taken_w")),
            hours_day=self.mean(of("hours_day")) if ran else None,
        )
        if self.lean:
            vars(whole)["used_wh_day"] = self.mean(of("used_wh_day"))
        return whole

    def store(self, parts: Sequence[StoreLine]) -> StoreLine:
        levels = [part.levels for part in parts]
        one = levels[0].level
        if all(np.array_equal(x.level, one) for x in levels) and one.shape[1] == 1:
            return parts[0]
        whole = replace(
            parts[0],
            levels=replace(
                levels[0],
                level=self.side([x.level for x in levels]),
                **{
                    name: self.of_steps([getattr(x, name) for x in levels])
                    for name in ("moved", "missed", "renewed")
                },
            ),
            by_use=self.named([part.by_use for part in parts]),
        )
        if self.lean:
            asked = {n: self.side([getattr(x, n) for x in parts]) for n in _STORE_BY_DRAW}
            vars(whole).update(asked)
            vars(whole)["missed_per_day"] = self.mean([x.missed_per_day for x in parts])
        return whole

    def frost(self, parts: Sequence[Frost]) -> Frost:
        first = parts[0]
        if not first.spots:
            return first
        return Frost(
            spots=tuple(map(self.beside, zip(*(part.spots for part in parts), strict=True))),
            frozen=self.side([part.frozen for part in parts]),
            away=self.away([part.away for part in parts]),
        )

    def away(self, parts: Sequence[AwayHeat | None]) -> AwayHeat | None:
        """Where it could freeze nothing in the weather of one block, it may in that of another."""
        tried = [part for part in parts if part is not None and len(part.otherwise_hours)]
        if not tried:
            return None
        hours = [
            np.zeros(count) if part is None else part.otherwise_hours
            for part, count in zip(parts, self.draws, strict=True)
        ]
        return replace(tried[0], otherwise_hours=np.concatenate(hours))

    def peak(self, parts: Sequence[AcPeak]) -> AcPeak:
        most = min(parts, key=lambda x: (-x.together_w, x.step))
        return replace(
            most,
            start_w=max(part.start_w for part in parts),
            over_h=self.side([part.over_h for part in parts]),
        )

    def energy(self, parts: Sequence[EnergyPerDay]) -> EnergyPerDay:
        means = {
            name: self.mean([getattr(part, name) for part in parts])
            for name in ("served", "unserved", "losses", "unharvested")
        }
        return EnergyPerDay(taken=self.named([part.taken for part in parts]), **means)

    def at_stops(
        self, parts: Sequence[tuple[dict[str, Floats], Floats]]
    ) -> tuple[dict[str, Floats], Floats]:
        taken, wanted = zip(*parts, strict=True)
        kinds = {kind: self.side([part[kind] for part in taken]) for kind in taken[0]}
        return kinds, self.side(list(wanted))
