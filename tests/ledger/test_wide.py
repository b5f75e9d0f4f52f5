"""Blocks of draws write what is large into arrays as wide as all draws."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

import sim
from sim.job.model.job import Job
from sim.ledger import simulate as pipeline
from sim.ledger import wide
from sim.ledger.join import joined as join
from sim.ledger.results import TripResult
from sim.ledger.wide import Wide, whole_of


def test_the_columns_of_an_array_are_known_as_one() -> None:
    whole = np.zeros((3, 6))
    assert whole_of([whole[:, :2], whole[:, 2:5], whole[:, 5:]]) is whole
    for parts in (
        [whole[:, 2:], whole[:, :2]],
        [whole[:, :2], whole[:, 2:5]],
        [whole[:2, :3], whole[:2, 3:]],
        [whole[:, :2], np.zeros((3, 4))],
        [np.zeros((3, 2)), np.zeros((3, 4))],
    ):
        assert whole_of(parts) is None


@pytest.mark.parametrize("lean", [True, False])
def test_the_charge_of_no_block_is_kept_twice(
    lean: bool, make_job: Callable[..., Job], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A block's own array goes as it ends; what is joined is the very array of all draws."""
    held: list[np.ndarray] = []
    joined: list[np.ndarray] = []
    holding = Wide.holding

    def watched(self: Wide, block: TripResult, first: int) -> TripResult:
        done = holding(self, block, first)
        assert not np.shares_memory(done.soc, block.soc)
        held.append(done.soc)
        return done

    def watched_join(blocks: list[TripResult], *, lean: bool) -> TripResult:
        done = join(blocks, lean=lean)
        joined.append(done.soc)
        return done

    monkeypatch.setattr(wide.Wide, "holding", watched)
    monkeypatch.setattr(pipeline, "joined", watched_join)
    monkeypatch.setattr(pipeline, "LANE_STEPS", 1)
    monkeypatch.setattr(pipeline, "_LEAST_AT_ONCE", 2)
    sim.simulate(make_job(("draws = 6", "draws = 5")), lean=lean)
    assert [soc.shape[1] for soc in held] == [2, 2, 1] * len(joined)
    for number, soc in enumerate(held):
        assert soc.base is joined[number // 3]
