"""How many panels: each count over all trips and draws, and the smallest that is ample."""

from __future__ import annotations

from dataclasses import dataclass

from sim.arrays import Bools
from sim.decide.figures import TripFigures, between, figures, percent, worst
from sim.decide.levers.effects import LeverDecision, LeverEffect, levers
from sim.decide.panels.roof import (
    MOST_PANELS,
    RoofFit,
    counted_group,
    panel_name,
    panels_weight_kg,
    roof_fit,
)
from sim.decide.sampling import paired_error
from sim.errors import Fault, JobError
from sim.job.model.job import Job
from sim.ledger.study import Outcomes, run_designs
from sim.ledger.verdict import Verdict
from sim.threads import Progress, run_tasks
from sim.trip.designs import Design, design_of
from sim.trip.prepare import prepare_trip
from sim.trip.sources import controller_amps

# Counts looked at where nobody says how many fit, and how far beyond the job's own.
COUNTS_WITHOUT_ROOF = 6
COUNTS_BEYOND_JOB = 2
# A gain of fewer points of draws is called small.
SMALL_GAIN = 0.06
_RANK: dict[Verdict, int] = {"short": 0, "tight": 1, "ample": 2}


@dataclass(frozen=True)
class PanelOption:
    """One number of panels.

    Attributes
    ----------
    count : int
    fits : bool or None
        On the roof; None when that is not known.
    controller_amps : float
        The job's controller, or one that is large enough for more panels. [A]
    weight_kg : float or None
        Of all panels on the roof; None when not known.
    price : float or None
        Of the counted panels; None when not known.
    trips : tuple of TripFigures
        In the order of the job.
    """

    count: int
    fits: bool | None
    controller_amps: float
    weight_kg: float | None
    price: float | None
    trips: tuple[TripFigures, ...]

    @property
    def verdict(self) -> Verdict:
        """Of the worst trip."""
        return min((trip.verdict for trip in self.trips), key=_RANK.__getitem__)

    @property
    def worst(self) -> TripFigures:
        """The trip that holds in the fewest draws."""
        return worst(self.trips)


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
    options : tuple of PanelOption
        From none upwards; the last may not fit and shows what it would buy.
    recommended : int or None
        The smallest count that fits and is ample on every trip; None when none is.
    runner_up : int or None
        The next best count.
    reason : str
        Why, in one sentence.
    next_panel : str
        What one more would buy; empty where there is none to show.
    doubt : str
        Which differences the draws cannot tell apart; empty when all is clear.
    helps : str
        What does help where no count does; empty otherwise.
    fit : RoofFit
    """

    title: str
    panel: str
    job_count: int
    currency: str
    options: tuple[PanelOption, ...]
    recommended: int | None
    runner_up: int | None
    reason: str
    next_panel: str
    doubt: str
    helps: str
    fit: RoofFit

    def option(self, count: int) -> PanelOption:
        """The option of that count."""
        return next(option for option in self.options if option.count == count)


def panels(
    job: Job, *, up_to: int | None = None, jobs: int = 1, progress: Progress | None = None
) -> PanelDecision:
    """Decide how many panels a job needs.

    Parameters
    ----------
    job : Job
        The number of the group with the most watts is varied; other groups stay.
    up_to : int, optional
        Largest number to look at, instead of what fits on the roof.
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
    designs = [with_count(job, index, count) for count in counts]

    def run(number: int, tell: Progress) -> Outcomes:
        return run_designs(prepare_trip(job, job.trips[number]), designs, progress=tell)

    outcomes = run_tasks(
        run, range(len(job.trips)), jobs=jobs, progress=lambda done: tell(0.6 * done)
    )
    by_trip = [
        figures(trip.name, outcome, job.settings)
        for trip, outcome in zip(job.trips, outcomes, strict=True)
    ]
    options = tuple(
        _option(job, fit, count, tuple(trip[k] for trip in by_trip))
        for k, count in enumerate(counts)
    )
    words = _Words(job, options, [outcome.passed for outcome in outcomes], fit)
    recommended = words.recommended
    helps = ""
    if recommended is None:
        best = words.best
        changed = _as_job(job, index, best.count)
        tried = levers(changed, jobs=jobs, progress=lambda done: tell(0.6 + 0.4 * done))
        helps = what_helps(tried, best.count)
    tell(1.0)
    return PanelDecision(
        title=job.title,
        panel=panel_name(job.panels[index]),
        job_count=job.panels[index].count,
        currency=job.prices.currency if job.prices else "",
        options=options,
        recommended=recommended,
        runner_up=words.runner_up,
        reason=words.reason(),
        next_panel=words.next_panel(),
        doubt=words.doubt(),
        helps=helps,
        fit=fit,
    )


