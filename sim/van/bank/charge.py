"""One step of the battery, the other way: what the sources charge, which of them gives way, and
why a bank did not take what was offered."""

from __future__ import annotations

import numpy as np

from sim.arrays import Floats
from sim.van.bank.lanes import Lanes, some_of


def charge(
    lanes: Lanes,
    level: Floats,
    surplus: Floats,
    hours: Floats,
    limit: Floats,
    pace: Floats | None = None,
) -> tuple[Floats, Floats, Floats]:
    """Charge lanes for a while with a constant surplus.

    Parameters
    ----------
    lanes : Lanes
    level : ndarray, shape (L,)
        Stored energy at the start. [Wh]
    surplus : ndarray, shape (L,)
        Offered at the terminals. [W]
    hours : ndarray, shape (L,)
        How long; may be 0. [h]
    limit : ndarray, shape (L,)
        Largest accepted power now, 0 when too cold. [W]
    pace : ndarray, shape (L,) or (1,), optional
        What is accepted within the taper over what a warm bank accepts there, above 0.

    Returns
    -------
    level, taken, lost : ndarray, shape (L,)
        Stored energy at the end, drawn at the terminals, turned to heat on the way. [Wh]

    Notes
    -----
    Stored power is ``s = eta P - r P**2``. Above the taper level the accepted stored power
    falls linearly with the charge, so the charge nears its end exponentially: a constant
    voltage charge seen from outside. Both stretches are solved in closed form; the loss in
    the second is that of its mean power.
    """
    power = np.minimum(surplus, limit)
    stored = lanes.r * power
    np.subtract(lanes.eta, stored, out=stored)
    stored *= power
    gain = stored * hours
    end = level + gain
    taken = power * hours
    lost = taken - gain
    rate = lanes.rate if pace is None else lanes.rate * pace
    # The level from which the taper lets less in than is offered.
    knee = np.minimum(lanes.asymptote - stored / rate, lanes.full)
    turns = end > knee
    turns &= gain > 0.0
    bent = np.flatnonzero(turns)
    if bent.size:
        end[bent], taken[bent], lost[bent] = _taper(
            lanes.some(bent),
            some_of(rate, bent),
            level[bent],
            power[bent],
            stored[bent],
            hours[bent],
            knee[bent],
        )
    return end, taken, lost


def _taper(
    lanes: Lanes,
    rate: Floats,
    level: Floats,
    power: Floats,
    stored: Floats,
    hours: Floats,
    knee: Floats,
) -> tuple[Floats, Floats, Floats]:
    """End level, taken and lost energy of lanes whose charge reaches the taper."""
    eta, r = lanes.eta, lanes.r
    straight = np.clip((knee - level) / stored, 0.0, hours)
    rest = hours - straight
    reached = level + stored * straight
    end = np.minimum(
        lanes.asymptote - (lanes.asymptote - reached) * np.exp(-rate * rest), lanes.full
    )
    end = np.maximum(end, level)
    # The terminal power whose stored part is the mean: eta P - r P**2 = mean, solved for P.
    mean = np.maximum(end - reached, 0.0) / np.maximum(rest, 1e-12)
    mean = np.minimum(mean, stored)
    taken = power * straight + 2.0 * mean / (eta + np.sqrt(eta * eta - 4.0 * r * mean)) * rest
    return end, taken, taken - (end - level)


def slack_hours(
    lanes: Lanes, level: Floats, surplus: Floats, hours: Floats, limit: Floats, pace: Floats | None
) -> Floats:
    """For how long the bank takes less than it is offered: once its taper is reached, or always
    when more is offered than its limit. [h], shape (L,); parameters as of `charge`."""
    power = np.minimum(surplus, limit)
    stored = np.maximum((lanes.eta - lanes.r * power) * power, 1e-12)
    rate = lanes.rate if pace is None else lanes.rate * pace
    knee = np.minimum(lanes.asymptote - stored / rate, lanes.full)
    straight = np.clip((knee - level) / stored, 0.0, hours)
    return np.where(surplus > limit, hours, hours - straight)


def less_unused(
    sources: tuple[Floats, Floats, Floats], slack_h: Floats, unused_wh: Floats, dt: float
) -> tuple[Floats, Floats, Floats]:
    """Mean power taken from sun, engine and plug when part of what they offered was not used:
    while there was too much, the plug gave way first, the sun last. [W]"""
    sun, drive, shore = sources
    from_shore = np.minimum(unused_wh, shore * slack_h)
    rest = unused_wh - from_shore
    from_drive = np.minimum(rest, drive * slack_h)
    return sun - (rest - from_drive) / dt, drive - from_drive / dt, shore - from_shore / dt


# Order of the causes that lie with the bank.
BANK_CAUSES = ("battery full", "acceptance", "too cold")


def refused_wh(
    lanes: Lanes,
    level: Floats,
    surplus: Floats,
    hours: Floats,
    allowed: Floats,
    pace: Floats | None,
    unused: Floats,
) -> Floats:
    """Split what a charge left unused by its cause.

    Parameters
    ----------
    lanes : Lanes
    level : ndarray, shape (L,)
        Stored energy when the charge began. [Wh]
    surplus : ndarray, shape (L,)
        Offered at the terminals. [W]
    hours : ndarray, shape (L,)
        How long. [h]
    allowed : ndarray, shape (L,) or (1,)
        Share of the charge limit that the bank's temperature allows, 0 to 1.
    pace : ndarray, shape (L,) or (1,), optional
        As in `bank_charge.charge`.
    unused : ndarray, shape (L,)
        Offered and not taken in that time. [Wh]

    Returns
    -------
    ndarray, shape (3, L)
        In the order of `BANK_CAUSES`; sums to `unused`. [Wh]

    Notes
    -----
    The bank is full from the moment its taper ends. Before the taper, what the cold forbids of
    the charge limit is the cold's; all else is acceptance: the charge limit, or the taper.
    """
    power = np.minimum(surplus, allowed * lanes.charge_limit)
    stored = np.maximum((lanes.eta - lanes.r * power) * power, 1e-12)
    rate = lanes.rate if pace is None else lanes.rate * pace
    knee = np.minimum(lanes.asymptote - stored / rate, lanes.full)
    straight = np.maximum(knee - level, 0.0) / stored
    from_level = np.minimum(np.maximum(knee, level), lanes.full)
    taper = np.log((lanes.asymptote - from_level) / (lanes.asymptote - lanes.full)) / rate
    full = np.minimum(surplus * np.maximum(hours - straight - taper, 0.0), unused)
    warm = np.minimum(surplus, lanes.charge_limit)
    cold = np.minimum((warm - power) * np.minimum(straight, hours), unused - full)
    return np.stack([full, unused - full - cold, cold])
