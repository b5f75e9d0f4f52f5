"""What each lever does to every trip, ranked by what then holds and what is still missing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property
from itertools import combinations

import numpy as np

from sim.decide.levers.effect import LeverDecision, LeverEffect, TripEffect
from sim.decide.levers.lever import Lever, changed_by
from sim.decide.levers.lever_catalogue import lever_list
from sim.decide.levers.store_levers import for_tank
from sim.errors import JobError
from sim.job.model.job import Job
from sim.ledger.answer import Answer, worst
from sim.ledger.sampling import paired_error
from sim.ledger.study import Outcomes, lacks_beside, run_jobs
from sim.threads import Progress
from sim.trip.prepare import PreparedTrip, Skies, prepare_trip

# The best pair is looked for among the pairs of so many levers: those of the largest effect, and
# the cheapest of as many again.
PAIRS_OF = 5
LARGEST = 3
# A pair that leaves more than this part of what its better half leaves is not worth two changes.
WORTH_A_PAIR = 0.9


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
    # The job as it is goes beside its changes.
    study.carry([(), *((lever,) for lever in singles)], lambda done: tell(0.65 * done))
    singles += _on_tanks(job, study.base)
    effects = study.effects([(lever,) for lever in singles], lambda done: tell(0.65))
    ranked = sorted(
        range(len(effects)),
        key=lambda i: (not effects[i].changes_nothing, effects[i].order),
        reverse=True,
    )
    ordered = tuple(effects[i] for i in ranked)
    useful = [i for i in ranked if effects[i].trips and not effects[i].changes_nothing]
    both: list[LeverEffect] = []
    ill = _is_for_medical(study.base)
    if useful and _needs_two(study.base, effects):
        two = [(singles[a], singles[b]) for a, b in _pairs(useful, effects, singles)]
        two += _next_tanks(job, [(singles[i], effects[i]) for i in useful if singles[i].tanks_only])
        both = study.effects(two, lambda done: tell(0.65 + 0.35 * done))
    tell(1.0)
    pairs = [pair for pair in both if not ill or not pair.medical_dark]
    return LeverDecision(
        title=job.title,
        currency=job.prices.currency if job.prices else "",
        base=study.base,
        effects=ordered,
        by_price=tuple(_by_price(ordered)),
        best_pair=best_pair(pairs, effects[useful[0]]) if pairs else None,
        pairs=tuple(both),
        not_tried=tuple(not_tried),
    )


def _is_for_medical(base: Sequence[Answer]) -> bool:
    """Whether it is only for medical devices, which go without on ample trips, that a change is
    wanted."""
    return all(x.verdict == "ample" for x in base) and any(x.medical_dark for x in base)


def _needs_two(base: Sequence[Answer], effects: Sequence[LeverEffect]) -> bool:
    """Whether something is wanting, and no change alone is enough."""
    if _is_for_medical(base):
        return not any(x.is_enough and not x.medical_dark for x in effects)
    is_ample = all(answer.verdict == "ample" for answer in base)
    return not is_ample and not any(effect.is_enough for effect in effects)


def _on_tanks(job: Job, base: Sequence[Answer]) -> list[Lever]:
    """Levers on the tanks that fall behind on a trip, each once."""
    found: dict[str, Lever] = {}
    for trip, answer in zip(job.trips, base, strict=True):
        if answer.verdict != "ample":
            for kind in dict.fromkeys(x.kind for x in answer.behind):
                found.update((lever.name, lever) for lever in for_tank(job, trip, kind))
    return list(found.values())


def _pairs(
    useful: Sequence[int], effects: Sequence[LeverEffect], singles: Sequence[Lever]
) -> list[tuple[int, int]]:
    """Places of the levers to try together: two on the electricity, and where a tank falls
    behind too, one on that and one on the tank."""

    def best(of: Sequence[int]) -> list[int]:
        """Those of the largest effect, and of the next the cheap."""
        others = sorted(of[LARGEST : 2 * PAIRS_OF], key=lambda i: effects[i].cost)
        return [*of[:LARGEST], *others[: PAIRS_OF - LARGEST]]

    tanks = [i for i in useful if singles[i].tanks_only]
    rest = [i for i in useful if not singles[i].tanks_only]
    if not rest:
        return list(combinations(best(tanks), 2))
    both = combinations(best(rest)[: LARGEST + 1] if tanks else best(rest), 2)
    return [*both, *((one, tank) for one in best(rest) for tank in best(tanks)[:LARGEST])]


def _next_tanks(job: Job, tanks: Sequence[tuple[Lever, LeverEffect]]) -> list[tuple[Lever, Lever]]:
    """The best changes of tanks, each with what mends the tank that falls behind then: fresh water
    that is filled on the way fills the grey tanks."""
    found: dict[tuple[str, str], tuple[Lever, Lever]] = {}
    for lever, effect in tanks[:LARGEST]:
        for trip, now in zip(job.trips, effect.trips, strict=True):
            before = {x.kind for x in now.before.behind} if now.before else set()
            for kind in sorted({x.kind for x in now.answer.behind} - before):
                others = for_tank(job, trip, kind)
                found.update({(lever.name, other.name): (lever, other) for other in others})
    return list(found.values())


def best_pair(both: Sequence[LeverEffect], single: LeverEffect) -> LeverEffect | None:
    """The cheapest pair that is enough, else the best; None where it does no more than the best
    single change."""
    pulled = [pair for pair in both if pair.trips]
    enough = [pair for pair in pulled if pair.is_enough]
    if enough:
        return min(enough, key=lambda pair: (pair.cost, tuple(-x for x in pair.order[1:])))
    best = max(pulled, key=lambda pair: pair.order, default=None)
    if best is None or not _beats(best, single):
        return None
    # Of those that do more than one change, and that chance alone sets apart from the best, the
    # cheapest.
    verdict, held = best.order[0]
    alike = [
        x
        for x in pulled
        if x.order[0][0] == verdict and held - x.order[0][1] <= _chance(x) and _beats(x, single)
    ]
    return min(alike, key=lambda pair: (pair.cost, -pair.order[0][1], -pair.order[1]))


def _chance(effect: LeverEffect) -> float:
    """How far apart two counts of what holds may be by chance: three counts of the same draws."""
    draws = effect.trips[0].answer.draws
    return 3.0 * draws * paired_error(0, 0, draws)


def _beats(pair: LeverEffect, single: LeverEffect) -> bool:
    """Whether a pair does more than its rival alone by more than chance: on its worst trip, or
    in what is still missing."""
    (verdict, held), (old_verdict, old_held) = pair.order[0], single.order[0]
    if verdict != old_verdict:
        return verdict > old_verdict
    if held - old_held > _chance(pair):
        return True
    return -pair.order[1] < WORTH_A_PAIR * -single.order[1]


def _by_price(effects: Sequence[LeverEffect]) -> list[LeverEffect]:
    known = [(x.gain_per_price, x.gain, x) for x in effects if x.gain_per_price is not None]
    known.sort(key=lambda entry: (entry[0], entry[1]), reverse=True)
    return [effect for _, _, effect in known]


class _Study:
    """The job as it is, and any change of it over the same draws."""

    def __init__(self, job: Job, skies: Skies, jobs: int) -> None:
        self.job, self.skies, self.jobs = job, skies, jobs
        # What was carried, by the names of the levers: tanks alone carry nothing anew.
        self.done: dict[tuple[str, ...], list[Outcomes]] = {}
        # For each trip, by the names of the levers, what was prepared last.
        self.prepared: dict[int, tuple[tuple[str, ...], PreparedTrip]] = {}

    @property
    def outcomes(self) -> list[Outcomes]:
        """What the job does as it is, trip by trip."""
        return self.done[()]

    @cached_property
    def base(self) -> tuple[Answer, ...]:
        """Its answers."""
        return tuple(self._answer(x, index) for index, x in enumerate(self.outcomes))

    def carry(self, sets: Sequence[tuple[Lever, ...]], progress: Progress) -> list[str]:
        """Carry what is new of sets of levers; of each why it cannot be pulled, mostly empty."""
        faults: list[str] = []
        new: dict[tuple[str, ...], Job] = {}
        for pulled in sets:
            try:
                changed_by(self.job, pulled)
                for levers in _ways(pulled):
                    others = [lever for lever in levers if not lever.tanks_only]
                    if (key := _names(others)) not in self.done:
                        new[key] = changed_by(self.job, others)
                faults.append("")
            except JobError as error:
                faults.append(str(error.faults[0]))
        if new:
            self._carry(new, progress)
        return faults

    def _carry(self, changed: dict[tuple[str, ...], Job], progress: Progress) -> None:
        """Carry changes of the job through each of its trips."""
        by_trip = []
        for index in range(len(self.job.trips)):

            def tell(done: float, index: int = index) -> None:
                progress((index + done) / len(self.job.trips))

            by_trip.append(
                run_jobs(
                    list(changed.values()), index, skies=self.skies, jobs=self.jobs, progress=tell
                )
            )
        self.done.update(
            zip(changed, (list(trips) for trips in zip(*by_trip, strict=True)), strict=True)
        )

    def _answer(self, outcome: Outcomes, index: int) -> Answer:
        return outcome.answers(self.job.trips[index].name, self.job.settings.bounds)[0]

    def effects(self, sets: Sequence[tuple[Lever, ...]], progress: Progress) -> list[LeverEffect]:
        """What each set of levers does, in order."""
        faults = self.carry(sets, progress)
        return [self._effect(pulled, fault) for pulled, fault in zip(sets, faults, strict=True)]

    def _effect(self, pulled: tuple[Lever, ...], fault: str) -> LeverEffect:
        indices = () if fault else range(len(self.job.trips))
        found = [self._best_way(pulled, index) for index in indices]
        outcomes = [outcome for outcome, _ in found]
        trips = tuple(
            replace(
                _trip_effect(self._answer(new, index), self.base[index], new, self.outcomes[index]),
                is_left=is_left,
            )
            for index, (new, is_left) in enumerate(found)
        )
        before = worst(self.base)
        after = worst([trip.answer for trip in trips]) if trips else before
        return LeverEffect(
            names=_names(pulled),
            price=_sum([lever.price for lever in pulled]),
            weight_kg=_sum([lever.weight_kg for lever in pulled]),
            is_own=all(lever.is_own for lever in pulled),
            trips=trips,
            changes_nothing=bool(outcomes) and all(map(_is_same, outcomes, self.outcomes)),
            share_gain=after.ample_share - before.ample_share,
            lowest_gain=after.lowest_soc.p10 - before.lowest_soc.p10,
            fault=fault,
            unpriced=sum(lever.price is None for lever in pulled),
            known_price=sum(lever.price or 0.0 for lever in pulled),
        )

    def _best_way(self, pulled: tuple[Lever, ...], index: int) -> tuple[Outcomes, bool]:
        """What a trip does with the levers pulled, and whether one that may be left undone is."""
        now, *rest = (self._with(levers, index) for levers in _ways(pulled))
        for without in rest:
            answers = [self._answer(outcome, index) for outcome in (now, without)]
            with_it, without_it = ((x.rank, -x.missing_wh, x.lowest_soc.p10) for x in answers)
            if with_it < without_it:
                return without, True
        return now, False

    def _with(self, pulled: Sequence[Lever], index: int) -> Outcomes:
        """Tanks alone change no load: what the battery did before it does again."""
        others = [lever for lever in pulled if not lever.tanks_only]
        tanks = [lever for lever in pulled if lever.tanks_only]
        outcomes = self.done[_names(others)][index]
        if not tanks:
            return outcomes
        names, prepared = self.prepared.get(index, (None, None))
        if prepared is None or names != _names(others):
            base = changed_by(self.job, others)
            prepared = prepare_trip(base, base.trips[index], skies=self.skies)
            self.prepared[index] = _names(others), prepared
        job = changed_by(prepared.job, tanks)
        now = replace(prepared, job=job, trip=job.trips[index])
        return replace(outcomes, lacks=lacks_beside(now))


def _ways(pulled: tuple[Lever, ...]) -> list[tuple[Lever, ...]]:
    """All of some levers; and without those that may be left undone, where there are any."""
    kept = tuple(lever for lever in pulled if not lever.may_be_left)
    return [pulled] if len(kept) == len(pulled) else [pulled, kept]


def _names(levers: Sequence[Lever]) -> tuple[str, ...]:
    return tuple(lever.name for lever in levers)


def _trip_effect(now: Answer, before: Answer, new: Outcomes, old: Outcomes) -> TripEffect:
    gained = int((new.passed[0] & ~old.passed[0]).sum())
    lost = int((old.passed[0] & ~new.passed[0]).sum())
    return TripEffect(
        answer=now,
        share_gain=now.ample_share - before.ample_share,
        gain_error=paired_error(gained, lost, now.draws),
        lowest_gain=now.lowest_soc.p10 - before.lowest_soc.p10,
        dark_gain=before.dark_hours.mean - now.dark_hours.mean,
        before=before,
    )


def _is_same(new: Outcomes, old: Outcomes) -> bool:
    return all(
        np.array_equal(getattr(new, name), getattr(old, name))
        for name in ("lowest_soc", "dark_hours", "unharvested_wh", "unserved_wh")
    ) and _lacks_of(new) == _lacks_of(old)


def _lacks_of(found: Outcomes) -> list[tuple[str, float, bytes]]:
    return [(x.kind, x.missing, x.first_h.tobytes()) for x in found.lacks]


def _sum(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return sum(known) if len(known) == len(values) else None
