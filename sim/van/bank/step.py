"""One step of the battery: what the loads draw, and which groups of them go off.

Within a step powers are constant and the step is solved exactly: loads run until the charge
reaches the floor of their group. Most lanes of most steps touch no floor and are done in a few
array operations (`serve`); the others go floor by floor (`descend`).
"""

from __future__ import annotations

import numpy as np

from sim.arrays import Floats, Ints
from sim.van.bank.floors import descend
from sim.van.bank.lanes import Lanes, rate_share, some_of
from sim.van.bank.span import Lacking, Span, Spent
from sim.van.bank.switches import Switches


def serve(lanes: Lanes, switches: Switches, span: Span) -> Spent:
    """Feed the loads for a step; updates `switches`.

    Notes
    -----
    Most lanes of most steps reach no floor: they are done at once. The others go down the
    floors one by one in `descend`, which does the former too, to the same digit, but slowly.
    """
    hours, level, _, offered, usable, past = span
    if switches.off.size:
        switches.come_back(level, usable)
    load, lacking = _fed(switches, span)
    given, surplus = _balance(load, offered, level)
    lost = given * given
    lost *= lanes.r
    after = given + lost
    if hours != 1.0:
        after *= hours
        lost *= hours
    np.subtract(level, after, out=after)
    floor = switches.floor
    if usable is not None:
        floor = lanes.raised(floor, usable)
    if lanes.peukert > 1.0:
        last = np.maximum(switches.on - 1, 0)
        load = given if past is None else past.mean(given, last)
        floor = _floor_under_load(lanes, floor, after, load)
    reaches = after < floor
    if lanes.may_lack_current:
        reaches |= given > lanes.discharge_limit
    spent = Spent(after, lost, surplus, None, lacking)
    rest = reaches.nonzero()[0]
    if rest.size:
        if lacking is not None:
            quiet = (~reaches[lacking.lanes]).nonzero()[0]
            spent.lacking = Lacking(lacking.lanes[quiet], lacking.wh.take(quiet, axis=1))
        _reach_floors(spent, lanes, switches, span, rest)
    return spent


def _fed(switches: Switches, span: Span) -> tuple[Floats, Lacking | None]:
    """Loads of the groups that are on [W], and what the others do without."""
    load, off = _sum(span.wanted), switches.off
    if not off.size:
        return load, None
    wanted = some_of(span.wanted, off)
    fed = wanted * switches.fed
    if load.shape != span.level.shape:
        load = np.full_like(span.level, load)
    load[off] = _sum(fed)
    missing = np.subtract(wanted, fed, out=fed)
    if span.hours != 1.0:
        missing *= span.hours
    return load, Lacking(off, missing)


def _sum(groups: Floats) -> Floats:
    """All groups together; faster than a reduction over so few."""
    load: Floats = groups[0] + groups[1]
    for more in groups[2:]:
        load += more
    return load


def _balance(load: Floats, offered: Floats | None, level: Floats) -> tuple[Floats, Floats | None]:
    """What the bank gives, and what is left of the offer, None where there was none. [W]

    One sky or one demand may serve all lanes: what is asked of the bank is each lane's own.
    """
    if offered is None:
        return (load if load.shape == level.shape else load + np.zeros_like(level)), None
    most = np.maximum(load, offered, out=np.empty_like(level))
    given = most - offered
    return given, np.subtract(most, load, out=most)


def _reach_floors(spent: Spent, lanes: Lanes, switches: Switches, span: Span, rest: Ints) -> None:
    """Do the lanes that reach a floor anew, floor by floor."""
    part = descend(lanes.some(rest), span.some(rest), *switches.groups(rest))
    switches.settle(rest, part.on)
    spent.level[rest], spent.losses[rest] = part.level, part.losses
    if spent.surplus is not None and part.surplus is not None and part.spare_h is not None:
        spent.surplus[rest] = part.surplus
        # Seldom do the sources carry the loads for a part of a step only.
        if np.count_nonzero((part.spare_h > 0.0) & (part.spare_h < span.hours)):
            spent.spare_h = np.full_like(span.level, span.hours)
            spent.spare_h[rest] = part.spare_h
    lacking = spent.lacking
    if lacking is None:
        spent.lacking = Lacking(rest, part.unserved)
    else:
        both = np.concatenate([lacking.lanes, rest])
        spent.lacking = Lacking(both, np.concatenate([lacking.wh, part.unserved], axis=1))


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
