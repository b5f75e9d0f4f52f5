"""One step of the battery: what the loads draw, and which groups of them go off.

Within a step powers are constant and the step is solved exactly: loads run until the charge
reaches the floor of their group. Most lanes of most steps touch no floor and are done in a few
array operations (`serve`); the others go floor by floor (`descend`).
"""

from __future__ import annotations

import numpy as np

from sim.arrays import Floats, Ints
from sim.van.bank.floors import descend
from sim.van.bank.lanes import Lanes, rate_share
from sim.van.bank.span import Lacking, Span, Spent
from sim.van.bank.switches import Switches

# To find out which of so few lanes reach a floor takes longer than to let all go down the floors.
_FEW = 64


def serve(lanes: Lanes, switches: Switches, span: Span) -> Spent:
    """Feed the loads for a step; updates `switches`.

    Notes
    -----
    Most lanes of most steps reach no floor: they are done at once. The others go down the
    floors one by one in `descend`, which does the former too, to the same digit, but slowly.
    """
    hours, level = span.hours, span.level
    if switches.off.size:
        switches.come_back(level, span.usable)
    load, lacking = _fed(switches, span)
    given, surplus = _balance(load, span.offered, level)
    lost = given * given
    lost *= lanes.r
    after = given + lost
    if hours != 1.0:
        after *= hours
        lost *= hours
    np.subtract(level, after, out=after)
    rest = _reaching(lanes, switches, span, given, after)
    spent = Spent(after, lost, surplus, None, lacking)
    if rest.size:
        _reach_floors(spent, lanes, switches, span, rest)
    return spent


def _fed(switches: Switches, span: Span) -> tuple[Floats, tuple[Lacking, ...]]:
    """Loads of the groups that are on [W], and what the others do without."""
    load, off = span.load(), switches.off
    if not off.size:
        return load, ()
    wanted = span.wanted_by(off)
    fed = wanted * switches.fed
    if len(load) < len(span.level):
        load = np.full_like(span.level, load)
    load[off] = np.add.reduce(fed, axis=0)
    missing = np.subtract(wanted, fed, out=fed)
    if span.hours != 1.0:
        missing *= span.hours
    return load, (Lacking(off, missing),)


def _balance(load: Floats, offered: Floats | None, level: Floats) -> tuple[Floats, Floats | None]:
    """What the bank gives, and what is left of the offer, None where there was none. [W]

    One sky or one demand may serve all lanes: what is asked of the bank is each lane's own.
    """
    if offered is None:
        return (load if load.shape == level.shape else load + np.zeros_like(level)), None
    most = np.maximum(load, offered, out=np.empty_like(level))
    given = most - offered
    return given, np.subtract(most, load, out=most)


def _reaching(lanes: Lanes, switches: Switches, span: Span, given: Floats, after: Floats) -> Ints:
    """Lanes that reach a floor, or ask for more than the bank's current limit; `given` as of
    `_balance` [W], `after` their charge after the step, were there no floors [Wh]."""
    floor, load, is_lead = switches.floor, given, lanes.peukert > 1.0
    if is_lead:
        if span.past is not None:
            load = span.past.mean(given, np.maximum(switches.on - 1, 0))
        # A power of a number is slow: only lanes that the heaviest of all loads would bring near
        # their floor need their own.
        heaviest = np.max(load / lanes.rated_w, keepdims=True)
        floor = lanes.raised(floor, rate_share(heaviest, np.ones(1), lanes.peukert))
    near = after < floor
    if lanes.may_lack_current:
        near |= given > lanes.discharge_limit
    rest = near.nonzero()[0]
    if rest.size < _FEW or (span.usable is None and not is_lead):
        return rest
    some, floor = lanes.some(rest), switches.floors_of(rest)
    if span.usable is not None:
        floor = some.raised(floor, span.usable.some(rest))
    if is_lead:
        floor = some.raised(floor, rate_share(load.take(rest), some.rated_w, lanes.peukert))
    reaches = after.take(rest) < floor
    if lanes.may_lack_current:
        reaches |= given.take(rest) > some.discharge_limit
    return rest[reaches]


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
    spent.lacking = (*spent.lacking, Lacking(rest, part.unserved))