def what_helps(tried: LeverDecision, count: int) -> str:
    """What carries every trip where no number of panels does, in one sentence."""
    start = f"With {_panels(count)}"
    done = [x for x in tried.effects if x.trips and _is_ample(x)]
    if done:
        cheap = min(done, key=lambda x: (x.price is None, x.price or 0.0))
        return f"{start}, one change makes every trip ample: {cheap.name}; {_then(cheap)}."
    pair = tried.best_pair
    if pair is not None and _is_ample(pair):
        return f"{start}, two changes make every trip ample: {pair.name}; {_then(pair)}."
    useful = [x for x in (*tried.effects[:1], pair) if x is not None and x.share_gain > 0.0]
    if not useful:
        return (
            f"{start}, none of the levers helps enough, nor do the best two together: this trip "
            "asks too much of this build."
        )
    told = "; ".join(f"with {x.name} {_then(x)}" for x in useful)
    return f"{start}, no change makes every trip ample; what helps most: {told}."


def _is_ample(effect: LeverEffect) -> bool:
    return all(trip.figures.verdict == "ample" for trip in effect.trips)


def _then(effect: LeverEffect) -> str:
    weakest = worst([trip.figures for trip in effect.trips])
    return f"{weakest.name} then holds in {percent(weakest.ample_share, weakest.draws)}"


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


def _as_job(job: Job, index: int, count: int) -> Job:
    group = job.panels[index]
    amps = controller_amps(group, count, job.battery.charging_v)
    changed = group.model_copy(update={"count": count, "controller_amps": amps})
    groups = (*job.panels[:index], changed, *job.panels[index + 1 :])
    return job.model_copy(update={"panels": groups})


def _option(job: Job, fit: RoofFit, count: int, trips: tuple[TripFigures, ...]) -> PanelOption:
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


def _panels(count: int) -> str:
    return {0: "no panels", 1: "1 panel"}.get(count, f"{count} panels")


