"""The sheet for the van in the terminal: what to live by; the rest is on the page."""

from __future__ import annotations

from rich.console import Console

from sim.decide.handover import HandoverSheet
from sim.report.terminal.answer import plain
from sim.report.words import handover_words as words
from sim.report.words.by_locale import Writing
from sim.report.words.numbers import GAP
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
        shown = [line.replace(GAP, " ") for line in lines]
        if shown:
            console.print(plain(words.WORDS[key]), style="bold")
        for line in shown:
            console.print(plain(f"  {line}", 400))
