"""Lines of a terminal: as wide as it, never wider than prose should be, nothing broken that must
not be."""

from __future__ import annotations

import io

import pytest
from rich.console import Console

from sim.report.terminal import lines
from sim.report.words.numbers import GAP

TEXT = "The twelve-volt refrigerator and the propane furnace go without on the fifth night. " * 3


def printed(console: Console) -> list[str]:
    assert isinstance(console.file, io.StringIO)
    return console.file.getvalue().splitlines()


@pytest.mark.parametrize("width", [40, 80, 200])
def test_prose_takes_the_terminal_and_no_more_than_80_columns(width: int) -> None:
    console = Console(file=io.StringIO(), width=width)
    lines.print_prose([TEXT, "Short."], console, first="- ", later="  ")
    found = printed(console)
    assert max(map(len, found)) <= min(width, 80)
    assert max(map(len, found)) > min(width, 80) - 14
    assert found[0].startswith("- The")
    assert found[1].startswith("  ")
    assert found[-1] == "- Short."
    assert " ".join(" ".join(found).split()).count("twelve-volt") == 3


def test_a_list_goes_on_further_in() -> None:
    console = Console(file=io.StringIO(), width=40)
    lines.print_list(["Head", f"  {TEXT}"], console)
    head, first, *rest = printed(console)
    assert head == "Head"
    assert first.startswith("  The")
    assert all(line.startswith("    ") and line[4] != " " for line in rest)


def test_a_file_name_is_whole() -> None:
    name = "customers/" + "a-long-name/" * 9 + "job.toml"
    assert lines.wrapped(f"The file {name}: in order.", whole=True)[1] == f"{name}:"


def test_what_is_for_the_page_is_not_printed() -> None:
    assert (
        lines.bare(f"7{GAP}A 60\N{NARROW NO-BREAK SPACE}% \N{FIRST STRONG ISOLATE}x")
        == "7 A 60 % x"
    )


def test_a_pipe_is_80_columns_wide(monkeypatch: pytest.MonkeyPatch) -> None:
    # Under pytest nothing is a terminal, whatever the terminal behind it.
    monkeypatch.setattr("os.get_terminal_size", lambda *_: (132, 40))
    monkeypatch.delenv("COLUMNS", raising=False)
    assert lines.screen().width == 80
    monkeypatch.setenv("COLUMNS", "60")
    assert lines.screen().width == 60
