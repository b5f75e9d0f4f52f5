"""Whole alternatives for one job: each over all trips, in the same draws, with cost and weight."""

from __future__ import annotations

from dataclasses import dataclass

from sim.decide.fitted import Cost, Load, cost_of, load_of
from sim.job.model.designs import DesignEntry
from sim.job.model.job import Job
from sim.job.overrides import overridden
from sim.ledger.answer import Answer, lowest_verdict
from sim.ledger.study import run_designs
from sim.ledger.verdict import Verdict
from sim.threads import Progress, run_tasks
from sim.trip.designs import design_of
from sim.trip.prepare import Skies, prepare_trip


@dataclass(frozen=True)
class DesignOption:
    """One design and what it does.

    Attributes
    ----------
    name : str
        Empty for the job as it is, where it names no designs.
    job : Job
        With the design's changes made.
    trips : tuple of Answer
        In the order of the job.
    cost : Cost
    load : Load
    """

    name: str
    job: Job
    trips: tuple[Answer, ...]
    cost: Cost
    load: Load

    @property
    def verdict(self) -> Verdict:
        """Of the worst trip."""
        return lowest_verdict(answer.verdict for answer in self.trips)

    @property
    def lowest_soc(self) -> float:
        """Lowest charge in the bad case, of the trip in which it falls lowest. 0 to 1"""
        return min(answer.lowest_soc.p10 for answer in self.trips)


@dataclass(frozen=True)
class DesignDecision:
    """The designs of a job, in its order; `job` is the job as it is."""

    job: Job
    options: tuple[DesignOption, ...]


def designs(job: Job, *, jobs: int = 1, progress: Progress | None = None) -> DesignDecision:
    """Carry each design of a job over all its trips.

    Parameters
    ----------
    job : Job
        Without designs it is the only one itself.
    jobs : int
        Threads; the numbers do not depend on it.
    progress : callable, optional
        Called with the share of the work done, 0 to 1.

    Raises
    ------
    JobError
        A design sets what the job does not allow.
    WeatherError
        A weather file cannot be used, or a place has no climate.
    """
    entries: tuple[DesignEntry | None, ...] = job.designs or (None,)
    changed = [job if entry is None else overridden(job, entry.set) for entry in entries]
    skies = [Skies() for _ in job.trips]

    def run(task: tuple[int, int], tell: Progress) -> Answer:
        number, index = task
        design = changed[number]
        trip = design.trips[index]
        prepared = prepare_trip(design, trip, skies=skies[index])
        outcomes = run_designs(prepared, [design_of(design)], progress=tell)
        # A design may call a trip otherwise; it is the same trip.
        return outcomes.answers(job.trips[index].name, job.settings.bounds)[0]

    tasks = [(number, index) for number in range(len(entries)) for index in range(len(job.trips))]
    answers = run_tasks(run, tasks, jobs=jobs, progress=progress)
    each = len(job.trips)
    return DesignDecision(
        job,
        tuple(
            DesignOption(
                name="" if entry is None else entry.name,
                job=design,
                trips=tuple(answers[number * each : (number + 1) * each]),
                cost=cost_of(job, design, entry),
                load=load_of(job, design, entry),
            )
            for number, (entry, design) in enumerate(zip(entries, changed, strict=True))
        ),
    )
