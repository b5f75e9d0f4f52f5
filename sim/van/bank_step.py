"""One step of the battery: what the loads draw, and the floors on their way down.

A lane is one draw of the weather with one design; all functions take many lanes side by side.
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

# Order of the floors and of the axis of wanted loads; the last is switched off first.
GROUPS = ("essential", "comfort", "extra")


@dataclass(frozen=True)
class Bank:
    """A bank as numbers; each is a float, or an array of shape (L,) that differs by lane.

    Attributes
    ----------
    capacity_wh : float or ndarray
        From empty to full. [Wh]
    charge_limit_w, discharge_limit_w : float or ndarray
        At the terminals. [W]
    taper_from_soc : float
        Where the accepted charge starts to fall, 0 to 1.
    tail_share : float
        Share of the limit still accepted when full, above 0.
    coulombic_efficiency : float
        0 to 1.
    resistance_per_w : float or ndarray
        Internal resistance over nominal voltage squared: ``loss = resistance_per_w * P**2``.
        [1/W]
    self_discharge_per_h : float
        Share of the charge lost an hour.
    floors : tuple of 3 floats
        SOC below which essential, comfort and extra loads are off, rising.
    reconnect_above : float
        SOC above its floor at which a group comes back.
    peukert : float
        Exponent of Peukert's law, 1 for a bank whose capacity does not depend on the load.
    rated_hours : float
        Discharge time for which the capacity is rated. [h]
    """

    capacity_wh: float | Floats
    charge_limit_w: float | Floats
    discharge_limit_w: float | Floats
    taper_from_soc: float
    tail_share: float
    coulombic_efficiency: float
    resistance_per_w: float | Floats
    self_discharge_per_h: float
    floors: tuple[float, float, float]
    reconnect_above: float
    peukert: float = 1.0
    rated_hours: float = 20.0


@dataclass(frozen=True)
class Lanes:
    """A bank spread over its lanes: what the loop needs, worked out once. Arrays of shape (L,)."""

    full: Floats
    eta: float
    r: Floats
    charge_limit: Floats
    discharge_limit: Floats
    # Above the taper level the accepted stored power is rate * (asymptote - level).
    rate: Floats
    asymptote: Floats
    floors: Floats  # (3, L) Wh
    back: Floats  # (3, L) Wh at which a group comes back
    rated_w: Floats  # load at which the capacity is rated
    peukert: float

    @classmethod
    def of(cls, bank: Bank, lanes: int) -> Lanes:
        def spread(value: float | Floats) -> Floats:
            return np.broadcast_to(np.asarray(value, dtype=np.float64), (lanes,)).copy()

        full, r = spread(bank.capacity_wh), spread(bank.resistance_per_w)
        limit = spread(bank.charge_limit_w)
        most = (bank.coulombic_efficiency - r * limit) * limit
        span = (1.0 - bank.taper_from_soc) * full
        floors = np.array(bank.floors)[:, None]
        return cls(
            full=full,
            eta=bank.coulombic_efficiency,
            r=r,
            charge_limit=limit,
            discharge_limit=spread(bank.discharge_limit_w),
            rate=(1.0 - bank.tail_share) * most / span,
            asymptote=full + span * (bank.tail_share / (1.0 - bank.tail_share)),
            floors=floors * full,
            back=(floors + bank.reconnect_above) * full,
            rated_w=full / bank.rated_hours,
            peukert=bank.peukert,
        )

    def some(self, which: NDArray[np.int64]) -> Lanes:
        """The same for some of the lanes."""
        return Lanes(
            self.full[which],
            self.eta,
            self.r[which],
            self.charge_limit[which],
            self.discharge_limit[which],
            self.rate[which],
            self.asymptote[which],
            self.floors[:, which],
            self.back[:, which],
            self.rated_w[which],
            self.peukert,
        )

    def raised(self, level: Floats, share: Floats) -> Floats:
        """A level of charge counted from full over the share of the charge that can be had. [Wh]

        What cold or a heavy load keeps locked up is not lost: it lies below the floor.
        """
        return np.asarray(self.full - (self.full - level) * share)


def rate_share(given: Floats, rated_w: Floats, peukert: float) -> Floats:
    """Share of its rated capacity that a bank gives at a steady load, by Peukert's law.

    Parameters
    ----------
    given, rated_w : ndarray, shape (L,)
        Load, and the load for which the capacity is rated. [W]
    peukert : float
        Exponent, at least 1.

    Returns
    -------
    ndarray, shape (L,)
        1 at the rated load and below it: a longer discharge is not trusted to give more.

    Notes
    -----
    The law is of steady loads. A bank recovers from a kettle's ten minutes; what counts here is
    the mean load of an hour, whatever the step (common practice, no source).

    References
    ----------
    W. Peukert, Elektrotechnische Zeitschrift 20 (1897) 287-288, with capacity C rated over H
    hours: ``t = H (C / (I H))**k``.
    """
    return np.asarray((rated_w / np.maximum(given, rated_w)) ** (peukert - 1.0))


@dataclass
class Spent:
    """After the loads of a step: energies in Wh, shape (L,) or (3, L)."""

    level: Floats
    losses: Floats
    surplus: Floats  # W offered beyond the loads ...
    spare_h: Floats  # ... for this part of the step
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
    """Which groups of loads are on in each lane, and the levels at which that changes.

    Attributes
    ----------
    on : ndarray of bool, shape (3, L)
    floor : ndarray, shape (L,)
        Floor of the last group that is on; -inf when none is. [Wh]
    back : ndarray, shape (L,)
        Level at which the first group that is off comes back; inf when none is. [Wh]
    """

    def __init__(self, lanes: Lanes) -> None:
        self.on = np.ones((3, len(lanes.full)), dtype=bool)
        self.floor = lanes.floors[2].copy()
        self.back = np.full(len(lanes.full), np.inf)

    def settle(self, lanes: Lanes, which: NDArray[np.int64], on: NDArray[np.bool_]) -> None:
        """Take over the groups of some lanes after a step."""
        self.on[:, which] = on
        self.floor[which] = np.max(np.where(on, lanes.floors[:, which], -np.inf), axis=0)
        self.back[which] = np.min(np.where(on, np.inf, lanes.back[:, which]), axis=0)


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
    all_on = bool(switches.on.all())
    fed = wanted if all_on else wanted * switches.on
    # one sky or one demand may serve all lanes: net is each lane's own
    net = np.subtract(offered, fed[0] + fed[1] + fed[2], out=np.empty_like(level))
    given = np.maximum(-net, 0.0)
    lost = given * given
    lost *= lanes.r
    after = given + lost
    after *= -dt
    after += level
    lost *= dt
    floor, back = switches.floor, switches.back
    if usable is not None:
        floor, back = lanes.raised(floor, usable), lanes.raised(back, usable)
    if lanes.peukert > 1.0:
        last = np.maximum(switches.on.sum(axis=0) - 1, 0)
        load = given if past is None else past.mean(given, last)
        floor = _floor_under_load(lanes, floor, after, load)
    plain = (after >= floor) & (given <= lanes.discharge_limit)
    plain &= level < back
    unserved = None if all_on else (wanted - fed) * dt
    surplus = np.maximum(net, 0.0)
    spent = Spent(after, lost, surplus, np.full_like(level, dt), unserved)
    if not plain.all():
        rest = np.flatnonzero(~plain)
        on = switches.on[:, rest]
        part = _by_floors(
            lanes.some(rest),
            level[rest],
            on,
            np.broadcast_to(wanted, switches.on.shape)[:, rest],
            np.broadcast_to(offered, level.shape)[rest],
            dt,
            None if usable is None else np.broadcast_to(usable, level.shape)[rest],
            None if past is None else past.some(rest),
        )
        switches.settle(lanes, rest, on)
        spent.level[rest], spent.losses[rest] = part.level, part.losses
        spent.surplus[rest], spent.spare_h[rest] = part.surplus, part.spare_h
        if part.unserved is not None:
            if spent.unserved is None:
                spent.unserved = np.zeros(switches.on.shape)
            spent.unserved[:, rest] = part.unserved
    return spent


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
    share = rate_share(given[near], lanes.rated_w[near], lanes.peukert)
    full = lanes.full[near]
    floor[near] = full - (full - floor[near]) * share
    return floor


def _by_floors(
    lanes: Lanes,
    level: Floats,
    on: NDArray[np.bool_],
    wanted: Floats,
    offered: Floats,
    dt: float,
    usable: Floats | None,
    past: Past | None,
) -> Spent:
    """Feed the loads for a step, switching groups off as their floors are reached."""
    floors, back = lanes.floors, lanes.back
    if usable is not None:
        floors, back = lanes.raised(floors, usable), lanes.raised(back, usable)
    on |= level >= back
    # Row k: what groups 0 to k draw while on.
    load = np.cumsum(np.where(on, wanted, 0.0), axis=0)
    served = np.zeros_like(load)
    left = np.full_like(level, dt)
    losses, surplus, spare_h = np.zeros_like(level), np.zeros_like(level), np.zeros_like(level)
    for group in (2, 1, 0):
        deficit = load[group] - offered
        given = np.minimum(np.maximum(deficit, 0.0), lanes.discharge_limit)
        lost = lanes.r * given * given
        floor = floors[group]
        if lanes.peukert > 1.0:
            mean = given if past is None else past.mean(given, group)
            floor = lanes.raised(floor, rate_share(mean, lanes.rated_w, lanes.peukert))
        room = np.maximum(level - floor, 0.0)
        spell = np.minimum(left, room / np.maximum(given + lost, 1e-9))
        idle = (deficit <= 0.0) & (left > 0.0)
        spell = np.where(idle, left, spell)
        surplus = np.where(idle, -deficit, surplus)
        spare_h = np.where(idle, left, spare_h)
        fed = np.minimum(load[: group + 1], offered + given) * spell
        served[: group + 1] += fed
        served[group + 1 :] += fed[group]
        level = level - (given + lost) * spell
        losses += lost * spell
        left = left - spell
        # A group whose floor is reached stays off until the charge is well above it again.
        on[group] &= left <= 0.0
    surplus = np.where(left > 0.0, offered, surplus)
    spare_h = np.where(left > 0.0, left, spare_h)
    served[1:] -= served[:-1].copy()
    return Spent(level, losses, surplus, spare_h, np.maximum(wanted * dt - served, 0.0))
