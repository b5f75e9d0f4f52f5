"""Shares of draws, and counts where they are too few for a share."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sim.ledger.answer import Answer, answer_of
from sim.ledger.results import Result
from sim.report.words.numbers import (
    counted_share,
    gain_told,
    held_told,
    sure_share,
    told_share,
)


@pytest.fixture
def answer(small_result: Result) -> Answer:
    return answer_of(small_result.trips[0])


@pytest.mark.parametrize(
    ("held", "draws", "told"),
    [(4, 5, "4 of 5"), (19, 19, "19 of 19"), (19, 20, "95 %"), (183, 200, "91.5 %")],
)
def test_below_twenty_they_are_counted(held: int, draws: int, told: str) -> None:
    assert counted_share(held / draws, draws) == told


def test_what_they_are_is_said(answer: Answer) -> None:
    assert told_share(0.8, 5, years=True) == "4 of 5 years"
    assert told_share(0.8, 25, years=True) == "80 % of the years"
    assert told_share(0.8, 200, years=False) == "80 % of the weathers"
    few = replace(answer, held=4, draws=5, years=True)
    assert held_told(few) == "4 of 5 years"
    assert sure_share(few) == "4 of 5"
    assert sure_share(replace(few, held=160, draws=200)).startswith("80 % (7")


def test_gains() -> None:
    assert gain_told(0.2, 5) == "+1"
    assert gain_told(-0.4, 5) == "-2"
    assert gain_told(0.125, 200) == "+12.5"
