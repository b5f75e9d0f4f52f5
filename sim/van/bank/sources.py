"""A source of energy, as the battery and all that comes after it see it."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from sim.arrays import Floats, Ints
from sim.van.bank.running import ByCharge, Fuel, Runner

# Kinds that others ask for by name. What is left of the sun is lost: it is recorded by its cause.
SUN, DRIVE, SHORE = "sun", "drive", "shore"
# What a source offers to all lanes while it offers nothing. [W]
NOTHING = np.zeros(())


@dataclass(frozen=True)
class Source:
    """One source over the H steps of a trip, in D draws or L lanes; mean watts over each step.

    A list of sources is in the order of use: the first is used first and gives way last.

    Attributes
    ----------
    name : str
        In plain words.
    kind : str
        Its key in tables and JSON, where sources of one kind are added up.
    offered_w : ndarray, shape (H, L) or (H, 1)
        At the battery's terminals. [W]
    share : ndarray, shape (H,), optional
        Part of each step in which it runs; where it starts or stops within a step, the battery
        does that step in parts. None for one whose mean holds for the whole step.
    direct_w : ndarray, shape (H, L) or (H, 1), optional
        Carried to appliances past the battery. [W]
    lost_w : ndarray, shape (H, L) or (H, 1), optional
        What it had and its controllers' limit lost. [W]
    starts : ByCharge, optional
        What starts and stops it, if the charge does; `share` and `offered_w` then say when it
        may run and what it offers while it does.
    fuel : Fuel, optional
        What it burns.
    column : ndarray of int, shape (L,), optional
        Column of `offered_w` that is each lane's; its own if absent.
    """

    name: str
    kind: str
    offered_w: Floats
    share: Floats | None = None
    direct_w: Floats | None = None
    lost_w: Floats | None = None
    starts: ByCharge | None = None
    fuel: Fuel | None = None
    column: Ints | None = None

    def offers(self, step: int) -> Floats:
        """What it offers to each lane in a step. [W], shape (L,) or ()"""
        return of_lanes(self.offered_w[step], self.column)

    @property
    def runs_as(self) -> Hashable:
        """The same for sources that may lie side by side, and differ in what they offer alone.

        When one runs is in what it offers, but for one that starts by itself or burns fuel.
        """
        if self.starts is None and self.fuel is None:
            return self.kind
        share = None if self.share is None else self.share.tobytes()
        fuel = None
        if self.fuel is not None:
            values = (getattr(self.fuel, x.name) for x in fields(self.fuel))
            fuel = tuple(x.tobytes() if isinstance(x, np.ndarray) else x for x in values)
        return self.kind, share, self.starts, fuel

    def runner(self, count: int, step_hours: float) -> Runner | None:
        """Who runs it through the hour loop over so many lanes, if it does not run by itself."""
        if self.starts is None and self.fuel is None:
            return None
        share = np.ones(len(self.offered_w)) if self.share is None else self.share
        return Runner(share, self.starts, self.fuel, count=count, step_hours=step_hours)

    def on_lanes(self, draw: Ints) -> Source:
        """What of it the bank sees, where each lane has the draw given for it."""
        column = draw if self.column is None else self.column[draw]
        return replace(self, direct_w=None, lost_w=None, column=column)

    def between(self, first: int, last: int) -> Source:
        """The same from a step to before another."""

        def part(values: Floats | None) -> Floats | None:
            return None if values is None else values[first:last]

        return replace(
            self,
            offered_w=self.offered_w[first:last],
            share=part(self.share),
            direct_w=part(self.direct_w),
            lost_w=part(self.lost_w),
            fuel=None
            if self.fuel is None
            else replace(self.fuel, filled=self.fuel.filled[first:last]),
        )


def of_lanes(values: Floats, column: Ints | None) -> Floats:
    """Values of a step on the lanes, whose columns are given; what is the same for all stays one
    value: one column of many rows, or a number of one."""
    if values.shape[-1] == 1:
        return values.reshape(()) if values.ndim == 1 else values
    return values if column is None else values.take(column, axis=-1)


def of_kind(sources: Sequence[Source], kind: str) -> Floats:
    """What the sources of a kind offer together. [W]"""
    return together([source.offered_w for source in sources if source.kind == kind])


def together(watts: Sequence[Floats]) -> Floats:
    """What several sources offer, added in their order. [W]"""
    if not watts:
        return np.zeros(1)
    total = watts[0]
    for more in watts[1:]:
        total = total + more
    return total
