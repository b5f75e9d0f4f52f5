"""A log against the promise in the terminal: the answer, the figures, what nobody knows."""

from __future__ import annotations

from rich.console import Console
from rich.table import Table

from sim.fit.fit import Fit
from sim.report.terminal.lines import bare, plain, print_prose
from sim.report.words.by_locale import Writing
from sim.report.words.fit_words import (
    CAUTION,
    answer_sentences,
    cells,
    log_sentence,
    next_sentences,
    unknown_sentences,
)

# The gap before a percent sign, as some locales have it.
_NARROW = "\N{NARROW NO-BREAK SPACE}"


def print_fit(found: Fit, console: Console) -> None:
    """First what was broken and what was kept; then the figures; then what to do."""
    writing = Writing.of(found.job)
    console.print(plain(found.job.title), style="bold")
    print_prose(answer_sentences(found), console)
    console.print()
    table = Table(box=None, pad_edge=False, header_style="dim")
    for number, name in enumerate(("Promise", "", "Measured", "Eight in ten", "Since")):
        table.add_column(name, justify="left" if number < 2 else "right")
    for finding in found.findings:
        table.add_row(*(plain(bare(cell)) for cell in cells(finding, writing)))
    console.print(table)
    for heading, texts in (
        ("What the log cannot tell", unknown_sentences(found)),
        ("What to measure next", next_sentences(found)),
    ):
        if texts:
            console.print()
            console.print(heading, style="bold")
            print_prose(texts, console, first="- ", later="  ")
    if found.broken:
        print_prose([CAUTION], console)
    console.print()
    print_prose([log_sentence(found)], console, style="dim")
