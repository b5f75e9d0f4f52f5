"""The what-if grid: panels, batteries, driving and comforts left off, small enough for a page.

Everything a reader may try is computed beforehand, over the same draws, and packed: the verdict of
each cell, what is said of it, and its charge as whole numbers of a 250th, three quantiles for each
point of time, so that a page can show any corner of the grid without asking a server.
"""

from __future__ import annotations

import base64
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.arrays import Floats, quantiles
from sim.decide.panels.counts import counts_to_try, with_count
from sim.decide.panels.roof import counted_group, roof_fit
from sim.decide.ways import Ways
from sim.job.model.fields import bounds
from sim.job.model.job import Job, Trip
from sim.job.model.power import Battery
from sim.job.rules.trips import job_lane_steps
from sim.ledger.answer import Answer, answers_of
from sim.ledger.outcome import TripOutcome
from sim.ledger.simulate import tried_on
from sim.ledger.verdict import QUANTILES
from sim.threads import Progress, run_tasks
from sim.trip.designs import Design, Suns
from sim.trip.prepare import PreparedTrip, Skies, prepare_trip

# Charge is kept in so many levels, a step of 0.4 %.
LEVELS = 250
# So many numbers of panels at most, those nearest to the job's own; units more than the job's
# bank has; hours more of driving a day; comforts that may be left off, those that want most.
MOST_COUNTS = 5
MORE_BATTERIES = 1
MORE_DRIVING_HOURS = (0.0, 1.0)
MOST_COMFORTS = 3
# The same for trips so long that all of that would take minutes.
COARSE_COUNTS = 3
COARSE_COMFORTS = 1
# Points of time of a trip's charge, and bytes of charge in all: a third more as text, so that a
# report with the chart library in it stays under 2.5 MB.
MOST_POINTS = 1000
MOST_BYTES = 900_000


@dataclass(frozen=True)
class TripGrid:
    """One trip over the grid. Axes P panels, B batteries, R driving hours, C comforts left off.

    Attributes
    ----------
    name : str
    times : tuple of str
        Local time of each of N points, ``2027-01-09 10:00``.
    answers : tuple of Answer
        Of each cell: comforts fastest, then driving, then batteries, then panels.
    said : tuple of tuple of str
        What is said of each cell.
    soc : ndarray of uint8, shape (P, B, R, C, 3, N)
        Quantiles 10 %, median, 90 % of the charge, in levels.
    """

    name: str
    times: tuple[str, ...]
    answers: tuple[Answer, ...]
    said: tuple[tuple[str, ...], ...]
    soc: NDArray[np.uint8]


@dataclass(frozen=True)
class Grid:
    """All trips of a job over the grid.

    Attributes
    ----------
    panels, batteries : tuple of int
        Numbers of panels, and of units of the bank.
    driving_hours : tuple of float
        More driving a day than the job plans. [h]
    comforts : tuple of str
        Names of what may be left off. The bits of a place on the axis of comforts, the first
        comfort the lowest, say which are: C is 2 to the power of their number.
    base : tuple of 3 ints
        Where the job itself is on the axes of panels, batteries and driving; it leaves nothing
        off.
    trips : tuple of TripGrid
    """

    panels: tuple[int, ...]
    batteries: tuple[int, ...]
    driving_hours: tuple[float, ...]
    comforts: tuple[str, ...]
    base: tuple[int, int, int]
    trips: tuple[TripGrid, ...]


Says = Callable[[Trip, TripOutcome, Answer], tuple[str, ...]]


@dataclass(frozen=True)
class Block:
    """Some ways of a trip, each with every design; as `TripGrid`, but with one axis of K cells.

    Attributes
    ----------
    times : tuple of str
    answers : tuple of Answer
    said : tuple of tuple of str
    soc : ndarray of uint8, shape (K, 3, N)
    """

    times: tuple[str, ...]
    answers: tuple[Answer, ...]
    said: tuple[tuple[str, ...], ...]
    soc: NDArray[np.uint8]


