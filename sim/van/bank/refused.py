"""What the sources offered and nobody took: which source gave way, and why the bank did not take
it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sim.arrays import Floats, Ints
from sim.van.bank.charge import Hours, Straight, hours_of
from sim.van.bank.lanes import some_of
from sim.van.bank.substeps import Feed

# Order of the causes that lie with the bank.
BANK_CAUSES = ("battery full", "acceptance", "too cold")


class Left(NamedTuple):
    """Lanes that did not take all they were offered.

    Attributes
    ----------
    lanes : ndarray of int, shape (N,)
    shape : tuple of int
        That of all lanes, (L,).
    line : Straight
        What was offered to them and accepted.
    level : ndarray, shape (N,)
        Stored energy when the charge began. [Wh]
    surplus : ndarray, shape (N,)
        Offered at the terminals. [W]
    hours : ndarray, shape (N,), or float
        How long. [h]
    unused : ndarray, shape (N,)
        Offered and not taken in that time, above 0. [Wh]
    """

    lanes: Ints
    shape: tuple[int, ...]
    line: Straight
    level: Floats
    surplus: Floats
    hours: Hours
    unused: Floats

    @classmethod
    def of(
        cls, line: Straight, level: Floats, surplus: Floats, hours: Hours, unused: Floats
    ) -> Left | None:
        """Of all lanes; None where they took everything."""
        which = (unused > 0.0).nonzero()[0]
        if not which.size:
            return None
        return cls(
            which,
            unused.shape,
            line.some(which),
            level.take(which),
            surplus.take(which),
            hours_of(hours, which),
            unused.take(which),
        )


def slack_hours(left: Left) -> Floats:
    """For how long the bank took less than it was offered: once its taper was reached, or always
    when more was offered than its limit. [h], shape (N,)"""
    line, hours = left.line, left.hours
    straight = np.minimum(line.hours(left.level, line.bend()[1]), hours)
    return np.where(left.surplus > line.power, hours, hours - straight)


def refused_by_source(feed: Feed, left: Left) -> dict[int, Floats]:
    """What each source that offers something could not give away, by its place in the list.

    While there was too much, the last source gave way first and the first last. [Wh], shape (N,)
    """
    first, *others = (k for k, offers in enumerate(feed.offering) if offers)
    refused, rest = {}, left.unused
    if others:
        slack_h = slack_hours(left)
        for k in reversed(others):
            refused[k] = np.minimum(rest, some_of(feed.sources[k], left.lanes) * slack_h)
            rest = rest - refused[k]
    # One source alone gives way by itself, whenever that is.
    refused[first] = rest
    return refused


def taken_of(
    feed: Feed, left: Left, refused: dict[int, Floats], hours: float
) -> tuple[Floats, ...]:
    """Taken from each source by loads and bank, mean of a step. [W], shape (L,) or ()"""
    taken = list(feed.sources)
    for k, wh in refused.items():
        taken[k] = np.broadcast_to(taken[k], left.shape).copy()
        taken[k][left.lanes] -= wh / hours
    return tuple(taken)


def taken_of_one(feed: Feed, unused: Floats, hours: float) -> tuple[Floats, ...]:
    """The same where one source alone offers something; `unused` of all lanes [Wh]."""
    alone, taken = feed.offering.index(True), list(feed.sources)
    taken[alone] = taken[alone] - (unused if hours == 1.0 else unused / hours)
    return tuple(taken)


def refused_by_cause(left: Left, refused: Floats) -> Floats:
    """What `refused` [Wh], a part of what was left, owes to each of `BANK_CAUSES`; the sum of
    the lanes. [Wh], shape (3,)"""
    # One source alone left it all.
    is_all = refused is left.unused
    share = np.ones(len(refused)) if is_all else np.minimum(refused / left.unused, 1.0)
    return np.asarray(refused_wh(left) @ share)


def refused_wh(left: Left) -> Floats:
    """Split what a charge left unused by its cause.

    Returns
    -------
    ndarray, shape (3, N)
        In the order of `BANK_CAUSES`; sums to `left.unused`. [Wh]

    Notes
    -----
    The bank is full from the moment its taper ends. Before the taper, what the cold forbids of
    the charge limit is the cold's; all else is acceptance: the charge limit, or the taper.
    """
    _, _, line, level, surplus, hours, unused = left
    lanes = line.lanes
    rate, knee = line.bend()
    straight = line.hours(level, knee)
    above = lanes.asymptote - np.maximum(knee, level)
    taper = np.log(above / (lanes.asymptote - lanes.full)) / rate
    causes = np.empty((len(BANK_CAUSES), len(unused)))
    full, acceptance, cold = causes
    np.minimum(surplus * np.maximum(hours - straight - taper, 0.0), unused, out=full)
    warm = np.minimum(surplus, lanes.charge_limit)
    rest = unused - full
    np.minimum((warm - line.power) * np.minimum(straight, hours), rest, out=cold)
    np.subtract(rest, cold, out=acceptance)
    return causes
