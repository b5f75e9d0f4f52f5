"""Levers and the year in words."""

from __future__ import annotations

import datetime as dt
from typing import get_args

import numpy as np
import pytest

from sim.decide.calendar import Calendar, MonthVerdict
from sim.decide.levers.effects import LeverDecision, LeverEffect, TripEffect
from sim.decide.levers.lever import WhyNot
from sim.ledger.answer import Answer, DarkHours
from sim.ledger.sampling import wilson
from sim.ledger.verdict import Spread, Verdict
from sim.report.words.lever_words import calendar_sentences, lever_sentences, why_not

BEFORE, AFTER = (
    Answer(
        trip="June",
        verdict=verdict,
        electric=verdict,
        held=held,
        draws=100,
        essentials_held=held,
        all_held=held,
        dark_hours=dark,
        lowest_soc=Spread(lowest, 0.3, 0.5),
        unharvested_wh_per_day=9.0,
    )
    for verdict, held, dark, lowest in (
        ("short", 60, DarkHours(1.0, 2.0, 3.0), 0.1),
        ("tight", 90, DarkHours(0.1, 0.0, 1.0), 0.2),
    )
)


def effect(*names: str, price: float | None, changes_nothing: bool = False) -> LeverEffect:
    gain = 0.0 if changes_nothing else 0.3
    trip = TripEffect(BEFORE if changes_nothing else AFTER, gain, 0.05, 0.1, 0.9)
    return LeverEffect(names, price, None, False, (trip,), changes_nothing, share_gain=gain)


def decision(*effects: LeverEffect, pair: LeverEffect | None = None) -> LeverDecision:
    by_price = tuple(x for x in effects if x.gain_per_price is not None)
    return LeverDecision("Van", "USD", (BEFORE,), effects, by_price, pair, ())


def test_the_largest_the_cheapest_and_the_best_two() -> None:
    nothing = effect("Paint", price=None, changes_nothing=True)
    large, cheap = effect("Battery", price=None), effect("Panel", price=190.0)
    pair = effect("Battery", "Panel", price=1190.0)
    then = "Weathers without a dark hour then: 90 % on “June”."
    assert lever_sentences(decision(nothing, large, cheap, pair=pair)) == (
        f"The largest effect: Battery. {then}",
        f"Most for the money: Panel, for USD 190. {then}",
        f"The best two together: Battery, and Panel, for USD 1,190. {then}",
    )


def test_free_of_charge_and_of_no_use() -> None:
    (_, free) = lever_sentences(decision(effect("Habit", price=0.0)))
    assert free.startswith("Most for the money: Habit, for nothing. ")
    assert lever_sentences(decision(effect("Paint", price=9.0, changes_nothing=True))) == ()


@pytest.mark.parametrize("why", get_args(WhyNot))
def test_every_reason_has_its_words(why: WhyNot) -> None:
    assert len(why_not(why).split()) > 2


def year(*verdicts: Verdict) -> Calendar:
    months = tuple(
        MonthVerdict(month, verdict, 0.9, wilson(90, 100), None)
        for month, verdict in enumerate(verdicts, 1)
    )
    nothing = np.zeros((0, 0))
    return Calendar(
        "Van", "June", "170 W", 2, 100, (dt.date(2027, 1, 1),), (2,), nothing, nothing, nothing,
        (0.95, 0.8), months,
    )  # fmt: skip


def test_months_by_verdict_best_first() -> None:
    assert calendar_sentences(year("short", "short", "tight", *["ample"] * 8, "tight")) == (
        "Ample: April, May, June, July, August, September, October and November.",
        "Tight: March and December.",
        "Short: January and February.",
    )


def test_a_year_that_is_all_the_same() -> None:
    assert calendar_sentences(year(*["tight"] * 12)) == (
        "With 2 panels the trip is tight all year.",
    )