class Cells:
    """The cells of a job's grid, in blocks that are worked out one by one, in whatever order.

    Parameters
    ----------
    job : Job
    says : callable
        From a trip of the job, what came of it and its answer to what is said of it.
    coarse : bool
        Fewer choices, for long trips.
    skies : Skies, optional
        Where skies, loads and panels may be found.

    Raises
    ------
    JobError, WeatherError
        The job has no panels; a weather file cannot be used, or a place has no climate.
    """

    def __init__(
        self, job: Job, says: Says, *, coarse: bool = False, skies: Skies | None = None
    ) -> None:
        self._job, self._says, self._skies = job, says, skies or Skies()
        own = job.panels[index := counted_group(job)].count, job.battery.count
        most_counts = COARSE_COUNTS if coarse else MOST_COUNTS
        self._counts = _near(counts_to_try(job, roof_fit(job), None), own[0], most_counts)
        most = min(own[1] + MORE_BATTERIES, int(bounds(Battery, "count")[1]))
        self._batteries = list(range(own[1], most + 1))
        self._base = self._counts.index(own[0]), 0, 0
        self._driving = MORE_DRIVING_HOURS if job.alternator else (0.0,)
        most_comforts = COARSE_COMFORTS if coarse else MOST_COMFORTS
        self._comforts = largest_comforts(job, self._skies, most_comforts)
        each = [with_count(job, index, count).panels for count in self._counts]
        self._designs = [Design(panels, units) for panels in each for units in self._batteries]
        self._ways = Ways(job, self._designs, self._comforts, self._driving, self._skies)

    def __len__(self) -> int:
        """Number of blocks."""
        return len(self._ways.blocks)

    def block(self, number: int) -> Block:
        """The cells of one block."""
        cells = len(self._designs) * self._ways.count * len(QUANTILES)
        points = max(min(MOST_POINTS, MOST_BYTES // (cells * len(self._job.trips))), 2)
        return _block(*self._ways.of_block(number), self._designs, self._says, points)

    def joined(self, blocks: Sequence[Block]) -> Grid:
        """The grid whose blocks these are, in their order."""
        trips = []
        for number, trip in enumerate(self._job.trips):
            own = zip(self._ways.blocks, blocks, strict=True)
            trips.append(self._trip(trip.name, [x for at, x in own if at.trip == number]))
        return Grid(
            panels=tuple(self._counts),
            batteries=tuple(self._batteries),
            driving_hours=tuple(self._driving),
            comforts=tuple(self._job.appliances[index].name for index in self._comforts),
            base=self._base,
            trips=tuple(trips),
        )

    def _trip(self, name: str, blocks: Sequence[Block]) -> TripGrid:
        """One trip of its blocks, which go by way, then design; kept the other way round."""
        cells = len(self._designs) * self._ways.count
        order = np.arange(cells).reshape(self._ways.count, len(self._designs)).T.ravel()
        answers = [one for block in blocks for one in block.answers]
        said = [one for block in blocks for one in block.said]
        soc = np.concatenate([block.soc for block in blocks])[order]
        shape = len(self._counts), len(self._batteries), len(self._driving), -1
        return TripGrid(
            name=name,
            times=blocks[0].times,
            answers=tuple(answers[cell] for cell in order.tolist()),
            said=tuple(said[cell] for cell in order.tolist()),
            soc=soc.reshape(*shape, *soc.shape[1:]),
        )


def grid(
    job: Job,
    says: Says,
    *,
    coarse: bool = False,
    skies: Skies | None = None,
    jobs: int = 1,
    progress: Progress | None = None,
) -> Grid:
    """The what-if grid of a job.

    Parameters
    ----------
    job, says, coarse, skies
        As of `Cells`.
    jobs : int
        Threads; the numbers do not depend on it.
    progress : callable, optional
        Called with the share of the work done, 0 to 1.

    Raises
    ------
    JobError, WeatherError
        As `Cells` does.
    """
    cells = Cells(job, says, coarse=coarse, skies=skies)

    def run(number: int, tell: Progress) -> Block:
        return cells.block(number)

    return cells.joined(run_tasks(run, range(len(cells)), jobs=jobs, progress=progress))


def lane_steps(job: Job, *, coarse: bool = False) -> float:
    """How much work the grid of a job is: steps of its trips times draws times cells."""
    counts, comforts = MOST_COUNTS, MOST_COMFORTS
    if coarse:
        counts, comforts = COARSE_COUNTS, COARSE_COMFORTS
    cells = counts * (1 + MORE_BATTERIES) * len(MORE_DRIVING_HOURS) * 2**comforts
    return job_lane_steps(job) * float(cells)


def packed(found: Grid) -> dict[str, Any]:
    """The grid as plain data for a page's script.

    Returns
    -------
    dict
        ``levels``; ``axes`` with the values of panels, batteries, driving_hours and the names of
        comforts; ``base`` with the job's own index on the first three; ``trips``, each with its
        ``name``, the local ``times`` of N points, and per cell ``verdict`` and ``soc``. The cell
        of panels p, batteries b, driving r and comforts c, whose bits say which are left off, is
        ``((p * B + b) * R + r) * C + c``. ``soc`` is base64 of bytes, cell by
        cell: N levels of the 10 % quantile, N of the median, N of the 90 % quantile.
    """
    names = ("panels", "batteries", "driving_hours")
    return {
        "levels": LEVELS,
        "axes": {name: list(getattr(found, name)) for name in (*names, "comforts")},
        "base": dict(zip(names, found.base, strict=True)),
        "trips": [
            {
                "name": trip.name,
                "times": list(trip.times),
                "verdict": [cell.verdict for cell in trip.answers],
                "soc": base64.b64encode(trip.soc.tobytes()).decode("ascii"),
            }
            for trip in found.trips
        ],
    }


def _near(counts: Sequence[int], own: int, most: int) -> list[int]:
    """The counts nearest to the job's own, no more than a page can offer."""
    first = min(max(own - most // 2, 0), max(len(counts) - most, 0))
    return list(counts[first : first + most])


def largest_comforts(job: Job, skies: Skies, most: int) -> tuple[int, ...]:
    """Appliances that people may do without, by their place in the job: those that want most
    electricity on the trip on which they want most, the largest first.

    What warms or moves water is none of them, and what only waits for charge is left to itself.
    """
    wanted_w: dict[int, float] = {}
    for trip in job.trips:
        for line in prepare_trip(job, trip, skies=skies).wants.lines:
            item = line.appliance
            if item is None or not item.may_wait or item.above_soc is not None:
                continue
            if item.priority == "essential" or item.medical:
                continue
            place = next(n for n, one in enumerate(job.appliances) if one is item)
            wanted_w[place] = max(wanted_w.get(place, 0.0), float(line.watts.mean()))
    found = sorted((place for place, w in wanted_w.items() if w > 0.0), key=lambda n: -wanted_w[n])
    return tuple(found[:most])


def _block(
    ways: Sequence[PreparedTrip],
    suns: Suns,
    designs: Sequence[Design],
    says: Says,
    points: int,
) -> Block:
    """A trip in some ways, each with every design."""
    answers: list[Answer] = []
    said: list[tuple[str, ...]] = []
    socs: list[NDArray[np.uint8]] = []
    line = ways[0].timeline
    every = ceil(len(line) / points)
    for tried in tried_on(ways, designs, suns):
        answers += (own := answers_of(tried))
        said += [says(x.around.trip, x, one) for x, one in zip(tried, own, strict=True)]
        socs += [levels_of(quantiles(one.soc[::every], QUANTILES, axis=1)) for one in tried]
    times = (f"{time:%Y-%m-%d %H:%M}" for time in line.local_times[::every])
    return Block(tuple(times), tuple(answers), tuple(said), np.stack(socs))


def levels_of(soc: Floats) -> NDArray[np.uint8]:
    """A charge from 0 to 1 in levels."""
    return np.round(soc * LEVELS).astype(np.uint8)
