"""One step of the battery: what the loads draw, and the floors on their way down.

Within a step powers are constant and the step is solved exactly, floor by floor: loads run
until the charge reaches the floor of their priority, then the rest runs on; what the sources
offer beyond the loads charges the bank as fast as its taper lets it. So the length of the step
changes the answer little. Charging stands in `bank_charge`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.sky.track import Floats
from sim.van.bank_lanes import GROUPS, Lanes, rate_share, some_of

_RANKS = np.arange(len(GROUPS))[:, None]


@dataclass
class Spent:
    """After the loads of a step: energies in Wh, shape (L,) or (3, L)."""

    level: Floats
    losses: Floats
    surplus: Floats  # W offered beyond the loads ...
    spare_h: Floats | None  # ... for this part of the step; None: for all of it
    unserved: Floats | None  # None: everything was served


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

    def some(self, which: NDArray[np.int64]) -> Past:
        """The same for some of the lanes."""
        return Past(self.asked[:, which], self.step_hours)


class Switches:
    """How many groups of loads are on in each lane, and the levels at which that changes.

    Floors rise with the group, and so do the levels at which groups come back: a group is on
    only while those before it are.

    Attributes
    ----------
    on : ndarray of int, shape (L,)
        0 to 3.
    floor : ndarray, shape (L,)
        Floor of the last group that is on; -inf when none is. [Wh]
    back : ndarray, shape (L,)
        Level at which the first group that is off comes back; inf when none is. [Wh]
    all_on : bool
        Whether every group is on in every lane.
    """

    def __init__(self, lanes: Lanes, count: int) -> None:
        edge = np.full((1, lanes.floors.shape[1]), np.inf)
        self._floors = np.concatenate([-edge, lanes.floors])
        self._backs = np.concatenate([lanes.back, edge])
        self.on = np.full(count, len(GROUPS))
        self.floor = np.broadcast_to(lanes.floors[-1], (count,)).copy()
        self.back = np.full(count, np.inf)
        self.all_on = True

    def cut_off(self) -> NDArray[np.bool_] | None:
        """Lanes in which the essential loads are off, None where that is none of them."""
        if self.all_on:
            return None
        off = np.equal(self.on, 0)
        return off if off.any() else None

    def settle(self, which: NDArray[np.int64], on: NDArray[np.int64]) -> None:
        """Take over the groups of some lanes after a step."""
        own = which if self._floors.shape[1] > 1 else 0
        self.on[which] = on
        self.floor[which] = self._floors[on, own]
        self.back[which] = self._backs[on, own]
        self.all_on = bool((self.on == len(GROUPS)).all())


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
    wanted : ndarray, shape (3, L) or (3, 1)
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
    down the floors one by one in `_by_floors`.
    """
    # One sky or one demand may serve all lanes: what is asked of the bank is each lane's own.
    asked = np.subtract(wanted[0] + wanted[1] + wanted[2], offered, out=np.empty_like(level))
    unserved = None
    if not switches.all_on:
        unserved = _switched_off(switches.on, wanted, asked, dt)
    given = np.maximum(asked, 0.0)
    surplus = np.subtract(given, asked, out=asked)
    lost = given * given
    lost *= lanes.r
    after = given + lost
    if dt != 1.0:
        after *= dt
        lost *= dt
    np.subtract(level, after, out=after)
    floor, back = switches.floor, switches.back
    if usable is not None:
        floor, back = lanes.raised(floor, usable), lanes.raised(back, usable)
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


def _switched_off(on: NDArray[np.int64], wanted: Floats, asked: Floats, dt: float) -> Floats:
    """What groups that are off do without. [Wh], shape (3, L); takes it off `asked`."""
    unserved = np.zeros((len(GROUPS), len(on)))
    off = np.flatnonzero(on < len(GROUPS))
    without = some_of(wanted, off) * (on[off] <= _RANKS)
    asked[off] -= without[0] + without[1] + without[2]
    unserved[:, off] = without * dt
    return unserved


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
    rest: NDArray[np.int64],
) -> None:
    """Do the lanes that pass a floor anew, floor by floor."""
    part, on = _by_floors(
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
    if spent.unserved is None:
        spent.unserved = np.zeros((len(GROUPS), len(level)))
    spent.unserved[:, rest] = part.unserved


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


def _by_floors(
    lanes: Lanes,
    level: Floats,
    on: NDArray[np.int64],
    wanted: Floats,
    offered: Floats,
    dt: float,
    usable: Floats | None,
    past: Past | None,
) -> tuple[Spent, NDArray[np.int64]]:
    """Feed the loads for a step, switching groups off as their floors are reached; with it the
    number of groups that are on afterwards."""
    floors, back = lanes.floors, lanes.back
    if usable is not None:
        floors, back = lanes.raised(floors, usable), lanes.raised(back, usable)
    on = np.maximum(on, (level >= back).sum(axis=0))
    own = wanted * (on > _RANKS)
    load = own.cumsum(axis=0)
    limited = bool((load[2] - offered > lanes.discharge_limit).any())
    left = np.full_like(level, dt)
    losses, surplus, spare_h = np.zeros_like(level), np.zeros_like(level), np.zeros_like(level)
    fed_h, cut = np.full_like(own, dt), np.zeros_like(own)
    for group in (2, 1, 0):
        deficit = load[group] - offered
        given = np.maximum(deficit, 0.0)
        if limited:
            given = np.minimum(given, lanes.discharge_limit)
        lost = lanes.r * given
        lost *= given
        drain = given + lost
        floor = floors[group]
        if lanes.peukert > 1.0:
            mean = given if past is None else past.mean(given, group)
            floor = lanes.raised(floor, rate_share(mean, lanes.rated_w, lanes.peukert))
        spell = np.maximum(level - floor, 0.0)
        spell /= np.maximum(drain, 1e-9)
        np.minimum(spell, left, out=spell)
        idle = deficit <= 0.0
        if idle.any():
            here = idle & (left > 0.0)
            spell = np.where(idle, left, spell)
            surplus = np.where(here, -deficit, surplus)
            spare_h = np.where(here, left, spare_h)
        if limited:
            _cut_short(cut, own, deficit - given, spell, group)
        level = level - drain * spell
        lost *= spell
        losses += lost
        left = left - spell
        fed_h[group] = dt - left
        under = left > 0.0
        if not under.any():
            break
        # A group whose floor is reached stays off until the charge is well above it again.
        on = np.where(under, np.minimum(on, group), on)
    else:
        surplus = np.where(under, offered, surplus)
        spare_h = np.where(under, left, spare_h)
    unserved = np.maximum(wanted * dt - own * fed_h, 0.0) + cut
    return Spent(level, losses, surplus, spare_h, unserved), on


def _cut_short(cut: Floats, own: Floats, short: Floats, spell: Floats, group: int) -> None:
    """What the bank's current limit leaves unserved for a spell, the last group first; adds it
    to `cut`. [Wh]"""
    rest = np.maximum(short, 0.0)
    for rank in range(group, -1, -1):
        lacking = np.minimum(rest, own[rank])
        cut[rank] += lacking * spell
        rest = rest - lacking
