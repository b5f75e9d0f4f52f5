"""What mends a trip, in words."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from sim.decide.needs import Need
from sim.decide.remedy import Remedy
from sim.ledger.behind import Behind
from sim.ledger.promise import Lack
from sim.ledger.results import Result
from sim.report.words.numbers import GAP, Manner
from sim.report.words.promise_words import _against, _without, because, remedy_words

FOUND = Remedy("Trip", ("One more panel",), 190.0, "USD", "ample", 197, 200)


class Timeline(list[int]):
    """The stop of each step, as `timeline.stop`."""

    step_hours = 1.0

    @property
    def stop(self) -> list[int]:
        return self


def lack(names: tuple[str, ...]) -> Lack:
    """Electricity that is missing in the first of two draws, from the first step on."""
    return Lack("comforts", "electricity", names, False, np.array([0.0, np.inf]), 100.0)


def plain(text: str) -> str:
    return text.replace(GAP, " ").replace("\u2068", "").replace("\u2069", "")


def test_one_change_two_changes_and_none() -> None:
    assert remedy_words(None) == ""
    assert remedy_words(FOUND) == "Enough: one more panel, USD 190: AMPLE, 197 of 200."
    two = replace(FOUND, changes=("A", "B"), price=0.0, worse=("July",))
    assert remedy_words(two) == (
        "Enough together: A and B, free: AMPLE, 197 of 200. It makes July worse."
    )
    near = replace(FOUND, verdict="short", held=0, price=None)
    assert remedy_words(near) == (
        "Nothing tried is enough; nearest comes one more panel: SHORT, 0 of 200."
    )


def test_a_change_that_was_tried_in_the_first_says_so() -> None:
    first = replace(FOUND, is_of_first=True)
    assert remedy_words(first) == "Enough: one more panel, USD 190: AMPLE, 197 of the first 200."


def test_what_it_takes_and_what_is_then_left() -> None:
    need = replace(FOUND, changes=("Insulation",), need=Need("driving", 1.0))
    assert remedy_words(need) == (
        "No one or two changes are enough. It takes 1 hour of driving a day and insulation: "
        "AMPLE, 197 of 200."
    )
    cold = Behind("stores", "warmth", (), False, 20, 9.0)
    left = replace(need, changes=(), verdict="tight", held=180, left=(cold,))
    assert remedy_words(left) == (
        "No change is enough. Nearest comes 1 hour of driving a day: TIGHT, 180 of 200; then the "
        "cabin stays colder than set in 20 of 200."
    )


def test_what_was_tried_in_vain_is_named() -> None:
    most = (Need("driving", 8.0), Need("plug", 0.0), Need("panels", 39.0))
    none = replace(FOUND, changes=(), price=None, verdict="short", held=0, in_vain=most)
    assert remedy_words(none) == (
        "No change that was tried helps, not even 8 hours of driving a day, a plug at every "
        "stop or 39 panels: it takes a lighter load."
    )
    near = replace(none, changes=("A",))
    assert "is enough, not even 8 hours of driving a day, a plug" in remedy_words(near)


@pytest.mark.parametrize(
    ("names", "said"),
    [
        ((), "something goes without"),
        (("Fridge, 40 l",), "Fridge goes without"),
        (("Fridge", "Lamps"), "Fridge and Lamps go without"),
        (("Fridge", "Lamps", "Fan"), "Fridge, Lamps and 1 more go without"),
    ],
)
def test_who_goes_without_is_named_and_counted(names: tuple[str, ...], said: str) -> None:
    assert plain(_without(names)) == said


def test_what_a_day_brings_and_what_it_wants() -> None:
    """Of the draws that fall behind: 10 W of sun, 50 W wanted, 24 hours."""
    solar = [10.0, 90.0]
    stay = SimpleNamespace(
        timeline=Timeline([0, 0]),
        at_stop_w=lambda stop: ({"solar": np.array(solar)}, np.array([50.0, 70.0])),
        floors=(0.05, 0.15, 0.25),
        lowest=np.array([0.2, 0.9]),
        least_usable=np.ones(2),
        lines_wanted=tuple,
        who_lacks=lambda lack: (),
    )
    said = plain(" ".join(_against(lack(()), stay)))  # type: ignore[arg-type]
    assert said.startswith("A day there brings 240 Wh (")
    assert said.endswith(") of 1,200 Wh wanted.")
    solar[0] = 0.0
    said = plain(" ".join(_against(lack(()), stay)))  # type: ignore[arg-type]
    assert said == "A day there brings nothing of 1,200 Wh wanted."
    # A battery that never comes near the floor is not the reason.
    stay.lowest[0] = 0.8
    said = plain(" ".join(_against(lack(()), stay)))  # type: ignore[arg-type]
    assert said.startswith("The battery keeps 80 % or more: ")
    # Unless cold keeps from it what is below.
    stay.least_usable[0] = 0.25
    said = plain(" ".join(_against(lack(()), stay)))  # type: ignore[arg-type]
    assert said.startswith("In the cold the battery gives nothing below 80 %. A day there brings ")


def test_a_need_of_driving_is_in_hours_a_day() -> None:
    for hours, said in ((1.0, "1 hour"), (2.0, "2 hours")):
        found = replace(FOUND, changes=(), need=Need("driving", hours))
        assert f"It takes {said} of driving a day: AMPLE" in remedy_words(found)


def test_when_it_begins_is_usual_where_there_are_many_draws(short_result: Result) -> None:
    (trip, *_) = short_result.trips
    said = plain(because(trip, Manner("metric")))
    assert trip.draws > 1
    assert ", usually from " in said
