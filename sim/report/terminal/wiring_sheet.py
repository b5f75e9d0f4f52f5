"""The wiring sheet in the terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from sim.decide.wiring.rows import Status, WiringSheet
from sim.report.terminal.answer import plain, wrapped
from sim.report.words.wiring_lines import TICK_LEAD, Tick, check_lines, ticks
from sim.report.words.wiring_words import (
    HEADINGS,
    OPENING,
    CheckText,
    answer,
    check_texts,
    counts,
    run_cells,
)

# Room beside a box to tick.
_TICK_WIDTH = 76
_TO_DO: tuple[Status, ...] = ("change", "say")


def print_sheet(sheet: WiringSheet, console: Console) -> None:
    """The answer in a sentence; what must change and what is still to be said; the cable list."""
    console.print(plain(sheet.title), style="bold")
    for words in (answer(sheet), f"{len(sheet.checks)} checks: {counts(sheet)}.", OPENING):
        for line in wrapped(words):
            console.print(plain(line))
    checks = check_texts(sheet)
    for status in _TO_DO:
        found = [check for check in check_lines(sheet) if check.status == status]
        open_ = ticks(sheet) if status == "say" else ()
        if found or open_:
            console.print()
            console.print(Text(HEADINGS[status]), style="bold")
        if found:
            console.print(_checks_table(found))
        for line in _tick_lines(open_):
            console.print(plain(line))
    console.print()
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    for name in ("Run", "Amps", "Fuse", "Cable", "Drop"):
        table.add_column(name, overflow="fold")
    for run in sheet.runs:
        name, current, fuse, cable, _, drop = run_cells(run, sheet.units)
        table.add_row(plain(name, 60), current, fuse, cable, drop)
    console.print(table)
    # The run from the roof has one fuse: those of the strings are no part of the cable list.
    for check, text in zip(sheet.checks, checks, strict=True):
        if check.subject == "string fuse" and check.status == "choose":
            for line in wrapped(f"{text.run}: {text.advice}"):
                console.print(plain(line))


def _tick_lines(open_: Sequence[Tick]) -> Iterator[str]:
    """What is to be ticked, a box before each."""
    if open_:
        yield TICK_LEAD
    for tick in open_:
        first, *rest = wrapped(f"{tick.text} ({tick.key})", _TICK_WIDTH)
        yield f"  ☐ {first}"
        yield from (f"    {line}" for line in rest)


def _checks_table(checks: list[CheckText]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_header=False)
    table.add_column(overflow="fold", max_width=28)
    table.add_column(overflow="fold")
    for check in checks:
        limit = f" ({check.limit})" if check.limit else ""
        table.add_row(
            plain(f"{check.run}: {check.what}", 600),
            plain(f"{check.value}{limit}: {check.advice}", 600),
        )
    return table
