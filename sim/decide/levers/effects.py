"""What each lever does to every trip, ranked by effect and by effect per money."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import inf

import numpy as np

from sim.decide.levers.lever import Lever, WhyNot
from sim.decide.levers.lever_catalogue import lever_list
from sim.errors import JobError
from sim.job.model.job import Job
from sim.ledger.answer import Answer, worst
from sim.ledger.sampling import paired_error
from sim.ledger.study import Outcomes, run_jobs
from sim.threads import Progress
from sim.trip.prepare import Skies

# The best pair is looked for among the pairs of so many levers of the largest effect.
PAIRS_OF = 5


@dataclass(frozen=True)
class TripEffect:
    """What a lever does to one trip.

    Attributes
    ----------
    answer : Answer
        With the lever.
    share_gain : float
        Of draws without a dark hour. -1 to 1
    gain_error : float
        Half-width of its 95 % interval: the same draws with and without.
    lowest_gain : float
        Of the lowest charge in the bad case. -1 to 1
    dark_gain : float
        Dark hours fewer, mean over draws. [h]
    """

    answer: Answer
    share_gain: float
    gain_error: float
    lowest_gain: float
    dark_gain: float


@dataclass(frozen=True)
class LeverEffect:
    """A lever, or a pair of them, and what it does.

    Attributes
    ----------
    names : tuple of str
        Of the lever, or of both.
    price, weight_kg : float or None
        None when not known.
    is_own : bool
        From the job file.
    trips : tuple of TripEffect
        In the order of the job; empty when `fault` is set.
    changes_nothing : bool
        Not one draw of one trip differs.
    share_gain, lowest_gain : float
        Of the worst trip before to the worst after: share of draws without a dark hour, lowest
        charge in the bad case.
    fault : str
        Why it cannot be pulled here; mostly empty.
    """

    names: tuple[str, ...]
    price: float | None
    weight_kg: float | None
    is_own: bool
    trips: tuple[TripEffect, ...]
    changes_nothing: bool
    share_gain: float = 0.0
    lowest_gain: float = 0.0
    fault: str = ""

    @property
    def name(self) -> str:
        """Of the lever, or of both in one."""
        return ", and ".join(self.names)

    @property
    def order(self) -> tuple[float, float, float]:
        """The larger the better: share of the worst trip, then dark hours, then lowest charge."""
        if not self.trips:
            return -inf, 0.0, 0.0
        weakest = worst([trip.answer for trip in self.trips])
        dark = sum(trip.answer.dark_hours.mean for trip in self.trips)
        return weakest.ample_share, -dark, weakest.lowest_soc.p10

    @property
    def gain(self) -> float:
        """Gain of the worst trip in the share of draws. Where that does not move, the share of
        all dark hours that go, and where those do not move either the lowest charge, both at a
        hundredth of the worth."""
        fewer = sum(trip.dark_gain for trip in self.trips)
        before = fewer + sum(trip.answer.dark_hours.mean for trip in self.trips)
        gone = fewer / before if before > 0.0 else 0.0
        return self.share_gain or 0.01 * (gone or self.lowest_gain)

    @property
    def gain_per_price(self) -> float | None:
        """Gain per 100 of money; None without a price, infinite when it is free."""
        if self.price is None or self.changes_nothing or not self.trips:
            return None
        if self.price == 0.0:
            return inf if self.gain > 0.0 else None
        return 100.0 * self.gain / self.price


@dataclass(frozen=True)
class LeverDecision:
    """All levers of a job.

    Attributes
    ----------
    title, currency : str
    base : tuple of Answer
        The job as it is.
    effects : tuple of LeverEffect
        By effect, the best first; those that change nothing last.
    by_price : tuple of LeverEffect
        Those with a known price, by effect per money.
    best_pair : LeverEffect or None
    not_tried : tuple of (name, why)
        Levers that have no place in this job.
    """

    title: str
    currency: str
    base: tuple[Answer, ...]
    effects: tuple[LeverEffect, ...]
    by_price: tuple[LeverEffect, ...]
    best_pair: LeverEffect | None
    not_tried: tuple[tuple[str, WhyNot], ...]


def levers(
    job: Job, *, skies: Skies | None = None, jobs: int = 1, progress: Progress | None = None
) -> LeverDecision:
    """Try one change at a time, then pairs of the best.

    Parameters
    ----------
    job : Job
    skies : Skies, optional
        Where skies, loads and panels may be found that were worked out before.
    jobs : int
        Threads; the numbers do not depend on it.
    progress : callable, optional
        Called with the share of the work done, 0 to 1.

    Returns
    -------
    LeverDecision

    Raises
    ------
    WeatherError
        A weather file cannot be used, or a place has no climate.
    """
    tell = progress or (lambda done: None)
    singles, not_tried = lever_list(job)
    study = _Study(job, skies or Skies(), jobs)
    base = study.base
    effects = study.effects([(lever,) for lever in singles], lambda done: tell(0.65 * done))
    ranked = sorted(
        range(len(effects)),
        key=lambda i: (not effects[i].changes_nothing, effects[i].order),
        reverse=True,
    )
    best = [i for i in ranked if effects[i].trips and not effects[i].changes_nothing][:PAIRS_OF]
    pairs = [(singles[a], singles[b]) for a, b in combinations(best, 2)]
    both = study.effects(pairs, lambda done: tell(0.65 + 0.35 * done))
    ordered = tuple(effects[i] for i in ranked)
    return LeverDecision(
        title=job.title,
        currency=job.prices.currency if job.prices else "",
        base=base,
        effects=ordered,
        by_price=tuple(_by_price(ordered)),
        best_pair=max((pair for pair in both if pair.trips), key=lambda x: x.order, default=None),
        not_tried=tuple(not_tried),
    )


def _by_price(effects: Sequence[LeverEffect]) -> list[LeverEffect]:
    known = [(x.gain_per_price, x.gain, x) for x in effects if x.gain_per_price is not None]
    known.sort(key=lambda entry: (entry[0], entry[1]), reverse=True)
    return [effect for _, _, effect in known]


class _Study:
    """The job as it is, and any change of it over the same draws."""

    def __init__(self, job: Job, skies: Skies, jobs: int) -> None:
        self.job, self.skies, self.jobs = job, skies, jobs
        (self.outcomes,) = self._carried([job], lambda done: None)
        self.base = self._answers(self.outcomes)

    def _carried(self, changed: Sequence[Job], progress: Progress) -> list[list[Outcomes]]:
        """What changes of the job do on each of its trips."""
        by_trip = []
        for index in range(len(self.job.trips)):

            def tell(done: float, index: int = index) -> None:
                progress((index + done) / len(self.job.trips))

            by_trip.append(
                run_jobs(changed, index, skies=self.skies, jobs=self.jobs, progress=tell)
            )
        return [list(trips) for trips in zip(*by_trip, strict=True)]

    def _answers(self, outcomes: Sequence[Outcomes]) -> tuple[Answer, ...]:
        bounds = self.job.settings.bounds
        return tuple(
            outcome.answers(trip.name, bounds)[0]
            for trip, outcome in zip(self.job.trips, outcomes, strict=True)
        )

    def effects(self, sets: Sequence[tuple[Lever, ...]], progress: Progress) -> list[LeverEffect]:
        """What each set of levers does, in order."""
        changed: list[Job] = []
        faults: list[str] = []
        for pulled in sets:
            job, fault = self.job, ""
            try:
                for lever in pulled:
                    job = lever.change(job)
            except JobError as error:
                fault = str(error.faults[0])
            faults.append(fault)
            changed += [] if fault else [job]
        done = iter(self._carried(changed, progress))
        return [
            self._effect(pulled, fault, [] if fault else next(done))
            for pulled, fault in zip(sets, faults, strict=True)
        ]

    def _effect(
        self, pulled: tuple[Lever, ...], fault: str, outcomes: Sequence[Outcomes]
    ) -> LeverEffect:
        trips = self._trips(outcomes) if outcomes else ()
        before = worst(self.base)
        after = worst([trip.answer for trip in trips]) if trips else before
        return LeverEffect(
            names=tuple(lever.name for lever in pulled),
            price=_sum([lever.price for lever in pulled]),
            weight_kg=_sum([lever.weight_kg for lever in pulled]),
            is_own=all(lever.is_own for lever in pulled),
            trips=trips,
            changes_nothing=bool(outcomes) and all(map(_is_same, outcomes, self.outcomes)),
            share_gain=after.ample_share - before.ample_share,
            lowest_gain=after.lowest_soc.p10 - before.lowest_soc.p10,
            fault=fault,
        )

    def _trips(self, outcomes: Sequence[Outcomes]) -> tuple[TripEffect, ...]:
        return tuple(
            _trip_effect(now, before, new, old)
            for now, before, new, old in zip(
                self._answers(outcomes), self.base, outcomes, self.outcomes, strict=True
            )
        )


def _trip_effect(now: Answer, before: Answer, new: Outcomes, old: Outcomes) -> TripEffect:
    gained = int((new.passed[0] & ~old.passed[0]).sum())
    lost = int((old.passed[0] & ~new.passed[0]).sum())
    return TripEffect(
        answer=now,
        share_gain=now.ample_share - before.ample_share,
        gain_error=paired_error(gained, lost, now.draws),
        lowest_gain=now.lowest_soc.p10 - before.lowest_soc.p10,
        dark_gain=before.dark_hours.mean - now.dark_hours.mean,
    )


def _is_same(new: Outcomes, old: Outcomes) -> bool:
    return all(
        np.array_equal(getattr(new, name), getattr(old, name))
        for name in ("lowest_soc", "dark_hours", "unharvested_wh", "unserved_wh")
    )


def _sum(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return sum(known) if len(known) == len(values) else None
