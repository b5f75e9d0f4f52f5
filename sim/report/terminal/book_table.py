"""A book in the terminal."""

from __future__ import annotations

from rich.console import Console
from rich.table import Table

from sim.report.data.book_record import BookLine
from sim.report.terminal.answer import print_alarm
from sim.report.terminal.lines import plain
from sim.report.words.book_words import (
    book_sentence,
    medical_words,
    state_words,
    store_words,
    verdict_words,
)
from sim.report.words.numbers import GAP, shortened

_LONGEST_FAULT = 300


def print_book(lines: tuple[BookLine, ...], console: Console) -> None:
    """How the jobs are in a sentence, a row for each, and what is wrong with some."""
    console.print(plain(book_sentence(lines)), style="bold")
    print_alarm(medical_words(lines), console)
    table = Table(box=None, pad_edge=False, header_style="dim")
    for heading in ("Customer", "Trips", "Runs out first", "Last run", "State"):
        table.add_column(heading)
    for line in lines:
        state = "fault, see below" if line.error is not None else state_words(line)
        table.add_row(
            plain(shortened(line.customer, 24)),
            verdict_words(line),
            plain(store_words(line).replace(GAP, " ") if line.last else "-"),
            line.last.ran if line.last else "-",
            plain(state),
        )
    console.print(table)
    for line in lines:
        if line.error is not None:
            console.print(plain(f"{line.file}: {line.error}", _LONGEST_FAULT))
