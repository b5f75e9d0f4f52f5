"""The cheapest change that makes a trip ample: one alone, else two together, else what it takes.

A medical device has to stay on in every simulated trip: where one goes without, what keeps it on
in all of them is looked for first, on ample trips too.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain, combinations
from math import inf, isfinite

from sim.decide.levers import store_levers
from sim.decide.levers.lever import Lever, changed_by
from sim.decide.levers.lever_catalogue import lever_list
from sim.decide.needs import (
    DRIVING_HOURS,
    MOST_PANELS,
    Need,
    NeedKind,
    against_cold,
    charger_on_the_road,
    finishing,
    with_need,
)
from sim.decide.panels.counts import with_count
from sim.decide.panels.roof import counted_group
from sim.errors import JobError
from sim.job.model.job import Job
from sim.ledger.answer import Answer, answer_of, bounds_among_first, lowest_verdict
from sim.ledger.behind import Behind
from sim.ledger.promise import Lack, LackKind
from sim.ledger.results import Result
from sim.ledger.study import Outcomes, lacks_beside, run_designs, run_jobs
from sim.ledger.verdict import Verdict
from sim.threads import Progress
from sim.trip.designs import Design, design_of
from sim.trip.prepare import Skies, prepare_trip

TANKS: tuple[LackKind, ...] = ("propane", "fresh", "grey")
# So many changes of the largest effect are tried in pairs.
PAIRS_OF = 4

# What an answer has to be for a change to be enough.
_Goal = Callable[[Answer], bool]


@dataclass(frozen=True)
class Remedy:
    """What makes a trip ample, and keeps its medical devices on.

    Attributes
    ----------
    trip : str
    changes : tuple of str
        One change, or two together; empty where none was found.
    price : float or None
        Of all of them; None when not known.
    currency : str
    verdict : str
        Of the trip with the changes.
    held, draws : int
        Draws in which everything then holds.
    worse : tuple of str
        Other trips that the changes make worse.
    need : Need or None
        Where no change is enough: what would be, or what brings the electricity at least.
    left : tuple of Behind
        What still falls behind then.
    in_vain : tuple of Need
        Where nothing is enough: the most that was tried.
    medical : tuple of str
        Medical devices that may go without even then.
    medical_dark : int
        Draws in which they may.
    ill : tuple of str
        Medical devices that go without on the trip as it is.
    is_for_medical : bool
        Whether the trip is ample without it: these devices are all it is for.
    is_of_first : bool
        Whether these draws are the first of those in which the trip was simulated as it is.
    """

    trip: str
    changes: tuple[str, ...]
    price: float | None
    currency: str
    verdict: Verdict
    held: int
    draws: int
    worse: tuple[str, ...] = ()
    need: Need | None = None
    left: tuple[Behind, ...] = ()
    in_vain: tuple[Need, ...] = ()
    medical: tuple[str, ...] = ()
    medical_dark: int = 0
    ill: tuple[str, ...] = ()
    is_for_medical: bool = False
    is_of_first: bool = False


def remedies(
    job: Job,
    result: Result,
    *,
    skies: Skies | None = None,
    jobs: int = 1,
    progress: Progress | None = None,
) -> tuple[Remedy | None, ...]:
    """For each trip of a result the remedy; None where it is ample and no medical device goes
    without.

    Parameters
    ----------
    job : Job
    result : Result
        Of that job.
    skies : Skies, optional
        Where skies, loads and panels may be found that were worked out before.
    jobs : int
        Threads; the numbers do not depend on it.
    progress : callable, optional
        Called with the share of the work done, 0 to 1.
    """
    tell = progress or (lambda done: None)
    skies = skies or Skies()
    found: list[Remedy | None] = []
    for index, trip in enumerate(result.trips):
        good = trip.verdict == "ample" and not trip.promise.medical
        none = good or bool(trip.years)
        found.append(None if none else _Search(job, index, result, skies, jobs).remedy())
        tell((index + 1) / len(result.trips))
    return tuple(found)


@dataclass(frozen=True, eq=False)
class _Tried:
    """Some changes, and what a trip does with them."""

    levers: tuple[Lever, ...]
    answer: Answer
    lacks: tuple[Lack, ...]

    @property
    def price(self) -> float:
        return sum(inf if lever.price is None else lever.price for lever in self.levers)

    @property
    def cost(self) -> tuple[int, float]:
        """To compare by: how many prices are not known, and the sum of those that are."""
        prices = [lever.price for lever in self.levers]
        return prices.count(None), sum(price or 0.0 for price in prices)


class _Search:
    """Changes tried on one trip, over the draws of its result."""

    def __init__(self, job: Job, index: int, result: Result, skies: Skies, jobs: int) -> None:
        self.job, self.index, self.result, self.skies, self.jobs = job, index, result, skies, jobs
        self.trip = result.trips[index]
        self.done: dict[tuple[str, ...], Outcomes] = {}
        self.bounds = [bounds_among_first(trip, job.settings) for trip in result.trips]
        self.bound = job.settings.ample_share
        self.is_ample = self.trip.verdict == "ample"
        self.lacks_power = answer_of(self.trip).electric != "ample" or self.trip.promise.medical

    def remedy(self) -> Remedy:
        """The cheapest that is enough; what comes nearest where nothing is."""
        groups = [self._tried([(lever,) for lever in group]) for group in self._candidates()]
        found = None
        for goal in self._goals():
            found = self._cheapest(groups, goal) or self._tanks_alone(goal)
            found = found or self._what_it_takes(groups, goal)
            if found and found.verdict == "ample":
                return found
        return found or self._nearest(groups)

    def _goals(self) -> Iterator[_Goal]:
        """What is looked for, the best first."""
        if any(item.medical and item.count > 0 for item in self.job.appliances):
            yield lambda answer: answer.verdict == "ample" and not answer.medical_dark
        if not self.is_ample:
            yield lambda answer: answer.verdict == "ample"

    def _cheapest(self, groups: Sequence[Sequence[_Tried]], goal: _Goal) -> Remedy | None:
        """One change that is enough, or two; None where none are."""
        enough = [x for x in chain.from_iterable(groups) if goal(x.answer)]
        enough = enough or [x for x in self._tried(_pairs(groups)) if goal(x.answer)]
        if not enough:
            return None
        best = min(enough, key=lambda x: (x.cost, -x.answer.all_held))
        return self._said(best, self._made_worse(best))

    def _candidates(self) -> Iterator[list[Lever]]:
        """For each kind that falls behind too often the levers that could mend it."""
        job, trip = self.job, self.job.trips[self.index]
        allowed = (1.0 - self.bound) * self.trip.draws
        lacks = [lack for lack in self.trip.promise.lacks if lack.count]
        # Several that are rare each may be too many together.
        needs = {x.kind for x in lacks if x.count > allowed} or {x.kind for x in lacks}
        if self.trip.promise.medical:
            needs = {"electricity"} if self.is_ample else needs | {"electricity"}
        if needs - set(TANKS):
            yield lever_list(job)[0]
        for kind in TANKS:
            if kind in needs:
                warm = lever_list(job)[0] if kind == "propane" else []
                burns_less = [x for x in warm if x.name.startswith("Insulation")]
                yield [*store_levers.for_tank(job, trip, kind), *burns_less]

    def _tried(self, sets: Sequence[tuple[Lever, ...]]) -> list[_Tried]:
        """What sets of levers do to the trip; those that cannot be pulled are left out."""
        made = []
        for levers in sets:
            others = tuple(lever for lever in levers if not lever.tanks_only)
            try:
                base = changed_by(self.job, others)
                job = changed_by(base, [lever for lever in levers if lever.tanks_only])
            except JobError:
                continue
            made.append((levers, _names(others), base, job))
        new = {key: base for _, key, base, _ in made if key not in self.done}
        outcomes = run_jobs(list(new.values()), self.index, skies=self.skies, jobs=self.jobs)
        self.done.update(zip(new, outcomes, strict=True))
        return [self._one(levers, self.done[key], base, job) for levers, key, base, job in made]

    def _one(self, levers: tuple[Lever, ...], outcomes: Outcomes, base: Job, job: Job) -> _Tried:
        """Tanks alone change no load: what the battery did before it does again."""
        if job is not base:
            prepared = prepare_trip(base, base.trips[self.index], skies=self.skies)
            now = replace(prepared, job=job, trip=job.trips[self.index])
            outcomes = replace(outcomes, lacks=lacks_beside(now))
        (answer,) = outcomes.answers(self.trip.name, self.bounds[self.index])
        return _Tried(levers, answer, outcomes.lacks)

    def _answer(self, job: Job, index: int, designs: Sequence[Design]) -> tuple[Answer, ...]:
        prepared = prepare_trip(job, job.trips[index], skies=self.skies)
        return run_designs(prepared, designs).answers(job.trips[index].name, self.bounds[index])

    def _made_worse(self, best: _Tried) -> tuple[str, ...]:
        """Other trips that the changes turn from ample to less, or from tight to short."""
        # What may be left undone on a trip does it no harm.
        levers = [lever for lever in best.levers if not lever.may_be_left]
        if not levers:
            return ()
        job, worse = changed_by(self.job, levers), []
        for index, trip in enumerate(self.result.trips):
            if index != self.index:
                now = self._answer(job, index, [design_of(job)])[0].verdict
                if now != trip.verdict and lowest_verdict((now, trip.verdict)) == now:
                    worse.append(trip.name)
        return tuple(worse)

    def _tanks_alone(self, goal: _Goal) -> Remedy | None:
        """Where tanks alone fall behind: for each what mends it."""
        levers: tuple[Lever, ...] = ()
        # Grey tanks last: what is filled fills them too.
        for kind in () if self.lacks_power else TANKS:
            job, trip = self.job, self.job.trips[self.index]
            if not self._falls(self._tried([levers])[0], (kind,)):
                continue
            more = [(*levers, lever) for lever in store_levers.for_tank(job, trip, kind)]
            mends = [x for x in self._tried(more) if not self._falls(x, (kind,))]
            if not mends:
                return None
            levers = min(mends, key=lambda x: x.cost).levers
        enough = [x for x in self._tried([levers]) if levers and goal(x.answer)]
        return self._said(enough[0], self._made_worse(enough[0])) if enough else None

    def _falls(self, tried: _Tried, kinds: Sequence[str]) -> bool:
        """Whether a tank of some kinds falls behind in more draws than an ample trip allows."""
        allowed = (1.0 - self.bound) * tried.answer.draws
        return any(x.kind in kinds and x.count > allowed for x in tried.lacks)

    def _what_it_takes(self, groups: Sequence[Sequence[_Tried]], goal: _Goal) -> Remedy | None:
        """Where no change is enough: hours of driving, a plug, or panels that would be, with
        what else that takes; None where nothing is."""
        tanks = self._beside(groups)
        for extra in ((), *((lever,) for lever in against_cold(self.job))):
            nearly = []
            for tried, need in self._needed((*tanks, *extra), goal):
                if goal(tried.answer):
                    return self._said(tried, need=need)
                nearly.append((tried, need))
            if nearly:
                return self._finished(nearly)
        return None

    def _nearest(self, groups: Sequence[Sequence[_Tried]]) -> Remedy:
        """What comes nearest where nothing is enough."""
        base = self._answer(self.job, self.index, [design_of(self.job)])[0]
        nearest = max(chain.from_iterable(groups), key=lambda x: _nearness(x.answer), default=None)
        if nearest is None or _nearness(nearest.answer) <= _nearness(base):
            nearest = _Tried((), base, ())
        worse = self._made_worse(nearest) if nearest.levers else ()
        tried = self._amounts(self.job) if self.lacks_power else ()
        most = tuple(Need(kind, amounts[-1]) for kind, amounts in tried)
        return replace(self._said(nearest, worse), in_vain=most)

    def _needed(self, beside: tuple[Lever, ...], goal: _Goal) -> Iterator[tuple[_Tried, Need]]:
        """Of each need the least that is enough, or would be if electricity were all."""
        job = changed_by(self.job, beside)
        for kind, amounts in self._amounts(job):
            added = charger_on_the_road(job) if kind == "driving" else ()
            answers = self._with_amounts(changed_by(job, added), kind, amounts)
            for amount, answer in zip(amounts, answers, strict=True):
                bare = replace(answer, verdict=answer.electric)
                if goal(answer) or (self.lacks_power and goal(bare)):
                    yield _Tried((*beside, *added), answer, ()), Need(kind, amount)
                    break

    def _finished(self, nearly: Sequence[tuple[_Tried, Need]]) -> Remedy:
        """With a need that brings the electricity, what mends the rest; else what is left."""
        for tried, need in nearly:
            job = with_need(changed_by(self.job, tried.levers), self.index, need)
            for lever in finishing(job, self.index, tried.answer):
                now = changed_by(job, (lever,))
                (answer,) = self._answer(now, self.index, [design_of(now)])
                if answer.verdict == "ample":
                    return self._said(_Tried((*tried.levers, lever), answer, ()), need=need)
        tried, need = max(nearly, key=lambda one: _nearness(one[0].answer))
        return replace(self._said(tried, need=need), left=tried.answer.behind)

    def _beside(self, groups: Sequence[Sequence[_Tried]]) -> tuple[Lever, ...]:
        """For each tank that falls behind what mends it best: more electricity does not."""
        tanks = [group for group in groups if any(x.levers[0].tanks_only for x in group)]
        best = [self._for_tank(group) for group in tanks]
        return tuple(tried.levers[0] for tried in best) if len(tanks) < len(groups) else ()

    def _for_tank(self, group: Sequence[_Tried]) -> _Tried:
        """The cheapest that mends the tanks, else what comes nearest."""
        mends = [tried for tried in group if not self._falls(tried, TANKS)]
        if mends:
            return min(mends, key=lambda x: (x.cost, -x.answer.all_held))
        return max(group, key=lambda x: (_nearness(x.answer), -x.price))

    def _amounts(self, job: Job) -> Iterator[tuple[NeedKind, tuple[float, ...]]]:
        """What may be asked for, in growing amounts."""
        yield "driving", DRIVING_HOURS
        if job.shore:
            yield "plug", (0.0,)
        own = design_of(job)
        if own.panels and own.panels[counted_group(job)] + 1 < MOST_PANELS:
            first = own.panels[counted_group(job)] + 1
            yield "panels", tuple(float(count) for count in range(first, MOST_PANELS))

    def _with_amounts(self, job: Job, kind: NeedKind, amounts: Sequence[float]) -> Iterator[Answer]:
        if kind == "panels":
            index = counted_group(job)
            designs = [with_count(job, index, round(amount)) for amount in amounts]
            yield from self._answer(job, self.index, designs)
            return
        for amount in amounts:
            now = with_need(job, self.index, Need(kind, amount))
            yield self._answer(now, self.index, [design_of(now)])[0]

    def _said(self, tried: _Tried, worse: tuple[str, ...] = (), need: Need | None = None) -> Remedy:
        answer = tried.answer
        return Remedy(
            trip=self.trip.name,
            changes=_names(tried.levers),
            price=tried.price if tried.levers and isfinite(tried.price) else None,
            currency=self.job.prices.currency if self.job.prices else "",
            verdict=answer.verdict,
            held=answer.all_held,
            draws=answer.draws,
            worse=worse,
            need=need,
            medical=answer.medical,
            medical_dark=answer.medical_dark,
            ill=tuple(x.name for x in self.trip.promise.medical),
            is_for_medical=self.is_ample,
            is_of_first=answer.draws < self.trip.draws,
        )


def _nearness(answer: Answer) -> tuple[int, int, float]:
    """The larger the nearer to enough: how seldom a medical device may go without; what holds, of
    everything and of the battery alone; then how little is missing."""
    holds = answer.essentials_held + answer.all_held + answer.held
    return -answer.medical_dark, holds, -answer.dark_hours.mean


def _names(levers: Iterable[Lever]) -> tuple[str, ...]:
    return tuple(lever.name for lever in levers)


def _pairs(groups: Sequence[Sequence[_Tried]]) -> list[tuple[Lever, ...]]:
    """Pairs of the changes that come nearest: one of each kind of thing that falls behind, or
    two of the only kind."""
    kept = []
    for group in groups:
        near = sorted(group, key=lambda one: _nearness(one.answer), reverse=True)
        # Of what comes nearest the cheapest first, so that of pairs the cheap ones are among them.
        cheap = sorted(near[: 2 * PAIRS_OF], key=lambda one: one.price)
        kept.append([one.levers[0] for one in dict.fromkeys((*near[:2], *cheap))][:PAIRS_OF])
    if len(kept) == 1:
        return list(combinations(kept[0], 2))
    return [(a, b) for one, other in combinations(kept, 2) for a in one for b in other]
