"""The answer of a trip: what its result says, and the bad case followed to its first dark hour."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

import sim
from sim.job.model.job import Job
from sim.ledger.answer import (
    Answer,
    answer_of,
    answers_from_totals,
    answers_of,
    lowest_verdict,
    worst,
)
from sim.ledger.behind import Behind, Totals
from sim.ledger.simulate import tried_on
from sim.ledger.study import run_designs
from sim.ledger.verdict import bad_draw, dark_hours_of, firsts_of
from sim.trip.designs import Design, design_of
from sim.trip.prepare import prepare_trip

MakeJob = Callable[..., Job]


def answer(dark: list[int], *, group: int = 2, lowest: list[float] | None = None) -> Answer:
    """Twelve hours, each draw dark for so many of its last ones."""
    unserved_w = np.zeros((3, 12, len(dark)))
    for draw, hours in enumerate(dark):
        unserved_w[group, 12 - hours :, draw] = 5.0
    return answer_for(unserved_w, lowest or [0.5] * len(dark))


def answer_for(unserved_w: np.ndarray, lowest: list[float]) -> Answer:
    """Of draws that keep their charge all along."""
    dark = dark_hours_of(unserved_w.sum(axis=0), 60).sum(axis=0)
    essential_dark = dark_hours_of(unserved_w[0], 60).sum(axis=0)
    step, group = firsts_of(unserved_w)
    (found,) = answers_from_totals(
        "Trip",
        Totals(
            dark_hours=dark.astype(np.float64)[None],
            essential_dark_hours=essential_dark.astype(np.float64)[None],
            lowest=np.array([lowest]),
            unharvested_wh_per_day=np.array([7.0]),
            lacks=[()],
            unserved_wh=unserved_w.sum(axis=1)[:, None],
        ),
        (0.95, 0.8),
        firsts=(step[None], group[None]),
    )
    return found


def test_it_is_what_the_result_says(make_job: MakeJob) -> None:
    job = make_job()
    for trip in sim.simulate(job).trips:
        found = answer_of(trip)
        assert found.verdict == trip.verdict
        assert found.draws == trip.draws
        assert found.ample_share == trip.share_without_dark
        assert found.comforts_held == int(trip.promise.holds("comforts").sum())
        (study,) = run_designs(prepare_trip(job, job.trip(trip.name)), [design_of(job)]).answers(
            trip.name, job.settings.bounds
        )
        assert [(x.kind, x.count) for x in study.behind] == [
            (x.kind, x.count) for x in found.behind
        ]
        assert found.lowest_soc == trip.lowest_soc
        assert found.trip == trip.name
        assert found.unharvested_wh_per_day == trip.energy.unharvested
        dark = trip.dark_hours
        assert (found.dark_hours.mean, found.dark_hours.p90) == (
            dark.mean(), np.quantile(dark, 0.9),
        )  # fmt: skip
        assert found.dark_hours.where_any == (dark[dark > 0].mean() if dark.any() else 0.0)
        assert (found.first_dark is None) == (trip.share_without_dark == 1.0)


def test_answers_together_are_answers_alone(make_job: MakeJob) -> None:
    """Of designs that hold in all draws, in some and in none."""
    job = make_job(("draws = 6", "draws = 24"))
    designs = [Design((count, count), units) for count in (0, 1, 6) for units in (1, 12)]
    for trip in job.trips:
        ((*tried,),) = tried_on([prepare_trip(job, trip)], designs)
        together = answers_of(tried)
        assert together == tuple(map(answer_of, tried))
        assert len(set(together)) == len(designs)
    held = {one.held for one in together}
    assert {one.first_dark is None for one in together} == {True, False}
    assert max(held) == 24 > min(held)


@pytest.mark.parametrize(
    ("dark", "verdict", "held"),
    [([0] * 20, "ample", 20), ([0] * 19 + [1], "ample", 19), ([0] * 16 + [1] * 4, "tight", 16),
     ([0] * 15 + [1] * 5, "tight", 15)],
)  # fmt: skip
def test_verdicts(dark: list[int], verdict: str, held: int) -> None:
    found = answer(dark)
    assert (found.verdict, found.held) == (verdict, held)


def test_the_bad_case_is_the_draw_at_the_bound_of_ample() -> None:
    # nineteen of twenty must hold: the last but one, in order of their dark hours
    first = answer([0] * 15 + [3, 7, 1, 2, 0]).first_dark
    assert first is not None
    assert (first.draw, first.step, first.priority) == (15, 9, "extra")
    assert first.is_bad_case


@pytest.mark.parametrize("missed", range(21))
def test_the_bad_case_is_dark_unless_the_trip_is_ample(missed: int) -> None:
    dark = [0] * (20 - missed) + [2] * missed
    bad = bad_draw(np.array(dark, dtype=float), np.full(20, 0.5), 0.95)
    assert (dark[bad] > 0) == (answer(dark).verdict != "ample")


def test_essentials_in_the_dark_make_a_trip_short() -> None:
    assert answer([0] * 15 + [1] * 5, group=0).verdict == "short"


def test_where_the_bad_case_holds_the_worst_draw_is_told() -> None:
    first = answer([0] * 19 + [4], group=0).first_dark
    assert first is not None
    assert (first.draw, first.step, first.priority) == (19, 8, "essential")
    assert not first.is_bad_case


def test_of_draws_as_dark_the_one_that_falls_lower_is_worse() -> None:
    first = answer([2, 2, 2], lowest=[0.4, 0.2, 0.3]).first_dark
    assert first is not None
    # 0.95 of three must hold: all
    assert first.draw == 1


def test_usual_is_what_most_dark_draws_lose_first() -> None:
    unserved_w = np.zeros((3, 12, 4))
    unserved_w[2, 5, 0] = unserved_w[1, 6, 1] = unserved_w[1, 7, 2] = 5.0
    # what goes off later does not count
    unserved_w[2, 8, 1:3] = 5.0
    found = answer_for(unserved_w, [0.5] * 4)
    assert found.first_dark is not None
    assert found.first_dark.usual == "comfort"
    assert answer([0, 0]).first_dark is None


def test_groups_that_go_off_together_are_told_by_the_one_shed_first() -> None:
    unserved_w = np.zeros((3, 12, 1))
    unserved_w[:, 4, 0] = 5.0
    # a rounding is not a load refused
    unserved_w[2, 2, 0] = 1e-12
    found = answer_for(unserved_w, [0.5])
    assert found.first_dark is not None
    assert (found.first_dark.step, found.first_dark.priority) == (4, "extra")


def test_sums_alone_give_the_same_answer_but_not_what_goes_dark_first() -> None:
    steps = answer([0] * 16 + [1, 2, 3, 4], lowest=[0.1 + 0.04 * n for n in range(20)])
    (sums,) = answers_from_totals(
        "Trip",
        Totals(
            dark_hours=np.array([[0.0] * 16 + [1.0, 2.0, 3.0, 4.0]]),
            essential_dark_hours=np.zeros((1, 20)),
            lowest=np.array([[0.1 + 0.04 * n for n in range(20)]]),
            unharvested_wh_per_day=np.array([7.0]),
            lacks=[()],
            unserved_wh=np.array(
                [[[0.0] * 20], [[0.0] * 20], [[0.0] * 16 + [5.0, 10.0, 15.0, 20.0]]]
            ),
        ),
        (0.95, 0.8),
    )
    assert steps.first_dark is not None
    assert sums == replace(steps, first_dark=None)
    assert (sums.dark_hours.mean, sums.dark_hours.where_any) == (0.5, 2.5)
    assert sums.behind == (Behind("comforts", "electricity", (), False, 4, 12.5),)
    assert (sums.comforts_held, sums.essentials_held, sums.missing_wh) == (16, 20, 2.5)


def test_the_worst_trip_holds_least_and_of_equals_falls_lowest() -> None:
    dry, dim = answer([0, 0, 1, 1]), answer([0, 1, 1, 1])
    assert worst([dry, dim, dry]) is dim
    low = answer([0, 0, 1, 1], lowest=[0.1] * 4)
    assert worst([dry, low]) is low


def test_the_lowest_verdict_is_the_worst() -> None:
    assert lowest_verdict(("tight", "short", "ample")) == "short"
    assert lowest_verdict(("ample", "tight")) == "tight"
    assert lowest_verdict(("ample", "ample")) == "ample"


def test_cold_hours_and_missing_energy_are_of_their_kinds_alone() -> None:
    """Means over all ten draws: 2 with 30 h of cold, 5 with 100 Wh too little, a tank aside."""
    behind = [
        SimpleNamespace(kind=kind, count=count, missing=missing)
        for kind, count, missing in (("warmth", 2, 30.0), ("hot water", 5, 100.0), ("grey", 9, 7.0))
    ]
    fake = SimpleNamespace(behind=behind, draws=10)
    assert Answer.cold_hours.fget(fake) == 6.0  # type: ignore[attr-defined]
    assert Answer.missing_wh.fget(fake) == 50.0  # type: ignore[attr-defined]
