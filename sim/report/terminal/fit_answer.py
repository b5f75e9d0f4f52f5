"""A log against the promise in the terminal: the answer, the figures, what nobody knows."""

from __future__ import annotations

from rich.console import Console

from sim.fit.fit import Fit
from sim.report.terminal.grid import Looks, print_table
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


def print_fit(found: Fit, console: Console) -> None:
    """First what was broken and what was kept; then the figures; then what to do."""
    writing = Writing.of(found.job)
    console.print(plain(found.job.title), style="bold")
    print_prose(answer_sentences(found), console)
    console.print()
    rows = [tuple(map(bare, cells(finding, writing))) for finding in found.findings]
    heads = ("Promise", "Kept?", "Measured", "Eight in ten", "Since")
    print_table(heads, rows, console, Looks(figures=(2, 3, 4), style="dim"))
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
