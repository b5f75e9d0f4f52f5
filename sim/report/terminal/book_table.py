"""A book in the terminal."""

from __future__ import annotations

from rich.console import Console

from sim.report.data.book_record import BookLine
from sim.report.terminal.answer import print_alarm
from sim.report.terminal.grid import Looks, print_table
from sim.report.terminal.lines import plain
from sim.report.words.book_words import (
    book_sentence,
    medical_words,
    state_words,
    store_words,
    verdict_words,
)
from sim.report.words.numbers import shortened

_LONGEST_FAULT = 300


def print_book(lines: tuple[BookLine, ...], console: Console) -> None:
    """How the jobs are in a sentence, a row for each, and what is wrong with some."""
    console.print(plain(book_sentence(lines)), style="bold")
    print_alarm(medical_words(lines), console)
    rows = []
    for line in lines:
        state = "fault, see below" if line.error is not None else state_words(line)
        rows.append(
            (
                shortened(line.customer, 24),
                verdict_words(line),
                store_words(line) if line.last else "-",
                line.last.ran if line.last else "-",
                state,
            )
        )
    heads = ("Customer", "Trips", "Runs out first", "Last run", "State")
    print_table(heads, rows, console, Looks(style="dim"))
    for line in lines:
        if line.error is not None:
            console.print(plain(f"{line.file}: {line.error}", _LONGEST_FAULT))
