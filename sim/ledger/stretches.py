"""Parts of trips that begin with one charge or another, side by side: how long a charge lasts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sim.arrays import Bools, Floats
from sim.job.model.living import PRIORITIES
from sim.ledger.study import BLOCK_LANE_STEPS, BLOCK_LANES, alike
from sim.trip.bank import bank_of
from sim.trip.designs import design_of, offers_of
from sim.trip.prepare import PreparedTrip
from sim.van.bank.beside import lanes_beside
from sim.van.bank.loop import unserved_bank
from sim.van.bank.offers import Offers
from sim.van.bank.totals import UNSERVED_TOLERANCE_W


@dataclass(frozen=True)
class Stretch:
    """Some steps of a trip, begun with some charges, each by itself.

    Attributes
    ----------
    prepared : PreparedTrip
        D draws.
    first, last : int
        From this step to before that one.
    start_socs : tuple of float
        Charges at the start of the first of these steps. 0 to 1
    """

    prepared: PreparedTrip
    first: int
    last: int
    start_socs: tuple[float, ...]


@dataclass(frozen=True)
class Missed:
    """What is wanted and not served in a stretch that begins with one charge.

    Attributes
    ----------
    stretch : int
        Its number.
    start_soc : float
        0 to 1.
    unserved_w : ndarray, shape (3, last - first, D)
        Essential, comfort, extra. [W]
    """

    stretch: int
    start_soc: float
    unserved_w: Floats

    @property
    def is_dark(self) -> Bools:
        """Whether something wanted is not served, step by step. shape (last - first, D)"""
        missing_w: Floats = self.unserved_w.sum(axis=0)
        return missing_w > UNSERVED_TOLERANCE_W


def missed_in(stretches: Sequence[Stretch]) -> Iterator[Missed]:
    """Carry stretches of a job's trips, in equally many draws, through all their charges.

    Notes
    -----
    Stretches that are alike are lanes of one run of the battery, in as many runs as the memory
    asks for: those of a stretch come in the order of its charges, the stretches in any order. A
    stretch without a charge has no run.
    """
    most = max(x.last - x.first for x in stretches)
    first = stretches[0].prepared
    job, draws = first.job, first.draws
    at_once = max(min(BLOCK_LANES, BLOCK_LANE_STEPS // max(most, 1)) // draws, 1)
    parts = [
        (number, replace(x, start_socs=x.start_socs[start : start + at_once]))
        for number, x in enumerate(stretches)
        for start in range(0, len(x.start_socs), at_once)
    ]
    ways = [part.prepared for _, part in parts]
    bank = bank_of(job.battery, job.held_socs)
    offers = [_offers(part) for _, part in parts]
    for group in alike(ways, offers, [bank] * len(ways)):
        for block in _blocks(group, [len(part.start_socs) for _, part in parts], at_once):
            begun = [(parts[k][0], soc) for k in block for soc in parts[k][1].start_socs]
            unserved_w = unserved_bank(
                bank,
                lanes_beside([offers[k] for k in block], draws),
                start_soc=np.repeat([soc for _, soc in begun], draws),
                step_hours=first.timeline.step_hours,
            )
            own = np.split(unserved_w[: len(PRIORITIES)], len(begun), axis=2)
            for (number, soc), unserved in zip(begun, own, strict=True):
                yield Missed(number, soc, unserved)


def _offers(part: Stretch) -> Offers:
    """What is wanted and offered in a stretch: all draws with its first charge, then the next."""
    draw = np.tile(np.arange(part.prepared.draws), len(part.start_socs))
    offers = offers_of(part.prepared, [design_of(part.prepared.job)], np.zeros_like(draw), draw)
    return offers.between(part.first, part.last)


def _blocks(group: Sequence[int], sizes: Sequence[int], at_once: int) -> Iterator[list[int]]:
    """A group in blocks, in which the sizes add up to no more than fits at once."""
    block: list[int] = []
    for k in group:
        if block and sum(sizes[one] for one in block) + sizes[k] > at_once:
            yield block
            block = []
        block.append(k)
    yield block
