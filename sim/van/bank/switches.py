"""Which groups of loads are on in each lane of a battery."""

from __future__ import annotations

from collections.abc import Iterable
from copy import copy

import numpy as np

from sim.arrays import Floats, Ints
from sim.van.bank.floors import OUT_OF_REACH
from sim.van.bank.lanes import Lanes
from sim.van.bank.span import ByLane


class Switches:
    """How many groups of loads are on in each lane, and the levels at which that changes.

    Floors rise with the group, and so do the levels at which groups come back: a group is on
    only while those before it are.

    Attributes
    ----------
    on : ndarray of int, shape (L,)
        0 to G.
    floor : ndarray, shape (L,)
        Of the last group that is on, as the bank's lowest temperature would raise it; -inf when
        none is. [Wh]
    off : ndarray of int, shape (N,)
        Lanes in which a group is off: mostly few, so that what follows is kept of them alone.
    fed : ndarray, shape (G, N)
        1 where a group is on, else 0: a factor of its load.
    """

    def __init__(self, lanes: Lanes, level: Floats, least_usable: float | None = None) -> None:
        count, groups, width = len(level), len(lanes.floors), lanes.floors.shape[1]
        edge = np.full((1, width), np.inf)
        floors = np.concatenate([-edge, lanes.floors])
        backs = np.concatenate([lanes.back, edge])
        ranks = np.arange(groups)[:, None]
        fed = np.broadcast_to(
            (np.arange(groups + 1) > ranks)[:, :, None], (groups, groups + 1, width)
        )
        reached = np.where(fed, lanes.floors[:, None], OUT_OF_REACH)
        # By how many are on: what depends on it.
        watched = floors if least_usable is None else lanes.raised(floors, np.array(least_usable))
        self._floor_by_on, self._watched_by_on = _flat(floors), _flat(watched)
        self._off_by_on = _flat(np.concatenate([fed, backs[None]]))
        self._groups_by_on = _flat(np.concatenate([fed, reached]))
        self._groups, self._width, self._lanes = groups, width, lanes
        self._cut_off: list[Ints] = []
        self._own: Ints | None = None
        self.on = np.full(count, groups)
        self.floor = np.empty(count)
        self.settle(np.arange(count), np.add.reduce(level >= lanes.floors, axis=0))

    def newly_cut_off(self) -> Ints | None:
        """Lanes in which the essential loads went off since this was last asked."""
        if not self._cut_off:
            return None
        first, *others = self._cut_off
        self._cut_off = []
        return np.concatenate([first, *others]) if others else first

    def come_back(self, level: Floats, usable: ByLane | None) -> None:
        """Switch groups on where a step begins above their level of return [Wh]; `usable` as of
        `Span`."""
        off = self.off
        high = level.take(off) >= self._back
        if not np.count_nonzero(high):
            return
        which = off[high]
        lanes = self._lanes.some(which)
        backs = lanes.back
        if usable is not None:
            backs = lanes.raised(backs, usable.some(which))
        on = np.add.reduce(level.take(which) >= backs, axis=0)
        if usable is not None:
            # The cold keeps some of them off.
            ready = on > self.on.take(which)
            which, on = which[ready], on[ready]
        if which.size:
            self.settle(which, on)

    def floors_of(self, which: Ints) -> Floats:
        """Floors of the last groups that are on in some lanes, at any temperature. [Wh]"""
        return self._of(self._floor_by_on, which, self.on.take(which))

    def groups(self, which: Ints) -> tuple[Ints, Floats, Floats]:
        """How many groups are on in some lanes, which, and their floors, as of `descend`."""
        on = self.on.take(which)
        rows = self._of(self._groups_by_on, which, on)
        return on, rows[: self._groups], rows[self._groups :]

    def settle(self, which: Ints, on: Ints) -> None:
        """Take over the groups of some lanes."""
        self.on[which] = on
        self.floor[which] = self._of(self._watched_by_on, which, on)
        if np.count_nonzero(on) < len(on):
            self._cut_off.append(which[on == 0])
        self._look()

    def some(self, which: Ints) -> Switches:
        """The same for some of the lanes, whose changes are taken over by `take_over`."""
        own = copy(self)
        own._own = which if self._own is None else self._own.take(which)
        own._lanes, own._cut_off = self._lanes.some(which), []
        own.on, own.floor = self.on.take(which), self.floor.take(which)
        own._look()
        return own

    def take_over(self, groups: Iterable[tuple[Ints, Switches]]) -> None:
        """Take over what became of groups of lanes; what was cut off they have told."""
        for which, own in groups:
            self.on[which], self.floor[which] = own.on, own.floor
        self._look()

    def _look(self) -> None:
        """See which lanes have a group off."""
        self.off = off = (self.on < self._groups).nonzero()[0]
        rows = self._of(self._off_by_on, off, self.on.take(off))
        self.fed, self._back = rows[:-1], rows[-1]

    def _of(self, by_on: Floats, which: Ints, on: Ints) -> Floats:
        """Values of some lanes that have so many groups on."""
        column = on
        if self._width > 1:
            column = on * self._width + (which if self._own is None else self._own.take(which))
        return by_on.take(column, axis=-1)


def _flat(by_on: Floats) -> Floats:
    """Values of shape (..., G + 1, 1 or L) in one row for each of the first axes."""
    return np.ascontiguousarray(by_on.reshape(*by_on.shape[:-2], -1))
