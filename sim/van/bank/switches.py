"""Which groups of loads are on in each lane of a battery."""

from __future__ import annotations

import numpy as np

from sim.arrays import Floats, Ints
from sim.van.bank.floors import OUT_OF_REACH
from sim.van.bank.lanes import Lanes, some_of


class Switches:
    """How many groups of loads are on in each lane, and the levels at which that changes.

    Floors rise with the group, and so do the levels at which groups come back: a group is on
    only while those before it are.

    Attributes
    ----------
    on : ndarray of int, shape (L,)
        0 to G.
    floor : ndarray, shape (L,)
        Of the last group that is on; -inf when none is. [Wh]
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
        ranks = np.arange(groups)[:, None]
        fed = np.broadcast_to(
            (np.arange(groups + 1) > ranks)[:, :, None], (groups, groups + 1, width)
        )
        reached = np.where(fed, lanes.floors[:, None], OUT_OF_REACH)
        # By how many are on: what depends on it.
        self._floor_by_on = floors
        self._off_by_on = np.concatenate([fed, backs[None]])
        self._groups_by_on = np.concatenate([fed, reached])
        self._lanes = lanes
        self._cut_off: list[Ints] = []
        self.on = np.full(count, groups)
        self.floor = np.empty(count)
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
            back = self._lanes.some(off).raised(back, some_of(usable, off))
        ready = (level[off] >= back).nonzero()[0]
        if not ready.size:
            return
        which = off[ready]
        lanes = self._lanes.some(which)
        backs = lanes.back
        if usable is not None:
            backs = lanes.raised(backs, some_of(usable, which))
        self.settle(which, np.add.reduce(level[which] >= backs, axis=0))

    def groups(self, which: Ints) -> tuple[Ints, Floats, Floats]:
        """How many groups are on in some lanes, which, and their floors, as of `descend`."""
        on = self.on[which]
        rows = _by_on(self._groups_by_on, which, on)
        fed, floors = rows[: len(rows) // 2], rows[len(rows) // 2 :]
        return on, fed, floors

    def settle(self, which: Ints, on: Ints) -> None:
        """Take over the groups of some lanes."""
        self.on[which] = on
        self.floor[which] = _by_on(self._floor_by_on, which, on)
        cut_off = (on == 0).nonzero()[0]
        if cut_off.size:
            self._cut_off.append(which[cut_off])
        self.off = off = (self.on < len(self._lanes.floors)).nonzero()[0]
        rows = _by_on(self._off_by_on, off, self.on[off])
        self.fed, self._back = rows[:-1], rows[-1]


def _by_on(values: Floats, which: Ints, on: Ints) -> Floats:
    """Values, of shape (..., G + 1, 1 or L), of some lanes that have so many groups on."""
    if values.shape[-1] == 1:
        return values[..., 0].take(on, axis=-1)
    return np.asarray(values[..., on, which])
