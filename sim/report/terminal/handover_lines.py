"""The sheet for the van in the terminal: what to live by; the rest is on the page."""

from __future__ import annotations

from rich.console import Console

from sim.decide.handover import HandoverSheet
from sim.report.terminal.lines import plain, print_prose
from sim.report.words import handover_words as words
from sim.report.words.by_locale import Writing
from sim.report.words.shed_words import shed_sentences


def print_handover(sheet: HandoverSheet, console: Console) -> None:
    """The charge at sunset, a dull day, what goes off, what saves, and the winter list."""
    writing = Writing.of(sheet.job)
    console.print(plain(sheet.job.title), style="bold")
    parts = (
        ("charge", words.charge_sentences(sheet, writing)),
        ("dull", words.dull_sentences(sheet, writing)),
        ("shed", shed_sentences(sheet, writing)),
        ("habits", words.habit_lines(sheet, writing)),
        ("winter", words.winter_lines(sheet, writing)),
    )
    for key, lines in parts:
        if lines:
            console.print(plain(words.WORDS[key]), style="bold")
        print_prose(lines, console, first="  ", later="    ")
