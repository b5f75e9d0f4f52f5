"""The ways in which a what-if grid takes a trip."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from sim.decide import ways
from sim.decide.ways import Ways
from sim.job.model.job import Job
from sim.trip.designs import design_of
from sim.trip.prepare import Skies, prepare_trip

MakeJob = Callable[..., Job]
FULL_JOB = (Path(__file__).parents[1] / "data" / "jobs" / "full.toml").read_text("utf-8")


def made(job: Job) -> Ways:
    """Two comforts, each left off or not, with and without an hour of driving more."""
    return Ways(job, [design_of(job)], [0, 1], [0.0, 1.0], Skies())


def test_all_ways_of_all_trips_in_their_order(edited: MakeJob) -> None:
    job = edited(FULL_JOB)
    found = made(job)
    assert found.count == 8
    each = [
        (job.trips[block.trip], way)
        for number, block in enumerate(found.blocks)
        for way in found.of_block(number)[0]
    ]
    assert [trip.name for trip, _ in each] == [x.name for x in job.trips for _ in range(8)]
    for place, (trip, way) in enumerate(each):
        off = [x.count == 0 for x in way.job.appliances[:2]]
        assert off == [bool(place & 1), bool(place & 2)]
        more = [now.local_drive_hours for now in way.trip.stops if now.nights]
        planned = [stop.local_drive_hours for stop in trip.stops if stop.nights]
        assert more == [hours + (1.0 if place & 4 else 0.0) for hours in planned]
        alone = prepare_trip(way.job, way.trip)
        np.testing.assert_array_equal(way.wants.wanted_w, alone.wants.wanted_w)


def test_ways_are_prepared_in_parts_of_one_size(
    edited: MakeJob, monkeypatch: pytest.MonkeyPatch
) -> None:
    """And carried through in blocks, which lie in one part each."""
    job = edited(FULL_JOB)
    whole = made(job)
    monkeypatch.setattr(ways, "cabins_at_once", lambda steps, draws: 5)
    monkeypatch.setattr(ways, "designs_at_once", lambda draws, steps: 3)
    parts = made(job)
    assert [block.round for block in whole.blocks] == [0, 1]
    assert [block.round for block in parts.blocks] == [0, 0, 1, 1, 2, 2, 3, 3]
    prepared = [len(parts.of_block(number)[0]) for number in range(len(parts.blocks))]
    assert prepared == [3, 1] * 4
    # Of one part what was prepared for another of its blocks, whichever comes first.
    last, suns = parts.of_block(7)
    assert parts.of_block(6)[1] is suns
    assert parts.of_block(7)[0][0] is last[0]
    assert parts.of_block(0)[1] is not suns
