"""Banks and offers of several runs as lanes of one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from sim.arrays import Floats
from sim.van.bank.lanes import BY_LANE, Bank
from sim.van.bank.offers import Offers


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

    def joined(parts: Sequence[Floats | None]) -> Floats | None:
        kept = [part for part in parts if part is not None]
        return _joined(kept, draws) if kept else None

    sources = tuple(
        replace(
            source,
            offered_w=_joined([x.sources[k].offered_w for x in offers], draws),
            direct_w=None,
            lost_w=None,
        )
        for k, source in enumerate(first.sources)
    )
    return Offers(
        wanted_w=_joined([x.wanted_w for x in offers], draws),
        sources=sources,
        charge_allowed=_joined([x.charge_allowed for x in offers], draws),
        usable=joined([x.usable for x in offers]),
        pace=joined([x.pace for x in offers]),
        beyond_w=joined([x.beyond_w for x in offers]),
        parts=first.parts,
    )


def _joined(parts: Sequence[Floats], draws: int) -> Floats:
    """Arrays whose last axis is the draw; what is the same in all lanes stays one column."""
    is_shared = draws > 1 and all(part.shape[-1] == 1 for part in parts)
    if is_shared and all(np.array_equal(part, parts[0]) for part in parts[1:]):
        return parts[0]
    shape = (*parts[0].shape[:-1], draws)
    return np.concatenate([np.broadcast_to(part, shape) for part in parts], axis=-1)
