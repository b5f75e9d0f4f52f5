"""One step of the battery: what the loads draw, and which groups of them go off.

Within a step powers are constant and the step is solved exactly: loads run until the charge
reaches the floor of their group. Most lanes of most steps touch no floor and are done in a few
array operations (`serve`); the others go floor by floor (`descend`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from sim.arrays import Bools, Floats, Ints
from sim.van.bank.lanes import Lanes, rate_share, some_of


@dataclass(slots=True)
class Spent:
    """After the loads of a step: energies in Wh, shape (L,)."""

    level: Floats
    losses: Floats
    surplus: Floats | None  # W offered beyond the loads; None: nothing was offered ...
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
    offered : ndarray, shape (L,) or (1,), or None
        By all sources together; None: nothing. [W]
    usable : ndarray, shape (L,) or (1,), or None
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
            self.level.take(which),
            some_of(self.wanted, which),
            None if self.offered is None else some_of(self.offered, which),
            None if self.usable is None else some_of(self.usable, which),
            None if self.past is None else self.past.some(which),
        )


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
    floor_depth, back_depth : ndarray, shape (L,)
        How far they lie below full. [Wh]
    """

    def __init__(self, lanes: Lanes, level: Floats) -> None:
        count, groups, width = len(level), len(lanes.floors), lanes.floors.shape[1]
        edge = np.full((1, width), np.inf)
        floors = np.concatenate([-edge, lanes.floors])
        backs = np.concatenate([lanes.back, edge])
        fed = np.arange(groups + 1) > _ranks(groups)
        # By how many are on: the rows of what depends on it.
        self._by_on = np.concatenate(
            [
                np.broadcast_to(fed[:, :, None], (groups, groups + 1, width)),
                np.stack([floors, backs, lanes.full - floors, lanes.full - backs]),
            ]
        )
        self._is_uniform = width == 1
        self.on = np.full(count, groups)
        self._rows = np.empty((len(self._by_on), count))
        self.fed = self._rows[:groups]
        self.floor, self.back, self.floor_depth, self.back_depth = self._rows[groups:]
        self.least = groups
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
        self.on[which] = on
        self.least = int(self.on.min())
        if self._is_uniform:
            self._rows[:, which] = self._by_on[:, :, 0].take(on, axis=1)
        else:
            self._rows[:, which] = self._by_on[:, on, which]


def serve(lanes: Lanes, switches: Switches, span: Span) -> Spent:
    """Feed the loads for a step; updates `switches`.

    Notes
    -----
    Most lanes of most steps pass no floor either way: they are done at once. The others go
    down the floors one by one in `descend`.
    """
    hours, level, wanted, offered, usable, past = span
    load, unserved = _fed(switches, wanted, hours)
    given, surplus = _balance(load, offered, level)
    lost = given * given
    lost *= lanes.r
    after = given + lost
    if hours != 1.0:
        after *= hours
        lost *= hours
    np.subtract(level, after, out=after)
    floor = switches.floor
    if usable is not None:
        floor = switches.floor_depth * usable
        np.subtract(lanes.full, floor, out=floor)
    if lanes.peukert > 1.0:
        last = np.maximum(switches.on - 1, 0)
        load = given if past is None else past.mean(given, last)
        floor = _floor_under_load(lanes, floor, after, load)
    passes = after < floor
    if lanes.may_lack_current:
        passes |= given > lanes.discharge_limit
    if not switches.all_on:
        back = switches.back
        if usable is not None:
            back = switches.back_depth * usable
            np.subtract(lanes.full, back, out=back)
        passes |= level >= back
    spent = Spent(after, lost, surplus, None, unserved)
    rest = passes.nonzero()[0]
    if rest.size:
        _pass_floors(spent, lanes, switches, span, rest)
    return spent


def _fed(switches: Switches, wanted: Floats, hours: float) -> tuple[Floats, list[Floats | None]]:
    """Loads of the groups that are on [W], and what the others do without, by group [Wh]."""
    unserved: list[Floats | None] = [None] * len(wanted)
    if switches.all_on:
        return _sum(wanted), unserved
    fed = wanted * switches.fed
    missing = wanted - fed
    if hours != 1.0:
        missing *= hours
    unserved[switches.least :] = missing[switches.least :]
    return _sum(fed), unserved


def _sum(groups: Floats) -> Floats:
    """All groups together; faster than a reduction over so few."""
    load: Floats = groups[0] + groups[1]
    for more in groups[2:]:
        load += more
    return load


def _ranks(groups: int) -> Ints:
    """Number of each group, in a column. shape (G, 1)"""
    return np.arange(groups)[:, None]


