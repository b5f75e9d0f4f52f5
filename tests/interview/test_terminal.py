"""The interview in the terminal: where replies come from."""

from __future__ import annotations

import io

import pytest

from sim.interview.terminal import typed


def test_lines_of_a_pipe_are_replies(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("Ada\n\nthe last"))
    assert list(typed()) == ["Ada", "", "the last"]
    assert capsys.readouterr().out == "> " * 4


def test_a_line_that_never_ends_ends_them(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("Ada\n" + "\0" * 3_000_000))
    assert list(typed()) == ["Ada"]


def test_no_input_at_all_is_no_reply(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", None)
    assert list(typed()) == []
