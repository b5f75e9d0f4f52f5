"""A log against the promise in the terminal: the answer, the figures, what nobody knows."""

from __future__ import annotations

from rich.console import Console
from rich.table import Table
from rich.text import Text

from sim.fit.fit import Fit
from sim.report.terminal.answer import plain
from sim.report.words.by_locale import Writing
from sim.report.words.fit_words import (
    CAUTION,
    answer_sentences,
    cells,
    log_sentence,
    next_sentences,
    unknown_sentences,
)
from sim.report.words.numbers import GAP

# The gap before a percent sign, as some locales have it.
_NARROW = "\N{NARROW NO-BREAK SPACE}"


def print_fit(found: Fit, console: Console) -> None:
    """First what was broken and what was kept; then the figures; then what to do."""
    writing = Writing.of(found.job)
    console.print(plain(found.job.title), style="bold")
    for text in answer_sentences(found):
        console.print(_shown(text))
    console.print()
    table = Table(box=None, pad_edge=False, header_style="dim")
    for number, name in enumerate(("Promise", "", "Measured", "Eight in ten", "Since")):
        table.add_column(name, justify="left" if number < 2 else "right")
    for finding in found.findings:
        table.add_row(*(_shown(cell) for cell in cells(finding, writing)))
    console.print(table)
    for heading, texts in (
        ("What the log cannot tell", unknown_sentences(found)),
        ("What to measure next", next_sentences(found)),
    ):
        if texts:
            console.print()
            console.print(heading, style="bold")
            for text in texts:
                console.print(_shown(f"- {text}"))
    if found.broken:
        console.print(_shown(CAUTION))
    console.print()
    console.print(_shown(log_sentence(found)), style="dim")


def _shown(text: str) -> Text:
    """A sentence with plain blanks: a terminal shows no others."""
    return plain(text.replace(GAP, " ").replace(_NARROW, " "), 1000)
