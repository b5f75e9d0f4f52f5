"""What loads want and sources offer over a trip, lane by lane."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import chain
from typing import TypeVar

import numpy as np

from sim.arrays import Floats, Ints
from sim.van.bank.apart import Parted, Parts
from sim.van.bank.lanes import Bank
from sim.van.bank.running import Runner
from sim.van.bank.sources import NOTHING, SUN, Source, of_lanes
from sim.van.bank.span import ByLane
from sim.van.bank.substeps import Feed

_T = TypeVar("_T")


@dataclass(frozen=True)
class Offers:
    """What the loads want and the sources offer, mean watts over each step.

    Attributes
    ----------
    wanted_w : ndarray, shape (G, H, L) or (G, H, 1)
        Loads by group, essential first, with a floor of the bank for each. [W]
    sources : tuple of Source
        In the order of use.
    charge_allowed : ndarray, shape (H, L) or (H, 1)
        Share of the charge limit that the bank's temperature allows, 0 to 1.
    usable : ndarray, shape (H, L) or (H, 1), optional
        Share of the capacity that the bank's temperature leaves, above 0; all of it if absent.
    pace : ndarray, shape (H, L) or (H, 1), optional
        Accepted within the taper over what a warm bank accepts there, above 0; 1 if absent.
    beyond_w : ndarray, shape (G, H, L), optional
        Wanted by group besides, where neither bank nor sources reach it: never served. [W]
    parts : mapping of int to tuple of Substep
        Steps that are done in parts; the others are done at once.
    apart : mapping of int to tuple of Parted
        Steps that not all lanes do in the same parts.
    draw : ndarray of int, shape (L,), optional
        Where lanes share draws: the column of the arrays above, but for the sources', that is
        each lane's.
    wanted_by_draw : bool
        Whether that holds for `wanted_w` too.
    """

    wanted_w: Floats
    sources: tuple[Source, ...]
    charge_allowed: Floats
    usable: Floats | None = None
    pace: Floats | None = None
    beyond_w: Floats | None = None
    parts: Parts = field(default_factory=dict)
    apart: Mapping[int, tuple[Parted, ...]] = field(default_factory=dict)
    draw: Ints | None = None
    wanted_by_draw: bool = True

    @property
    def steps(self) -> int:
        """Number of steps, H."""
        return int(self.wanted_w.shape[1])

    @cached_property
    def suns(self) -> tuple[int, ...]:
        """Which of the sources are the sun's."""
        return tuple(k for k, source in enumerate(self.sources) if source.kind == SUN)

    @cached_property
    def kind(self) -> Hashable:
        """The same for offers that may lie side by side, lane for lane."""
        absent = self.usable is None, self.pace is None, self.beyond_w is None
        return self.steps, tuple(source.runs_as for source in self.sources), absent

    @cached_property
    def _most_w(self) -> Floats:
        """The most that each source offers to any lane, step by step. [W], shape (H, S)"""
        most = [source.offered_w.max(axis=1) for source in self.sources]
        return np.stack(most, axis=1) if most else np.zeros((self.steps, 0))

    @cached_property
    def offering(self) -> list[tuple[bool, ...]]:
        """Whether each source offers anything to any lane, step by step."""
        return [tuple(offers) for offers in (self._most_w > 0.0).tolist()]

    @cached_property
    def _most_together_w(self) -> list[float]:
        """All sources together offer no more to any lane, step by step. [W]"""
        most: list[float] = self._most_w.sum(axis=1).tolist()
        return most

    @cached_property
    def _all_allowed(self) -> list[bool]:
        """Whether all lanes may charge with their whole limit, step by step."""
        allowed: list[bool] = (self.charge_allowed.min(axis=1) == 1.0).tolist()
        return allowed

    @cached_property
    def least_usable(self) -> float:
        """The least share of the capacity that the temperature ever leaves a lane."""
        return 1.0 if self.usable is None else float(self.usable.min())

    def most_wanted_w(self) -> float:
        """No lane ever wants more. [W]"""
        more = [0.0 * self.wanted_w[:, 0, :1]]
        groups = chain(self.parts.values(), (x.parts for x in chain(*self.apart.values())))
        more += [part.more_w for part in chain(*groups)]
        most = self.wanted_w.max(axis=(1, 2)) + np.max(more, axis=(0, 2))
        return float(most.sum())

    def feed(self, step: int) -> Feed:
        """What acts on the bank in a step."""
        draw, offering = self.draw, self.offering[step]
        return Feed(
            self.wanted_w[:, step],
            draw if self.wanted_by_draw else None,
            tuple(
                [
                    source.offers(step) if offers else NOTHING
                    for source, offers in zip(self.sources, offering, strict=True)
                ]
            ),
            offering,
            self._most_together_w[step],
            None if self._all_allowed[step] else of_lanes(self.charge_allowed[step], draw),
            None if self.usable is None else ByLane(self.usable[step], draw),
            None if self.pace is None else of_lanes(self.pace[step], draw),
            None,
        )

    def runners(self, count: int, step_hours: float) -> dict[int, Runner]:
        """Who runs the sources that do not run by themselves, by their place in the list."""
        found = ((k, x.runner(count, step_hours)) for k, x in enumerate(self.sources))
        return {k: runner for k, runner in found if runner is not None}

    def lanes(self, bank: Bank) -> int:
        """Number of lanes, L, of these offers and a bank together."""
        if self.draw is not None:
            return len(self.draw)
        always = (*(source.offered_w for source in self.sources), self.charge_allowed)
        arrays = (*always, *(array for array in (self.usable, self.pace) if array is not None))
        shape = np.broadcast_shapes(
            self.wanted_w.shape[2:],
            *(array.shape[1:] for array in arrays),
            np.shape(bank.capacity_wh),
        )
        return int(shape[0])

    def between(self, first: int, last: int) -> Offers:
        """The same from a step to before another."""

        def part(values: Floats | None) -> Floats | None:
            return None if values is None else values[first:last]

        return replace(
            self,
            wanted_w=self.wanted_w[:, first:last],
            sources=tuple(source.between(first, last) for source in self.sources),
            charge_allowed=self.charge_allowed[first:last],
            usable=part(self.usable),
            pace=part(self.pace),
            beyond_w=None if self.beyond_w is None else self.beyond_w[:, first:last],
            parts=_between(self.parts, first, last),
            apart=_between(self.apart, first, last),
        )


def _between(of_steps: Mapping[int, _T], first: int, last: int) -> dict[int, _T]:
    return {step - first: value for step, value in of_steps.items() if first <= step < last}