class _Words:
    """The choice among the options, and the sentences that go with it."""

    def __init__(
        self,
        job: Job,
        options: tuple[PanelOption, ...],
        passed: list[Bools],
        fit: RoofFit,
    ) -> None:
        self.job, self.options, self.passed, self.fit = job, options, passed, fit
        self.bound = job.settings.ample_share
        # Panels in series come by the string.
        self.step = job.panels[counted_group(job)].series
        self.possible = [x for x in options if x.fits is not False and x.count % self.step == 0]
        ample = [option for option in self.possible if option.verdict == "ample"]
        self.recommended = ample[0].count if ample else None
        self.runner_up = self._runner_up()

    @property
    def best(self) -> PanelOption:
        """The smallest of the possible options that no larger one betters."""
        return max(
            self.possible,
            key=lambda option: (
                option.worst.ample_share,
                option.worst.lowest_soc_p10,
                -option.count,
            ),
        )

    def _runner_up(self) -> int | None:
        if self.recommended is None:
            return None
        counts = [option.count for option in self.possible]
        fewer, more = self.recommended - self.step, self.recommended + self.step
        if fewer in counts and self.options[fewer].verdict == "tight":
            return fewer
        return more if more in counts else fewer if fewer in counts else None

    def reason(self) -> str:
        """Why this count."""
        if self.recommended is None:
            best = self.best
            where = "that fits " if self.fit.most is not None else "looked at "
            text = f"No number of panels {where}is ample on every trip: with {_panels(best.count)}"
            text = f"{text} {best.worst.name} holds in {self._share(best.worst)} of the weathers"
            return f"{text}; {self.fit.note}." if self.fit.most == 0 else f"{text}."
        chosen = self.options[self.recommended]
        if self.recommended == 0:
            return (
                "Every trip is ample without any panel: "
                f"{chosen.worst.name} holds in {self._share(chosen.worst)} of the weathers."
            )
        fewer = self.options[self.recommended - self.step]
        trip = fewer.worst
        now = next(x for x in chosen.trips if x.name == trip.name)
        are = "is" if self.recommended == 1 else "are"
        return (
            f"{_panels(self.recommended).capitalize()}{self._strings()} {are} the smallest number "
            "that is ample on every trip: "
            f"{trip.name} holds in {self._share(now)} of the weathers, with "
            f"{_panels(fewer.count)} in {self._share(trip)}."
        )

    def _strings(self) -> str:
        return "" if self.step == 1 else f", in strings of {self.step},"

    def next_panel(self) -> str:
        """What one panel more than recommended, or than the best, buys."""
        count = self.best.count if self.recommended is None else self.recommended
        if count + self.step >= len(self.options):
            return ""
        now, more = self.options[count], self.options[count + self.step]
        number = next(
            i for i, trip in enumerate(now.trips) if trip is now.worst or trip == now.worst
        )
        before, after = now.trips[number], more.trips[number]
        gain = after.ample_share - before.ample_share
        if self.recommended is None and gain <= 0.0:
            return ""
        size = ""
        if gain <= self._error(number, count, more.count):
            size = f" (less than {before.draws} draws can tell apart)"
        elif gain < SMALL_GAIN:
            size = " (small; see the levers)"
        takes = "takes"
        if more.fits is False:
            takes = "does not fit as the roof is; it would take"
        low, high = percent(before.lowest_soc_p10, 1), percent(after.lowest_soc_p10, 1)
        added = "One panel" if self.step == 1 else f"A string of {self.step}"
        return (
            f"{added} more, {more.count} in all, {takes} {before.name} from "
            f"{self._share(before)} to {self._share(after)} of the weathers{size}, and its lowest "
            f"charge in the bad case from {low} to {high}."
        )

    def doubt(self) -> str:
        """What the draws cannot tell apart."""
        found = []
        count = self.recommended
        if count is not None:
            trip = self.options[count].worst
            if trip.interval.low < self.bound:
                found.append(self._unsure(count, trip))
            if count > 0:
                trip = self.options[count - self.step].worst
                if trip.verdict != "ample" and trip.interval.holds(self.bound):
                    found.append(self._unsure(count - self.step, trip))
        else:
            trip = self.best.worst
            if trip.interval.holds(self.bound):
                found.append(self._unsure(self.best.count, trip))
        if not found:
            return ""
        draws = self.options[0].trips[0].draws
        return (
            f"{draws} weathers are too few to be sure of the bound of {percent(self.bound)}: "
            f"{'; '.join(found)}. More of them (draws, in the job file's [settings]) would tell."
        )

    def _unsure(self, count: int, trip: TripFigures) -> str:
        return (
            f"with {_panels(count)} {trip.name} holds in {self._share(trip)} "
            f"({between(trip.interval)})"
        )

    def _share(self, trip: TripFigures) -> str:
        return percent(trip.ample_share, trip.draws)

    def _error(self, trip: int, first: int, second: int) -> float:
        passed = self.passed[trip]
        gained = int((passed[second] & ~passed[first]).sum())
        lost = int((passed[first] & ~passed[second]).sum())
        return paired_error(gained, lost, passed.shape[1])
