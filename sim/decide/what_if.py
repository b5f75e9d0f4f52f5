"""The what-if grid: panels x batteries x daily driving x trips, small enough to lie in a page.

Everything a reader may try is computed beforehand, over the same draws, and packed: the answer of
each cell, and its charge as whole numbers of a 250th, three quantiles for each point of time, so
that a page can show any corner of the grid without asking a server.
"""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.arrays import Ints
from sim.decide.panels.counts import counts_to_try, with_count
from sim.decide.panels.roof import counted_group, roof_fit
from sim.job.model.changes import with_values
from sim.job.model.fields import bounds
from sim.job.model.job import Job, Stop, Trip
from sim.job.model.power import Battery
from sim.job.rules.trips import trip_days
from sim.ledger.answer import Answer
from sim.ledger.study import run_designs
from sim.ledger.verdict import QUANTILES
from sim.threads import Progress, run_tasks
from sim.trip.designs import Design
from sim.trip.prepare import PreparedTrip, Skies, prepare_trip

# Charge is kept in so many levels, a step of 0.4 %.
LEVELS = 250
# So many numbers of panels at most, those nearest to the job's own.
MOST_COUNTS = 7
MORE_DRIVING_HOURS = (0.0, 0.5, 1.0, 2.0)
# The same for trips so long that all of that would take minutes.
COARSE_COUNTS = 3
COARSE_DRIVING_HOURS = (0.0, 1.0)
# Points of time of a trip's charge, and bytes of charge in all: a third more as text, so that a
# report with the chart library in it stays under 2.5 MB.
MOST_POINTS = 1000
MOST_BYTES = 900_000


