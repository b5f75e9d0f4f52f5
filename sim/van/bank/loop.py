"""The battery over a trip: the hour loop outside, all lanes side by side inside."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from sim.arrays import Floats
from sim.van.bank.apart import Parted, side_by_side
from sim.van.bank.charge import Hours, Straight, charge, lasting
from sim.van.bank.hours import BankHours
from sim.van.bank.lanes import Bank, Lanes
from sim.van.bank.offers import Offers
from sim.van.bank.refused import (
    BANK_CAUSES,
    Left,
    refused_by_cause,
    refused_by_source,
    taken_of,
    taken_of_one,
)
from sim.van.bank.running import Runner
from sim.van.bank.sources import of_lanes, together
from sim.van.bank.span import Lacking, Past, Span, Spent
from sim.van.bank.step import serve
from sim.van.bank.substeps import (
    Done,
    Feed,
    Substep,
    either,
    in_parts,
    joined,
    together_lacking,
)
from sim.van.bank.switches import Switches


def run_bank(
    bank: Bank,
    offers: Offers,
    *,
    start_soc: float | Floats,
    step_hours: float,
    in_full: bool = True,
    progress: Callable[[float], None] | None = None,
) -> BankHours:
    """Carry the balance through a trip, all lanes at once, and keep every step.

    Parameters
    ----------
    bank : Bank
    offers : Offers
        H steps, L lanes.
    start_soc : float, or ndarray of shape (L,)
        0 to 1.
    step_hours : float
    in_full : bool
        Whether the losses, and why sun was refused, are kept too; else they are NaN.
    progress : callable, optional
        Called now and then with the share of the steps done, 0 to 1.

    Returns
    -------
    BankHours
        What was taken of all sources, less ``served + losses``, equals the change of the
        charge, with ``served = wanted + beyond - unserved``.
    """
    steps, count = offers.steps, offers.lanes(bank)
    found = BankHours(
        soc=np.empty((steps + 1, count)),
        # What stays nought is not touched, so that it takes no memory.
        taken_w=tuple(np.zeros((steps, count)) for _ in offers.sources),
        losses_w=np.empty((steps, count)) if in_full else np.broadcast_to(np.nan, (steps, count)),
        unserved_w=np.zeros((len(offers.wanted_w), steps, count)),
        refused_sun_w=np.full((len(BANK_CAUSES), steps), 0.0 if in_full else np.nan),
        lowest_soc=np.full(count, start_soc, dtype=np.float64),
        cut_off_h=np.full(count, np.inf),
        runs={},
    )
    found.soc[0] = start_soc
    full = np.asarray(bank.capacity_wh, dtype=np.float64)
    runners = {k: x.keep() for k, x in offers.runners(count, step_hours).items()}
    told = offers.suns if in_full else ()
    every = walk(bank, offers, start_soc, step_hours, progress, runners=runners, told=told)
    for step, done in enumerate(every):
        soc = np.divide(done.level, full, out=found.soc[step + 1])
        lowest = soc if done.lowest is done.level else done.lowest / full
        np.minimum(found.lowest_soc, lowest, out=found.lowest_soc)
        _keep(found, step, done, offers.offering[step], step_hours, in_full=in_full)
    return replace(found, runs={k: runner.run() for k, runner in runners.items()})


def _keep(
    found: BankHours,
    step: int,
    done: Done,
    offering: tuple[bool, ...],
    step_hours: float,
    *,
    in_full: bool,
) -> None:
    """Write down what else happened in a step; `offering` says which sources offer in it."""
    for kept, taken, offers_now in zip(found.taken_w, done.taken, offering, strict=True):
        if offers_now:
            kept[step] = taken
    if in_full:
        found.losses_w[step] = _mean(done.losses, step_hours)
    if done.cut_off is not None:
        end_h = np.minimum(found.cut_off_h[done.cut_off], (step + 1) * step_hours)
        found.cut_off_h[done.cut_off] = end_h
    _keep_lacking(found.unserved_w, step, done, step_hours)
    if done.refused_sun is not None:
        found.refused_sun_w[:, step] = done.refused_sun / step_hours


def _keep_lacking(unserved_w: Floats, step: int, done: Done, step_hours: float) -> None:
    """Write down what was not served in a step."""
    for number, (lanes, wh) in enumerate(done.lacking):
        for kept, missing in zip(unserved_w, wh, strict=True):
            # What stays nought is not touched, so that it takes no memory.
            if np.count_nonzero(missing):
                row, watts = kept[step], _mean(missing, step_hours)
                row[lanes] = row[lanes] + watts if number else watts


def unserved_bank(
    bank: Bank, offers: Offers, *, start_soc: float | Floats, step_hours: float
) -> Floats:
    """Carry the balance through a trip and keep what is not served alone.

    Parameters as of `run_bank`, and as its `unserved_w`. [W], shape (G, H, L)
    """
    count = offers.lanes(bank)
    unserved_w = np.zeros((len(offers.wanted_w), offers.steps, count))
    runners = offers.runners(count, step_hours)
    for step, done in enumerate(walk(bank, offers, start_soc, step_hours, runners=runners)):
        _keep_lacking(unserved_w, step, done, step_hours)
    return unserved_w


def _mean(wh: Floats, hours: float) -> Floats:
    """Mean power of an energy [Wh]; dividing by one hour would only take time. [W]"""
    return wh if hours == 1.0 else wh / hours


def walk(
    bank: Bank,
    offers: Offers,
    start_soc: float | Floats,
    step_hours: float,
    progress: Callable[[float], None] | None = None,
    *,
    runners: Mapping[int, Runner],
    told: tuple[int, ...] = (),
) -> Iterator[Done]:
    """The hour loop: hours outside, lanes side by side; `told` as of `_During`."""
    steps, count = offers.steps, offers.lanes(bank)
    lanes = Lanes.of(bank)
    lanes.may_lack_current = offers.most_wanted_w() > lanes.discharge_limit.min()
    level = np.broadcast_to(lanes.full * start_soc, (count,)).copy()
    switches = Switches(lanes, level, None if offers.usable is None else offers.least_usable)
    during = _During(step_hours, bank.self_discharge_per_h, told)
    hour = _Hour(lanes, count, step_hours) if lanes.peukert > 1.0 and step_hours < 1.0 else None
    for step in range(steps):
        feed = offers.feed(step)
        for k, runner in runners.items():
            here = runner.offers(step, feed.sources[k], level / lanes.full)
            feed = feed._replace(sources=(*feed.sources[:k], here, *feed.sources[k + 1 :]))
        if hour is not None:
            feed = feed._replace(past=hour.past(step, feed))
        if step in offers.apart:
            done = _in_groups(lanes, switches, level, feed, offers.apart[step], during)
        else:
            parts = offers.parts.get(step, ())
            done = _step(lanes, switches, level, feed, parts, during)
        level = done.level
        if offers.beyond_w is not None:
            beyond = of_lanes(offers.beyond_w[:, step], offers.draw) * step_hours
            own = Lacking(np.arange(count), np.broadcast_to(beyond, (len(beyond), count)))
            done.lacking = together_lacking((*done.lacking, own), count)
        for k, runner in runners.items():
            runner.took(step, done.taken[k])
        yield done
        if progress is not None and step % 64 == 63:
            progress((step + 1) / steps)


def _asked(limit: Floats, feed: Feed) -> Floats:
    """What each group and those before it ask of the bank. [W], shape (G, L)"""
    wanted = of_lanes(feed.wanted, feed.draw)
    return np.clip(np.cumsum(wanted, axis=0) - together(feed.sources), 0.0, limit)


def _steady(lanes: Lanes, count: int, feed: Feed, step_hours: float) -> Past:
    """The mean load of the hour, for the parts of a step: Peukert's law knows no other."""
    asked = np.zeros((len(feed.wanted), count)) + step_hours * _asked(lanes.discharge_limit, feed)
    return Past(asked if feed.past is None else asked + feed.past.asked, 0.0)


