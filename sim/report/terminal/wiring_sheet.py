"""The wiring sheet in the terminal."""

from __future__ import annotations

from rich.console import Console
from rich.table import Table
from rich.text import Text

from sim.decide.wiring.rows import Status, WiringSheet
from sim.report.terminal.lines import plain, print_prose
from sim.report.words.wiring_lines import TICK_LEAD, check_lines, ticks
from sim.report.words.wiring_words import (
    HEADINGS,
    OPENING,
    CheckText,
    answer,
    check_texts,
    counts,
    run_cells,
)

_TO_DO: tuple[Status, ...] = ("change", "say")


def print_sheet(sheet: WiringSheet, console: Console) -> None:
    """The answer in a sentence; what must change and what is still to be said; the cable list."""
    console.print(plain(sheet.title), style="bold")
    print_prose((answer(sheet), f"{len(sheet.checks)} checks: {counts(sheet)}.", OPENING), console)
    checks = check_texts(sheet)
    for status in _TO_DO:
        found = [check for check in check_lines(sheet) if check.status == status]
        open_ = ticks(sheet) if status == "say" else ()
        if found or open_:
            console.print()
            console.print(Text(HEADINGS[status]), style="bold")
        if found:
            console.print(_checks_table(found))
        if open_:
            print_prose([TICK_LEAD], console)
        boxes = (f"{tick.text} ({tick.key})" for tick in open_)
        print_prose(boxes, console, first="  ☐ ", later="    ")
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
            print_prose([f"{text.run}: {text.advice}"], console)


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
