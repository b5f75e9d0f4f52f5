"""A step of the battery as the loads meet it, and what comes of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from sim.arrays import Floats, Ints
from sim.van.bank.lanes import some_of
from sim.van.bank.sources import of_lanes


@dataclass(frozen=True)
class Past:
    """The load before a step shorter than an hour: Peukert's law looks back an hour.

    Attributes
    ----------
    asked : ndarray, shape (G, L)
        Row k: what groups 0 to k asked of the bank in the hour, before the step. [Wh]
    step_hours : float
    """

    asked: Floats
    step_hours: float

    def mean(self, asked: Floats, group: int | Ints) -> Floats:
        """Mean load of the hour that ends with a step, down to a group of each lane. [W]"""
        before = self.asked[group, np.arange(self.asked.shape[1])]
        return np.asarray(before + self.step_hours * asked)

    def means(self, asked: Floats) -> Floats:
        """The same down to each group, `asked` of shape (G, L). [W]"""
        return np.asarray(self.asked + self.step_hours * asked)

    def some(self, which: Ints) -> Past:
        """The same for some of the lanes."""
        return Past(self.asked[:, which], self.step_hours)


class ByLane(NamedTuple):
    """Values of a step that few lanes are asked for.

    Attributes
    ----------
    values : ndarray, shape (L,), (D,) or (1,)
    draw : ndarray of int, shape (L,), or None
        Column of `values` that is each lane's; None: its own.
    """

    values: Floats
    draw: Ints | None

    def some(self, which: Ints) -> Floats:
        """Those of some lanes. shape (N,) or (1,)"""
        return some_of(self.values, which if self.draw is None else self.draw.take(which))


class Span(NamedTuple):
    """A step, or a part of it, through which powers are constant, as the loads meet it.

    Attributes
    ----------
    hours : float
        Its length.
    level : ndarray, shape (L,)
        Stored energy at its start. [Wh]
    wanted : ndarray, shape (G, L), (G, D) or (G, 1)
        Loads by group, essential first. [W]
    draw : ndarray of int, shape (L,), or None
        Column of `wanted` that is each lane's; None: its own.
    offered : ndarray, shape (L,) or (), or None
        By all sources together; None: nothing. [W]
    usable : ByLane or None
        Share of the capacity that the bank's temperature leaves, above 0; None: all of it.
    past : Past or None
        The load of the hour before; None: that of the span alone counts.
    """

    hours: float
    level: Floats
    wanted: Floats
    draw: Ints | None
    offered: Floats | None
    usable: ByLane | None
    past: Past | None

    def load(self) -> Floats:
        """All groups together. [W], shape (L,), or (1,) where all lanes want the same"""
        # Faster than a reduction over so few.
        load: Floats = self.wanted[0] + self.wanted[1]
        for more in self.wanted[2:]:
            load += more
        return of_lanes(load, self.draw) if len(load) > 1 else load

    def wanted_by(self, which: Ints) -> Floats:
        """Loads of some lanes, by group. [W], shape (G, N) or (G, 1)"""
        return some_of(self.wanted, which if self.draw is None else self.draw.take(which))

    def some(self, which: Ints) -> Span:
        """The same for some of the lanes."""
        return Span(
            self.hours,
            self.level.take(which),
            self.wanted_by(which),
            None,
            None if self.offered is None else some_of(self.offered, which),
            None if self.usable is None else ByLane(self.usable.some(which), None),
            None if self.past is None else self.past.some(which),
        )


class Lacking(NamedTuple):
    """What some lanes want and do not get, of some groups.

    Attributes
    ----------
    lanes : ndarray of int, shape (N,)
        Each of them once.
    wh : ndarray, shape (G, N)
        By group; nought of the groups that this is not of. [Wh]
    """

    lanes: Ints
    wh: Floats


@dataclass(slots=True)
class Spent:
    """After the loads of a step: energies in Wh, shape (L,)."""

    level: Floats
    losses: Floats
    surplus: Floats | None  # W offered beyond the loads; None: nothing was offered ...
    spare_h: Floats | None  # ... for this part of the step; None: for all of it
    lacking: tuple[Lacking, ...]  # no group of a lane is in two of them
