"""A locale without letters stops nothing: what is typed is read, what is printed stays readable."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from pathlib import Path

import pytest

from sim.cli import streams
from sim.errors import as_typed, printable, shown


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("Tromsø", "Tromso"),
        ("Ångström, Łódź", "Angstrom, Lodz"),
        ("38.57° N, -4 °F", "38.57 deg N, -4 degF"),
        ("“hin” – −3 × 2 m²…", '"hin" - -3 x 2 m2...'),
        ("☐ fuse 7\N{NO-BREAK SPACE}A", "[ ] fuse 7 A"),
        ("東京", "??"),
    ],
)
def test_what_a_terminal_does_not_have_is_replaced_by_what_is_near(
    text: str, plain: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    raw = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(raw, encoding="ascii"))
    streams.speak()
    print(text, end="", flush=True)
    assert raw.getvalue().decode("ascii") == plain


def test_what_is_typed_into_a_locale_without_letters_is_utf_8(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    raw = io.BytesIO("Tromsø\n".encode())
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(raw, encoding="ascii"))
    streams.speak()
    assert sys.stdin.readline() == "Tromsø\n"


def test_an_argument_that_the_locale_could_not_read_is_as_it_was_typed() -> None:
    unread = "Tromsø".encode().decode("ascii", "surrogateescape")
    assert as_typed(unread) == "Tromsø"
    assert shown(unread) == '"Tromsø"'
    assert printable(unread) == "Tromsø"
    # No UTF-8 at all: something is printed, and nothing raised.
    assert as_typed("caf\udce9") == "caf\ufffd"
    assert as_typed("Tromsø") == "Tromsø"


@pytest.mark.skipif(os.name == "nt", reason="no locales of this kind")
def test_a_place_and_a_file_with_letters_work_in_the_bare_locale(
    tmp_path: Path, small_job: str
) -> None:
    bare = {"PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "LC_ALL": "POSIX"}

    def run(*line: str) -> subprocess.CompletedProcess[bytes]:
        return subprocess.run(
            [sys.executable, "-m", "sim", *line],
            capture_output=True, cwd=tmp_path, timeout=120,
            env={**os.environ, **bare, "PYTHONPATH": str(Path(__file__).parents[2])},
        )  # fmt: skip

    done = run("sky", "Tromsø", "--out", "å")
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith(b"Tromso, ")
    assert (tmp_path / "å" / "sky-tromso-troms-no.html").exists()
    job = tmp_path / "Tromsø.toml"
    job.write_text(small_job.replace("Weekend", "Tromsø"), "utf-8")
    done = run("check", "Tromsø.toml")
    assert done.stdout == b"Tromso.toml: in order. Tromso (2 nights).\n"
