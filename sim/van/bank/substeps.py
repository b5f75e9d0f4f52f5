"""A step of the battery in parts: where an engine, a plug or a strong load starts or stops in
the middle of a step, its mean would hide how far the charge rises and falls within."""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import compress
from typing import NamedTuple

import numpy as np

from sim.arrays import Floats, Ints
from sim.van.bank.lanes import some_of
from sim.van.bank.sources import together
from sim.van.bank.span import ByLane, Lacking, Past


@dataclass(frozen=True)
class Substep:
    """A part of a step; weighted by their shares, the parts make up the step's means.

    Attributes
    ----------
    share : float
        Of the step's length; the shares of a step's parts sum to 1.
    offers : tuple of float
        What each source offers in it over its mean of the step.
    more_w : ndarray, shape (G, 1)
        What is wanted in it above the mean of the step, by group; may be negative. [W]
    """

    share: float
    offers: tuple[float, ...]
    more_w: Floats

    @cached_property
    def wants_more(self) -> bool:
        """Whether anything is wanted in it but the mean of the step."""
        return bool(self.more_w.any())

    @cached_property
    def kind(self) -> Hashable:
        """The same for parts that are the same."""
        return self.share, self.offers, self.more_w.tobytes()


class Feed(NamedTuple):
    """What acts on the bank through a step, or a part of it; as in `battery.Offers`.

    `draw` says which column of `wanted` is each lane's, if not its own; `offering` of each source
    whether it offers anything to any lane, and may say so of one that does not; `most_w` is more
    than all of them offer to any lane, or as much. `allowed` is None where the whole charge limit
    is.
    """

    wanted: Floats
    draw: Ints | None
    sources: tuple[Floats, ...]
    offering: tuple[bool, ...]
    most_w: float
    allowed: Floats | None
    usable: ByLane | None
    pace: Floats | None
    past: Past | None

    def offered(self) -> Floats | None:
        """By all sources together, None where that is nothing. [W]"""
        offers = list(compress(self.sources, self.offering))
        return together(offers) if offers else None

    def some(self, which: Ints) -> Feed:
        """The same for some of the lanes."""
        allowed, pace = (
            None if x is None else some_of(x, which) for x in (self.allowed, self.pace)
        )
        return self._replace(
            wanted=some_of(self.wanted, which if self.draw is None else self.draw.take(which)),
            draw=None,
            sources=tuple(some_of(offered, which) for offered in self.sources),
            allowed=allowed,
            usable=None if self.usable is None else ByLane(self.usable.some(which), None),
            pace=pace,
            past=None if self.past is None else self.past.some(which),
        )


@dataclass(slots=True)
class Done:
    """What a step, or a part of it, did to all lanes.

    Attributes
    ----------
    level : ndarray, shape (L,)
        Stored energy at the end. [Wh]
    lowest : ndarray, shape (L,)
        Lowest at the end of any part. [Wh]
    taken : tuple of ndarray, shape (L,) or ()
        Mean from each source. [W]
    losses : ndarray, shape (L,)
        [Wh]
    lacking : tuple of Lacking
        No group of a lane is in two of them; none: everything was served.
    refused_sun : ndarray, shape (3,), or None
        By cause, mean over lanes; None: not asked, or none. [Wh]
    cut_off : ndarray of int, or None
        Lanes in which the essential loads were cut off at their floor; None: in no lane.
    """

    level: Floats
    lowest: Floats
    taken: tuple[Floats, ...]
    losses: Floats
    lacking: tuple[Lacking, ...]
    refused_sun: Floats | None
    cut_off: Ints | None


def in_parts(feed: Feed, parts: tuple[Substep, ...], past: Past | None) -> Iterator[Feed]:
    """What acts on the bank through each part of a step; `past` stands for all of them."""
    for part in parts:
        # But for rounding a part wants no less than nothing.
        wanted = np.maximum(feed.wanted + part.more_w, 0.0) if part.wants_more else feed.wanted
        yield feed._replace(
            wanted=wanted,
            sources=tuple(
                offered if over_mean == 1.0 else offered * over_mean
                for offered, over_mean in zip(feed.sources, part.offers, strict=True)
            ),
            offering=tuple(
                is_on and over_mean > 0.0
                for is_on, over_mean in zip(feed.offering, part.offers, strict=True)
            ),
            most_w=feed.most_w * max(part.offers, default=1.0),
            past=past,
        )


def joined(parts: tuple[Substep, ...], done: list[Done]) -> Done:
    """The parts of a step as one."""
    whole = done[0]
    taken = tuple(
        sum((part.share * one.taken[k] for part, one in zip(parts, done, strict=True)), 0.0 * mean)
        for k, mean in enumerate(whole.taken)
    )
    for part in done[1:]:
        whole = Done(
            part.level,
            np.minimum(whole.lowest, part.level),
            taken,
            whole.losses + part.losses,
            whole.lacking + part.lacking,
            added(whole.refused_sun, part.refused_sun),
            either(whole.cut_off, part.cut_off),
        )
    whole.lacking = together_lacking(whole.lacking, len(whole.level))
    return whole


def added(one: Floats | None, other: Floats | None) -> Floats | None:
    """The sum of two arrays, of which one or both may be none."""
    if one is None or other is None:
        return other if one is None else one
    return one + other


def together_lacking(lacking: tuple[Lacking, ...], count: int) -> tuple[Lacking, ...]:
    """The sum of what so many lanes lack, where a group of a lane may be in several of them."""
    if len(lacking) < 2:
        return lacking
    wh = np.zeros((len(lacking[0].wh), count))
    for each in lacking:
        wh[:, each.lanes] += each.wh
    return (Lacking(np.arange(count), wh),)


def either(one: Ints | None, other: Ints | None) -> Ints | None:
    """The lanes of one or the other, of which one or both may be none."""
    if one is None or other is None:
        return other if one is None else one
    return np.union1d(one, other)
