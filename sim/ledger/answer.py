"""The one answer for a trip: of its result, and alike of any design tried on it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sim.arrays import Bools, Ints, quantiles
from sim.job.model.job import Settings
from sim.job.model.living import PRIORITIES, Priority
from sim.ledger.behind import Behind, Totals, behind_of, draws_behind
from sim.ledger.outcome import TripOutcome
from sim.ledger.promise import none_falls
from sim.ledger.results import TripResult
from sim.ledger.sampling import Interval, share_interval
from sim.ledger.verdict import QUANTILES, Spread, Verdict, bad_place, by_darkness, verdict_of


@dataclass(frozen=True)
class DarkHours:
    """Dark hours over the draws of a trip. [h]

    Attributes
    ----------
    mean, p90 : float
        Of all draws: the mean, and what one in ten passes.
    where_any : float
        Mean of the draws that have any; 0 where none has.
    """

    mean: float
    p90: float
    where_any: float


@dataclass(frozen=True)
class BadCase:
    """The draw on which *ample* turns, `bad_draw`.

    Attributes
    ----------
    lowest_soc : float
        Its lowest charge. 0 to 1
    dark_hours : float
        [h]
    """

    lowest_soc: float
    dark_hours: float


@dataclass(frozen=True)
class FirstDark:
    """What goes dark first in one draw.

    Attributes
    ----------
    draw, step : int
        In which draw, and at which step of the trip.
    priority : str
        Of the loads that are off then; of several groups the one that is shed first.
    is_bad_case : bool
        Whether the draw is the bad case; else it is the worst of all, because the bad case
        has no dark hour.
    usual : str
        Priority of what goes dark first in most of the draws that have a dark hour.
    """

    draw: int
    step: int
    priority: Priority
    is_bad_case: bool
    usual: Priority


@dataclass(frozen=True)
class Answer:
    """What a design does on a trip.

    Attributes
    ----------
    trip : str
        Its name.
    verdict : str
        ample, tight or short: of all that is promised.
    electric : str
        The same of what the battery serves alone: what panels, battery and charging can mend.
    held, draws : int
        Draws without a dark hour, of so many.
    essentials_held, all_held : int
        Draws in which the essentials and what they depend on, and in which everything held.
    stores_held : int
        Draws in which no tank, no hot water and no warmth fell behind.
    behind : tuple of Behind
        What falls behind in any draw, in how many, and by how much.
    dark_hours : DarkHours
    lowest_soc : Spread
        Lowest charge of the trip, over draws. 0 to 1
    bad : BadCase
        The draw on which *ample* turns.
    unharvested_wh_per_day : float
        Sun that found no room, mean over draws. [Wh/day]
    first_dark : FirstDark or None
        The bad case followed to its first dark hour. None where nothing ever goes dark, and
        where a study only summed what the design did.
    years : bool
        Whether the draws are the years of a weather file.
    medical : tuple of str
        Medical devices that go without in any draw; of a design that was only summed up, those
        that may, because something of their priority does.
    medical_dark : int
        Draws in which they do, or may: of that which does most often.
    """

    trip: str
    verdict: Verdict
    electric: Verdict
    held: int
    draws: int
    essentials_held: int
    all_held: int
    stores_held: int
    dark_hours: DarkHours
    lowest_soc: Spread
    bad: BadCase
    unharvested_wh_per_day: float
    behind: tuple[Behind, ...] = ()
    first_dark: FirstDark | None = None
    years: bool = False
    medical: tuple[str, ...] = ()
    medical_dark: int = 0

    @property
    def comforts_held(self) -> int:
        """Draws in which no comfort was off."""
        return self.draws - draws_behind(self.behind, "comforts")

    @property
    def missing_wh(self) -> float:
        """Electricity and hot water wanted and not there, mean over all draws. [Wh]"""
        wanted = [x for x in self.behind if x.kind in ("electricity", "hot water")]
        return sum(x.count * x.missing for x in wanted) / self.draws

    @property
    def cold_hours(self) -> float:
        """Hours in which the cabin is colder than set, mean over all draws. [h]"""
        return sum(x.count * x.missing for x in self.behind if x.kind == "warmth") / self.draws

    @property
    def rank(self) -> tuple[int, int]:
        """The larger the better: the verdict, then how often the essentials, everything and the
        electricity hold."""
        return _ORDER[self.verdict], self.essentials_held + self.all_held + self.held

    @property
    def ample_share(self) -> float:
        """Share of draws without a dark hour."""
        return self.held / self.draws

    @property
    def interval(self) -> Interval:
        """Where the true share lies, 95 %."""
        return share_interval(self.held, self.draws, years=self.years)


_ORDER: dict[Verdict, int] = {"short": 0, "tight": 1, "ample": 2}


def worst(trips: Sequence[Answer]) -> Answer:
    """The trip that holds in the fewest draws; of equals the one that falls lowest."""
    return min(trips, key=lambda answer: (answer.ample_share, answer.lowest_soc.p10))


def lowest_verdict(verdicts: Iterable[Verdict]) -> Verdict:
    """The worst of some verdicts."""
    return min(verdicts, key=lambda verdict: _ORDER[verdict])


def bounds_among_first(trip: TripResult, settings: Settings) -> tuple[float, float]:
    """The bounds of the verdict for a change that is tried in a trip's first draws alone.

    A change is taken to do in all draws what it does in the first: by as much as more of these
    hold than of all, without any change, more of them must hold with one.
    """
    first = slice(settings.first_draws)
    held = trip.promise.all_hold, trip.promise.essentials_hold
    ahead = [float(x[first].mean() - x.mean()) for x in held]
    ample, tight = (
        min(bound + more, 1.0) for bound, more in zip(settings.bounds, ahead, strict=True)
    )
    return ample, tight


def answer_of(trip: TripOutcome) -> Answer:
    """The answer of a trip's result."""
    return answers_of([trip])[0]


