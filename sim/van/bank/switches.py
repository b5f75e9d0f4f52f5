"""Which groups of loads are on in each lane of a battery."""

from __future__ import annotations

import numpy as np

from sim.arrays import Floats, Ints
from sim.van.bank.lanes import Lanes, some_of


class Switches:
    """How many groups of loads are on in each lane, and the levels at which that changes.

    Floors rise with the group, and so do the levels at which groups come back: a group is on
    only while those before it are.

    Attributes
    ----------
    on : ndarray of int, shape (L,)
        0 to G.
    floor, floor_depth : ndarray, shape (L,)
        Floor of the last group that is on, -inf when none is, and how far it lies below full.
        [Wh]
    off : ndarray of int, shape (N,)
        Lanes in which a group is off: mostly few, so that what follows is kept of them alone.
    fed : ndarray, shape (G, N)
        1 where a group is on, else 0: a factor of its load.
    """

    def __init__(self, lanes: Lanes, level: Floats) -> None:
        count, groups, width = len(level), len(lanes.floors), lanes.floors.shape[1]
        edge = np.full((1, width), np.inf)
        floors = np.concatenate([-edge, lanes.floors])
        backs = np.concatenate([lanes.back, edge])
        fed = np.arange(groups + 1) > np.arange(groups)[:, None]
        # By how many are on: the rows of what depends on it, of all lanes and of those in `off`.
        self._all_by_on = np.stack([floors, lanes.full - floors])
        self._off_by_on = np.concatenate(
            [
                np.broadcast_to(fed[:, :, None], (groups, groups + 1, width)),
                np.stack([backs, lanes.full - backs]),
            ]
        )
        self._lanes = lanes
        self._cut_off: list[Ints] = []
        self.on = np.full(count, groups)
        self._rows = np.empty((2, count))
        self.floor, self.floor_depth = self._rows
        self.settle(np.arange(count), np.add.reduce(level >= lanes.floors, axis=0))

    def newly_cut_off(self) -> Ints | None:
        """Lanes in which the essential loads went off since this was last asked."""
        if not self._cut_off:
            return None
        lanes = np.concatenate(self._cut_off)
        self._cut_off = []
        return lanes

    def come_back(self, level: Floats, usable: Floats | None) -> None:
        """Switch groups on where a step begins above their level of return [Wh]; `usable` as of
        `Span`."""
        off, back = self.off, self._back
        if usable is not None:
            full = some_of(self._lanes.full, off)
            back = full - self._back_depth * some_of(usable, off)
        ready = (level.take(off) >= back).nonzero()[0]
        if not ready.size:
            return
        which = off.take(ready)
        lanes = self._lanes.some(which)
        backs = lanes.back
        if usable is not None:
            backs = lanes.raised(backs, some_of(usable, which))
        self.settle(which, np.add.reduce(level.take(which) >= backs, axis=0))

    def settle(self, which: Ints, on: Ints) -> None:
        """Take over the groups of some lanes."""
        self.on[which] = on
        self._rows[:, which] = self._rows_of(self._all_by_on, which, on)
        cut_off = (on == 0).nonzero()[0]
        if cut_off.size:
            self._cut_off.append(which.take(cut_off))
        self.off = off = (self.on < len(self._lanes.floors)).nonzero()[0]
        rows = self._rows_of(self._off_by_on, off, self.on.take(off))
        self.fed, self._back, self._back_depth = rows[:-2], rows[-2], rows[-1]

    def _rows_of(self, by_on: Floats, which: Ints, on: Ints) -> Floats:
        """Rows of some lanes that have so many groups on."""
        return by_on[:, :, 0].take(on, axis=1) if by_on.shape[2] == 1 else by_on[:, on, which]
