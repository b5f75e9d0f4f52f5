"""A step of the lanes whose charge passes a floor: groups of loads go off one after the other."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.sky.track import Floats
from sim.van.bank_lanes import RANKS, Lanes, rate_share


@dataclass
class Spent:
    """After the loads of a step: energies in Wh, shape (L,)."""

    level: Floats
    losses: Floats
    surplus: Floats  # W offered beyond the loads ...
    spare_h: Floats | None  # ... for this part of the step; None: for all of it
    unserved: list[Floats | None]  # by group; None: everything was served


@dataclass(frozen=True)
class Past:
    """The load before a step shorter than an hour: Peukert's law looks back an hour.

    Attributes
    ----------
    asked : ndarray, shape (3, L)
        Row k: what groups 0 to k asked of the bank in the hour, before the step. [Wh]
    step_hours : float
    """

    asked: Floats
    step_hours: float

    def mean(self, asked: Floats, group: int | NDArray[np.int64]) -> Floats:
        """Mean load of the hour that ends with a step, down to a group of each lane. [W]"""
        before = self.asked[group, np.arange(self.asked.shape[1])]
        return np.asarray(before + self.step_hours * asked)

    def means(self, asked: Floats) -> Floats:
        """The same down to each group, `asked` of shape (3, L). [W]"""
        return np.asarray(self.asked + self.step_hours * asked)

    def some(self, which: NDArray[np.int64]) -> Past:
        """The same for some of the lanes."""
        return Past(self.asked[:, which], self.step_hours)


def descend(
    lanes: Lanes,
    level: Floats,
    on: NDArray[np.int64],
    wanted: Floats,
    offered: Floats,
    dt: float,
    usable: Floats | None,
    past: Past | None,
) -> tuple[Spent, NDArray[np.int64]]:
    """Feed the loads for a step, switching groups off as their floors are reached.

    Parameters
    ----------
    lanes : Lanes
    level : ndarray, shape (L,)
        Stored energy at the start. [Wh]
    on : ndarray of int, shape (L,)
        Groups that are on; those above their level of return come back first.
    wanted, offered, dt, usable, past
        As in `bank_step.serve`.

    Returns
    -------
    Spent
    ndarray of int, shape (L,)
        Groups that are on afterwards.

    Notes
    -----
    The floors rise with the groups, so a step has at most four spells: with three groups on,
    two, one and none. Each lasts as long as its draw takes from the floor above to its own; one
    in which the sources carry the loads lasts to the end of the step.
    """
    floors, back = lanes.floors, lanes.back
    if usable is not None:
        floors, back = lanes.raised(floors, usable), lanes.raised(back, usable)
    on = np.maximum(on, np.add.reduce(level >= back, axis=0))
    own = wanted * (on > RANKS)
    # Row k of the spells: with the first 3 - k groups on.
    load = np.zeros((4, len(level)))
    np.cumsum(own, axis=0, out=load[2::-1])
    deficit = load - offered
    given = np.minimum(np.maximum(deficit, 0.0), lanes.discharge_limit)
    lost = lanes.r * given
    lost *= given
    drain = given + lost
    if lanes.peukert > 1.0:
        mean = given[2::-1] if past is None else past.means(given[2::-1])
        floors = lanes.raised(floors, rate_share(mean, lanes.rated_w, lanes.peukert))
    spell, ends = _spells(level, floors, drain, deficit, dt)
    # A group whose floor is reached stays off until the charge is well above it again.
    on = np.minimum(on, np.add.reduce(ends[::-1] >= dt, axis=0))
    # At most one spell of a lane is one in which something is left over.
    idle = (deficit <= 0.0) * spell
    unserved = np.maximum(wanted * dt - own * ends[::-1], 0.0)
    if (deficit > lanes.discharge_limit).any():
        _cut_short(unserved, own, deficit - given, spell)
    drain *= spell
    lost *= spell
    deficit *= idle > 0.0
    after, losses, surplus, spare_h = (
        np.add.reduce(each, axis=0) for each in (drain, lost, deficit, idle)
    )
    return Spent(level - after, losses, -surplus, spare_h, list(unserved)), on


def _spells(
    level: Floats, floors: Floats, drain: Floats, deficit: Floats, dt: float
) -> tuple[Floats, Floats]:
    """How long each spell lasts, shape (4, L), and when those with a group on end, (3, L). [h]"""
    room = level - floors[::-1]
    np.minimum(room[1:], floors[:0:-1] - floors[1::-1], out=room[1:])
    lasts = np.maximum(room, 0.0)
    lasts /= np.maximum(drain[:3], 1e-9)
    lasts[deficit[:3] <= 0.0] = np.inf
    ends = np.minimum(np.cumsum(lasts, axis=0), dt)
    spell = np.empty_like(drain)
    spell[:3], spell[3] = ends, dt
    spell[1:] -= ends
    return spell, ends


def _cut_short(unserved: Floats, own: Floats, short: Floats, spell: Floats) -> None:
    """What the bank's current limit leaves unserved in each spell, the last group first; adds
    it to `unserved`. [Wh]"""
    for row, rest in enumerate(np.maximum(short[:3], 0.0)):
        for rank in range(2 - row, -1, -1):
            lacking = np.minimum(rest, own[rank])
            unserved[rank] += lacking * spell[row]
            rest = rest - lacking
