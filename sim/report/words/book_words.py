"""A book in words, for the terminal and its page."""

from __future__ import annotations

from sim.report.data.book_record import BookLine
from sim.report.words.answer_words import going_without
from sim.report.words.numbers import called, counted, percent


def book_sentence(lines: tuple[BookLine, ...]) -> str:
    """How many jobs, how many up to date, how many in trouble."""
    wrong = sum(line.error is not None for line in lines)
    stale = sum(line.is_stale and line.error is None for line in lines)
    fresh = len(lines) - wrong - stale
    parts = [f"{fresh} up to date"]
    if stale:
        parts.append(f"{stale} to be run (nightledger book FOLDER --run)")
    if wrong:
        parts.append(f"{wrong} with a fault")
    return f"{counted(len(lines), 'job')}: {', '.join(parts)}."


def medical_words(lines: tuple[BookLine, ...]) -> list[str]:
    """Medical devices that go without, a sentence for each trip of each job."""
    return [
        f"{called(line.customer)}, {called(trip.name)}: {going_without(trip.medical)} in "
        f"{trip.medical_dark:,} of {trip.draws:,} simulated trips."
        for line in lines
        for trip in (line.last.trips if line.last else ())
        if trip.medical
    ]


def verdict_words(line: BookLine) -> str:
    """``tight, ample``: one word for each trip."""
    return ", ".join(trip.verdict for trip in (line.last.trips if line.last else ())) or "-"


def store_words(line: BookLine) -> str:
    """What runs out in most simulated trips of the worst trip."""
    worst = line.worst_store
    return "nothing runs out" if worst is None else f"{worst.store}, {percent(worst.share)}"


def state_words(line: BookLine) -> str:
    """Whether the answer is that of today's files."""
    if line.error is not None:
        return f"fault: {line.error}"
    if line.changed == ("never run",):
        return "never run"
    return f"changed since: {', '.join(line.changed)}" if line.changed else "up to date"
