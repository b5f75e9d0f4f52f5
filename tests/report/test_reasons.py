"""Why a trip is what it is, sentence by sentence, and which of them the first lines show."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from sim.ledger.promise import Lack, Promise
from sim.ledger.results import Result, TripResult
from sim.report.page.trip_sections import _cold_hours
from sim.report.terminal import answer
from sim.report.terminal.answer import answer_lines
from sim.report.terminal.cells import mean_and_tenth
from sim.report.words.numbers import GAP, Manner
from sim.report.words.promise_words import _besides, reasons

US = Manner("us")


def lack(kind: str, count: int, *, group: str = "stores", name: str = "Propane") -> Lack:
    first = np.where(np.arange(100) < count, 30.0, np.inf)
    return Lack(group, kind, (name,), group == "essentials", first, 9.0)  # type: ignore[arg-type]


def besides(*lacks: Lack) -> list[str]:
    """What is said beside the first of some things that fall behind in 100 draws."""
    promise = Promise(lacks, (), 100, (0.95, 0.95))
    trip = SimpleNamespace(promise=promise, draws=100, ample_share=0.95)
    said = _besides(lacks[0], trip)  # type: ignore[arg-type]
    return [text.translate(dict.fromkeys((0x2068, 0x2069))) for text in said]


def test_what_else_falls_behind_is_said() -> None:
    propane, grey = lack("propane", 100), lack("grey", 20, name="Sink")
    essentials = lack("electricity", 60, group="essentials", name="Lamp")
    comforts = lack("electricity", 80, group="comforts", name="Radio")
    assert besides(propane, grey) == ["Besides, Sink is full in 20 of 100."]
    # Electricity once, of what is more important.
    assert besides(propane, essentials, comforts, grey) == [
        "Besides, the essentials lack electricity in 60 of 100 and Sink is full in 20 of 100."
    ]
    assert besides(comforts, essentials) == []
    # What is as rare as an ample trip allows is no reason.
    assert besides(propane, lack("grey", 5)) == []


def test_the_first_lines_have_room_for_what_matters_most(
    short_result: Result, monkeypatch: pytest.MonkeyPatch
) -> None:
    trip = short_result.trips[0]
    why = reasons(trip, US)
    assert len(why) > 1
    shown = " ".join(line.strip() for line in answer_lines(trip, None, US)[1:])
    assert shown == plain(" ".join(why))
    # A long remedy leaves less: the last goes first, and who goes without stays.
    for words, kept in ((200, len(why)), (1000, 1)):
        monkeypatch.setattr(answer, "remedy_words", lambda mend, words=words: "x" * words)
        lines = answer_lines(trip, None, US)
        said = " ".join(line.strip() for line in lines[1:] if "xxx" not in line)
        assert plain(why[0]) in said
        assert (len(lines) <= 6) or kept == 1
    assert plain(why[-1]) not in said


def plain(text: str) -> str:
    return text.replace(GAP, " ").translate(dict.fromkeys((0x2068, 0x2069)))


def test_what_one_in_ten_never_meets_is_counted() -> None:
    rare = np.zeros(200)
    rare[:3] = 2.0
    assert mean_and_tenth(rare) == "2 h in 3 of 200 simulated trips"
    assert mean_and_tenth(np.full(200, 2.0)) == "2 h mean, 2 h or more in 1 of 10"


def test_a_cabin_that_is_seldom_cold_is_counted_on_the_page(small_result: Result) -> None:
    trip: TripResult = small_result.trips[0]
    hours = np.zeros(trip.draws)
    hours[0] = 4.0
    if trip.draws < 12:
        pytest.fail("one draw of ten must be none here")
    (said,) = _cold_hours(replace(trip, chill=replace(trip.chill, hours=hours)))
    assert plain(said) == (
        f"the heater does not reach its set point in 1 of {trip.draws} simulated trips, for 4 "
        "hours on average of these."
    )
