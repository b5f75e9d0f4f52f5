"""Counts of draws in words, and what experts are given."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sim.job.model.changes import with_values
from sim.ledger.answer import Answer, answer_of
from sim.ledger.behind import Behind
from sim.ledger.results import Result
from sim.report.words import answer_words as words
from sim.report.words.numbers import GAP, gain_words
from sim.report.words.sentences import tried_in_first


@pytest.fixture
def answer(small_result: Result) -> Answer:
    """Of a trip on which everything holds in 200 draws."""
    found = answer_of(small_result.trips[0])
    held = {"essentials_held": 200, "all_held": 200, "held": 200}
    return replace(found, draws=200, years=False, behind=(), **held)


def lacking(answer: Answer, group: str, kind: str, count: int, name: str = "") -> Answer:
    names = (name,) if name else ()
    one = Behind(group, kind, names, group == "essentials", count, 30.0)  # type: ignore[arg-type]
    return replace(answer, behind=(*answer.behind, one), all_held=answer.all_held - count)


def test_everything_or_each_by_itself(answer: Answer) -> None:
    assert words.held_words(answer) == "everything holds in 200 of 200 simulated trips"
    assert words.held_briefly(answer) == "everything holds in 200 of 200 simulated trips"
    assert words.counts_cell(answer) == "200/200"
    dark = lacking(answer, "comforts", "electricity", 12)
    assert words.held_words(dark) == (
        "the essentials hold in 200 of 200 simulated trips, the comforts in 188"
    )
    assert words.held_briefly(dark) == "essentials 200, comforts 188 of 200 simulated trips"
    full = lacking(dark, "stores", "grey", 100, "Shower tank")
    assert words.held_words(full).endswith("the comforts in 188, everything in 88")
    assert words.counts_cell(full) == "200/188/88"
    assert words.counts_legend([dark]).endswith("in how many hold: essentials/comforts.")
    assert words.counts_legend([dark, full]).endswith("essentials/comforts/everything.")


def test_none_and_all_are_counted_like_the_rest(answer: Answer) -> None:
    none = replace(lacking(answer, "essentials", "electricity", 200), essentials_held=0, held=0)
    none = replace(none, behind=(*none.behind, replace(none.behind[0], group="comforts")))
    assert words.held_words(none) == "everything holds in 0 of 200 simulated trips"
    assert words.electric_words(none) == "nothing lacks electricity in 0 of 200 simulated trips"
    assert words.electric_words(answer) == "nothing lacks electricity in 200 of 200 simulated trips"


def test_one_weather_and_years_are_named(answer: Answer) -> None:
    once = replace(answer, draws=1, held=1, essentials_held=1, all_held=1)
    assert words.held_words(once) == "everything holds in the one weather computed"
    short = replace(once, all_held=0)
    assert words.held_words(short).startswith("the essentials hold in the one weather")
    years = replace(answer, draws=5, held=5, essentials_held=5, all_held=5, years=True)
    assert words.held_words(years) == "everything holds in 5 of 5 years of the weather file"


def test_what_falls_behind_beside_the_electricity(answer: Answer) -> None:
    assert words.beside_of_trips([answer]) == ""
    many = lacking(answer, "stores", "propane", 39, "Propane")
    many = lacking(many, "stores", "warmth", 200)
    many = lacking(many, "comforts", "electricity", 9)
    assert words.beside_of_trips([answer, many]) == (
        f"{answer.trip}: Propane runs out in 39 of 200 simulated trips and the cabin stays colder "
        "than set in all 200 simulated trips."
    )
    assert words.missing_words(many).replace(GAP, " ") == "1 Wh missing, 30 h cold"
    hot = lacking(lacking(answer, "stores", "hot water", 7), "stores", "grey", 1, "Sinks")
    said = words.beside_of_trips([hot])
    assert said.startswith(f"{answer.trip}: hot water falls short in 7 of 200 simulated trips")
    assert said.endswith("Sinks is full in 1 of 200 simulated trips.")


def test_experts_get_a_share_with_its_interval_where_there_are_draws_enough(answer: Answer) -> None:
    assert words.sure_words(replace(answer, held=4, draws=5, years=True)) == "4 of 5"
    assert words.sure_words(replace(answer, held=160)).startswith("80 % (7")


def test_gains() -> None:
    assert gain_words(0.2, 5) == "+1"
    assert gain_words(-0.4, 5) == "-2"
    assert gain_words(0.125, 200) == "+12.5"


def test_of_a_hundred_such_trips(answer: Answer) -> None:
    """Rounded outwards; 64 of 1,000 placed evenly are 5.1 to 7.9 %."""
    open_ = replace(answer, draws=1000, all_held=64)
    assert words.of_a_hundred(open_) == "everything holds in 5 to 8"
    assert words.of_a_hundred(answer) == "everything holds in 98 to 100"
    assert words.of_a_hundred(replace(answer, draws=19, all_held=19)) == ""


def test_counts_of_thousands_have_a_comma(answer: Answer) -> None:
    many = replace(answer, draws=1000, held=1000, essentials_held=1000, all_held=1000)
    assert words.held_words(many) == "everything holds in 1,000 of 1,000 simulated trips"
    dark = replace(lacking(many, "comforts", "electricity", 12), held=988)
    assert words.held_briefly(dark) == "essentials 1,000, comforts 988 of 1,000 simulated trips"
    assert words.held_in_few_words(dark) == "essentials 1,000, comforts 988 of 1,000 trips"


def test_trips_of_a_job_may_be_simulated_in_different_numbers(answer: Answer) -> None:
    many = replace(answer, draws=1000)
    assert words.draws_of_each([answer]) == "200 simulated trips"
    assert words.draws_of_each([many, answer, many]) == "200 or 1,000 simulated trips"
    years = replace(answer, draws=5, years=True)
    both = words.draws_of_each([years, answer])
    assert both == "5 years of the weather file or 200 simulated trips"


def test_that_changes_are_tried_in_fewer(small_result: Result) -> None:
    assert tried_in_first(small_result) == ""
    settings = with_values(small_result.job.settings, {"draws": 5})
    few = replace(small_result, job=with_values(small_result.job, {"settings": settings}))
    assert tried_in_first(few) == "Each change is tried in the first 5 of these simulated trips."
