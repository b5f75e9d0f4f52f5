"""What mends a trip, in words."""

from __future__ import annotations

from dataclasses import replace

from sim.decide.needs import Need
from sim.decide.remedy import Remedy
from sim.ledger.behind import Behind
from sim.report.words.promise_words import remedy_words

FOUND = Remedy("Trip", ("One more panel",), 190.0, "USD", "ample", 197, 200)


def test_one_change_two_changes_and_none() -> None:
    assert remedy_words(None) == ""
    assert remedy_words(FOUND) == "Enough: One more panel, USD 190: AMPLE, 197 of 200."
    two = replace(FOUND, changes=("A", "B"), price=0.0, worse=("July",))
    assert remedy_words(two) == (
        "Enough together: A and B, free: AMPLE, 197 of 200. It makes July worse."
    )
    near = replace(FOUND, verdict="short", held=0, price=None)
    assert remedy_words(near) == (
        "Nothing tried is enough; nearest comes One more panel: SHORT, 0 of 200."
    )


def test_what_it_takes_and_what_is_then_left() -> None:
    need = replace(FOUND, changes=("Insulation",), need=Need("driving", 1.0))
    assert remedy_words(need) == (
        "No one or two changes are enough. It takes 1 hour of driving a day and Insulation: "
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
