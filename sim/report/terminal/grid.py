"""Tables of the terminal: side by side where every word fits whole, else part by part or row by
row.

A column is never narrower than its longest word, so that no word is cut. What then does not fit
goes into several tables of the same rows, where the columns are few; else each row stands for
itself, with its cells below it.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from rich.cells import cell_len
from rich.console import Console, JustifyMethod
from rich.table import Table
from rich.text import Text

from sim.report.terminal.lines import WIDTH, bare, columns, plain, print_prose, wrapped
from sim.report.words.numbers import unbroken

# A cell of more lines is hard to read beside others; a terminal of full width has room enough.
_MOST_LINES = 3
# So many tables of the same rows are read together; of figures alone one more.
_MOST_PARTS = 2
# Between the cells of a row that stands for itself.
_BETWEEN = "   "
# No cell is longer.
_LONGEST = 1000


@dataclass(frozen=True)
class Looks:
    """How a table looks.

    Attributes
    ----------
    figures : collection of int
        Columns of figures, which end at the right; the first column is 0.
    gap : int
        Blanks between columns.
    style : str
        Of the headings.
    label_width : int, optional
        The first column is no wider.
    rows_below : int, optional
        Each row stands for itself in a terminal narrower than this, and in no other; left out, it
        does where a cell would take too many lines.
    """

    figures: Collection[int] = ()
    gap: int = 2
    style: str = "bold"
    label_width: int | None = None
    rows_below: int | None = None


_PLAIN = Looks()


def print_table(
    heads: Sequence[str],
    rows: Sequence[Sequence[str]],
    console: Console,
    looks: Looks = _PLAIN,
) -> None:
    """Rows below their headings, as the terminal has room for them.

    Parameters
    ----------
    heads : sequence of str
        One for each column; with none of them the table has no line of headings.
    rows : sequence of sequences of str
        Cells, which may have several lines; the first names its row.
    console : Console
    looks : Looks
    """
    cells = [heads, *rows]
    every = range(len(heads))
    widths = _widths(cells, every, console.width, looks)
    if widths is not None:
        console.print(_table(cells, every, widths, looks))
    elif parts := _parts(cells, console.width, looks):
        for part in parts:
            console.print(_table(cells, part, _natural(cells, part), looks))
    else:
        _print_rows(cells, console, looks)


def _longest(cell: str) -> int:
    return max(cell_len(bare(line)) for line in cell.split("\n"))


def _word(cell: str) -> int:
    """The width below which a word, or a number with its unit, would be cut."""
    return max(map(cell_len, re.split(r"[ \n]+", unbroken(cell))))


def _headed(head: str) -> int:
    """The least width of a heading, which keeps the lines it was given."""
    return _longest(head) if "\n" in head else _word(head)


def _natural(cells: Sequence[Sequence[str]], part: Sequence[int]) -> list[int]:
    """Widths in which no cell is wrapped; headings may be."""
    head, *rows = cells
    return [max(1, _headed(head[k]), *(_longest(row[k]) for row in rows)) for k in part]


def _widths(
    cells: Sequence[Sequence[str]], part: Sequence[int], width: int, looks: Looks
) -> list[int] | None:
    """The width of each column, the widest made narrower; None where words, or too many lines,
    do not allow it."""
    room = width - looks.gap * (len(part) - 1)
    most = [max(1, *(_longest(row[k]) for row in cells)) for k in part]
    if looks.label_width is not None:
        most[0] = min(most[0], looks.label_width)
    least = [max(1, _headed(cells[0][k]), *(_word(row[k]) for row in cells)) for k in part]
    if sum(least) > room:
        return None
    found = _capped(least, most, room)
    if looks.rows_below is not None:
        return found if width >= looks.rows_below else None
    lines = max(len(_lines(row[k], x)) for row in cells for k, x in zip(part, found, strict=True))
    return found if width >= WIDTH or lines <= _MOST_LINES else None


def _capped(least: Sequence[int], most: Sequence[int], room: int) -> list[int]:
    """Widths that fit together, those above a common one cut down to it."""
    for cap in range(max(most), 0, -1):
        found = [max(low, min(high, cap)) for low, high in zip(least, most, strict=True)]
        if sum(found) <= room:
            return found
    return list(least)


def _lines(cell: str, width: int) -> list[str]:
    return [line for part in cell.split("\n") for line in wrapped(part, width) or [""]]


def _parts(cells: Sequence[Sequence[str]], room: int, looks: Looks) -> list[list[int]]:
    """Columns dealt into tables that each begin with the first; none where these are too many."""
    first, *others = _natural(cells, range(len(cells[0])))
    if 2 * first > room or any(first + looks.gap + width > room for width in others):
        return []
    parts: list[list[int]] = []
    left = 0
    for number, width in enumerate(others, 1):
        if not parts or left < width + looks.gap:
            parts.append([0])
            left = room - first
        parts[-1].append(number)
        left -= width + looks.gap
    are_figures = all(k in looks.figures for k in range(1, len(cells[0])))
    return parts if len(parts) <= _MOST_PARTS + are_figures else []


def _table(
    cells: Sequence[Sequence[str]], part: Sequence[int], widths: Sequence[int], looks: Looks
) -> Table:
    head, *rows = cells
    table = Table(
        box=None,
        pad_edge=False,
        padding=(0, looks.gap, 0, 0),
        header_style=looks.style,
        show_header=any(head),
    )
    for k, width in zip(part, widths, strict=True):
        justify: JustifyMethod = "right" if k in looks.figures else "left"
        table.add_column(_text(head[k], width), justify=justify, width=width)
    for row in rows:
        table.add_row(*(_text(row[k], x) for k, x in zip(part, widths, strict=True)))
    return table


def _text(cell: str, width: int) -> Text:
    return Text("\n").join(plain(line, _LONGEST) for line in _lines(cell, width))


def _print_rows(cells: Sequence[Sequence[str]], console: Console, looks: Looks) -> None:
    """Each row for itself: its name, and below it what its columns say."""
    head, *rows = ([cell.replace("-\n", "").replace("\n", " ") for cell in row] for row in cells)
    single = len(head) == 2
    print_prose([x for x in (head[0], head[1] if single else "") if x], console, style=looks.style)
    for name, *rest in rows:
        named = zip(("" if single else x.rstrip("?") for x in head[1:]), rest, strict=True)
        said = [f"{what}: {cell}" if what else cell for what, cell in named if cell]
        if single and any(head):
            print_prose([f"{name}  {' '.join(said)}"], console, later="  ")
            continue
        print_prose([name], console, later="  ")
        print_prose(_packed(said, columns(console) - 4), console, first="  ", later="    ")


def _packed(items: Sequence[str], width: int) -> list[str]:
    """Items that stand on one line as long as they fit."""
    lines: list[str] = []
    for item in items:
        joined = f"{lines[-1]}{_BETWEEN}{item}" if lines else ""
        if lines and cell_len(joined) <= width:
            lines[-1] = joined
        else:
            lines.append(item)
    return lines