class _During(NamedTuple):
    """How long a step or a part of it lasts [h], the share of the charge that leaks away in an
    hour, and the sources of which is told, by its cause, what is left of them."""

    hours: float
    leak_per_h: float
    told: tuple[int, ...]


def _in_groups(
    lanes: Lanes,
    switches: Switches,
    level: Floats,
    feed: Feed,
    groups: tuple[Parted, ...],
    during: _During,
) -> Done:
    """A step that groups of lanes do in parts of their own."""
    # Those that begin the trip below their floor are cut off with its first step.
    before, done = switches.newly_cut_off(), []
    for which, parts in groups:
        own = switches.some(which)
        some = lanes.some(which), own, level.take(which), feed.some(which)
        done.append((which, own, _step(*some, parts, during)))
    switches.take_over((which, own) for which, own, _ in done)
    whole = side_by_side([(which, one) for which, _, one in done], feed, len(level))
    whole.cut_off = either(before, whole.cut_off)
    return whole


def _step(
    lanes: Lanes,
    switches: Switches,
    level: Floats,
    feed: Feed,
    parts: tuple[Substep, ...],
    during: _During,
) -> Done:
    """A step in parts; at once where there are none."""
    if not parts:
        return _advance(lanes, switches, level, feed, during)
    step_hours, done = during.hours, []
    past = _steady(lanes, len(level), feed, step_hours) if lanes.peukert > 1.0 else None
    for part, fed in zip(parts, in_parts(feed, parts, past), strict=True):
        one = _advance(lanes, switches, level, fed, during._replace(hours=part.share * step_hours))
        level = one.level
        done.append(one)
    return joined(parts, done)


