"""The what-if grid: panels x batteries x daily driving x trips, small enough to lie in a page.

Everything a reader may try is computed beforehand, over the same draws, and packed: the answer of
each cell, and its charge as whole numbers of a 250th, three quantiles for each point of time, so
that a page can show any corner of the grid without asking a server.
"""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.arrays import Ints
from sim.decide.panels.counts import counts_to_try, with_count
from sim.decide.panels.roof import counted_group, roof_fit
from sim.job.model.changes import with_values
from sim.job.model.fields import bounds
from sim.job.model.job import Job, Stop
from sim.job.model.power import Battery
from sim.job.rules.trips import trip_days
from sim.ledger.answer import Answer, answer_from
from sim.ledger.study import run_steps
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
    job: Job, *, coarse: bool = False, jobs: int = 1, progress: Progress | None = None
) -> Grid:
    """Compute the what-if grid of a job.

    Parameters
    ----------
    job : Job
    coarse : bool
        Fewer choices, for long trips.
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

    def run(number: int, tell: Progress) -> TripGrid:
        return _trip_grid(job, number, designs, driving, points, tell)

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
    number: int,
    designs: Sequence[Design],
    driving: Sequence[float],
    points: int,
    tell: Progress,
) -> TripGrid:
    skies = Skies()
    answers: list[Answer] = []
    socs: list[NDArray[np.uint8]] = []
    kept = np.empty(0, dtype=np.int64)
    for done, hours in enumerate(driving):
        trip = job.trips[number]
        stops = tuple(_driven(stop, hours) for stop in trip.stops)
        prepared = prepare_trip(job, with_values(trip, {"stops": stops}), skies=skies)
        kept = np.arange(0, len(prepared.timeline) + 1, ceil(len(prepared.timeline) / points))
        for cell, history in enumerate(run_steps(prepared, designs), 1):
            answer = answer_from(
                history,
                trip=trip.name,
                step_minutes=prepared.timeline.step_minutes,
                bounds=job.settings.bounds,
            )
            answers.append(replace(answer, years=bool(prepared.sky.weather.years)))
            spread = np.quantile(history.soc[kept], QUANTILES, axis=1)
            socs.append(np.round(spread * LEVELS).astype(np.uint8))
            tell((done + cell / len(designs)) / len(driving))
    # Computed by driving, then designs; kept the other way round.
    order = np.arange(len(answers)).reshape(len(driving), len(designs)).T.ravel().tolist()
    return TripGrid(
        name=job.trips[number].name,
        times=_local_times(prepared, kept),
        answers=tuple(answers[cell] for cell in order),
        soc=np.stack([socs[cell] for cell in order]),
    )


def _driven(stop: Stop, hours: float) -> Stop:
    if stop.nights == 0 or hours == 0.0:
        return stop
    longer = min(stop.local_drive_hours + hours, bounds(Stop, "local_drive_hours")[1])
    return with_values(stop, {"local_drive_hours": longer})


def _local_times(prepared: PreparedTrip, kept: Ints) -> tuple[str, ...]:
    line = prepared.timeline
    local = line.start_utc + line.utc_offset_minutes.astype("timedelta64[m]")
    end = local[-1:] + np.timedelta64(line.step_minutes, "m")
    times = np.concatenate([local, end])[kept]
    return tuple(str(time).replace("T", " ") for time in np.datetime_as_string(times, unit="m"))
