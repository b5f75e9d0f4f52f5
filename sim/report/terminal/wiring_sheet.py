"""The wiring sheet in the terminal."""

from __future__ import annotations

from rich.console import Console
from rich.text import Text

from sim.decide.wiring.rows import Status, WiringSheet
from sim.report.terminal.grid import Looks, print_table
from sim.report.terminal.lines import plain, print_prose
from sim.report.words.numbers import shortened
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
            _print_checks(found, console)
        if open_:
            print_prose([TICK_LEAD], console)
        boxes = (f"{tick.text} ({tick.key})" for tick in open_)
        print_prose(boxes, console, first="  ☐ ", later="    ")
    console.print()
    rows = []
    for run in sheet.runs:
        name, current, fuse, cable, _, drop = run_cells(run, sheet.units)
        rows.append((shortened(name, 60), current, fuse, cable, drop))
    print_table(("Run", "Amps", "Fuse", "Cable", "Drop"), rows, console)
    # The run from the roof has one fuse: those of the strings are no part of the cable list.
    for check, text in zip(sheet.checks, checks, strict=True):
        if check.subject == "string fuse" and check.status == "choose":
            print_prose([f"{text.run}: {text.advice}"], console)


def _print_checks(checks: list[CheckText], console: Console) -> None:
    rows = []
    for check in checks:
        limit = f" ({check.limit})" if check.limit else ""
        rows.append((f"{check.run}: {check.what}", f"{check.value}{limit}: {check.advice}"))
    print_table(("", ""), rows, console, Looks(label_width=28))
