"""Steps that some lanes do in other parts than others do: each group of lanes by itself, and put
together again."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from sim.arrays import Ints
from sim.van.bank.span import Lacking
from sim.van.bank.substeps import Done, Feed, Substep, added

# The parts of some steps; a step that is not among them is done at once.
Parts = Mapping[int, tuple[Substep, ...]]


class Parted(NamedTuple):
    """Lanes that do a step in the same parts.

    Attributes
    ----------
    lanes : ndarray of int, shape (N,)
    parts : tuple of Substep
        Empty where they do it at once.
    """

    lanes: Ints
    parts: tuple[Substep, ...]


def parts_kind(parts: Parts) -> Hashable:
    """The same for steps that are done in the same parts."""
    return tuple((step, *(part.kind for part in own)) for step, own in sorted(parts.items()))


def parts_beside(
    each: Sequence[Parts], lanes: Sequence[int]
) -> tuple[Parts, dict[int, tuple[Parted, ...]]]:
    """The parts of several runs of so many lanes each: those that all lanes share, and those of
    the other steps, in which each lane is in one group."""
    edges = list(pairwise(np.cumsum([0, *lanes]).tolist()))
    shared, apart = {}, {}
    for step in sorted({step for own in each for step in own}):
        found: dict[Hashable, tuple[tuple[Substep, ...], list[Ints]]] = {}
        for own, (first, last) in zip(each, edges, strict=True):
            parts = own.get(step, ())
            _, lying = found.setdefault(tuple(part.kind for part in parts), (parts, []))
            lying.append(np.arange(first, last))
        groups = tuple(Parted(np.concatenate(lying), parts) for parts, lying in found.values())
        if len(groups) == 1:
            shared[step] = groups[0].parts
        else:
            apart[step] = groups
    return shared, apart


def side_by_side(done: Sequence[tuple[Ints, Done]], feed: Feed, count: int) -> Done:
    """What a step did to all of so many lanes, from what it did to groups of them."""
    level, lowest, losses = np.empty((3, count))
    taken = [
        np.empty(count) if offers else feed.sources[k] for k, offers in enumerate(feed.offering)
    ]
    lacking: list[Lacking] = []
    refused_sun, cut_off = None, []
    for lanes, one in done:
        level[lanes], lowest[lanes], losses[lanes] = one.level, one.lowest, one.losses
        for whole, own, offers in zip(taken, one.taken, feed.offering, strict=True):
            if offers:
                whole[lanes] = own
        lacking += [Lacking(lanes.take(each.lanes), each.wh) for each in one.lacking]
        if one.refused_sun is not None:
            refused_sun = added(refused_sun, one.refused_sun * (len(lanes) / count))
        if one.cut_off is not None:
            cut_off.append(lanes.take(one.cut_off))
    return Done(
        level,
        lowest,
        tuple(taken),
        losses,
        tuple(lacking),
        refused_sun,
        np.concatenate(cut_off) if cut_off else None,
    )
