"""Which columns of a table begin at the left, and where the charge first is at its lowest."""

from __future__ import annotations

import numpy as np
import pytest

from sim.report.charts.chart_data import first_low
from sim.report.page.trip_text import Table


@pytest.mark.parametrize(
    ("cells", "are_words"),
    [
        (("36.0 gal", "\N{MINUS SIGN}3 W", "0"), False),
        (("USD 570", "USD 1,200", "\N{EN DASH}"), False),
        (("none", "2.4 hours"), False),
        (("9 years (6 to 13)",), False),
        (("kitchen", "basin"), True),
        (("would last 23 nights", "would last 7 nights"), True),
        (("2 nights, then empty on Thu, Jan 21",), True),
    ],
)
def test_words_begin_at_the_left_and_figures_end_at_the_right(
    cells: tuple[str, ...], are_words: bool
) -> None:
    table = Table("Caption", ("Row", "Column"), tuple((cell, cell) for cell in cells))
    assert table.words[1] is are_words


def test_a_table_of_unlike_rows_begins_at_the_left() -> None:
    assert Table("Caption", ("Row", "Trip"), (("a", "6 %"),), is_mixed=True).words == (True, True)
    assert Table("Caption", ("Row", "Trip"), ()).words == (True, True)


def test_an_empty_battery_is_lowest_when_it_gets_there() -> None:
    assert first_low(np.array([1.0, 0.4, 0.0524, 0.0521, 0.052, 0.9])) == 2
    assert first_low(np.array([1.0, 0.4, 0.41, 0.3])) == 3


def test_brief_words_are_told_from_sentences() -> None:
    rows = (("Sun", "broken", "62%", "since the storm of last week"), ("Load", "kept", "1", "-"))
    assert Table("Caption", ("Promise", "Kept?", "Found", "Since"), rows).looks == (
        "words brief", "words brief", "", "words",
    )  # fmt: skip


def test_a_table_of_many_columns_with_words_comes_apart_on_a_phone() -> None:
    head = ("Tank", "Holds", "A day", "Of which", "On this trip")
    tanks = (("Fresh water", "36.0 gal", "4.8 gal", "kitchen 2.5 gal", "would last 23 nights"),)
    assert Table("Tanks", head, tanks).stacks
    assert not Table("Tanks", head[:4], tuple(row[:4] for row in tanks)).stacks
    figures = (("January", "36.0 gal", "4.8 gal", "2 %", "7"),)
    assert not Table("Months", head, figures).stacks
