"""A step of the battery as the loads meet it, and what comes of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from sim.arrays import Floats, Ints
from sim.van.bank.lanes import some_of


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


class Span(NamedTuple):
    """A step, or a part of it, through which powers are constant, as the loads meet it.

    Attributes
    ----------
    hours : float
        Its length.
    level : ndarray, shape (L,)
        Stored energy at its start. [Wh]
    wanted : ndarray, shape (G, L) or (G, 1)
        Loads by group, essential first. [W]
    offered : ndarray, shape (L,) or (), or None
        By all sources together; None: nothing. [W]
    usable : ndarray, shape (L,) or (), or None
        Share of the capacity that the bank's temperature leaves, above 0; None: all of it.
    past : Past or None
        The load of the hour before; None: that of the span alone counts.
    """

    hours: float
    level: Floats
    wanted: Floats
    offered: Floats | None
    usable: Floats | None
    past: Past | None

    def some(self, which: Ints) -> Span:
        """The same for some of the lanes."""
        return Span(
            self.hours,
            self.level[which],
            some_of(self.wanted, which),
            None if self.offered is None else some_of(self.offered, which),
            None if self.usable is None else some_of(self.usable, which),
            None if self.past is None else self.past.some(which),
        )


class Lacking(NamedTuple):
    """What some lanes want and do not get.

    Attributes
    ----------
    lanes : ndarray of int, shape (N,)
        Each of them once.
    wh : ndarray, shape (G, N)
        By group. [Wh]
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
    lacking: Lacking | None  # None: everything was served
