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


def charged(
    level_wh: Floats, surplus_w: Floats, hours: Floats, limit_w: Floats, bank: Bank
) -> tuple[Floats, Floats, Floats]:
    """Charge a bank for a while with a constant surplus.

    Parameters
    ----------
    level_wh : ndarray, shape (L,)
        Stored energy at the start. [Wh]
    surplus_w : ndarray, shape (L,)
        Offered at the terminals. [W]
    hours : ndarray, shape (L,)
        How long; may be 0. [h]
    limit_w : ndarray, shape (L,)
        Largest accepted power now, 0 when too cold. [W]
    bank : Bank

    Returns
    -------
    level_wh : ndarray, shape (L,)
        Stored energy at the end. [Wh]
    taken_wh : ndarray, shape (L,)
        Drawn at the terminals. [Wh]
    lost_wh : ndarray, shape (L,)
        Turned to heat on the way, from the mean power. [Wh]

    Notes
    -----
    Stored power is ``s = eta P - r P**2``. Above the taper level the accepted stored power
    falls linearly with the charge, so the charge nears its end exponentially: a constant
    voltage charge seen from outside. Both stretches are solved in closed form.
    """
    eta, r = bank.coulombic_efficiency, bank.resistance_per_w
    full = bank.capacity_wh
    power = np.minimum(surplus_w, limit_w)
    stored = (eta - r * power) * power
    most = (eta - r * bank.charge_limit_w) * bank.charge_limit_w
    # accepted(level) = most * (tail + slope * (full - level)), 1 at the taper level
    span = (1.0 - bank.taper_from_soc) * full
    asymptote = full + span * (bank.tail_share / (1.0 - bank.tail_share))
    rate = (1.0 - bank.tail_share) * most / span
    knee = np.minimum(asymptote - stored / rate, full)
    safe = np.maximum(stored, 1e-12)
    straight = np.minimum(np.maximum(knee - level_wh, 0.0) / safe, hours)
    bent = level_wh + stored * straight
    after = np.exp(-rate * (hours - straight))
    bent = asymptote - (asymptote - bent) * after
    end = np.minimum(np.where(stored > 0.0, bent, level_wh), full)
    end = np.maximum(end, level_wh)
    # The terminal power whose stored part is the mean: eta P - r P**2 = mean, solved for P.
    mean = (end - level_wh) / np.maximum(hours, 1e-12)
    power = 2.0 * mean / (eta + np.sqrt(np.maximum(eta * eta - 4.0 * r * mean, 0.0)))
    return end, power * hours, ((1.0 - eta) * power + r * power * power) * hours


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
    lanes = np.broadcast_shapes(
        wanted_w.shape[2:], sun_w.shape[1:], shore_w.shape[1:], np.shape(bank.capacity_wh)
    )[0]
    full = np.broadcast_to(np.asarray(bank.capacity_wh, dtype=np.float64), (lanes,))
    soc = np.empty((steps + 1, lanes))
    sun, drive, shore, losses = (np.empty((steps, lanes)) for _ in range(4))
    unserved = np.empty((3, steps, lanes))
    level = full * start_soc
    on = np.ones((3, lanes), dtype=bool)
    soc[0] = start_soc
    leak = bank.self_discharge_per_h * step_hours
    for step in range(steps):
        offers = sun_w[step], drive_w[step], shore_w[step]
        offered = offers[0] + offers[1] + offers[2]
        wanted = wanted_w[:, step]
        leaked = level * leak
        spent = _serve(bank, level - leaked, full, on, wanted, offered, step_hours)
        limit = charge_allowed[step] * bank.charge_limit_w
        level, taken, heat = charged(spent.level, spent.surplus, spent.spare_h, limit, bank)
        idle = spent.surplus * spent.spare_h - taken
        sun[step], drive[step], shore[step] = _taken(offers, spent.spare_h, idle, step_hours)
        losses[step] = (leaked + spent.losses + heat) / step_hours
        unserved[:, step] = np.maximum(wanted - spent.served / step_hours, 0.0)
        soc[step + 1] = level / full
        if progress is not None and step % 64 == 63:
            progress((step + 1) / steps)
    return BankHours(soc, sun, drive, shore, losses, unserved)


@dataclass
class _Spent:
    """After the loads of a step: energies in Wh, shape (L,) or (3, L)."""

    level: Floats
    served: Floats
    losses: Floats
    surplus: Floats  # W offered beyond the loads ...
    spare_h: Floats  # ... for this part of the step


def _serve(
    bank: Bank,
    level: Floats,
    full: Floats,
    on: NDArray[np.bool_],
    wanted: Floats,
    offered: Floats,
    dt: float,
) -> _Spent:
    """Feed the loads for a step, group by group down the floors; updates `on`."""
    if not on.all():
        for group, floor in enumerate(bank.floors):
            on[group] |= level >= (floor + bank.reconnect_above) * full
    # Row k: what groups 0 to k draw while on.
    load = np.cumsum(np.where(on, wanted, 0.0), axis=0)
    served = np.zeros_like(load)
    left = np.full_like(level, dt)
    losses = np.zeros_like(level)
    surplus = np.zeros_like(level)
    spare_h = np.zeros_like(level)
    for group in (2, 1, 0):
        deficit = load[group] - offered
        given = np.minimum(np.maximum(deficit, 0.0), bank.discharge_limit_w)
        lost = bank.resistance_per_w * given * given
        drawn = given + lost
        room = np.maximum(level - bank.floors[group] * full, 0.0)
        spell = np.minimum(left, room / np.maximum(drawn, 1e-9))
        idle = deficit <= 0.0
        spell = np.where(idle, left, spell)
        surplus = np.where(idle & (left > 0.0), -deficit, surplus)
        spare_h = np.where(idle & (left > 0.0), left, spare_h)
        fed = np.minimum(load[: group + 1], offered + given) * spell
        served[: group + 1] += fed
        served[group + 1 :] += fed[group]
        level = level - drawn * spell
        losses = losses + lost * spell
        left = left - spell
        if not left.any():
            break
        # A group whose floor is reached stays off until the charge is well above it again.
        on[group] &= left <= 0.0
    surplus = np.where(left > 0.0, offered, surplus)
    spare_h = np.where(left > 0.0, left, spare_h)
    served[1:] -= served[:-1].copy()
    return _Spent(level, served, losses, surplus, spare_h)


def _taken(
    offers: tuple[Floats, Floats, Floats], spare_h: Floats, unused_wh: Floats, dt: float
) -> tuple[Floats, Floats, Floats]:
    """Mean power taken from sun, engine and plug when some of what they offered was not used:
    the plug gives way first, the sun last. [W]"""
    sun, drive, shore = offers
    from_shore = np.minimum(unused_wh, shore * spare_h)
    rest = unused_wh - from_shore
    from_drive = np.minimum(rest, drive * spare_h)
    from_sun = rest - from_drive
    return sun - from_sun / dt, drive - from_drive / dt, shore - from_shore / dt
