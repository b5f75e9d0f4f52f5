"""The book in a sentence."""

from __future__ import annotations

from types import SimpleNamespace

from sim.report.words.book_words import book_sentence, state_words


def line(error: str | None = None, is_stale: bool = False) -> SimpleNamespace:
    return SimpleNamespace(error=error, is_stale=is_stale)


def test_jobs_are_counted_by_their_state() -> None:
    lines = (line(), line(), line(), line(is_stale=True), line("a fault", is_stale=True))
    assert book_sentence(lines).replace("\N{NO-BREAK SPACE}", " ") == (  # type: ignore[arg-type]
        "5 jobs: 3 up to date, 1 to be run (nightledger book FOLDER --run), 1 with a fault."
    )
    assert book_sentence(lines[:1]).endswith("1 up to date.")  # type: ignore[arg-type]


def test_a_fault_is_said_and_goes_before_what_changed() -> None:
    faulty = SimpleNamespace(error="a.toml: no trips", changed=("the job",))
    assert state_words(faulty) == "fault: a.toml: no trips"  # type: ignore[arg-type]
    moved = SimpleNamespace(error=None, changed=("the job", "a weather file"))
    assert state_words(moved) == "changed since: the job, a weather file"  # type: ignore[arg-type]
    fresh = SimpleNamespace(error=None, changed=())
    assert state_words(fresh) == "up to date"  # type: ignore[arg-type]
