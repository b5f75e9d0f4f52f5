"""Parts of trips that begin with one charge or another."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.ledger import stretches
from sim.ledger.stretches import Missed, Stretch, missed_in
from sim.trip.prepare import prepare_trip

MakeJob = Callable[..., Job]


def test_dark_steps_of_a_part_of_the_trip(make_job: MakeJob) -> None:
    job = make_job()
    stretch = Stretch(prepare_trip(job, job.trips[0]), 14, 44, (1.0, 0.04))
    full, empty = (missed.is_dark for missed in missed_in([stretch]))
    assert full.shape == empty.shape == (30, job.settings.draws)
    assert empty.sum() > full.sum()
    # A bank below its cut-off at midnight: from the first step on.
    assert empty[0].all()


def test_stretches_and_charges_side_by_side_are_those_alone(
    make_job: MakeJob, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = make_job()
    trip = job.trips[0]
    later = with_values(trip, {"depart": trip.depart.replace(day=trip.depart.day + 1)})
    ways = [prepare_trip(job, one) for one in (trip, later)]
    # Two that lie side by side, of different charges, and one of another length.
    parts = [
        Stretch(ways[0], 14, 44, (0.9, 0.3, 0.1)),
        Stretch(ways[1], 14, 44, (0.2, 0.05)),
        Stretch(ways[1], 20, 38, (0.1,)),
    ]

    def found() -> dict[tuple[int, float], Missed]:
        return {(x.stretch, x.start_soc): x for x in missed_in(parts)}

    together = found()
    monkeypatch.setattr(stretches, "BLOCK_LANES", 1)
    alone = found()
    assert set(together) == {(k, soc) for k, x in enumerate(parts) for soc in x.start_socs}
    for key, one in alone.items():
        np.testing.assert_array_equal(one.unserved_w, together[key].unserved_w)
    # Each is another's.
    assert len({float(one.unserved_w.sum()) for one in alone.values()}) == len(alone)


def test_stretches_without_a_charge_have_no_run(make_job: MakeJob) -> None:
    prepared = prepare_trip(job := make_job(), job.trips[0])
    none = Stretch(prepared, 14, 44, ())
    assert list(missed_in([none, none])) == []
    assert [x.stretch for x in missed_in([none, Stretch(prepared, 14, 44, (0.5,))])] == [1]