def _advance(lanes: Lanes, switches: Switches, level: Floats, feed: Feed, during: _During) -> Done:
    """Serve the loads and charge for a while."""
    hours, leak_per_h, told = during
    heat = level * (leak_per_h * hours)
    level = level - heat
    offered = feed.offered()
    span = Span(hours, level, feed.wanted, feed.draw, offered, feed.usable, feed.past)
    spent = serve(lanes, switches, span)
    heat += spent.losses
    after, cut_off = spent.level, switches.newly_cut_off()
    done = Done(after, after, feed.sources, heat, spent.lacking, None, cut_off)
    if spent.surplus is not None and np.count_nonzero(spent.surplus):
        _charge(done, lanes, feed, spent, hours, told)
    return done


def _charge(
    done: Done, lanes: Lanes, feed: Feed, spent: Spent, hours: float, told: tuple[int, ...]
) -> None:
    """Charge with what the loads leave; adds to what was done in a step."""
    surplus, before = spent.surplus, spent.level
    assert surplus is not None
    spare_h: Hours = hours if spent.spare_h is None else spent.spare_h
    line = Straight.of(lanes, surplus, feed.allowed, feed.most_w, feed.pace)
    level, used, lost = charge(line, before, spare_h)
    done.level = done.lowest = level
    done.losses += lost
    if used is surplus:
        return
    unused = lasting(surplus, spare_h) - used
    alone = feed.offering.count(True) == 1
    if alone:
        done.taken = taken_of_one(feed, unused, hours)
    if not alone or feed.offering.index(True) in told:
        left = Left.of(line, before, surplus, spare_h, unused)
        if left is None:
            return
        refused = refused_by_source(feed, left)
        if not alone:
            done.taken = taken_of(feed, left, refused, hours)
        suns = [refused[k] for k in told if k in refused]
        if suns:
            done.refused_sun = refused_by_cause(left, together(suns)) / len(unused)


class _Hour:
    """What the loads asked of the bank in the last hour, step by step."""

    def __init__(self, lanes: Lanes, count: int, step_hours: float) -> None:
        self._limit, self._step_hours = lanes.discharge_limit, step_hours
        self._asked = np.zeros((round(1.0 / step_hours), len(lanes.floors), count))

    def past(self, step: int, feed: Feed) -> Past:
        """The hour before a step; remembers the step for those to come."""
        here = self._asked[step % len(self._asked)]
        here[:] = 0.0
        before = self._asked.sum(axis=0) * self._step_hours
        here[:] = _asked(self._limit, feed)
        return Past(before, self._step_hours)
