"""How many panels: each count over all trips and draws, and the smallest that is ample."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sim.decide.levers.effect import LeverDecision, LeverEffect
from sim.decide.levers.effects import levers
from sim.decide.panels.choice import Choice, PanelOption, choose
from sim.decide.panels.roof import (
    MOST_PANELS,
    RoofFit,
    counted_group,
    panel_name,
    panels_weight_kg,
    roof_fit,
)
from sim.errors import Fault, JobError
from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.ledger.answer import Answer
from sim.ledger.study import Outcomes, run_designs
from sim.threads import Progress, run_tasks
from sim.trip.designs import Design, design_of
from sim.trip.prepare import Skies, prepare_trip
from sim.trip.sources import controller_amps

# Counts looked at where nobody says how many fit, and how far beyond the job's own.
COUNTS_WITHOUT_ROOF = 6
COUNTS_BEYOND_JOB = 2


@dataclass(frozen=True)
class Help:
    """What carries every trip where no number of panels does.

    Attributes
    ----------
    count : int
        Panels with which it was tried.
    effects : tuple of LeverEffect
        The one change, or pair, that makes every trip ample; else those that help most; empty
        where nothing helps.
    is_enough : bool
        Whether every trip then has its electricity.
    is_whole : bool
        Whether every trip is ample then, tanks and warmth included.
    """

    count: int
    effects: tuple[LeverEffect, ...]
    is_enough: bool
    is_whole: bool = True


@dataclass(frozen=True)
class PanelDecision:
    """How many panels to bolt on.

    Attributes
    ----------
    title : str
    panel : str
        What one panel is called.
    job_count : int
        Panels in the job as it is.
    currency : str
    bound : float
        Share of draws from which a trip is ample.
    options : tuple of PanelOption
        From none upwards; the last may not fit and shows what it would buy.
    choice : Choice
    helps : Help or None
        What does help where no count does; None where one does.
    fit : RoofFit
    """

    title: str
    panel: str
    job_count: int
    currency: str
    bound: float
    options: tuple[PanelOption, ...]
    choice: Choice
    helps: Help | None
    fit: RoofFit

    @property
    def recommended(self) -> int | None:
        """The smallest count that fits and is ample on every trip; None when none is."""
        return self.choice.recommended

    def option(self, count: int) -> PanelOption:
        """The option of that count."""
        return next(option for option in self.options if option.count == count)


def panels(
    job: Job,
    *,
    up_to: int | None = None,
    skies: Skies | None = None,
    jobs: int = 1,
    progress: Progress | None = None,
) -> PanelDecision:
    """Decide how many panels a job needs.

    Parameters
    ----------
    job : Job
        The number of the group with the most watts is varied; other groups stay.
    up_to : int, optional
        Largest number to look at, instead of what fits on the roof.
    skies : Skies, optional
        Where skies, loads and panels may be found that were worked out before.
    jobs : int
        Threads; the numbers do not depend on it.
    progress : callable, optional
        Called with the share of the work done, 0 to 1.

    Returns
    -------
    PanelDecision

    Raises
    ------
    JobError
        The job has no panels, or `up_to` is out of range.
    WeatherError
        A weather file cannot be used, or a place has no climate.
    """
    tell = progress or (lambda done: None)
    index, fit = counted_group(job), roof_fit(job)
    counts = counts_to_try(job, fit, up_to)
    above = skies or Skies()
    designs = [with_count(job, index, count) for count in counts]
    outcomes = _outcomes(job, designs, above, jobs, lambda done: tell(0.6 * done))
    options = _options(job, fit, counts, outcomes)
    group, bound = job.panels[index], job.settings.bounds[0]
    choice = choose(options, [x.passed for x in outcomes], step=group.series, bound=bound)
    helps = None
    if choice.recommended is None:
        more = as_job(job, index, choice.best)
        tried = levers(more, skies=above, jobs=jobs, progress=lambda done: tell(0.6 + 0.4 * done))
        helps = what_helps(tried, choice.best)
    tell(1.0)
    return PanelDecision(
        title=job.title,
        panel=panel_name(group),
        job_count=group.count,
        currency=job.prices.currency if job.prices else "",
        bound=bound,
        options=options,
        choice=choice,
        helps=helps,
        fit=fit,
    )


def _options(
    job: Job, fit: RoofFit, counts: Sequence[int], outcomes: Sequence[Outcomes]
) -> tuple[PanelOption, ...]:
    by_trip = [
        outcome.answers(trip.name, job.settings.bounds)
        for trip, outcome in zip(job.trips, outcomes, strict=True)
    ]
    return tuple(
        _option(job, fit, count, tuple(trip[k] for trip in by_trip))
        for k, count in enumerate(counts)
    )


def _outcomes(
    job: Job, designs: Sequence[Design], skies: Skies, jobs: int, progress: Progress
) -> list[Outcomes]:
    """What each design does on each trip."""

    def run(number: int, tell: Progress) -> Outcomes:
        prepared = prepare_trip(job, job.trips[number], skies=skies)
        return run_designs(prepared, designs, progress=tell)

    return run_tasks(run, range(len(job.trips)), jobs=jobs, progress=progress)


def what_helps(tried: LeverDecision, count: int) -> Help:
    """What carries every trip where no number of panels does: the cheapest change alone, or the
    best two together."""
    pair = () if tried.best_pair is None else (tried.best_pair,)
    enough = (*tried.enough, *(x for x in pair if x.is_enough))
    if enough:
        return Help(count, enough[:1], is_enough=True)
    electric = [x for x in (*tried.effects, *tried.pairs) if x.trips and _has_electricity(x)]
    if electric:
        cheapest = min(electric, key=lambda x: (len(x.names), x.cost, [-y for y in x.order[1:]]))
        return Help(count, (cheapest,), is_enough=True, is_whole=False)
    useful = [x for x in (*tried.effects[:1], *pair) if x.trips and x.gain > 0.0]
    return Help(count, tuple(useful), is_enough=False)


def _has_electricity(effect: LeverEffect) -> bool:
    """Of what the battery serves, as for the counts."""
    return all(trip.answer.electric == "ample" for trip in effect.trips)


def counts_to_try(job: Job, fit: RoofFit, up_to: int | None) -> list[int]:
    """Numbers of panels worth a look, from none upwards."""
    own = job.panels[counted_group(job)].count
    if up_to is not None:
        if not 0 <= up_to <= MOST_PANELS:
            rule = f"must be a whole number from 0 to {MOST_PANELS}"
            raise JobError(Fault(rule, key="--up-to", value=up_to))
        return list(range(up_to + 1))
    if fit.most is None:
        most = max(COUNTS_WITHOUT_ROOF, own + COUNTS_BEYOND_JOB)
    else:
        # One more than fits: what it would buy is worth knowing before a fan is moved.
        most = max(fit.most, own) + 1
    return list(range(min(most, MOST_PANELS) + 1))


def with_count(job: Job, index: int, count: int) -> Design:
    """The job's design with so many panels in one group."""
    own = design_of(job)
    return Design((*own.panels[:index], count, *own.panels[index + 1 :]), own.batteries)


def as_job(job: Job, index: int, count: int) -> Job:
    """The job with so many panels in one group, and a controller large enough for them."""
    group = job.panels[index]
    amps = controller_amps(group, count, job.battery.charging_v)
    more = with_values(group, {"count": count, "controller_amps": amps})
    return with_values(job, {"panels": (*job.panels[:index], more, *job.panels[index + 1 :])})


def _option(job: Job, fit: RoofFit, count: int, trips: tuple[Answer, ...]) -> PanelOption:
    group = job.panels[counted_group(job)]
    price = job.prices.panel if job.prices else None
    return PanelOption(
        count=count,
        fits=None if fit.most is None else count <= fit.most,
        controller_amps=controller_amps(group, count, job.battery.charging_v),
        weight_kg=panels_weight_kg(job, count),
        price=0.0 if count == 0 else None if price is None else count * price,
        trips=trips,
    )
