"""The terminal's table: the numbers of the result, in words, with user text as text."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
from rich.console import Console

from sim.ledger.answer import answer_of
from sim.ledger.results import Result
from sim.report.terminal import answer


def printed(result: Result, width: int = 80) -> str:
    console = Console(file=io.StringIO(), width=width, color_system=None, highlight=False)
    answer.print_result(result, console)
    return console.file.getvalue()  # type: ignore[attr-defined, no-any-return]


def test_table_tells_verdict_and_ledger(small_result: Result) -> None:
    text = printed(small_result)
    for trip in small_result.trips:
        held = int((trip.dark_hours == 0).sum())
        assert f"{trip.verdict.upper()}: {held} of 12" in " ".join(text.split())
        assert f"{trip.energy.taken['sun']:,.0f} Wh a day" in text
        assert f"{100 * answer_of(trip).bad.lowest_soc:.0f} %" in text


def test_user_text_is_not_markup(small_result: Result) -> None:
    assert "Winter [red]week[/red]" in printed(small_result)


def test_no_line_is_wider_than_the_terminal(small_result: Result) -> None:
    assert max(len(line.rstrip()) for line in printed(small_result, 80).splitlines()) <= 80


def test_control_characters_and_endless_text_are_cut() -> None:
    text = answer.plain("\x1b[2Jx" + "y" * 10_000).plain
    assert "\x1b" not in text
    assert len(text) == 200
    assert text.endswith("…")


def test_hours_are_told_without_a_bare_nought(small_result: Result) -> None:
    def dark(steps: int) -> str:
        trip = small_result.trips[0]
        unserved = np.zeros_like(trip.unserved_w)
        unserved[2, :steps, 0] = 10.0
        _, rows = answer.trip_table((replace(trip, unserved_w=unserved),), "us")
        cells = dict(rows)
        return cells["Dark hours"]

    assert small_result.trips[0].draws == 12
    assert dark(0) == "none"
    assert dark(24) == "2 h mean, 24 h bad case"
