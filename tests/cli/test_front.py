"""What stands before every command."""

from __future__ import annotations

from pathlib import Path

from typer.testing import CliRunner

from sim.cli.commands import app


def test_a_terminal_that_knows_no_width_is_told_as_much_as_any(tmp_path: Path) -> None:
    asked = ["sky", "38.57,-109.55", "--out", str(tmp_path)]
    known, unknown = (CliRunner().invoke(app, asked, env={"COLUMNS": x}) for x in ("80", "0"))
    assert "100 W panel" in known.stdout
    assert unknown.stdout == known.stdout