def _balance(load: Floats, offered: Floats | None, level: Floats) -> tuple[Floats, Floats | None]:
    """What the bank gives, and what is left of the offer, None where there was none. [W]

    One sky or one demand may serve all lanes: what is asked of the bank is each lane's own.
    """
    if offered is None:
        return (load if load.shape == level.shape else load + np.zeros_like(level)), None
    asked = np.subtract(load, offered, out=np.empty_like(level))
    given = np.maximum(asked, 0.0)
    return given, np.subtract(given, asked, out=asked)


def _pass_floors(spent: Spent, lanes: Lanes, switches: Switches, span: Span, rest: Ints) -> None:
    """Do the lanes that pass a floor anew, floor by floor."""
    part, on = descend(lanes.some(rest), span.some(rest), switches.on.take(rest))
    switches.settle(rest, on)
    spent.level[rest], spent.losses[rest] = part.level, part.losses
    if spent.surplus is not None:
        spent.surplus[rest] = part.surplus
        spent.spare_h = np.full_like(span.level, span.hours)
        spent.spare_h[rest] = part.spare_h
    for group, missing in enumerate(part.unserved):
        here = spent.unserved[group]
        if here is None:
            if missing is None or not missing.any():
                continue
            here = spent.unserved[group] = np.zeros_like(span.level)
        here[rest] = missing


def descend(lanes: Lanes, span: Span, on: Ints) -> tuple[Spent, Ints]:
    """Feed the loads for a step, switching groups off as their floors are reached.

    Parameters
    ----------
    lanes : Lanes
    span : Span
    on : ndarray of int, shape (L,)
        Groups that are on; those above their level of return come back first.

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
    hours, level, wanted, offered, usable, past = span
    floors, back = lanes.floors, lanes.back
    if usable is not None:
        floors, back = lanes.raised(floors, usable), lanes.raised(back, usable)
    on = np.maximum(on, np.add.reduce(level >= back, axis=0))
    own = wanted * (on > _ranks(len(floors)))
    # Row k of the spells: with the first G - k groups on.
    load = np.zeros((len(floors) + 1, len(level)))
    np.add.accumulate(own, axis=0, out=load[-2::-1])
    deficit = load if offered is None else load - offered
    given = np.maximum(deficit, 0.0)
    np.minimum(given, lanes.discharge_limit, out=given)
    # Drained, lost and lacking in each spell, and how long there is power to spare in it.
    sums = np.empty((4, *load.shape))
    drain, lost, lacking, idle = sums
    np.multiply(lanes.r, given, out=lost)
    lost *= given
    np.add(given, lost, out=drain)
    if lanes.peukert > 1.0:
        mean = given[-2::-1] if past is None else past.means(given[-2::-1])
        floors = lanes.raised(floors, rate_share(mean, lanes.rated_w, lanes.peukert))
    carried = deficit <= 0.0
    spell, ends = _spells(level, floors, drain, carried, hours)
    # A group whose floor is reached stays off until the charge is well above it again.
    on = np.minimum(on, np.add.reduce(ends[::-1] >= hours, axis=0))
    unserved = (wanted if hours == 1.0 else wanted * hours) - own * ends[::-1]
    np.maximum(unserved, 0.0, out=unserved)
    if lanes.may_lack_current and (deficit > lanes.discharge_limit).any():
        _cut_short(unserved, own, deficit - given, spell)
    # At most one spell of a lane is one in which something is left over.
    np.multiply(carried, spell, out=idle)
    np.multiply(deficit, idle > 0.0, out=lacking)
    drain *= spell
    lost *= spell
    after, losses, lacks, spare_h = np.add.reduce(sums, axis=1)
    np.subtract(level, after, out=after)
    return Spent(after, losses, -lacks, spare_h, list(unserved)), on


def _spells(
    level: Floats, floors: Floats, drain: Floats, carried: Bools, hours: float
) -> tuple[Floats, Floats]:
    """How long each spell lasts, shape (G + 1, L), and when those with a group on end, (G, L).

    [h]
    """
    room = level - floors[::-1]
    np.minimum(room[1:], floors[:0:-1] - floors[-2::-1], out=room[1:])
    np.maximum(room, 0.0, out=room)
    room /= np.maximum(drain[:-1], 1e-9)
    room[carried[:-1]] = np.inf
    ends = np.add.accumulate(room, axis=0)
    np.minimum(ends, hours, out=ends)
    spell = np.empty_like(drain)
    spell[:-1], spell[-1] = ends, hours
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
