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


@pytest.fixture
def bare(small_job: str, write_job: Callable[[str], Path]) -> Path:
    """A job without panels, which holds in winter and not in summer."""
    start, end = small_job.index("[[panels]]"), small_job.index("[battery]")
    text = small_job[:start] + small_job[end:].replace("nights = 2", "nights = 3")
    return write_job(text + "\n[settings]\ndraws = 3\n")


def test_a_job_without_panels(run: Run, bare: Path) -> None:
    assert run("levers", bare).exit_code == 0
    assert run("trip", bare, "--decide").exit_code == 0
    assert 'id="levers"' in Path("reports/job.html").read_text("utf-8")


def test_panels_of_a_job_without_any_say_what_to_add(run: Run, bare: Path) -> None:
    """And with that added they run."""
    done = run("panels", bare)
    assert done.exit_code == 2
    assert done.stdout == ""
    assert done.stderr == (
        "nightledger: panels: the job has no panels to count; add [[panels]] with use = "
        '"rigid-170", or another of the shelf, controller_amps = 20, and count = 0 if none is '
        "planned\n"
    )
    assert not Path("reports").exists()
    added = '[[panels]]\nuse = "rigid-170"\ncontroller_amps = 20\ncount = 0\n\n[battery]'
    bare.write_text(bare.read_text("utf-8").replace("[battery]", added), "utf-8")
    done = run("panels", bare, "--json", "out.json")
    assert done.exit_code == 0, done.stderr
    counts = [x["count"] for x in json.loads(Path("out.json").read_text("utf-8"))["options"]]
    assert counts[:2] == [0, 1]


def test_calendar_of_a_job_without_panels(run: Run, bare: Path) -> None:
    done = run("calendar", bare, "--json", "out.json")
    assert (done.exit_code, done.stderr) == (0, "")
    lines = done.stdout.splitlines()
    assert lines[1].startswith("With no panels the trip is ample in ")
    months = {line.split()[0]: line for line in lines if line[:1].isupper()}
    for month, cell in (("February", "0"), ("July", "not tried")):
        assert months[month].rstrip().endswith(f" {cell}")
    page = Path("reports/job-calendar.html").read_text("utf-8")
    assert "Weekend with no panels, started in every week of the year" in page
    data = json.loads(Path("out.json").read_text("utf-8"))
    assert (data["panel"], data["job_count"], data["counts"]) == ("", 0, [0])
    assert len(data["weeks"]) == 52
    assert "by number of panels:" in run("calendar", bare, "--full").stdout


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
