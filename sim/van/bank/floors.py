"""One step of the battery in lanes that reach a floor: groups of loads go off one by one."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sim.arrays import Bools, Floats, Ints
from sim.van.bank.lanes import Lanes, rate_share
from sim.van.bank.span import Span

# A level above any bank's, such that levels in between stay finite. [Wh]
OUT_OF_REACH = 1e30


class Descent(NamedTuple):
    """What came of lanes that reached a floor; arrays of shape (L,) unless said.

    Attributes
    ----------
    on : ndarray of int
        Groups that are on at the end.
    level, losses : ndarray
        Stored energy at the end, and turned to heat. [Wh]
    surplus, spare_h : ndarray, or None
        Offered beyond the loads [W], and for how long [h]; None: nothing was offered.
    unserved : ndarray, shape (G, L)
        Wanted and not given, by group, of the groups that were on; of the others nought. [Wh]
    """

    on: Ints
    level: Floats
    losses: Floats
    surplus: Floats | None
    spare_h: Floats | None
    unserved: Floats


def descend(lanes: Lanes, span: Span, on: Ints, fed: Floats, floors: Floats) -> Descent:
    """Feed the loads for a step, switching groups off as their floors are reached.

    Parameters
    ----------
    lanes : Lanes
    span : Span
    on : ndarray of int, shape (L,)
        Groups that are on.
    fed : ndarray, shape (G, L)
        1 for each of those, 0 for the others.
    floors : ndarray, shape (G, L)
        Of the groups that are on; of the others `OUT_OF_REACH`. [Wh]

    Returns
    -------
    Descent

    Notes
    -----
    The floors rise with the groups, so a step of G groups has at most G + 1 spells: with all of
    them on, with all but the last, and so on down to none. Each lasts as long as its draw takes
    from the floor above to its own, or to the end of the step if the sources carry the loads;
    that of a group that is off is over before it begins.
    """
    hours, level, offered = span.hours, span.level, span.offered
    own = span.wanted * fed
    # Row k: the spell with k groups on. Rows of one length: numpy is quickest with these.
    load = np.zeros((len(fed) + 1, len(level)))
    np.add.accumulate(own, axis=0, out=load[1:])
    deficit = load if offered is None else load - offered
    given = deficit if offered is None else np.maximum(deficit, 0.0)
    if lanes.may_lack_current:
        given = np.minimum(given, lanes.discharge_limit)
    # Drained, lost and lacking in each spell, and how long there is power to spare in it.
    sums = np.empty((2 if offered is None else 4, *load.shape))
    drain, lost = sums[:2]
    np.multiply(given, given, out=lost)
    lost *= lanes.r
    np.add(given, lost, out=drain)
    floors = _raised(lanes, floors, given[1:], span)
    carried = deficit <= 0.0
    ends = _ends(level, floors, drain[1:], carried[1:], hours)
    spell, ends = ends[:-1] - ends[1:], ends[1:]
    # A group whose floor is reached stays off until the charge is well above it again.
    on = np.minimum(on, (ends < hours).argmax(axis=0))
    unserved = (own if hours == 1.0 else own * hours) - own * ends[:-1]
    if lanes.may_lack_current and (short := deficit - given).max() > 0.0:
        _cut_short(unserved, own, short, spell)
    if offered is not None:
        # At most one spell of a lane is one in which something is left over.
        np.multiply(carried, spell, out=sums[3])
        np.multiply(deficit, sums[3] > 0.0, out=sums[2])
    drain *= spell
    lost *= spell
    after, losses, *left = np.add.reduce(sums, axis=1)
    np.subtract(level, after, out=after)
    surplus, spare_h = (-left[0], left[1]) if left else (None, None)
    return Descent(on, after, losses, surplus, spare_h, unserved)


def _raised(lanes: Lanes, floors: Floats, given: Floats, span: Span) -> Floats:
    """Floors as the bank's temperature and the load raise them; `given` down to each group [W].
    [Wh]"""
    usable, past = span.usable, span.past
    if usable is not None:
        floors = lanes.raised(floors, usable.values)
    if lanes.peukert > 1.0:
        mean = given if past is None else past.means(given)
        floors = lanes.raised(floors, rate_share(mean, lanes.rated_w, lanes.peukert))
    return floors


def _ends(level: Floats, floors: Floats, drain: Floats, carried: Bools, hours: float) -> Floats:
    """When each spell ends. [h], shape (G + 2, L)

    Row k is of the spell with k groups on; the last row, 0, is when the first spell begins.
    """
    ends = np.empty((len(floors) + 2, len(level)))
    ends[0], ends[-1] = hours, 0.0
    room = ends[1:-1]
    # What lies between the floors below the charge; nothing of what lies above it.
    room[-1] = level
    np.minimum(floors[1:], level, out=room[:-1])
    room -= np.minimum(floors, level)
    room /= np.maximum(drain, 1e-9)
    np.putmask(room, carried, np.inf)
    for k in range(len(room) - 2, -1, -1):
        room[k] += room[k + 1]
    return np.minimum(ends, hours, out=ends)


def _cut_short(unserved: Floats, own: Floats, short: Floats, spell: Floats) -> None:
    """What the bank's current limit leaves unserved in each spell, the last group first; adds
    it to `unserved`. [Wh]"""
    for count in range(len(own), 0, -1):
        rest = np.maximum(short[count], 0.0)
        for rank in range(count - 1, -1, -1):
            lacking = np.minimum(rest, own[rank])
            unserved[rank] += lacking * spell[count]
            rest = rest - lacking
