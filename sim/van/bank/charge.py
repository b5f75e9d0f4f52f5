"""One step of the battery, the other way: what the sources charge, and why a bank did not take
what was offered."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sim.arrays import Floats, Ints
from sim.van.bank.lanes import Lanes, some_of


class Straight(NamedTuple):
    """The straight stretch of a charge: constant power, until the taper lets in less than that.

    Attributes
    ----------
    power : ndarray, shape (L,)
        At the terminals. [W]
    stored : ndarray, shape (L,)
        What of it is stored, ``eta P - r P**2``. [W]
    rate : ndarray, shape (L,) or (1,)
        Within the taper the accepted stored power is ``rate * (asymptote - level)``. [1/h]
    knee : ndarray, shape (L,)
        Level at which it ends: that of the taper, or full. [Wh]
    """

    power: Floats
    stored: Floats
    rate: Floats
    knee: Floats

    @classmethod
    def of(cls, lanes: Lanes, surplus: Floats, limit: Floats, pace: Floats | None) -> Straight:
        """Of lanes that are offered a surplus.

        Parameters
        ----------
        lanes : Lanes
        surplus : ndarray, shape (L,)
            Offered at the terminals. [W]
        limit : ndarray, shape (L,) or (1,)
            Largest accepted power now, 0 when too cold. [W]
        pace : ndarray, shape (L,) or (1,), optional
            What is accepted within the taper over what a warm bank accepts there, above 0.
        """
        power = np.minimum(surplus, limit)
        stored = lanes.r * power
        np.subtract(lanes.eta, stored, out=stored)
        stored *= power
        rate = lanes.rate if pace is None else lanes.rate * pace
        knee = stored / rate
        np.subtract(lanes.asymptote, knee, out=knee)
        return cls(power, stored, rate, np.minimum(knee, lanes.full, out=knee))

    def hours(self, level: Floats) -> Floats:
        """How long it lasts from a level on. [h], shape (L,)"""
        return np.maximum(self.knee - level, 0.0) / np.maximum(self.stored, 1e-12)

    def some(self, which: Ints) -> Straight:
        """The same for some of the lanes."""
        return Straight(
            self.power[which], self.stored[which], some_of(self.rate, which), self.knee[which]
        )


def charge(
    lanes: Lanes, level: Floats, line: Straight, hours: Floats
) -> tuple[Floats, Floats, Floats]:
    """Charge lanes for a while.

    Parameters
    ----------
    lanes : Lanes
    level : ndarray, shape (L,)
        Stored energy at the start. [Wh]
    line : Straight
        What is offered and accepted.
    hours : ndarray, shape (L,)
        How long; may be 0. [h]

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
    gain = line.stored * hours
    end = level + gain
    taken = line.power * hours
    lost = taken - gain
    turns = end > line.knee
    turns &= gain > 0.0
    bent = np.flatnonzero(turns)
    if bent.size:
        end[bent], taken[bent], lost[bent] = _taper(
            lanes.some(bent), line.some(bent), level[bent], hours[bent]
        )
    return end, taken, lost


def _taper(
    lanes: Lanes, line: Straight, level: Floats, hours: Floats
) -> tuple[Floats, Floats, Floats]:
    """End level, taken and lost energy of lanes whose charge reaches the taper."""
    eta, r = lanes.eta, lanes.r
    straight = np.minimum(line.hours(level), hours)
    rest = hours - straight
    reached = level + line.stored * straight
    end = np.minimum(
        lanes.asymptote - (lanes.asymptote - reached) * np.exp(-line.rate * rest), lanes.full
    )
    end = np.maximum(end, level)
    # The terminal power whose stored part is the mean: eta P - r P**2 = mean, solved for P.
    mean = np.maximum(end - reached, 0.0) / np.maximum(rest, 1e-12)
    mean = np.minimum(mean, line.stored)
    taken = line.power * straight + 2.0 * mean / (eta + np.sqrt(eta * eta - 4.0 * r * mean)) * rest
    return end, taken, taken - (end - level)


def slack_hours(line: Straight, level: Floats, surplus: Floats, hours: Floats) -> Floats:
    """For how long the bank takes less than it is offered: once its taper is reached, or always
    when more is offered than its limit. [h], shape (L,)"""
    straight = np.minimum(line.hours(level), hours)
    return np.where(surplus > line.power, hours, hours - straight)


# Order of the causes that lie with the bank.
BANK_CAUSES = ("battery full", "acceptance", "too cold")


def refused_wh(
    lanes: Lanes,
    line: Straight,
    level: Floats,
    surplus: Floats,
    hours: Floats,
    unused: Floats,
) -> Floats:
    """Split what a charge left unused by its cause.

    Parameters
    ----------
    lanes : Lanes
    line : Straight
        What was offered and accepted.
    level : ndarray, shape (L,)
        Stored energy when the charge began. [Wh]
    surplus : ndarray, shape (L,)
        Offered at the terminals. [W]
    hours : ndarray, shape (L,)
        How long. [h]
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
    straight = line.hours(level)
    from_level = np.minimum(np.maximum(line.knee, level), lanes.full)
    taper = np.log((lanes.asymptote - from_level) / (lanes.asymptote - lanes.full)) / line.rate
    full = np.minimum(surplus * np.maximum(hours - straight - taper, 0.0), unused)
    warm = np.minimum(surplus, lanes.charge_limit)
    cold = np.minimum((warm - line.power) * np.minimum(straight, hours), unused - full)
    return np.stack([full, unused - full - cold, cold])
