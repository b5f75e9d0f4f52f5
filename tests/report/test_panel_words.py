"""How many panels in words: decisions made by hand, each sentence as it is read."""

from __future__ import annotations

from dataclasses import replace
from typing import get_args

import pytest

from sim.decide.levers.effect import LeverEffect, TripEffect
from sim.decide.panels.choice import Choice, NextPanels, PanelOption
from sim.decide.panels.counts import Help, PanelDecision
from sim.decide.panels.roof import RoofFit, RoofNote
from sim.ledger.answer import Answer, BadCase, DarkHours
from sim.ledger.behind import Behind
from sim.ledger.verdict import Spread, verdict_of
from sim.report.words.numbers import GAP
from sim.report.words.panel_words import (
    beside,
    doubt,
    helps,
    medical,
    next_panel,
    panel_sentences,
    reason,
    roof_note,
    sure_sentences,
)


def answer(trip: str, held: int, draws: int = 40, lowest: float = 0.3) -> Answer:
    """Of a trip where everything is essential, and nothing falls behind but the battery."""
    verdict = verdict_of(held / draws, held / draws, (0.95, 0.8))
    dark = Behind("essentials", "electricity", (), True, draws - held, 50.0)
    return Answer(
        behind=(dark,) if held < draws else (),
        trip=trip,
        verdict=verdict,
        electric=verdict,
        held=held,
        draws=draws,
        essentials_held=held,
        all_held=held,
        stores_held=draws,
        dark_hours=DarkHours(1.0, 2.0, 3.0),
        lowest_soc=Spread(lowest, 0.5, 0.7),
        bad=BadCase(lowest, 2.0),
        unharvested_wh_per_day=9.0,
    )


def option(count: int, june: int, november: int, *, fits: bool | None = None) -> PanelOption:
    trips = answer("June", june), answer("November", november, lowest=0.1 + 0.05 * count)
    return PanelOption(count, fits, 30.0, None, None, trips)


OPTIONS = (option(0, 20, 4), option(1, 40, 30), option(2, 40, 36), option(3, 40, 39))
CHOICE = Choice(recommended=3, best=3, runner_up=2, step=1, following=None, unsure=())
FOUND = PanelDecision(
    title="Van",
    panel="170 W",
    job_count=2,
    currency="USD",
    bound=0.95,
    options=OPTIONS,
    choice=CHOICE,
    helps=None,
    fit=RoofFit(None, None, (), None),
)


def chosen(found: PanelDecision = FOUND, **changes: object) -> PanelDecision:
    return replace(found, choice=replace(found.choice, **changes))  # type: ignore[arg-type]


def test_the_smallest_number_is_shown_beside_the_one_before_it() -> None:
    assert reason(FOUND) == (
        "3 panels are the smallest number that is ample on every trip: on “November” nothing lacks "
        "electricity in 39 of 40 simulated trips, with 2 panels in 36."
    )
    assert panel_sentences(FOUND) == (reason(FOUND),)


def test_a_tank_makes_it_ample_for_the_electricity_alone() -> None:
    """A verdict that a tank spoils is not called ample, and what spoils it is said."""
    tank = Behind("stores", "grey", ("Shower tank",), False, 40, 9.0)
    spoilt = [
        replace(x, trips=tuple(replace(t, verdict="tight", behind=(tank,)) for t in x.trips))
        for x in OPTIONS
    ]
    found = replace(FOUND, options=tuple(spoilt))
    assert reason(found).startswith(
        "3 panels are the smallest number that is ample for the electricity: on “November”"
    )
    assert beside(found) == (
        "What no panel mends. June: Shower tank is full in all 40 simulated trips. November: "
        "Shower tank is full in all 40 simulated trips."
    )
    assert beside(found) in panel_sentences(found)
    assert beside(FOUND) == ""


def test_one_panel_is_in_the_singular() -> None:
    options = (option(0, 40, 30), option(1, 40, 40))
    text = reason(chosen(replace(FOUND, options=options), recommended=1, best=1))
    assert text.startswith("1 panel is the smallest number")
    assert text.endswith("with no panels in 30.")


def test_strings_come_together() -> None:
    options = tuple(option(n, 40, 20 + 9 * (n > 3) + n) for n in range(5))
    text = reason(chosen(replace(FOUND, options=options), recommended=4, best=4, step=2))
    assert text.startswith("4 panels, in strings of 2, are the smallest number")
    assert "with 2 panels in 22." in text


def test_none_at_all() -> None:
    options = (option(0, 40, 39), *OPTIONS[1:])
    text = reason(chosen(replace(FOUND, options=options), recommended=0, best=0))
    assert text == (
        "No panel is needed: without any, every trip is ample: on “November” nothing lacks "
        "electricity in 39 of 40 simulated trips."
    )


