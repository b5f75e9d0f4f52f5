"""The battery: what it takes, what it gives, and the hour loop over all lanes at once.

A lane is one draw of the weather with one design. Within a step powers are constant and the
step is solved exactly, floor by floor: loads run until the charge reaches the floor of their
priority, then the rest runs on; what the sources offer beyond the loads charges the bank as
fast as its taper lets it. So the length of the step changes the answer little.
"""

from __future__ import annotations

from collections.abc import Callable
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


@dataclass(frozen=True)
class BankHours:
    """What happened at the battery's terminals; mean watts over each step.

    Attributes
    ----------
    soc : ndarray, shape (H + 1, L)
        State of charge at the start of each step and at the end of the last, 0 to 1.
    sun_w, drive_w, shore_w : ndarray, shape (H, L)
        Taken from each source. [W]
    losses_w : ndarray, shape (H, L)
        Charging, discharging and self-discharge. [W]
    unserved_w : ndarray, shape (3, H, L)
        Wanted and not given, by group. [W]
    """

    soc: Floats
    sun_w: Floats
    drive_w: Floats
    shore_w: Floats
    losses_w: Floats
    unserved_w: Floats


@dataclass(frozen=True)
class _Lanes:
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

    @classmethod
    def of(cls, bank: Bank, lanes: int) -> _Lanes:
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
        )

    def some(self, which: NDArray[np.int64]) -> _Lanes:
        """The same for some of the lanes."""
        return _Lanes(
            self.full[which],
            self.eta,
            self.r[which],
            self.charge_limit[which],
            self.discharge_limit[which],
            self.rate[which],
            self.asymptote[which],
            self.floors[:, which],
            self.back[:, which],
        )


def run_bank(
    bank: Bank,
    *,
    wanted_w: Floats,
    sun_w: Floats,
    drive_w: Floats,
    shore_w: Floats,
    charge_allowed: Floats,
    start_soc: float,
    step_hours: float,
    progress: Callable[[float], None] | None = None,
) -> BankHours:
    """Carry the balance through a trip, all lanes at once.

    Parameters
    ----------
    bank : Bank
    wanted_w : ndarray, shape (3, H, L) or (3, H, 1)
        Loads by group, essential first. [W]
    sun_w, drive_w, shore_w : ndarray, shape (H, L) or (H, 1)
        Offered at the terminals. Sun is used first, then the engine, then the plug. [W]
    charge_allowed : ndarray, shape (H, L) or (H, 1)
        Share of the charge limit that the bank's temperature allows, 0 to 1.
    start_soc : float
        0 to 1.
    step_hours : float
    progress : callable, optional
        Called now and then with the share of the steps done, 0 to 1.

    Returns
    -------
    BankHours
        ``sun + drive + shore - served - losses`` equals the change of the charge, with
        ``served = wanted - unserved``.
    """
    steps = wanted_w.shape[1]
    count = np.broadcast_shapes(
        wanted_w.shape[2:],
        *(each.shape[1:] for each in (sun_w, drive_w, shore_w, charge_allowed)),
        np.shape(bank.capacity_wh),
    )[0]
    lanes = _Lanes.of(bank, count)
    soc = np.empty((steps + 1, count))
    sun, drive, shore, losses = (np.empty((steps, count)) for _ in range(4))
    unserved = np.zeros((3, steps, count))
    level = lanes.full * start_soc
    on = np.ones((3, count), dtype=bool)
    soc[0] = start_soc
    leak = bank.self_discharge_per_h * step_hours
    for step in range(steps):
        offers = sun_w[step], drive_w[step], shore_w[step]
        offered = offers[0] + offers[1] + offers[2]
        leaked = level * leak
        spent = _serve(lanes, level - leaked, on, wanted_w[:, step], offered, step_hours)
        if spent.unserved is not None:
            unserved[:, step] = spent.unserved / step_hours
        heat = leaked + spent.losses
        level = spent.level
        sun[step], drive[step], shore[step] = offers
        if spent.surplus.any():
            limit = charge_allowed[step] * lanes.charge_limit
            level, taken, lost = _charge(lanes, level, spent.surplus, spent.spare_h, limit)
            heat += lost
            unused = spent.surplus * spent.spare_h - taken
            _give_back(sun[step], drive[step], shore[step], spent.spare_h, unused, step_hours)
        np.divide(heat, step_hours, out=losses[step])
        np.divide(level, lanes.full, out=soc[step + 1])
        if progress is not None and step % 64 == 63:
            progress((step + 1) / steps)
    return BankHours(soc, sun, drive, shore, losses, unserved)


@dataclass
class _Spent:
    """After the loads of a step: energies in Wh, shape (L,) or (3, L)."""

    level: Floats
    losses: Floats
    surplus: Floats  # W offered beyond the loads ...
    spare_h: Floats  # ... for this part of the step
    unserved: Floats | None  # None: everything was served


