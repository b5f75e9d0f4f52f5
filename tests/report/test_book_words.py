"""The book in a sentence."""

from __future__ import annotations

from types import SimpleNamespace

from sim.report.words.book_words import book_sentence


def line(error: str | None = None, is_stale: bool = False) -> SimpleNamespace:
    return SimpleNamespace(error=error, is_stale=is_stale)


def test_jobs_are_counted_by_their_state() -> None:
    lines = (line(), line(), line(), line(is_stale=True), line("a fault", is_stale=True))
    assert book_sentence(lines).replace("\N{NO-BREAK SPACE}", " ") == (  # type: ignore[arg-type]
        "5 jobs: 3 up to date, 1 to be run (nightledger book FOLDER --run), 1 with a fault."
    )
    assert book_sentence(lines[:1]).endswith("1 up to date.")  # type: ignore[arg-type]