@pytest.mark.parametrize(
    ("fit", "start", "end"),
    [
        (RoofFit(None, None, (), "no roof"), "No number of panels looked at is ample", "trips."),
        (RoofFit(2, None, (), None), "No number of panels that fits is ample", "trips."),
        (RoofFit(0, None, (), "none fits"), "No number of panels that fits", "on the roof."),
    ],
)
def test_where_none_is_enough(fit: RoofFit, start: str, end: str) -> None:
    text = reason(chosen(replace(FOUND, fit=fit), recommended=None, best=2))
    assert text.startswith(start)
    assert "with 2 panels, “November” is tight, essentials 36, comforts 40" in text
    assert text.endswith(end)


def test_a_job_with_more_panels_than_were_looked_at() -> None:
    """Nothing is said of its own number, nor of all that would fit."""
    found = chosen(replace(FOUND, job_count=9, fit=RoofFit(5, None, (), None)), recommended=None)
    ill = tuple(replace(x, medical=("Pump",), medical_dark=4) for x in OPTIONS[3].trips)
    found = replace(found, options=(*OPTIONS[:3], replace(OPTIONS[3], trips=ill)))
    assert medical(found).startswith("With 3 panels, Pump may go without in 4 of 40")
    assert reason(found).startswith("No number of panels looked at is ample on every trip")


def test_one_more_says_what_it_buys_and_whether_that_is_chance() -> None:
    before, after = OPTIONS[2].trips[1], OPTIONS[3].trips[1]
    more = NextPanels(3, None, before, after, "clear")
    clear = next_panel(chosen(following=more))
    assert clear == (
        "One panel more, 3 in all, takes “November” from 36 to 39 of 40 simulated trips in which "
        "nothing lacks electricity."
    )
    unsure = next_panel(chosen(following=replace(more, gain="unsure")))
    assert unsure.endswith("electricity, too little to tell from chance.")
    small = next_panel(chosen(following=replace(more, gain="small")))
    assert small.endswith("electricity, which is little; see the levers.")
    roof = next_panel(chosen(following=replace(more, fits=False)))
    assert "3 in all, does not fit as the roof is; it would take “November” from" in roof
    string = next_panel(chosen(following=more, step=2))
    assert string.startswith("A string of 2 more, 3 in all, takes")
    assert next_panel(FOUND) == ""


def test_where_the_count_stays_one_more_says_what_the_charge_gains() -> None:
    before = answer("November", 40, lowest=0.2)
    more = NextPanels(3, None, before, replace(before, bad=BadCase(0.31, 2.0)), "unsure")
    text = next_panel(chosen(following=more)).replace(GAP, " ")
    assert text.endswith("takes “November” from a lowest charge in the bad case of 20 % to 31 %.")
    assert next_panel(chosen(following=replace(more, after=before))) == ""


def test_doubt_names_what_lies_too_near_the_bound() -> None:
    """Draws placed evenly leave less to chance than dice: Wilson's intervals of 39 and 36 of 40
    dice would begin at 87 and 77 %."""
    unsure = ((3, answer("November", 39)), (2, answer("November", 36)))
    found = chosen(unsure=unsure)
    assert doubt(found) == (
        "40 simulated trips are too few to be sure on which side of 95 % a share lies: with 3 "
        "panels, “November” 98 % (88 to 100 %); with 2 panels, “November” 90 % (78 to 96 %). More "
        "of them (draws, in the job file's [settings]) would show it."
    )
    assert doubt(FOUND) == ""
    # For experts alone.
    assert doubt(found) not in panel_sentences(found)
    assert sure_sentences(found) == (doubt(found),)


def effect(*names: str, held: int) -> LeverEffect:
    trips = tuple(
        TripEffect(answer(name, share), 0.1, 0.05, 0.0, 0.0)
        for name, share in (("June", 40), ("November", held))
    )
    return LeverEffect(names, None, None, False, trips, False, share_gain=0.1)


def test_what_helps_where_panels_do_not() -> None:
    assert helps(None) == ""
    one = helps(Help(4, (effect("One more battery", held=39),), is_enough=True))
    assert one == (
        "With 4 panels, one change is enough: one more battery; “November” is ample, essentials "
        "39, comforts 40 of 40 simulated trips."
    )
    two = helps(Help(1, (effect("A", "B", held=38),), is_enough=True))
    assert two.startswith("With 1 panel, two changes together are enough: A and B; “November” is")
    part = helps(Help(1, (effect("A", held=38),), is_enough=True, is_whole=False))
    assert part.startswith("With 1 panel, one change is enough for the electricity: A;")
    most = helps(Help(4, (effect("A", held=30), effect("A", "B", held=35)), is_enough=False))
    assert most.startswith(
        "With 4 panels, no change tried is enough; what helps most: A: “November” is short, "
        "essentials 30"
    )
    assert "; A and B: “November” is tight, essentials 35" in most
    assert "this trip asks too much of this build" in helps(Help(4, (), is_enough=False))


@pytest.mark.parametrize("note", get_args(RoofNote))
def test_every_note_on_the_roof_has_its_words(note: RoofNote) -> None:
    text = roof_note(RoofFit(None, None, (), note, carries_kg=25.0))
    assert text
    assert "{" not in text
    assert (text == "the roof carries 25 kg") == (note == "weight")


def test_a_roof_that_does_not_matter_is_not_mentioned() -> None:
    assert roof_note(RoofFit(3, None, (), None)) == ""
