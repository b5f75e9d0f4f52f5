"""Whole alternatives for one job: each answered over all trips, with cost and weight."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sim.decide.fitted import Cost, cost_of
from sim.job.model.designs import DesignEntry
from sim.job.model.job import Job
from sim.job.overrides import overridden
from sim.job.weights import Load, load_of
from sim.ledger.answer import Answer, answer_of, lowest_verdict
from sim.ledger.simulate import simulate_trip
from sim.ledger.verdict import Verdict
from sim.threads import Progress, run_tasks
from sim.trip.prepare import Skies


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


def designs(
    job: Job, *, skies: Skies | None = None, jobs: int = 1, progress: Progress | None = None
) -> DesignDecision:
    """Carry each design of a job over all its trips.

    Parameters
    ----------
    job : Job
        Without designs it is the only one itself.
    skies : Skies, optional
        Where skies, loads and panels may be found that were worked out before.
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
    above = skies or Skies()

    def answered(task: tuple[Job, int], tell: Progress) -> Answer:
        design, index = task
        found = simulate_trip(design, design.trips[index], lean=True, skies=above, progress=tell)
        # A design may call a trip otherwise; it is the same trip.
        return replace(answer_of(found), trip=job.trips[index].name)

    each = [(design, index) for index in range(len(job.trips)) for design in changed]
    answers = run_tasks(answered, each, jobs=jobs, progress=progress)
    by_trip = [answers[first : first + len(changed)] for first in range(0, len(each), len(changed))]
    return DesignDecision(
        job,
        tuple(
            DesignOption(
                name="" if entry is None else entry.name,
                job=design,
                trips=tuple(answers[number] for answers in by_trip),
                cost=cost_of(job, design, entry),
                load=load_of(job, design, entry),
            )
            for number, (entry, design) in enumerate(zip(entries, changed, strict=True))
        ),
    )
