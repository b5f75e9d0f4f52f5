"""Levers and the year in words."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import get_args

import pytest

from sim.decide.calendar import Calendar, MonthVerdict
from sim.decide.levers.effect import LeverDecision, LeverEffect, TripEffect
from sim.decide.levers.lever import WhyNot
from sim.decide.levers.lever_catalogue import lever_list
from sim.decide.levers.store_levers import for_tank
from sim.job.reading.load import load_job
from sim.ledger.answer import Answer, BadCase, DarkHours
from sim.ledger.behind import Behind
from sim.ledger.promise import LackKind
from sim.ledger.verdict import Spread, Verdict
from sim.report.words.calendar_words import calendar_sentences, panels_needed
from sim.report.words.lever_words import lever_sentences, trip_cell, why_not, worse_words
from sim.report.words.numbers import GAP, changes
from sim.resources import profiles_dir

STORES: tuple[LackKind, ...] = ("propane", "fresh", "grey")
BEFORE, AFTER = (
    Answer(
        behind=(Behind("essentials", "electricity", (), True, 100 - held, 90.0),),
        trip="June",
        verdict=verdict,
        electric=verdict,
        held=held,
        draws=100,
        essentials_held=held,
        all_held=held,
        stores_held=100,
        dark_hours=dark,
        lowest_soc=Spread(lowest, 0.3, 0.5),
        bad=BadCase(lowest, dark.p90),
        unharvested_wh_per_day=9.0,
    )
    for verdict, held, dark, lowest in (
        ("short", 60, DarkHours(1.0, 2.0, 3.0), 0.1),
        ("tight", 90, DarkHours(0.1, 0.0, 1.0), 0.2),
    )
)


def effect(
    *names: str,
    price: float | None,
    now: Answer = AFTER,
    changes_nothing: bool = False,
    more: tuple[TripEffect, ...] = (),
) -> LeverEffect:
    gain = 0.0 if changes_nothing else 0.3
    trip = TripEffect(BEFORE if changes_nothing else now, gain, 0.05, 0.1, 0.9, BEFORE)
    return LeverEffect(names, price, None, False, (trip, *more), changes_nothing, share_gain=gain)


def decision(*effects: LeverEffect, pair: LeverEffect | None = None) -> LeverDecision:
    by_price = tuple(x for x in effects if x.gain_per_price is not None)
    return LeverDecision("Van", "USD", (BEFORE,), effects, by_price, pair, ())


THEN = "“June” is then tight: essentials 90, comforts 100 of 100 simulated trips."
ENOUGH = replace(AFTER, verdict="ample", held=100, essentials_held=100, all_held=100, behind=())


def test_the_answer_comes_first_then_the_most_for_the_money() -> None:
    nothing = effect("Paint", price=None, changes_nothing=True)
    large, cheap = effect("Battery", price=None), effect("Panel", price=190.0)
    assert lever_sentences(decision(large, cheap, nothing)) == (
        f"No change tried is enough; nearest comes battery (price not known). {THEN}",
        f"Most for the money: Panel (USD 190). {THEN}",
    )
    pair = effect("Battery", "Panel", price=1190.0)
    (answer, _) = lever_sentences(decision(large, cheap, pair=pair))
    assert answer == (
        "No change tried is enough, nor are two together; nearest come battery and Panel "
        f"(USD 1,190). {THEN}"
    )


def test_one_that_is_enough_is_said_to_be_enough_the_cheapest_first() -> None:
    then = "“June” is then ample: everything holds in 100 of 100 simulated trips."
    dear = effect("Battery", price=850.0, now=ENOUGH)
    cheap = effect("Driving", price=0.0, now=ENOUGH)
    assert lever_sentences(decision(dear, effect("Panel", price=190.0), cheap))[0] == (
        f"One change is enough: Driving (free). {then} Enough too: battery (USD 850)."
    )
    two = effect("Battery", "Panel", price=1040.0, now=ENOUGH)
    assert lever_sentences(decision(effect("Panel", price=190.0), pair=two))[0] == (
        f"No one change is enough; two together are: battery and Panel (USD 1,040). {then}"
    )


def test_what_hardly_helps_is_not_the_most_for_the_money() -> None:
    """Nothing holds more often, and of 100 simulated trips that miss 90 Wh each 87 Wh are left."""
    behind = replace(BEFORE.behind[0], missing=87.0)
    hardly = effect("Broom", price=0.0, now=replace(BEFORE, behind=(behind,)))
    assert hardly.gain > 0.0
    assert len(lever_sentences(decision(effect("Battery", price=None), hardly))) == 1
    half = replace(behind, missing=45.0)
    some = effect("Tilt", price=0.0, now=replace(BEFORE, behind=(half,)))
    assert lever_sentences(decision(effect("Battery", price=None), some))[1].startswith(
        "Most for the money: Tilt (free)."
    )


def test_an_ample_trip_that_leaves_a_medical_device_without_needs_a_change() -> None:
    ill = replace(ENOUGH, held=97, essentials_held=97, medical=("Breathing aid",), medical_dark=3)
    dear, cheap = effect("Battery", price=850.0, now=ENOUGH), effect("Tilt", price=9.0, now=ENOUGH)
    less = effect("Panel", price=1.0, now=replace(ill, medical_dark=1))
    found = replace(decision(dear, less, cheap), base=(ill,))
    assert lever_sentences(found) == (
        "Every trip is ample as it is. To keep Breathing aid on in all simulated trips: Tilt "
        "(USD 9).",
    )
    assert found.enough == (cheap, dear)
    none = replace(decision(less), base=(ill,))
    assert lever_sentences(none) == (
        "Every trip is ample as it is. No change tried keeps Breathing aid on in all simulated "
        "trips.",
    )
    # Of what makes a short trip ample, what keeps it on comes first, whatever it costs.
    assert decision(less, dear).enough == (dear, less)


def test_what_makes_a_trip_worse_says_so_in_the_same_line() -> None:
    july = replace(ENOUGH, trip="July")
    spoilt = replace(
        july, verdict="short", held=70, essentials_held=70, all_held=70, behind=BEFORE.behind
    )
    worse = TripEffect(spoilt, -0.3, 0.05, -0.2, -1.0, july)
    tilt = effect("Tilt", price=0.0, more=(worse,))
    (answer,) = lever_sentences(decision(tilt))
    assert "It makes “July” worse: short, essentials 70" in answer
    assert trip_cell(worse).startswith("short 70/100 worse")
    assert worse_words(effect("Panel", price=0.0)) == []
    # What may be left undone on a trip does it no harm.
    left = replace(worse, is_left=True, answer=july)
    assert trip_cell(left) == "ample 100/100 not used"
    assert worse_words(effect("Tilt", price=0.0, more=(left,))) == []


def test_a_loss_that_chance_alone_could_make_is_not_called_worse() -> None:
    july = replace(ENOUGH, trip="July", held=99, essentials_held=99, all_held=99)
    before = replace(ENOUGH, trip="July")
    assert not TripEffect(july, -0.01, 0.05, 0.0, 0.0, before).is_worse
    assert TripEffect(replace(july, verdict="tight"), -0.01, 0.05, 0.0, 0.0, before).is_worse


def test_where_nothing_holds_the_table_says_what_is_missing() -> None:
    none = replace(
        AFTER,
        verdict="short",
        held=0,
        essentials_held=0,
        all_held=0,
        stores_held=100,
        behind=(Behind("essentials", "electricity", (), True, 100, 4988.0),),
    )
    cell = trip_cell(TripEffect(none, 0.0, 0.02, 0.0, 40.0, none)).replace(GAP, " ")
    assert cell == "short 0/100\n4,988 Wh missing"


def test_free_of_charge_and_of_no_use() -> None:
    (answer,) = lever_sentences(decision(effect("Habit", price=0.0)))
    assert answer.startswith("No change tried is enough; nearest comes Habit (free). ")
    assert lever_sentences(decision(effect("Paint", price=9.0, changes_nothing=True))) == (
        "None of the changes tried helps.",
    )


def test_a_job_that_is_ample_needs_no_change() -> None:
    found = replace(decision(effect("Panel", price=190.0, now=ENOUGH)), base=(ENOUGH,))
    assert lever_sentences(found)[0].startswith(
        "Every trip is ample as it is: no change is needed."
    )


@pytest.mark.parametrize("why", get_args(WhyNot))
def test_every_reason_has_its_words(why: WhyNot) -> None:
    assert len(why_not(why).split()) > 2


def year(*verdicts: Verdict, tank: bool = False) -> Calendar:
    full = (Behind("stores", "grey", ("Sinks",), False, 50, 1.0),) if tank else ()
    months = tuple(
        MonthVerdict(month, replace(AFTER, verdict=verdict, behind=full), None)
        for month, verdict in enumerate(verdicts, 1)
    )
    answers = ((AFTER, AFTER),)
    return Calendar(
        "Van", "June", "170 W", 2, (dt.date(2027, 1, 1),), (1, 2), answers, (0.95, 0.8), months
    )


def test_months_by_verdict_best_first() -> None:
    found = year("short", "short", "tight", *["ample"] * 8, "tight")
    assert calendar_sentences(found) == (
        "With 2 panels the trip is ample in April to November; tight in March and December; "
        "short in January and February.",
    )
    winter = year("short", "short", *["ample"] * 9, "short")
    assert calendar_sentences(winter)[0].endswith("short in December to February.")


def test_a_year_that_is_all_the_same() -> None:
    assert calendar_sentences(year(*["tight"] * 12)) == (
        "With 2 panels the trip is tight all year.",
    )


def test_one_panel_and_what_no_panel_mends() -> None:
    found = replace(year(*["tight"] * 12, tank=True), job_count=1)
    assert calendar_sentences(found) == (
        "With 1 panel the trip is tight all year.",
        "What no panel mends is too little grey room all year.",
    )


def test_panels_needed_are_no_more_than_were_looked_at() -> None:
    found = year(*["tight"] * 12)
    assert panels_needed(found.months[0], found) == "over 2"
    assert panels_needed(replace(found.months[0], panels=1), found) == "1"


def test_levers_in_a_sentence_have_no_capital_but_that_of_a_customers_name() -> None:
    job = load_job(profiles_dir() / "jobs" / "demo.toml")
    names = ("A DC-DC charger (40 A)", "Insulation: a third less heat lost", "Kettle half as long")
    said = changes(names)
    assert said == (
        "a DC-DC charger (40 A), insulation: a third less heat lost and Kettle half as long"
    )
    # Whatever lever there is: one that begins with none of the customer's names is among them.
    own = {item.name for item in job.appliances}
    levers = [x.name for x in lever_list(job)[0]]
    levers += [x.name for trip in job.trips for kind in STORES for x in for_tank(job, trip, kind)]
    assert len(levers) > 20
    for name in levers:
        if not any(name.startswith(item) for item in own):
            assert changes([name])[0].islower(), name
