"""Tables of the terminal: no word is cut, whatever the width; what does not fit goes below."""

from __future__ import annotations

import io
import itertools

import pytest
from rich.console import Console

from sim.report.terminal.grid import Looks, print_table
from sim.report.words.numbers import GAP

HEADS = ("One change", "Price", "Weight", "January, high desert", "July, mountains and coast")
ROWS = (
    ("Half an hour more driving a day", "–", "0 lb", "short 167/171/143", "ample 200/200"),
    ("Propane instead of electricity: Coffee maker", "USD 1,850", "51 lb",
     "short 163/171/147\nworse: July", "ample 200/196 not used"),
)  # fmt: skip
MONTHS = (
    "Month", "Sun\nkWh/m²/day", "Bad to\ngood day", "Of clear\nsky", "Mean\n°F", "100 W\nWh/day",
)  # fmt: skip
PLAIN = Looks()
YEAR = tuple(("Sep", "5.45", "3.7 to 6.7", "87 %", "70", "405") for _ in range(12))
NAME = "Wolkenkuckucksheimreisewohnmobilsonderanfertigung"


def printed(
    heads: tuple[str, ...], rows: tuple[tuple[str, ...], ...], width: int, looks: Looks = PLAIN
) -> list[str]:
    console = Console(file=io.StringIO(), width=width, color_system=None, highlight=False)
    print_table(heads, rows, console, looks)
    assert isinstance(console.file, io.StringIO)
    return [line.rstrip() for line in console.file.getvalue().splitlines()]


@pytest.mark.parametrize("width", [28, 40, 52, 60, 72, 80, 120])
@pytest.mark.parametrize(("heads", "rows"), [(HEADS, ROWS), (MONTHS, YEAR)])
def test_no_word_is_cut_and_none_is_lost(
    heads: tuple[str, ...], rows: tuple[tuple[str, ...], ...], width: int
) -> None:
    lines = printed(heads, rows, width)
    assert max(map(len, lines)) <= width
    words = set(" ".join(lines).replace(":", "").split())
    for cell in itertools.chain(*rows):
        assert set(cell.replace(":", "").split()) <= words, cell


def test_what_fits_stands_side_by_side() -> None:
    lines = printed(HEADS, ROWS, 120)
    assert len(lines) == 4
    assert lines[1].split("  ")[0] == ROWS[0][0]
    assert lines[1].index("–") == lines[0].index("Price")


def test_in_a_narrow_terminal_each_row_stands_for_itself() -> None:
    assert printed(HEADS, ROWS, 40) == [
        "One change",
        "Half an hour more driving a day",
        "  Price: –   Weight: 0 lb",
        "  January, high desert: short",
        "    167/171/143",
        "  July, mountains and coast: ample",
        "    200/200",
        "Propane instead of electricity: Coffee",
        "  maker",
        "  Price: USD 1,850   Weight: 51 lb",
        "  January, high desert: short",
        "    163/171/147 worse: July",
        "  July, mountains and coast: ample",
        "    200/196 not used",
    ]


def test_figures_go_into_several_tables_of_the_same_rows() -> None:
    lines = printed(MONTHS, YEAR, 40, Looks(figures=range(1, 6), gap=1))
    assert lines[0] == "             Sun     Bad to Of clear"
    assert lines[1] == "Month kWh/m²/day   good day      sky"
    assert lines[2] == "Sep         5.45 3.7 to 6.7     87 %"
    assert lines[16] == "Sep     70    405"
    assert len(lines) == 2 * 14


def test_a_table_of_one_column_beside_the_names_needs_no_heading_twice() -> None:
    rows = (("Could freeze", "Kitchen tank 199 h, drain it or fit a pad of 110 W"), ("Sun", "0 W"))
    assert printed(("", "January"), rows, 40, Looks(rows_below=56)) == [
        "January",
        "Could freeze  Kitchen tank 199 h,",
        "  drain it or fit a pad of 110 W",
        "Sun  0 W",
    ]
    assert printed(("", "January"), rows, 56, Looks(rows_below=56))[1].startswith("Could freeze  K")


@pytest.mark.parametrize("gap", [" ", GAP])
def test_a_number_keeps_its_unit_on_the_line(gap: str) -> None:
    cell = f"drain it, or fit a pad of about 110{gap}W to it"
    for width in range(24, 60):
        assert any("110 W" in line for line in printed(("", ""), (("Tank", cell),), width))


def test_a_word_longer_than_the_terminal_is_the_only_one_that_is_cut() -> None:
    lines = printed(("Name", "Price"), ((NAME, "USD 570"), ("Van", "free")), 40)
    assert "".join("".join(lines).split()).count(NAME) == 1
    assert "free" in " ".join(lines)
    assert max(map(len, lines)) <= 40
