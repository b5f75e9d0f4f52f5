"""One step of the battery in lanes that reach a floor: groups of loads go off one by one."""

from __future__ import annotations

import numpy as np

from sim.arrays import Bools, Floats, Ints
from sim.van.bank.lanes import Lanes, rate_share
from sim.van.bank.span import Lacking, Span, Spent

# A level above any bank's, such that levels in between stay finite. [Wh]
_OUT_OF_REACH = 1e30


def descend(lanes: Lanes, span: Span, on: Ints) -> tuple[Spent, Ints]:
    """Feed the loads for a step, switching groups off as their floors are reached.

    Parameters
    ----------
    lanes : Lanes
    span : Span
    on : ndarray of int, shape (L,)
        Groups that are on.

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
    the step, and one of a group that is off already is over before it begins.
    """
    hours, level, wanted, offered, usable, past = span
    floors = lanes.floors if usable is None else lanes.raised(lanes.floors, usable)
    is_on = on > np.arange(len(floors))[:, None]
    own = wanted * is_on
    # Row k of the spells: with the first G - k groups on.
    load = np.zeros((len(floors) + 1, len(level)))
    np.add.accumulate(own, axis=0, out=load[-2::-1])
    deficit = load if offered is None else load - offered
    given = np.maximum(deficit, 0.0)
    if lanes.may_lack_current:
        np.minimum(given, lanes.discharge_limit, out=given)
    # Drained, lost and lacking in each spell, and how long there is power to spare in it.
    sums = np.empty((2 if offered is None else 4, *load.shape))
    drain, lost = sums[:2]
    np.multiply(given, given, out=lost)
    lost *= lanes.r
    np.add(given, lost, out=drain)
    if lanes.peukert > 1.0:
        mean = given[-2::-1] if past is None else past.means(given[-2::-1])
        floors = lanes.raised(floors, rate_share(mean, lanes.rated_w, lanes.peukert))
    carried = deficit <= 0.0
    spell, ends = _spells(level, np.where(is_on, floors, _OUT_OF_REACH), drain, carried, hours)
    # A group whose floor is reached stays off until the charge is well above it again.
    on = np.minimum(on, np.add.reduce(ends[::-1] >= hours, axis=0))
    unserved = (wanted if hours == 1.0 else wanted * hours) - own * ends[::-1]
    np.maximum(unserved, 0.0, out=unserved)
    if lanes.may_lack_current and (deficit > lanes.discharge_limit).any():
        _cut_short(unserved, own, deficit - given, spell)
    if offered is not None:
        # At most one spell of a lane is one in which something is left over.
        np.multiply(carried, spell, out=sums[3])
        np.multiply(deficit, sums[3] > 0.0, out=sums[2])
    sums[:2] *= spell
    after, losses, *left = np.add.reduce(sums, axis=1)
    lacking = Lacking(np.arange(len(level)), unserved)
    if not left:
        return Spent(level - after, losses, None, None, lacking), on
    lacks, spare_h = left
    return Spent(level - after, losses, -lacks, spare_h, lacking), on


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
