"""What `check` prints of a job that is in order."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from typer.testing import CliRunner

from sim.cli import app


def test_one_night_is_one_night(small_job: str, write_job: Callable[[str], Path]) -> None:
    one = write_job(small_job.replace("nights = 2", "nights = 1"))
    done = CliRunner().invoke(app, ["check", str(one)])
    assert "Weekend (1 night)." in " ".join(done.output.split())
    two = CliRunner().invoke(app, ["check", str(write_job(small_job))])
    assert "Weekend (2 nights)." in " ".join(two.output.split())


def test_no_line_is_wider_than_the_terminal(
    small_job: str, write_job: Callable[[str], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Long names are shortened, remarks go on in the next line, and no file name is broken."""
    long = "A very long winter journey to the south, and back again by the mountains and the coast"
    odd = small_job.replace("Weekend", long).replace('"small-van"', '"small-van"\nlength_m = 14')
    path = write_job(odd.replace("[[trips.stops]]", 'start = "Moab, Utah"\n\n[[trips.stops]]'))
    for width in (80, 40):
        monkeypatch.setenv("COLUMNS", str(width))
        done = CliRunner().invoke(app, ["check", str(path)])
        lines = done.output.splitlines()
        assert max(len(line) for line in lines if str(path) not in line) <= width
        assert str(path) in done.output
        assert "A very long winter journey to the south, and back" not in " ".join(
            done.output.split()
        )
        assert len([line for line in lines if line.startswith("    ")]) >= 1
