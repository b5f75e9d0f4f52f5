"""The same trip in every week of the year, by number of panels."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sim.arrays import Floats
from sim.decide.panels.counts import counts_to_try, with_count
from sim.decide.panels.roof import counted_group, panel_name, roof_fit
from sim.errors import Fault, JobError, join_or, shown
from sim.job.model.changes import with_values
from sim.job.model.job import Job, Trip
from sim.job.rules.trips import trip_days
from sim.ledger.sampling import Interval, share_interval
from sim.ledger.study import Outcomes, run_designs
from sim.ledger.verdict import Verdict, verdict_of
from sim.threads import Progress, run_tasks
from sim.trip.prepare import prepare_trip

WEEKS = 52


@dataclass(frozen=True)
class MonthVerdict:
    """How a month carries the build as it is.

    Attributes
    ----------
    month : int
        1 to 12.
    verdict : str
        Of its worst start.
    ample_share : float
        Share of draws without a dark hour at that start.
    interval : Interval
        Where the true share lies, 95 %.
    panels : int or None
        The smallest number that makes every start of the month ample; None when none of those
        looked at does.
    """

    month: int
    verdict: Verdict
    ample_share: float
    interval: Interval
    panels: int | None


@dataclass(frozen=True)
class Calendar:
    """A trip around the year.

    Attributes
    ----------
    title, trip, panel : str
    job_count : int
        Panels of the job as it is.
    draws : int
    departs : tuple of date
        A start every week, W of them.
    counts : tuple of int
        Numbers of panels, K of them.
    ample_share : ndarray, shape (W, K)
        Share of draws without a dark hour.
    essentials_share : ndarray, shape (W, K)
        Share of draws in which no essential was off.
    lowest_soc_p10 : ndarray, shape (W, K)
        Lowest charge in the bad case, 0 to 1.
    bounds : tuple of 2 floats
        Share from which a start is ample, and tight.
    months : tuple of MonthVerdict
    """

    title: str
    trip: str
    panel: str
    job_count: int
    draws: int
    departs: tuple[dt.date, ...]
    counts: tuple[int, ...]
    ample_share: Floats
    essentials_share: Floats
    lowest_soc_p10: Floats
    bounds: tuple[float, float]
    months: tuple[MonthVerdict, ...]

    def month_share(self, month: int) -> tuple[float, ...]:
        """Share of draws without a dark hour at a month's worst start, by number of panels."""
        weeks = [week for week, depart in enumerate(self.departs) if depart.month == month]
        return tuple(float(value) for value in self.ample_share[weeks].min(axis=0))

    def verdict(self, week: int, index: int) -> Verdict:
        """Of what the battery serves, for one start with one number of panels."""
        essentials = float(self.essentials_share[week, index])
        return verdict_of(essentials, float(self.ample_share[week, index]), self.bounds)


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
        No such trip, or the job has no panels.
    WeatherError
        A weather file cannot be used, or a place has no climate.
    """
    chosen = trip_named(job, trip)
    index = counted_group(job)
    counts = counts_to_try(job, roof_fit(job), None)
    designs = [with_count(job, index, count) for count in counts]
    first = dt.date(chosen.depart.year, 1, 1)
    departs = tuple(first + dt.timedelta(weeks=week) for week in range(WEEKS))

    def start(depart: dt.date, tell: Progress) -> Outcomes:
        moved = with_values(chosen, {"depart": depart})
        return run_designs(prepare_trip(job, moved), designs, progress=tell)

    outcomes = run_tasks(start, departs, jobs=jobs, progress=progress)
    share = np.array([outcome.passed.mean(axis=1) for outcome in outcomes])
    essentials = np.array([(x.essential_dark_hours == 0.0).mean(axis=1) for x in outcomes])
    lowest = np.array([np.quantile(outcome.lowest_soc, 0.1, axis=1) for outcome in outcomes])
    own = counts.index(job.panels[index].count)
    # Some weeks may have fewer years of a weather file than others.
    draws = min(outcome.passed.shape[1] for outcome in outcomes)
    years = any(outcome.years for outcome in outcomes)
    settings = job.settings
    return Calendar(
        title=job.title,
        trip=chosen.name,
        panel=panel_name(job.panels[index]),
        job_count=counts[own],
        draws=draws,
        departs=departs,
        counts=tuple(counts),
        ample_share=share,
        essentials_share=essentials,
        lowest_soc_p10=lowest,
        bounds=settings.bounds,
        months=_months(departs, counts, own, (essentials, share), draws, settings.bounds, years),
    )


def lane_steps(job: Job, trip: str, counts: int) -> float:
    """How much work the calendar of a trip is: steps times draws times counts times weeks."""
    steps = trip_days(trip_named(job, trip)) * 24.0 * 60.0 / job.settings.step_minutes
    return steps * job.settings.draws * counts * WEEKS


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


def _months(
    departs: Sequence[dt.date],
    counts: Sequence[int],
    own: int,
    shares: tuple[Floats, Floats],
    draws: int,
    bounds: tuple[float, float],
    years: bool,
) -> tuple[MonthVerdict, ...]:
    found = []
    essentials, share = shares
    for month in range(1, 13):
        weeks = [week for week, depart in enumerate(departs) if depart.month == month]
        worst = share[weeks].min(axis=0)
        enough = np.flatnonzero(worst >= bounds[0])
        value = float(worst[own])
        found.append(
            MonthVerdict(
                month=month,
                verdict=verdict_of(float(essentials[weeks, own].min()), value, bounds),
                ample_share=value,
                interval=share_interval(round(value * draws), draws, years=years),
                panels=counts[int(enough[0])] if enough.size else None,
            )
        )
    return tuple(found)
