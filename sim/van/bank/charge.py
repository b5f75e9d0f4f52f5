"""One step of the battery, the other way: what the sources charge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.arrays import Bools, Floats, Ints
from sim.van.bank.lanes import Lanes, Taper, some_of

# Where more than this share of the lanes reach their taper, all are done together: to pick so many
# out takes longer.
_MOST = 0.6
# Part of a step that some lanes charge: of each lane, or the same of all. [h]
Hours = Floats | float


@dataclass(slots=True)
class Straight:
    """The straight stretch of a charge: constant power, until the taper lets in less than that.

    Attributes
    ----------
    lanes : Lanes
    power : ndarray, shape (L,)
        At the terminals. [W]
    stored : ndarray, shape (L,)
        What of it is stored, ``eta P - r P**2``. [W]
    pace : ndarray, shape (L,) or (), or None
        What is accepted within the taper over what a warm bank accepts there, above 0; None: as
        much.
    """

    lanes: Lanes
    power: Floats
    stored: Floats
    pace: Floats | None

    @classmethod
    def of(
        cls,
        lanes: Lanes,
        surplus: Floats,
        allowed: Floats | None,
        most_w: float,
        pace: Floats | None,
    ) -> Straight:
        """Of lanes that are offered a surplus of at most so much [W] and may take a share of their
        limit, 0 when too cold, or the whole (None)."""
        if allowed is not None:
            power = np.minimum(surplus, allowed * lanes.charge_limit)
        elif most_w > lanes.least_limit:
            power = np.minimum(surplus, lanes.charge_limit)
        else:
            power = surplus
        stored = lanes.r * power
        np.subtract(lanes.eta, stored, out=stored)
        stored *= power
        return cls(lanes, power, stored, pace)

    def bend(self) -> tuple[Floats, Floats]:
        """Within the taper the accepted stored power is ``rate * (asymptote - level)``: the rate
        [1/h], and the level at which it begins: that of the taper, or full [Wh]."""
        lanes = self.lanes
        rate = lanes.rate if self.pace is None else lanes.rate * self.pace
        knee = self.stored / rate
        np.subtract(lanes.asymptote, knee, out=knee)
        return rate, np.minimum(knee, lanes.full, out=knee)

    def hours(self, level: Floats, knee: Floats) -> Floats:
        """How long it lasts from a level on. [h], shape (L,)"""
        return np.maximum(knee - level, 0.0) / np.maximum(self.stored, 1e-12)

    def some(self, which: Ints) -> Straight:
        """The same for some of the lanes."""
        pace = None if self.pace is None else some_of(self.pace, which)
        return Straight(self.lanes.some(which), self.power[which], self.stored[which], pace)


def lasting(value: Floats, hours: Hours) -> Floats:
    """Power for some hours. [Wh]"""
    return value if isinstance(hours, float) and hours == 1.0 else value * hours


def hours_of(hours: Hours, which: Ints) -> Hours:
    """The hours of some lanes."""
    return hours if isinstance(hours, float) else hours[which]


def charge(line: Straight, level: Floats, hours: Hours) -> tuple[Floats, Floats, Floats]:
    """Charge lanes for a while.

    Parameters
    ----------
    line : Straight
        What is offered and accepted.
    level : ndarray, shape (L,)
        Stored energy at the start. [Wh]
    hours : ndarray, shape (L,), or float
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
    gain, taken = lasting(line.stored, hours), lasting(line.power, hours)
    end = level + gain
    lost = taken - gain
    if not np.count_nonzero(end > line.lanes.bends_above(line.pace)):
        return end, taken, lost
    turns = end > line.bend()[1]
    if not isinstance(hours, float):
        turns &= gain > 0.0
    bent = turns.nonzero()[0]
    if not bent.size:
        return end, taken, lost
    if len(bent) > _MOST * len(end):
        return _nearly_all_taper(line, level, hours, turns, (end, taken, lost))
    if taken is line.power:
        taken = taken.copy()
    end[bent], taken[bent], lost[bent] = _taper(
        line.lanes.taper(bent, line.pace),
        line.lanes.eta,
        line.power.take(bent),
        line.stored.take(bent),
        level.take(bent),
        hours_of(hours, bent),
    )
    return end, taken, lost


def _nearly_all_taper(
    line: Straight,
    level: Floats,
    hours: Hours,
    turns: Bools,
    straight: tuple[Floats, Floats, Floats],
) -> tuple[Floats, Floats, Floats]:
    """The same where most lanes reach their taper: as if all did, and then the few that do not,
    which charge `straight` on."""
    taper = line.lanes.taper(None, line.pace)
    # Nothing is stored where nothing is offered: such lanes are not among those that taper.
    stored = np.maximum(line.stored, 1e-12)
    bent = _taper(taper, line.lanes.eta, line.power, stored, level, hours)
    others = (~turns).nonzero()[0]
    for values, own in zip(bent, straight, strict=True):
        values[others] = own.take(others)
    return bent


def _taper(
    taper: Taper, eta: Floats, power: Floats, stored: Floats, level: Floats, hours: Hours
) -> tuple[Floats, Floats, Floats]:
    """End level, taken and lost energy of lanes whose charge reaches the taper.

    All of them are offered something, and reach the taper before the hours are over.
    """
    rate, asymptote, full, r = taper
    knee = np.minimum(asymptote - stored / rate, full)
    straight = np.minimum((np.maximum(knee, level) - level) / stored, hours)
    rest = hours - straight
    reached = level + stored * straight
    end = np.minimum(asymptote - (asymptote - reached) * np.exp(-rate * rest), full)
    np.maximum(end, level, out=end)
    # The terminal power whose stored part is the mean: eta P - r P**2 = mean, solved for P.
    mean = (end - reached) / np.maximum(rest, 1e-12)
    np.minimum(mean, stored, out=mean)
    taken = power * straight + 2.0 * mean / (eta + np.sqrt(eta * eta - 4.0 * r * mean)) * rest
    return end, taken, taken - (end - level)