@dataclass(frozen=True)
class TripGrid:
    """One trip over the grid. Axes P panels, B batteries, R driving hours.

    Attributes
    ----------
    name : str
    times : tuple of str
        Local time of each of N points, ``2027-01-09 10:00``.
    answers : tuple of Answer
        Of each cell, driving fastest, then batteries, then panels.
    soc : ndarray of uint8, shape (P, B, R, 3, N)
        Quantiles 10 %, median, 90 % of the charge, in levels.
    """

    name: str
    times: tuple[str, ...]
    answers: tuple[Answer, ...]
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
    base : tuple of 3 ints
        Where the job as it is stands on the axes.
    trips : tuple of TripGrid
    """

    panels: tuple[int, ...]
    batteries: tuple[int, ...]
    driving_hours: tuple[float, ...]
    base: tuple[int, int, int]
    trips: tuple[TripGrid, ...]


def grid(
    job: Job,
    *,
    coarse: bool = False,
    skies: Skies | None = None,
    jobs: int = 1,
    progress: Progress | None = None,
) -> Grid:
    """Compute the what-if grid of a job.

    Parameters
    ----------
    job : Job
    coarse : bool
        Fewer choices, for long trips.
    skies : Skies, optional
        Where skies, loads and panels may be found that were worked out before.
    jobs : int
        Threads; the numbers do not depend on it.
    progress : callable, optional
        Called with the share of the work done, 0 to 1.

    Raises
    ------
    JobError
        The job has no panels.
    WeatherError
        A weather file cannot be used, or a place has no climate.
    """
    index = counted_group(job)
    own = job.panels[index].count, job.battery.count
    possible = counts_to_try(job, roof_fit(job), None)
    counts = _near(possible, own[0], COARSE_COUNTS if coarse else MOST_COUNTS)
    most = int(bounds(Battery, "count")[1])
    fewest, further = (own[1], 1) if coarse else (own[1] - 1, 2)
    batteries = list(range(max(fewest, 1), min(own[1] + further, most) + 1))
    more = COARSE_DRIVING_HOURS if coarse else MORE_DRIVING_HOURS
    driving = more if job.alternator else (0.0,)
    designs = []
    for count in counts:
        panels = with_count(job, index, count).panels
        designs += [Design(panels, units) for units in batteries]
    cells = len(designs) * len(driving) * len(QUANTILES)
    points = max(min(MOST_POINTS, MOST_BYTES // (cells * len(job.trips))), 2)

    above = skies or Skies()

    def run(number: int, tell: Progress) -> TripGrid:
        trips = [_driven(job.trips[number], hours) for hours in driving]
        return _trip_grid(job, trips, designs, points, above, tell)

    trips = run_tasks(run, range(len(job.trips)), jobs=jobs, progress=progress)
    shape = len(counts), len(batteries), len(driving), len(QUANTILES), -1
    return Grid(
        panels=tuple(counts),
        batteries=tuple(batteries),
        driving_hours=tuple(driving),
        base=(counts.index(own[0]), batteries.index(own[1]), 0),
        trips=tuple(
            TripGrid(trip.name, trip.times, trip.answers, trip.soc.reshape(shape)) for trip in trips
        ),
    )


def lane_steps(job: Job, *, coarse: bool = False) -> float:
    """How much work the grid of a job is: steps of its trips times draws times cells."""
    cells = MOST_COUNTS * 4 * len(MORE_DRIVING_HOURS)
    if coarse:
        cells = COARSE_COUNTS * 2 * len(COARSE_DRIVING_HOURS)
    steps = sum(trip_days(trip) for trip in job.trips) * 24.0 * 60.0 / job.settings.step_minutes
    return steps * job.settings.draws * cells


def packed(found: Grid) -> dict[str, Any]:
    """The grid as plain data for a page's script.

    Returns
    -------
    dict
        ``levels``; ``axes`` with the values of panels, batteries and driving_hours; ``base``
        with the job's own index on each; ``trips``, each with its ``name``, the local
        ``times`` of N points, and per cell ``verdict`` and ``soc``. The cell of panels p,
        batteries b, driving r is ``(p * B + b) * R + r``. ``soc`` is base64 of bytes, cell by
        cell: N levels of the 10 % quantile, N of the median, N of the 90 % quantile.
    """
    names = ("panels", "batteries", "driving_hours")
    return {
        "levels": LEVELS,
        "axes": {name: list(getattr(found, name)) for name in names},
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


def _trip_grid(
    job: Job,
    trips: Sequence[Trip],
    designs: Sequence[Design],
    points: int,
    skies: Skies,
    tell: Progress,
) -> TripGrid:
    """A trip, driven by so many hours more, with every design."""
    answers: list[Answer] = []
    socs: list[NDArray[np.uint8]] = []
    kept = np.empty(0, dtype=np.int64)
    for done, trip in enumerate(trips):
        prepared = prepare_trip(job, trip, skies=skies)
        kept = np.arange(0, len(prepared.timeline) + 1, ceil(len(prepared.timeline) / points))

        def told(share: float, done: int = done) -> None:
            tell((done + share) / len(trips))

        found = run_designs(prepared, designs, soc_at=kept.tolist(), progress=told)
        assert found.soc is not None
        answers += found.answers(trip.name, job.settings.bounds)
        spread = np.quantile(found.soc, QUANTILES, axis=-1).transpose(2, 0, 1)
        socs += list(np.round(spread * LEVELS).astype(np.uint8))
    # Computed by driving, then designs; kept the other way round.
    order = np.arange(len(answers)).reshape(len(trips), len(designs)).T.ravel().tolist()
    return TripGrid(
        name=trips[0].name,
        times=_local_times(prepared, kept),
        answers=tuple(answers[cell] for cell in order),
        soc=np.stack([socs[cell] for cell in order]),
    )


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


def _local_times(prepared: PreparedTrip, kept: Ints) -> tuple[str, ...]:
    line = prepared.timeline
    local = line.start_utc + line.utc_offset_minutes.astype("timedelta64[m]")
    end = local[-1:] + np.timedelta64(line.step_minutes, "m")
    times = np.concatenate([local, end])[kept]
    return tuple(str(time).replace("T", " ") for time in np.datetime_as_string(times, unit="m"))
