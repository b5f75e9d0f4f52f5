"""The ways in which a what-if grid takes a trip, prepared some at a time."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Sequence
from itertools import pairwise
from math import ceil
from typing import NamedTuple

import numpy as np

from sim.job.model.changes import with_values
from sim.job.model.fields import bounds
from sim.job.model.job import Job, Stop, Trip
from sim.job.rules.trips import trip_days
from sim.ledger.simulate import designs_at_once
from sim.trip.demand import cabins_at_once
from sim.trip.designs import Design, Suns, design_of
from sim.trip.prepare import PreparedTrip, Skies, prepare_trips


class WayBlock(NamedTuple):
    """Some ways of a trip, which are carried through it together.

    Attributes
    ----------
    trip : int
        Which trip of the job.
    round : int
        Number of those that are prepared with them.
    own : slice
        Which of these they are.
    """

    trip: int
    round: int
    own: slice


class Ways:
    """A job's trips, each in all ways: comforts left off fastest, then driving.

    Parameters
    ----------
    job : Job
    designs : sequence of Design
        That go each way.
    comforts : sequence of int
        Places in the job of what may be left off.
    driving : sequence of float
        More driving a day. [h]
    skies : Skies
        Where skies, loads and panels may be found.

    Attributes
    ----------
    count : int
        Ways of each trip.
    blocks : list of WayBlock
        Way after way of one trip after the other.
    """

    def __init__(
        self,
        job: Job,
        designs: Sequence[Design],
        comforts: Sequence[int],
        driving: Sequence[float],
        skies: Skies,
    ) -> None:
        self._job, self._designs, self._skies = job, designs, skies
        self._comforts, self._driving = comforts, driving
        self.count = len(driving) * 2 ** len(comforts)
        # Their cabins are stepped side by side.
        self._rounds = [
            (number, places)
            for number, trip in enumerate(job.trips)
            for places in _parts(self.count, _prepared_at_once(job, trip))
        ]
        # Some of these at a time, as many as fill a run of the battery.
        self.blocks = [
            WayBlock(trip, number, slice(first, first + together))
            for number, (trip, places) in enumerate(self._rounds)
            for together in [_carried_at_once(job, job.trips[trip], len(designs))]
            for first in range(0, len(places), together)
        ]
        self._latest: tuple[int, list[PreparedTrip], Suns] | None = None
        self._lock = threading.Lock()

    def of_block(self, number: int) -> tuple[list[PreparedTrip], Suns]:
        """The ways of a block, and the sun on all designs in them."""
        block = self.blocks[number]
        with self._lock:
            if self._latest is None or self._latest[0] != block.round:
                # What was prepared before is done with.
                self._latest = None
                self._latest = block.round, *self._prepared(*self._rounds[block.round])
            _, ways, suns = self._latest
        return ways[block.own], suns

    def _prepared(self, trip: int, places: range) -> tuple[list[PreparedTrip], Suns]:
        ways = [self._way(self._job.trips[trip], place) for place in places]
        return prepare_trips(ways, skies=self._skies), Suns([*self._designs, design_of(self._job)])

    def _way(self, trip: Trip, place: int) -> tuple[Job, Trip]:
        driving, off = divmod(place, 2 ** len(self._comforts))
        job = _left_off(self._job, self._comforts, off)
        return job, _driven(trip, self._driving[driving])


def _left_off(job: Job, comforts: Sequence[int], place: int) -> Job:
    """The job without those of the comforts whose bit is in a place of their axis."""
    off = {index for bit, index in enumerate(comforts) if place >> bit & 1}
    if not off:
        return job
    items = (
        with_values(item, {"count": 0}) if index in off else item
        for index, item in enumerate(job.appliances)
    )
    return with_values(job, {"appliances": tuple(items)})


def _driven(trip: Trip, hours: float) -> Trip:
    """The trip with so many hours of driving more on each day of a stay."""
    if hours == 0.0:
        return trip
    most = bounds(Stop, "local_drive_hours")[1]
    stops = (
        with_values(stop, {"local_drive_hours": min(stop.local_drive_hours + hours, most)})
        if stop.nights
        else stop
        for stop in trip.stops
    )
    return with_values(trip, {"stops": tuple(stops)})


def _carried_at_once(job: Job, trip: Trip, designs: int) -> int:
    """So many ways of a trip, each with so many designs, fill a run of the battery."""
    return max(designs_at_once(job.settings.first_draws, _steps(job, trip)) // designs, 1)


def _prepared_at_once(job: Job, trip: Trip) -> int:
    """So many ways of a trip are prepared together."""
    return cabins_at_once(_steps(job, trip), job.settings.first_draws)


def _steps(job: Job, trip: Trip) -> int:
    return max(int(trip_days(trip) * 24 * 60 // job.settings.step_minutes), 1)


def _parts(count: int, most: int) -> Iterator[range]:
    """So many in parts of nearly the same size, each of at most so many."""
    edges = np.linspace(0, count, ceil(count / most) + 1).round().astype(np.int64)
    return (range(first, last) for first, last in pairwise(edges.tolist()))
