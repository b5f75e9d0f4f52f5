"""The papers as a builder asks for them: quote, handover, and the designs of trip."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from sim.cli import app

Run = Callable[..., Result]
QUICK = '\n[settings]\ndraws = 3\nweather = "clear"\n'
DESIGNS = """
[prices]
panel = 190
battery = 850

[[designs]]
name = "As drawn"

[[designs]]
name = "Winter pack"
set = { "battery.count" = 2 }
"""


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Runs a command in an empty folder of its own."""
    folder = tmp_path / "desk"
    folder.mkdir()
    monkeypatch.chdir(folder)
    monkeypatch.setenv("COLUMNS", "80")
    return lambda *arguments: CliRunner().invoke(app, [str(x) for x in arguments])


@pytest.fixture
def quick(small_job: str, write_job: Callable[[str], Path]) -> Path:
    return write_job(small_job + DESIGNS + QUICK)


def test_trip_shows_the_designs_and_prices_only_when_asked(run: Run, quick: Path) -> None:
    done = run("trip", quick, "--json", "out.json")
    assert done.exit_code == 0, done.output
    assert "Winter pack" in done.stdout
    page = Path("reports/job.html").read_text("utf-8")
    assert 'id="designs"' in page
    assert "$850" not in page
    names = [x["name"] for x in json.loads(Path("out.json").read_text("utf-8"))["designs"]]
    assert names == ["As drawn", "Winter pack"]
    assert run("trip", quick, "--prices").exit_code == 0
    assert "from $2,080" in Path("reports/job.html").read_text("utf-8")


def test_trip_without_designs_has_none(
    run: Run, small_job: str, write_job: Callable[[str], Path]
) -> None:
    job = write_job(small_job + QUICK)
    assert run("trip", job, "--prices", "--json", "out.json").exit_code == 0
    assert "designs" not in json.loads(Path("out.json").read_text("utf-8"))
    assert 'id="designs"' not in Path("reports/job.html").read_text("utf-8")


def test_quote_writes_its_page_and_its_numbers(run: Run, quick: Path) -> None:
    call = ("quote", quick, "--date", "2027-01-09", "--valid-days", 30, "--json", "out.json")
    done = run(*call)
    assert done.exit_code == 0, done.output
    assert f"Report: {Path('reports/job-quote.html')}" in done.stdout
    data = json.loads(Path("out.json").read_text("utf-8"))
    assert (data["date"], data["valid_until"]) == ("2027-01-09", "2027-02-08")
    for design in data["designs"]:
        amounts = [part["amount"] for part in design["price"]["parts"] if part["amount"]]
        assert design["price"]["total"] == sum(amounts)
    first = Path("reports/job-quote.html").read_bytes()
    assert run(*call).exit_code == 0
    assert Path("reports/job-quote.html").read_bytes() == first


def test_a_quote_needs_no_designs(
    run: Run, small_job: str, write_job: Callable[[str], Path]
) -> None:
    job = write_job(small_job + QUICK)
    assert run("quote", job).exit_code == 0
    assert "As planned" in Path("reports/job-quote.html").read_text("utf-8")


@pytest.mark.parametrize("date", ["9.1.2027", "2027-02-30", "1999-01-01"])
def test_a_date_that_is_none(run: Run, quick: Path, date: str) -> None:
    done = run("quote", quick, "--date", date)
    assert done.exit_code == 2
    assert "--date" in done.stderr
    assert "year-month-day" in done.stderr
    assert not Path("reports").exists()


def test_no_paper_takes_the_place_of_another_file(run: Run, quick: Path) -> None:
    page = Path("reports/job-quote.html")
    page.parent.mkdir()
    page.write_text("mine", "utf-8")
    done = run("quote", quick)
    assert done.exit_code == 2
    assert page.read_text("utf-8") == "mine"


def test_handover_writes_its_page_and_its_numbers(
    run: Run, small_job: str, write_job: Callable[[str], Path]
) -> None:
    job = write_job(small_job + '\n[handover]\nmain_switch = "Under the {bed}"\n' + QUICK)
    call = ("handover", job, "--date", "2027-01-09", "--json", "out.json", "--jobs", 2)
    done = run(*call)
    assert done.exit_code == 0, done.output
    assert f"Report: {Path('reports/job-handover.html')}" in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 80
    data = json.loads(Path("out.json").read_text("utf-8"))
    assert data["date"] == "2027-01-09"
    assert [season["season"] for season in data["seasons"]] == ["winter", "summer"]
    assert data["places"] == {"Main switch of the battery": "Under the {bed}"}
    assert "Under the {bed}." in data["emergencies"][0]["steps"][1]
    first = Path("reports/job-handover.html").read_bytes()
    assert run(*call).exit_code == 0
    assert Path("reports/job-handover.html").read_bytes() == first