def _serve(
    lanes: _Lanes,
    level: Floats,
    on: NDArray[np.bool_],
    wanted: Floats,
    offered: Floats,
    dt: float,
) -> _Spent:
    """Feed the loads for a step; updates `on`.

    Most lanes of most steps serve everything without reaching a floor: they are done at once.
    The others go down the floors one by one in `_serve_by_floors`.
    """
    net = offered - (wanted[0] + wanted[1] + wanted[2])
    given = np.maximum(-net, 0.0)
    lost = given * given
    lost *= lanes.r
    after = given + lost
    after *= -dt
    after += level
    lost *= dt
    plain = (after >= lanes.floors[2]) & (given <= lanes.discharge_limit)
    plain &= on[0] & on[1] & on[2]
    surplus = np.maximum(net, 0.0)
    spent = _Spent(after, lost, surplus, np.full_like(level, dt), None)
    if not plain.all():
        rest = np.flatnonzero(~plain)
        some_on = on[:, rest]
        part = _serve_by_floors(
            lanes.some(rest),
            level[rest],
            some_on,
            np.broadcast_to(wanted, on.shape)[:, rest],
            np.broadcast_to(offered, level.shape)[rest],
            dt,
        )
        on[:, rest] = some_on
        spent.level[rest], spent.losses[rest] = part.level, part.losses
        spent.surplus[rest], spent.spare_h[rest] = part.surplus, part.spare_h
        spent.unserved = np.zeros(on.shape)
        spent.unserved[:, rest] = part.unserved
    return spent


def _serve_by_floors(
    lanes: _Lanes,
    level: Floats,
    on: NDArray[np.bool_],
    wanted: Floats,
    offered: Floats,
    dt: float,
) -> _Spent:
    """Feed the loads for a step, switching groups off as their floors are reached."""
    on |= level >= lanes.back
    # Row k: what groups 0 to k draw while on.
    load = np.cumsum(np.where(on, wanted, 0.0), axis=0)
    served = np.zeros_like(load)
    left = np.full_like(level, dt)
    losses, surplus, spare_h = np.zeros_like(level), np.zeros_like(level), np.zeros_like(level)
    for group in (2, 1, 0):
        deficit = load[group] - offered
        given = np.minimum(np.maximum(deficit, 0.0), lanes.discharge_limit)
        lost = lanes.r * given * given
        room = np.maximum(level - lanes.floors[group], 0.0)
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
    return _Spent(level, losses, surplus, spare_h, np.maximum(wanted * dt - served, 0.0))


def charged(
    bank: Bank, level_wh: Floats, surplus_w: Floats, hours: Floats, limit_w: Floats
) -> tuple[Floats, Floats, Floats]:
    """Charge a bank for a while with a constant surplus.

    Parameters
    ----------
    bank : Bank
    level_wh : ndarray, shape (L,)
        Stored energy at the start. [Wh]
    surplus_w : ndarray, shape (L,)
        Offered at the terminals. [W]
    hours : ndarray, shape (L,)
        How long; may be 0. [h]
    limit_w : ndarray, shape (L,)
        Largest accepted power now, 0 when too cold. [W]

    Returns
    -------
    level_wh : ndarray, shape (L,)
        Stored energy at the end. [Wh]
    taken_wh : ndarray, shape (L,)
        Drawn at the terminals. [Wh]
    lost_wh : ndarray, shape (L,)
        Turned to heat on the way. [Wh]

    Notes
    -----
    Stored power is ``s = eta P - r P**2``. Above the taper level the accepted stored power
    falls linearly with the charge, so the charge nears its end exponentially: a constant
    voltage charge seen from outside. Both stretches are solved in closed form; loss in the
    second is that of its mean power.
    """
    return _charge(_Lanes.of(bank, len(level_wh)), level_wh, surplus_w, hours, limit_w)


def _charge(
    lanes: _Lanes, level: Floats, surplus: Floats, hours: Floats, limit: Floats
) -> tuple[Floats, Floats, Floats]:
    power = np.minimum(surplus, limit)
    stored = lanes.r * power
    np.subtract(lanes.eta, stored, out=stored)
    stored *= power
    gain = stored * hours
    end = level + gain
    taken = power * hours
    lost = taken - gain
    # The level from which the taper lets less in than is offered.
    knee = np.minimum(lanes.asymptote - stored / lanes.rate, lanes.full)
    bent = np.flatnonzero((end > knee) & (gain > 0.0))
    if bent.size:
        end[bent], taken[bent], lost[bent] = _taper(
            lanes.some(bent), level[bent], stored[bent], hours[bent], knee[bent]
        )
    return end, taken, lost


def _taper(
    lanes: _Lanes, level: Floats, stored: Floats, hours: Floats, knee: Floats
) -> tuple[Floats, Floats, Floats]:
    """End level, taken and lost energy of lanes whose charge reaches the taper."""
    eta, r = lanes.eta, lanes.r
    straight = np.clip((knee - level) / stored, 0.0, hours)
    reached = level + stored * straight
    after = np.exp(-lanes.rate * (hours - straight))
    end = np.minimum(lanes.asymptote - (lanes.asymptote - reached) * after, lanes.full)
    end = np.maximum(end, level)
    # The terminal power whose stored part is the mean: eta P - r P**2 = mean, solved for P.
    mean = (end - level) / hours
    power = 2.0 * mean / (eta + np.sqrt(eta * eta - 4.0 * r * mean))
    return end, power * hours, ((1.0 - eta) * power + r * power * power) * hours


def _give_back(
    sun: Floats, drive: Floats, shore: Floats, spare_h: Floats, unused_wh: Floats, dt: float
) -> None:
    """Take what was offered and not used off the sources: the plug gives way first, the sun
    last. Changes the mean powers in place. [W]"""
    from_shore = np.minimum(unused_wh, shore * spare_h)
    rest = unused_wh - from_shore
    from_drive = np.minimum(rest, drive * spare_h)
    shore -= from_shore / dt
    drive -= from_drive / dt
    sun -= (rest - from_drive) / dt
