"""`trip` with a second process: the same report, and none where there is no core for it."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from sim import second, stopping
from sim.cli import choices
from sim.cli.commands import app
from sim.job.reading.load import load_job

SMALL = (Path(__file__).parents[1] / "data" / "jobs" / "small.toml").read_text("utf-8")
# So few that it is done soon, and enough for a second process.
LARGE = SMALL + '\n[settings]\ndraws = 700\nweather = "clear"\n'


@pytest.fixture
def listening(monkeypatch: pytest.MonkeyPatch) -> None:
    """As in the program itself, on two cores."""
    monkeypatch.setattr(stopping._State, "listens", True)
    monkeypatch.setattr(second, "cores", lambda: 2)


@pytest.fixture(params=[False, True], ids=["fresh", "copy"])
def copies(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> bool:
    """Whether the second process is a copy of this one."""
    if request.param and not hasattr(os, "fork"):
        pytest.skip("no copies here")
    monkeypatch.setattr(second, "may_copy", lambda: request.param)
    return bool(request.param)


def written(folder: Path) -> dict[str, str]:
    return {path.name: path.read_text("utf-8") for path in folder.glob("*.*")}


def test_the_program_writes_what_a_library_writes(tmp_path: Path) -> None:
    """A library starts no process; the program does, where it has two cores."""
    job, here, there = (tmp_path / x for x in ("job.toml", "here", "there"))
    job.write_text(LARGE, "utf-8")
    arguments = ["trip", str(job), "--csv", "--json"]
    done = CliRunner().invoke(app, [*arguments, str(here / "out.json"), "--out", str(here)])
    assert done.exit_code == 0, done.output
    program = [sys.executable, "-W", "error", "-m", "sim", *arguments, str(there / "out.json")]
    ran = subprocess.run(
        [*program, "--out", str(there)], capture_output=True, text=True, timeout=300, check=True
    )
    assert ran.stderr == ""
    assert ran.stdout.replace(str(there), str(here)) == done.output
    assert written(there) == written(here)


@pytest.mark.usefixtures("listening", "copies")
def test_both_processes_work_on_a_large_grid(tmp_path: Path) -> None:
    job_file = tmp_path / "job.toml"
    job_file.write_text(LARGE, "utf-8")
    job = load_job(job_file)
    with choices.second_process() as other:
        choices.begin_grid(job, other, always=False)
        assert other._process is not None
        make, count = choices._blocks_to_do(job, always=False)
        waiting = other._thread
        assert waiting is not None
        # Without a hand from here, it does them all.
        waiting.join(120.0)
        assert sorted(other._found) == list(range(count))
        for number, found in other._found.items():
            own = make(number)
            assert (found.answers, found.said, found.times) == (own.answers, own.said, own.times)
            assert (found.soc == own.soc).all()
    assert other._process is None


@pytest.mark.usefixtures("listening")
@pytest.mark.parametrize("text", [SMALL, re.sub(r"\[\[panels\]\][^\[]*", "", LARGE)])
def test_a_small_grid_or_none_is_worth_no_process(tmp_path: Path, text: str, copies: bool) -> None:
    job_file = tmp_path / "job.toml"
    job_file.write_text(text.replace("draws = 200", "draws = 2"), "utf-8")
    job = load_job(job_file)
    with choices.second_process() as other:
        # A fresh one is at its imports before the job is read.
        assert (other._process is None) == copies
        choices.begin_grid(job, other, always=False)
        assert other._process is None


@pytest.mark.usefixtures("listening")
def test_none_on_one_core(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(second, "cores", lambda: 1)
    with choices.second_process() as other:
        assert other._process is None


def test_none_for_a_library() -> None:
    assert not stopping.listens()
    with choices.second_process() as other:
        assert other._process is None


@pytest.mark.usefixtures("listening")
@pytest.mark.skipif(not hasattr(os, "fork"), reason="signals of POSIX")
def test_a_stop_ends_it() -> None:
    def stopped() -> None:
        with choices.second_process() as other:
            found.append(other)
            raise KeyboardInterrupt

    found: list[second.Second] = []
    with pytest.raises(KeyboardInterrupt):
        stopped()
    assert found[0]._process is None
