"""One step of the battery: what the loads draw, and which groups of them go off.

Within a step powers are constant and the step is solved exactly: loads run until the charge
reaches the floor of their group. Most lanes of most steps touch no floor and are done in a few
array operations (`serve`); the others go floor by floor (`descend`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.arrays import Bools, Floats, Ints
from sim.van.bank.lanes import Lanes, rate_share, some_of


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


def descend(
    lanes: Lanes,
    level: Floats,
    on: Ints,
    wanted: Floats,
    offered: Floats,
    dt: float,
    usable: Floats | None,
    past: Past | None,
) -> tuple[Spent, Ints]:
    """Feed the loads for a step, switching groups off as their floors are reached.

    Parameters
    ----------
    lanes : Lanes
    level : ndarray, shape (L,)
        Stored energy at the start. [Wh]
    on : ndarray of int, shape (L,)
        Groups that are on; those above their level of return come back first.
    wanted, offered, dt, usable, past
        As in `serve`.

    Returns
    -------
    Spent
    ndarray of int, shape (L,)
        Groups that are on afterwards.

    Notes
    -----
    The floors rise with the groups, so a step of G groups has at most G + 1 spells: with all of
    them on, with all but the last, and so on down to none. Each lasts as long as its draw takes
    from the floor above to its own; one in which the sources carry the loads lasts to the end of
    the step.
    """
    floors, back = _in_the_cold(lanes, lanes.floors, lanes.back, usable)
    on = np.maximum(on, np.add.reduce(level >= back, axis=0))
    own = wanted * (on > _ranks(len(floors)))
    # Row k of the spells: with the first G - k groups on.
    load = np.zeros((len(floors) + 1, len(level)))
    np.cumsum(own, axis=0, out=load[-2::-1])
    deficit = load - offered
    given = np.minimum(np.maximum(deficit, 0.0), lanes.discharge_limit)
    lost = lanes.r * given
    lost *= given
    drain = given + lost
    if lanes.peukert > 1.0:
        mean = given[-2::-1] if past is None else past.means(given[-2::-1])
        floors = lanes.raised(floors, rate_share(mean, lanes.rated_w, lanes.peukert))
    spell, ends = _spells(level, floors, drain, deficit, dt)
    # A group whose floor is reached stays off until the charge is well above it again.
    on = np.minimum(on, np.add.reduce(ends[::-1] >= dt, axis=0))
    unserved = np.maximum(wanted * dt - own * ends[::-1], 0.0)
    if (deficit > lanes.discharge_limit).any():
        _cut_short(unserved, own, deficit - given, spell)
    after, losses, lacking, spare_h = _over_spells(drain, lost, deficit, spell)
    return Spent(level - after, losses, -lacking, spare_h, list(unserved)), on


def _ranks(groups: int) -> Ints:
    """Number of each group, in a column. shape (G, 1)"""
    return np.arange(groups)[:, None]


def _in_the_cold(
    lanes: Lanes, floor: Floats, back: Floats, usable: Floats | None
) -> tuple[Floats, Floats]:
    """Floors and levels of return, raised by what the bank's temperature takes. [Wh]"""
    if usable is None:
        return floor, back
    return lanes.raised(floor, usable), lanes.raised(back, usable)