def answers_of(trips: Sequence[TripOutcome]) -> tuple[Answer, ...]:
    """The answer of each of some outcomes of a trip, all in the same draws."""
    lacking = [trip.lacking for trip in trips]
    totals = Totals(
        dark_hours=np.array([x.dark_hours for x in lacking]),
        essential_dark_hours=np.array([x.dark_hours_of_groups[0] for x in lacking]),
        lowest=np.array([trip.lowest for trip in trips]),
        unharvested_wh_per_day=np.array([trip.unharvested_wh_day for trip in trips]),
        lacks=[trip.promise.lacks for trip in trips],
    )
    firsts = np.array([x.first_step for x in lacking]), np.array([x.first_group for x in lacking])
    first, ill = trips[0], [trip.promise.medical for trip in trips]
    bounds = first.ample_share, first.tight_share
    answers = answers_from_totals(first.name, totals, bounds, firsts=firsts)
    return tuple(
        replace(
            answer,
            years=bool(first.years),
            medical=tuple(x.name for x in medical),
            medical_dark=max((x.count for x in medical), default=0),
        )
        for answer, medical in zip(answers, ill, strict=True)
    )


def answers_from_totals(
    trip: str,
    totals: Totals,
    bounds: tuple[float, float],
    firsts: tuple[Ints, Ints] | None = None,
) -> tuple[Answer, ...]:
    """The answers that the sums of K designs in D draws give.

    Parameters
    ----------
    trip : str
        Name of the trip.
    totals : Totals
    bounds : (float, float)
        Shares of draws in which everything must hold for ample, and the essentials for tight.
    firsts : tuple of two ndarrays of int, shape (K, D), optional
        Where the steps are known: the first in which something wanted is not served, and of what
        is not the group that is shed first.
    """
    dark, lowest = totals.dark_hours, totals.lowest
    draws = dark.shape[1]
    held, essentials_lit = totals.lit.sum(axis=1).tolist(), totals.essentials_lit.sum(axis=1)
    spreads = quantiles(lowest, QUANTILES, axis=1).T.tolist()
    mean, p90 = dark.mean(axis=1).tolist(), quantiles(dark, [0.9], axis=1)[0].tolist()
    order = by_darkness(dark, lowest)
    bad = order[:, bad_place(draws, bounds[0])].tolist()

    def answer(k: int) -> Answer:
        lacks, lit = totals.lacks[k], totals.lit[k]
        needed = [x for x in lacks if x.is_essential]
        essentials = int((totals.essentials_lit[k] & none_falls(needed, draws)).sum())
        everything = int((lit & none_falls(lacks, draws)).sum())
        stores = none_falls([x for x in lacks if x.group == "stores"], draws)
        return Answer(
            trip=trip,
            verdict=verdict_of(essentials / draws, everything / draws, bounds),
            electric=verdict_of(int(essentials_lit[k]) / draws, held[k] / draws, bounds),
            held=held[k],
            draws=draws,
            essentials_held=essentials,
            all_held=everything,
            stores_held=int(stores.sum()),
            dark_hours=DarkHours(
                mean=mean[k],
                p90=p90[k],
                where_any=float(dark[k][~lit].mean()) if held[k] < draws else 0.0,
            ),
            lowest_soc=Spread(*spreads[k]),
            bad=BadCase(float(lowest[k, bad[k]]), float(dark[k, bad[k]])),
            unharvested_wh_per_day=float(totals.unharvested_wh_per_day[k]),
            behind=behind_of(totals, k),
            first_dark=None
            if firsts is None or held[k] == draws
            else _first_dark(firsts[0][k], firsts[1][k], ~lit, bad[k], int(order[k, -1])),
        )

    return tuple(map(answer, range(len(dark))))


def _first_dark(step: Ints, group: Ints, missed: Bools, bad: int, worst: int) -> FirstDark:
    """The bad case followed to its first dark hour, or the worst of all where it has none."""
    draw = bad if missed[bad] else worst
    counts = np.bincount(group[missed], minlength=len(PRIORITIES)).tolist()
    # Of groups that are equally frequent the one that is shed first.
    usual = max(reversed(range(len(PRIORITIES))), key=lambda rank: counts[rank])
    return FirstDark(
        draw,
        int(step[draw]),
        PRIORITIES[int(group[draw])],
        is_bad_case=draw == bad,
        usual=PRIORITIES[usual],
    )
