"""Banks and offers of several runs as lanes of one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from sim.arrays import Floats
from sim.van.bank.apart import parts_beside
from sim.van.bank.lanes import BY_LANE, Bank
from sim.van.bank.offers import Offers
from sim.van.bank.sources import Source


def beside(banks: Sequence[Bank], draws: int) -> Bank:
    """Banks of one kind (see `Bank.kind`), each in so many draws."""
    if all(bank == banks[0] for bank in banks):
        return banks[0]
    return banks[0].with_lanes(
        {name: np.repeat([getattr(x, name) for x in banks], draws) for name in BY_LANE}
    )


def all_beside(offers: Sequence[Offers], draws: int) -> Offers:
    """Offers of one kind (see `Offers.kind`), each in so many draws."""
    first = offers[0]
    if len(offers) == 1:
        return first

    sources = tuple(
        replace(
            source,
            offered_w=_joined([x.sources[k].offered_w for x in offers], draws),
            direct_w=None,
            lost_w=None,
        )
        for k, source in enumerate(first.sources)
    )
    parts, apart = parts_beside([x.parts for x in offers], [draws] * len(offers))
    return Offers(
        wanted_w=_joined([x.wanted_w for x in offers], draws),
        sources=sources,
        charge_allowed=_joined([x.charge_allowed for x in offers], draws),
        usable=_joined_if_any([x.usable for x in offers], draws),
        pace=_joined_if_any([x.pace for x in offers], draws),
        beyond_w=_joined_if_any([x.beyond_w for x in offers], draws),
        parts=parts,
        apart=apart,
    )


def lanes_beside(offers: Sequence[Offers], draws: int) -> Offers:
    """Offers of one kind, each of however many lanes, that share so many draws (see
    `Offers.draw`)."""
    first = offers[0]
    if len(offers) == 1:
        return first

    draw = [number * draws + x.draw for number, x in enumerate(offers) if x.draw is not None]
    wanted = [x.wanted_w for x in offers]
    parts, apart = parts_beside([x.parts for x in offers], [len(own) for own in draw])
    return replace(
        first,
        wanted_w=_joined(wanted, draws) if first.wanted_by_draw else np.concatenate(wanted, axis=2),
        sources=tuple(
            _by_column([x.sources[k] for x in offers], [len(own) for own in draw])
            for k in range(len(first.sources))
        ),
        charge_allowed=_joined([x.charge_allowed for x in offers], draws),
        usable=_joined_if_any([x.usable for x in offers], draws),
        pace=_joined_if_any([x.pace for x in offers], draws),
        beyond_w=_joined_if_any([x.beyond_w for x in offers], draws),
        parts=parts,
        apart=apart,
        draw=np.concatenate(draw),
    )


def _by_column(sources: Sequence[Source], lanes: Sequence[int]) -> Source:
    """One source of several runs of so many lanes each, with the columns of all of them."""
    first, shared = sources[0], [np.zeros(count, dtype=np.int64) for count in lanes]
    columns = [
        none if x.column is None else x.column for x, none in zip(sources, shared, strict=True)
    ]
    offered = [x.offered_w for x in sources]
    if all(x is offered[0] or np.array_equal(x, offered[0]) for x in offered[1:]):
        return replace(first, column=np.concatenate(columns))
    before = np.cumsum([0, *(x.shape[1] for x in offered[:-1])]).tolist()
    columns = [
        start + (column if x.shape[1] > 1 else none)
        for start, column, none, x in zip(before, columns, shared, offered, strict=True)
    ]
    return replace(first, offered_w=np.concatenate(offered, axis=1), column=np.concatenate(columns))


def _joined_if_any(parts: Sequence[Floats | None], draws: int) -> Floats | None:
    kept = [part for part in parts if part is not None]
    return _joined(kept, draws) if kept else None


def _joined(parts: Sequence[Floats], draws: int) -> Floats:
    """Arrays whose last axis is the draw; what is the same in all lanes stays one column."""
    is_shared = draws > 1 and all(part.shape[-1] == 1 for part in parts)
    if is_shared and all(np.array_equal(part, parts[0]) for part in parts[1:]):
        return parts[0]
    shape = (*parts[0].shape[:-1], draws)
    return np.concatenate([np.broadcast_to(part, shape) for part in parts], axis=-1)