def _over_spells(
    drain: Floats, lost: Floats, deficit: Floats, spell: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """Energy drained and lost in all spells [Wh]; deficit of the spell with power to spare, below
    0 [W], and how long that lasts [h]. Overwrites all but `spell`."""
    # At most one spell of a lane is one in which something is left over.
    idle = (deficit <= 0.0) * spell
    drain *= spell
    lost *= spell
    deficit *= idle > 0.0
    after, losses, lacking, spare_h = (
        np.add.reduce(each, axis=0) for each in (drain, lost, deficit, idle)
    )
    return after, losses, lacking, spare_h


def _spells(
    level: Floats, floors: Floats, drain: Floats, deficit: Floats, dt: float
) -> tuple[Floats, Floats]:
    """How long each spell lasts, shape (G + 1, L), and when those with a group on end, (G, L).

    [h]
    """
    room = level - floors[::-1]
    np.minimum(room[1:], floors[:0:-1] - floors[-2::-1], out=room[1:])
    lasts = np.maximum(room, 0.0)
    lasts /= np.maximum(drain[:-1], 1e-9)
    lasts[deficit[:-1] <= 0.0] = np.inf
    ends = np.minimum(np.cumsum(lasts, axis=0), dt)
    spell = np.empty_like(drain)
    spell[:-1], spell[-1] = ends, dt
    spell[1:] -= ends
    return spell, ends


def _cut_short(unserved: Floats, own: Floats, short: Floats, spell: Floats) -> None:
    """What the bank's current limit leaves unserved in each spell, the last group first; adds
    it to `unserved`. [Wh]"""
    for row, rest in enumerate(np.maximum(short[:-1], 0.0)):
        for rank in range(len(own) - 1 - row, -1, -1):
            lacking = np.minimum(rest, own[rank])
            unserved[rank] += lacking * spell[row]
            rest = rest - lacking


class Switches:
    """How many groups of loads are on in each lane, and the levels at which that changes.

    Floors rise with the group, and so do the levels at which groups come back: a group is on
    only while those before it are.

    Attributes
    ----------
    on : ndarray of int, shape (L,)
        0 to G.
    fed : ndarray, shape (G, L)
        1 where a group is on, else 0: a factor of its load.
    least : int
        How many are on in every lane.
    floor : ndarray, shape (L,)
        Floor of the last group that is on; -inf when none is. [Wh]
    back : ndarray, shape (L,)
        Level at which the first group that is off comes back; inf when none is. [Wh]
    """

    def __init__(self, lanes: Lanes, level: Floats) -> None:
        edge = np.full((1, lanes.floors.shape[1]), np.inf)
        self._floors = np.concatenate([-edge, lanes.floors])
        self._backs = np.concatenate([lanes.back, edge])
        groups, count = len(lanes.floors), len(level)
        self.on = np.full(count, groups)
        self.fed = np.ones((groups, count))
        self.least = groups
        self.floor, self.back = np.empty(count), np.empty(count)
        self.settle(np.arange(count), np.add.reduce(level >= lanes.floors, axis=0))

    @property
    def all_on(self) -> bool:
        """Whether every group is on in every lane."""
        return self.least == len(self.fed)

    def cut_off(self) -> Bools | None:
        """Lanes in which the essential loads are off, None where that is none of them."""
        return np.equal(self.on, 0) if self.least == 0 else None

    def settle(self, which: Ints, on: Ints) -> None:
        """Take over the groups of some lanes after a step."""
        own = which if self._floors.shape[1] > 1 else 0
        self.on[which] = on
        self.fed[:, which] = on > _ranks(len(self.fed))
        self.least = int(self.on.min())
        self.floor[which] = self._floors[on, own]
        self.back[which] = self._backs[on, own]


def serve(
    lanes: Lanes,
    level: Floats,
    switches: Switches,
    wanted: Floats,
    offered: Floats,
    dt: float,
    usable: Floats | None = None,
    past: Past | None = None,
) -> Spent:
    """Feed the loads for a step; updates `switches`.

    Parameters
    ----------
    lanes : Lanes
    level : ndarray, shape (L,)
        Stored energy at the start. [Wh]
    switches : Switches
    wanted : ndarray, shape (G, L) or (G, 1)
        Loads by group, essential first. [W]
    offered : ndarray, shape (L,) or (1,)
        By all sources together. [W]
    dt : float
        Length of the step. [h]
    usable : ndarray, shape (L,) or (1,), optional
        Share of the capacity that the bank's temperature leaves, above 0; all of it if absent.
    past : Past, optional
        The load of the hour before; that of the step alone if absent.

    Returns
    -------
    Spent

    Notes
    -----
    Most lanes of most steps pass no floor either way: they are done at once. The others go
    down the floors one by one in `descend`.
    """
    # One sky or one demand may serve all lanes: what is asked of the bank is each lane's own.
    load, unserved = _fed(switches, wanted, dt)
    asked = np.subtract(load, offered, out=np.empty_like(level))
    given = np.maximum(asked, 0.0)
    surplus = np.subtract(given, asked, out=asked)
    after, lost = _drawn(lanes, level, given, dt)
    floor, back = _in_the_cold(lanes, switches.floor, switches.back, usable)
    if lanes.peukert > 1.0:
        last = np.maximum(switches.on - 1, 0)
        load = given if past is None else past.mean(given, last)
        floor = _floor_under_load(lanes, floor, after, load)
    passes = after < floor
    passes |= given > lanes.discharge_limit
    if not switches.all_on:
        passes |= level >= back
    spent = Spent(after, lost, surplus, None, unserved)
    rest = np.flatnonzero(passes)
    if rest.size:
        _pass_floors(spent, lanes, level, switches, wanted, offered, dt, usable, past, rest)
    return spent


def _drawn(lanes: Lanes, level: Floats, given: Floats, dt: float) -> tuple[Floats, Floats]:
    """The level after a step that gives the same power throughout, and its losses. [Wh]"""
    lost = given * given
    lost *= lanes.r
    after = given + lost
    if dt != 1.0:
        after *= dt
        lost *= dt
    return np.subtract(level, after, out=after), lost


def _fed(switches: Switches, wanted: Floats, dt: float) -> tuple[Floats, list[Floats | None]]:
    """Loads of the groups that are on [W], and what the others do without, by group [Wh]."""
    unserved: list[Floats | None] = [None] * len(wanted)
    if switches.all_on:
        return sum(wanted[1:], wanted[0]), unserved
    fed = [
        load if group < switches.least else load * switches.fed[group]
        for group, load in enumerate(wanted)
    ]
    for group in range(switches.least, len(wanted)):
        unserved[group] = (wanted[group] - fed[group]) * dt
    return sum(fed[1:], fed[0]), unserved


def _pass_floors(
    spent: Spent,
    lanes: Lanes,
    level: Floats,
    switches: Switches,
    wanted: Floats,
    offered: Floats,
    dt: float,
    usable: Floats | None,
    past: Past | None,
    rest: Ints,
) -> None:
    """Do the lanes that pass a floor anew, floor by floor."""
    part, on = descend(
        lanes.some(rest),
        level[rest],
        switches.on[rest],
        some_of(wanted, rest),
        some_of(offered, rest),
        dt,
        None if usable is None else some_of(usable, rest),
        None if past is None else past.some(rest),
    )
    switches.settle(rest, on)
    spent.level[rest], spent.losses[rest] = part.level, part.losses
    spent.surplus[rest] = part.surplus
    spent.spare_h = np.full_like(level, dt)
    spent.spare_h[rest] = part.spare_h
    for group, missing in enumerate(part.unserved):
        here = spent.unserved[group]
        if here is None:
            if missing is None or not missing.any():
                continue
            here = spent.unserved[group] = np.zeros_like(level)
        here[rest] = missing


def _floor_under_load(lanes: Lanes, floor: Floats, after: Floats, given: Floats) -> Floats:
    """Floor of the last group that is on, as the load on the battery raises it. [Wh]"""
    # A power of a number is slow: only lanes that the heaviest of all loads would bring near
    # their floor need their own.
    heaviest = np.max(given / lanes.rated_w, keepdims=True)
    worst = rate_share(heaviest, np.ones(1), lanes.peukert)
    near = np.flatnonzero(after < lanes.raised(floor, worst))
    if not near.size:
        return floor
    floor = floor.copy()
    share = rate_share(given[near], some_of(lanes.rated_w, near), lanes.peukert)
    full = some_of(lanes.full, near)
    floor[near] = full - (full - floor[near]) * share
    return floor
