"""The same trip in every week of the year, by number of panels."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain

from sim.decide.panels.counts import counts_to_try, with_count
from sim.decide.panels.roof import counted_group, panel_name, roof_fit
from sim.errors import Fault, JobError, join_or, shown
from sim.job.model.changes import with_values
from sim.job.model.job import Job, Trip
from sim.ledger.answer import Answer
from sim.ledger.study import BLOCK_LANE_STEPS, Outcomes, lane_steps, run_trips
from sim.ledger.verdict import Verdict
from sim.threads import Progress, run_tasks
from sim.trip.designs import Design, design_of
from sim.trip.prepare import Skies, prepare_trips

WEEKS = 52
# A quarter of the year. More starts at once take no less time.
STARTS_AT_ONCE = 13


@dataclass(frozen=True)
class MonthVerdict:
    """How a month carries the build as it is.

    Attributes
    ----------
    month : int
        1 to 12.
    worst : Answer
        Of its worst start.
    panels : int or None
        The smallest number with which the electricity of every start of the month is ample; None
        where none of those looked at is enough.
    """

    month: int
    worst: Answer
    panels: int | None

    @property
    def verdict(self) -> Verdict:
        """Of its worst start."""
        return self.worst.verdict


@dataclass(frozen=True)
class Calendar:
    """A trip around the year.

    Attributes
    ----------
    title, trip : str
    panel : str
        What one panel is called; empty for a job without panels, which is tried with none alone.
    job_count : int
        Panels of the job as it is.
    departs : tuple of date
        A start every week, W of them.
    counts : tuple of int
        Numbers of panels, K of them.
    answers : tuple of tuple of Answer
        For each start that of each number of panels.
    bounds : tuple of 2 floats
        Share from which a start is ample, and tight.
    months : tuple of MonthVerdict
    """

    title: str
    trip: str
    panel: str
    job_count: int
    departs: tuple[dt.date, ...]
    counts: tuple[int, ...]
    answers: tuple[tuple[Answer, ...], ...]
    bounds: tuple[float, float]
    months: tuple[MonthVerdict, ...]

    @property
    def draws(self) -> int:
        """Of each start; some weeks may have fewer years of a weather file than others."""
        return min(row[0].draws for row in self.answers)

    def month_held(self, month: int) -> tuple[int, ...]:
        """Draws without a dark hour at a month's worst start, by number of panels."""
        rows = [
            row
            for row, depart in zip(self.answers, self.departs, strict=True)
            if depart.month == month
        ]
        return tuple(min(row[k].held for row in rows) for k in range(len(self.counts)))


def calendar(
    job: Job, trip: str | None = None, *, jobs: int = 1, progress: Progress | None = None
) -> Calendar:
    """Start a trip in every week of its year.

    Parameters
    ----------
    job : Job
    trip : str, optional
        Name of one of its trips; may be left out when there is one only.
    jobs : int
        Threads; the numbers do not depend on it.
    progress : callable, optional
        Called with the share of the work done, 0 to 1.

    Returns
    -------
    Calendar

    Raises
    ------
    JobError
        No such trip.
    WeatherError
        A weather file cannot be used, or a place has no climate.
    """
    chosen = trip_named(job, trip)
    panel, own_count, counts, designs = _panels_to_try(job)
    first = dt.date(chosen.depart.year, 1, 1)
    departs = tuple(first + dt.timedelta(weeks=week) for week in range(WEEKS))

    # Starts share their cabins' and their battery's steps; each has its own sky.
    at_once = min(max(int(BLOCK_LANE_STEPS // lane_steps(job, chosen)), 1), STARTS_AT_ONCE)

    def start(first: int, tell: Progress) -> list[Outcomes]:
        block = departs[first : first + at_once]
        moved = [(job, with_values(chosen, {"depart": depart})) for depart in block]
        return run_trips(prepare_trips(moved, skies=Skies()), designs)

    blocks = run_tasks(start, range(0, WEEKS, at_once), jobs=jobs, progress=progress)
    outcomes, bounds = list(chain.from_iterable(blocks)), job.settings.bounds
    answers = tuple(outcome.answers(chosen.name, bounds) for outcome in outcomes)
    own = counts.index(own_count)
    return Calendar(
        title=job.title,
        trip=chosen.name,
        panel=panel,
        job_count=own_count,
        departs=departs,
        counts=tuple(counts),
        answers=answers,
        bounds=bounds,
        months=tuple(_month(month, departs, counts, own, answers) for month in range(1, 13)),
    )


def _panels_to_try(job: Job) -> tuple[str, int, list[int], list[Design]]:
    """What one panel is called, how many the job has, and those to try, with their designs."""
    if not job.panels:
        return "", 0, [0], [design_of(job)]
    index = counted_group(job)
    group, counts = job.panels[index], counts_to_try(job, roof_fit(job), None)
    return panel_name(group), group.count, counts, [with_count(job, index, n) for n in counts]


def year_lane_steps(job: Job, trip: str, counts: int) -> float:
    """How much work the calendar of a trip is: steps times draws times counts times weeks."""
    return lane_steps(job, trip_named(job, trip)) * counts * WEEKS


def trip_named(job: Job, name: str | None) -> Trip:
    """The trip of that name, or the only one.

    Raises
    ------
    JobError
        No such trip; the fault names those there are.
    """
    names = [trip.name for trip in job.trips]
    if name is None and len(names) == 1:
        return job.trips[0]
    if name is None:
        raise JobError(Fault(f"say which trip: {_listed(names)}", key="--trip"))
    wanted = name.strip().lower()
    found = [trip for trip in job.trips if trip.name == name]
    # A start is enough when it is the start of one trip only.
    found = found or [trip for trip in job.trips if trip.name.lower().startswith(wanted)]
    if len(found) != 1 or not wanted:
        rule = f"no such trip; there is {_listed(names)}"
        if len(found) > 1:
            rule = f"more than one trip starts so: {_listed([trip.name for trip in found])}"
        raise JobError(Fault(rule, key="--trip", value=name))
    return found[0]


def _listed(names: Sequence[str]) -> str:
    return join_or(shown(name) for name in names)


def _month(
    month: int,
    departs: Sequence[dt.date],
    counts: Sequence[int],
    own: int,
    answers: Sequence[tuple[Answer, ...]],
) -> MonthVerdict:
    rows = [row for row, depart in zip(answers, departs, strict=True) if depart.month == month]
    enough = [
        count for k, count in enumerate(counts) if all(row[k].electric == "ample" for row in rows)
    ]
    worst = min((row[own] for row in rows), key=lambda x: (x.rank, x.lowest_soc.p10))
    return MonthVerdict(month, worst, enough[0] if enough else None)
