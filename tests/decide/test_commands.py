"""The commands panels, levers and calendar as a builder meets them."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from sim.cli import app

Run = Callable[..., Result]
QUICK = '\n[settings]\ndraws = 3\nweather = "clear"\n'


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Runs a command in an empty folder of its own."""
    folder = tmp_path / "desk"
    folder.mkdir()
    monkeypatch.chdir(folder)
    monkeypatch.setenv("COLUMNS", "100")
    return lambda *arguments: CliRunner().invoke(app, [str(x) for x in arguments])


@pytest.fixture
def quick(small_job: str, write_job: Callable[[str], Path]) -> Path:
    return write_job(small_job + QUICK)


@pytest.mark.parametrize(
    ("command", "key"),
    [("panels", "options"), ("levers", "levers"), ("calendar", "months")],
)
def test_each_answers_writes_its_page_and_its_numbers(
    run: Run, quick: Path, command: str, key: str
) -> None:
    done = run(command, quick, "--json", "numbers/out.json", "--jobs", 2)
    assert done.exit_code == 0, done.output
    page = Path("reports") / f"job-{command}.html"
    assert f"Report: {page}" in done.stdout
    assert "<main>" in page.read_text("utf-8")
    assert json.loads(Path("numbers/out.json").read_text("utf-8"))[key]
    assert done.stderr == ""
    # In full it says more of the same.
    plain, full = done.stdout.splitlines(), run(command, quick, "--full").stdout.splitlines()
    assert len(full) > len(plain)
    assert full[:3] == plain[:3]


def test_up_to_says_how_many_to_try(run: Run, quick: Path) -> None:
    assert run("panels", quick, "--up-to", 2, "--json", "out.json").exit_code == 0
    options = json.loads(Path("out.json").read_text("utf-8"))["options"]
    assert [option["count"] for option in options] == [0, 1, 2]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["calendar", "--trip", "Easter"], '--trip = "Easter": no such trip; there is "Weekend"'),
        (["panels", "--up-to", "99"], "--up-to = 99: must be a whole number from 0 to 60"),
    ],
)
def test_wrong_input_is_one_sentence(
    run: Run, quick: Path, arguments: list[str], said: str
) -> None:
    done = run(arguments[0], quick, *arguments[1:])
    assert done.exit_code == 2
    assert done.stderr == f"nightledger: {said}\n"


def test_a_job_without_panels(run: Run, small_job: str, write_job: Callable[[str], Path]) -> None:
    start, end = small_job.index("[[panels]]"), small_job.index("[battery]")
    path = write_job(small_job[:start] + small_job[end:] + QUICK)
    done = run("panels", path)
    assert done.exit_code == 2
    assert "the job has no panels to count; add [[panels]]" in done.stderr
    assert run("levers", path).exit_code == 0
    assert run("trip", path, "--decide").exit_code == 0
    assert 'id="levers"' in Path("reports/job.html").read_text("utf-8")


def test_decisions_in_the_report_and_its_numbers_on_request(run: Run, quick: Path) -> None:
    assert run("trip", quick, "--json", "plain.json").exit_code == 0
    assert 'id="panels"' not in Path("reports/job.html").read_text("utf-8")
    assert run("trip", quick, "--decide", "--json", "decided.json").exit_code == 0
    page = Path("reports/job.html").read_text("utf-8")
    for key in ("panels", "levers", "calendar", "living"):
        assert f'<section id="{key}"' in page
    plain, decided = (
        json.loads(Path(name).read_text("utf-8")) for name in ("plain.json", "decided.json")
    )
    assert set(decided) - set(plain) == {"panels", "levers", "calendar", "living_rules"}
    assert {key: decided[key] for key in plain} == plain
    assert decided["living_rules"]["stays"]
