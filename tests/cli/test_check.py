"""What `check` prints of a job that is in order."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from typer.testing import CliRunner

from sim.cli import app


def test_one_night_is_one_night(small_job: str, write_job: Callable[[str], Path]) -> None:
    one = write_job(small_job.replace("nights = 2", "nights = 1"))
    done = CliRunner().invoke(app, ["check", str(one)])
    assert "Weekend (1 night)." in done.output
    two = CliRunner().invoke(app, ["check", str(write_job(small_job))])
    assert "Weekend (2 nights)." in two.output
