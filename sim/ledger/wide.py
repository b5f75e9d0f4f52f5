"""What is kept of every step and draw of a trip, in arrays as wide as all its draws.

Each block of draws writes its own down as it ends. Kept block by block and put side by side at the
end, they would be in memory twice, and in pieces that leave gaps behind.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import replace

import numpy as np

from sim.arrays import Floats
from sim.ledger.results import TripResult


class Wide:
    """The charge, the tanks' levels and the loads' days of all draws of a trip, or of many."""

    def __init__(self, draws: range) -> None:
        self._draws = draws
        self._arrays: dict[Hashable, Floats] = {}

    def holding(self, block: TripResult, first: int) -> TripResult:
        """The result of some draws, those from number `first` on, with these arrays as columns of
        the wide ones. What is the same in all draws is left as it is."""

        def columns(name: Hashable, part: Floats) -> Floats:
            if part.shape[-1] != block.draws or part.strides[-1] == 0:
                return part
            if name not in self._arrays:
                self._arrays[name] = np.empty((*part.shape[:-1], len(self._draws)))
            place = first - self._draws.start
            own = self._arrays[name][..., place : place + block.draws]
            own[...] = part
            return own

        return replace(
            block,
            soc=columns("soc", block.soc),
            stores=tuple(
                replace(
                    store,
                    levels=replace(
                        store.levels, level=columns(("level", number), store.levels.level)
                    ),
                )
                for number, store in enumerate(block.stores)
            ),
            loads=tuple(
                replace(load, wanted_wh_day=columns(("days", number), load.wanted_wh_day))
                for number, load in enumerate(block.loads)
            ),
        )


def whole_of(parts: Sequence[Floats]) -> Floats | None:
    """The array whose columns are those of the parts, one after the other; None where they are not
    in one."""
    whole = parts[0].base
    if not isinstance(whole, np.ndarray) or whole.shape[:-1] != parts[0].shape[:-1]:
        return None
    first = 0
    for part in parts:
        own = whole[..., first : first + part.shape[-1]]
        if part.base is not whole or part.__array_interface__ != own.__array_interface__:
            return None
        first += part.shape[-1]
    return whole if first == whole.shape[-1] else None
