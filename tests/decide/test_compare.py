"""What changed between two jobs, or since a promise; promises of older programs still read."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from sim import decide
from sim.cli import app
from sim.decide.compare import Comparison, State, figures_of, state_of
from sim.errors import JobError
from sim.job.model.job import Job
from sim.ledger.answer import answer_of
from sim.ledger.simulate import simulate
from sim.report.data.promise import promise_text, read_promise
from sim.report.words.compare_words import comparison_json, comparison_lines

QUICK = "\n[settings]\ndraws = 20\n"
Edit = Callable[..., Job]
# As the first program that kept promises wrote it: this must be read for ever.
FIRST: dict[str, Any] = {
    "nightledger_promise": 1,
    "program": "0.1.0",
    "kept": "2026-11-26",
    "title": "Test van",
    "seed": 1,
    "job": {
        "title": "Test van",
        "battery": {"count": 1, "capacity_ah": 100.0},
        "appliances": [{"name": "Refrigerator", "watts": 45.0}],
        "trips": [{"name": "Weekend", "stops": [{"nights": 2, "idle_at": 1020}]}],
    },
    "trips": [
        {
            "name": "Weekend",
            "verdict": "tight",
            "held": 170,
            "draws": 200,
            "lowest_soc": [0.05, 0.2, 0.3],
            "dark_hours": 1.5,
            "energy_wh_day": {"sun": 500.0, "served": 450.0},
            "times": ["2027-05-07T10:00:00-06:00", "2027-05-07T11:00:00-06:00"],
            "soc": [[1.0, 0.9], [1.0, 0.95], [1.0, 1.0]],
        }
    ],
}


def state(job: Job) -> State:
    return state_of(simulate(job), "0.1.0")


def changes(found: Comparison) -> dict[str, tuple[str, Any, Any]]:
    return {change.key: (change.part, change.old, change.new) for change in found.keys}


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(app, [str(x) for x in arguments])


def test_what_changed_is_found_by_key_and_part(edited: Edit, small_job: str) -> None:
    old = state(edited(small_job, end=QUICK))
    new = state(
        edited(
            small_job,
            ("count = 2", "count = 4"),
            ("nights = 2", "nights = 3\nidle_at = '18:00'"),
            ('use = "fridge-dc"', 'use = "fridge-dc"\n\n[[appliances]]\nuse = "laptop"'),
            end=QUICK.replace("20", "30"),
        )
    )
    found = decide.compare(old, new)
    assert changes(found) == {
        "panels[1].count": ("build", 2, 4),
        "appliances[Laptop]": ("build", None, "Laptop"),
        "trips[Weekend].stops[1].nights": ("travelling", 2, 3),
        "trips[Weekend].stops[1].idle_at": ("travelling", 1020, 1080),
        "settings.draws": ("settings", 20, 30),
    }
    text = "\n".join(comparison_lines(found))
    assert "panels[1].count: 2 -> 4" in text
    assert "appliances[Laptop]: none -> Laptop" in text
    assert "idle_at: 17:00 -> 18:00" in text


def test_the_answer_of_each_trip_before_and_after(edited: Edit, small_job: str) -> None:
    old = edited(small_job, ("count = 2", "count = 0"), end=QUICK)
    new = edited(small_job, ('name = "Weekend"', 'name = "Holiday"'), end=QUICK)
    found = decide.compare(state(old), state(new))
    assert [(trip.name, trip.old is None, trip.new is None) for trip in found.trips] == [
        ("Holiday", True, False),
        ("Weekend", False, True),
    ]
    lines = list(comparison_lines(found))
    assert lines[0].startswith("Holiday: new, ")
    assert lines[1].startswith("Weekend: gone; it was ")
    data = comparison_json(found)
    assert data["trips"][0]["old"] is None
    answer = answer_of(simulate(new).trips[0])
    assert data["trips"][0]["new"]["held"] == answer.held
    assert data["trips"][0]["new"]["lowest_soc"]["p10"] == answer.lowest_soc.p10


def test_keep_and_compare_by_hand(
    tmp_path: Path, small_job: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("smith.toml").write_text(small_job + QUICK, "utf-8")
    kept = run("trip", "smith.toml", "--keep")
    assert kept.exit_code == 0, kept.stderr
    assert "smith-promise.json" in kept.stdout
    promise = Path("reports/smith-promise.json").read_bytes()
    again = run("trip", "smith.toml", "--keep")
    assert again.exit_code == 2
    assert "is a promise kept before" in again.stderr
    assert Path("reports/smith-promise.json").read_bytes() == promise
    Path("smith.toml").write_text(small_job.replace("count = 2", "count = 3") + QUICK, "utf-8")
    done = run("compare", "reports/smith-promise.json", "smith.toml", "--json", "c.json")
    assert done.exit_code == 0, done.stderr
    assert "panels[1].count: 2 -> 3" in done.stdout
    numbers = json.loads(Path("c.json").read_text("utf-8"))
    assert numbers["build"] == [{"key": "panels[1].count", "old": 2, "new": 3}]
    assert numbers["trips"][0]["old"]["verdict"] == "ample"


@pytest.mark.parametrize(
    ("old", "said"),
    [
        ("none.toml", "none.toml: there is no such file"),
        ("none.json", "none.json: there is no such file"),
        (".", "this is a folder"),
        ("broken.toml", "broken.toml"),
    ],
)
def test_compare_with_what_is_not_there(
    tmp_path: Path, small_job: str, monkeypatch: pytest.MonkeyPatch, old: str, said: str
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("smith.toml").write_text(small_job + QUICK, "utf-8")
    Path("broken.toml").write_text("title =", "utf-8")
    done = run("compare", old, "smith.toml")
    assert done.exit_code == 2
    assert said in done.stderr
    assert "Traceback" not in done.stderr


def test_a_promise_is_what_was_run(job: Job, tmp_path: Path) -> None:
    result = simulate(job)
    path = tmp_path / "a-promise.json"
    path.write_text(promise_text(result, "0.1.0", dt.date(2026, 11, 26)), "utf-8")
    kept = read_promise(path)
    assert kept.trips == tuple(figures_of(trip) for trip in result.trips)
    found = decide.compare(kept, state_of(result, "0.1.0"))
    assert found.keys == ()
    assert next(comparison_lines(found)).startswith("Weekend: ample as before, ")


def test_a_promise_of_the_first_program_reads(edited: Edit, small_job: str, tmp_path: Path) -> None:
    path = tmp_path / "old-promise.json"
    path.write_text(json.dumps(FIRST), "utf-8")
    new = state_of(simulate(edited(small_job, end=QUICK)), "9.0")
    found = decide.compare(read_promise(path), new)
    # Keys that the old file does not hold are not told as changes.
    assert set(changes(found)) == {"appliances[1].name"}
    lines = list(comparison_lines(found))
    assert lines[0].startswith("Weekend: tight -> ample; 170 of 200 -> ")
    assert "0.1.0 -> 9.0" in lines[-1]


def test_a_tank_that_ends_is_part_of_the_answer(edited: Edit, small_job: str) -> None:
    """The electricity holds before and after; with a small tank of water everything does not."""
    tap = '\n[[appliances]]\nuse = "water-pump"\n\n[water]\nfresh_l = {}\n' + QUICK
    small = state(edited(small_job, end=tap.format(5)))
    large = state(edited(small_job, end=tap.format(150)))
    assert small.trips[0].held == large.trips[0].held == 20
    assert small.trips[0].all_held == 0
    lines = list(comparison_lines(decide.compare(small, large)))
    assert "0 of 20 -> 20 of 20 simulated trips hold" in " ".join(lines)
    assert "  water.fresh_l: 5 -> 150" in lines


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"nightledger_promise": 2, "program": "7.1"}, "newer program, 7.1"),
        ({"nightledger_promise": "x"}, "is not a kept promise"),
        ({"trips": [{"name": "Weekend"}]}, "keep the promise anew"),
        ({"job": []}, "keep the promise anew"),
    ],
)
def test_what_is_no_promise(tmp_path: Path, change: dict[str, Any], said: str) -> None:
    path = tmp_path / "a-promise.json"
    path.write_text(json.dumps({**FIRST, **change}), "utf-8")
    with pytest.raises(JobError, match=said):
        read_promise(path)


@pytest.mark.parametrize("text", ["", "{", "[" * 100_000, "[1]", "\0"])
def test_what_is_no_json(tmp_path: Path, text: str) -> None:
    path = tmp_path / "a-promise.json"
    path.write_text(text, "utf-8")
    with pytest.raises(JobError, match=r"no JSON|not a kept promise"):
        read_promise(path)


def test_the_page_is_written_and_no_other_jobs_page_is_replaced(
    tmp_path: Path, small_job: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("smith.toml").write_text(small_job + QUICK, "utf-8")
    Path("old.json").write_text(json.dumps(FIRST), "utf-8")
    done = run("compare", "old.json", "smith.toml")
    assert done.exit_code == 0, done.stderr
    page = Path("reports/smith-compare.html")
    assert f"Report: {page}" in done.stdout
    text = page.read_text("utf-8")
    assert text.count('<svg class="drawn"') == 1
    assert "before, it was 170 of 200" in text.replace("\N{NO-BREAK SPACE}", " ")
    # Once more is in order; another file of the same name is another job.
    assert run("compare", "old.json", "smith.toml").exit_code == 0
    Path("else").mkdir()
    Path("else/smith.toml").write_text(small_job + QUICK, "utf-8")
    other = run("compare", "old.json", "else/smith.toml")
    assert other.exit_code == 2
    assert "is the report of another job file" in other.stderr
