"""The two-minute answer: the same path and the same answer as a whole trip."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import pytest
from typer.testing import CliRunner, Result

from sim import decide
from sim.cli import app
from sim.decide.sketch import BATTERIES, PANELS, Sketch
from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.job.reading.load import load_job
from sim.ledger.answer import answer_of
from sim.ledger.simulate import simulate
from sim.report.words.sketch_words import _beside, sketch_lines, sketch_table

FLAGS = ("--month", "march", "--people", "2", "--nights", "4", "--has", "fridge,laptops,furnace")


@pytest.fixture(scope="module")
def found(job: Job) -> Sketch:
    return decide.sketch(with_values(job, {"settings": with_values(job.settings, {"draws": 20})}))


def run(*arguments: str | Path, typed: str | None = None) -> Result:
    return CliRunner().invoke(app, ["sketch", *(str(x) for x in arguments)], input=typed)


def test_every_build_is_tried_once(found: Sketch) -> None:
    builds = [(option.batteries, option.panels) for option in found.options]
    assert builds == [(b, p) for b in BATTERIES for p in PANELS]
    assert [option.panels_w for option in found.options[:3]] == [0.0, 170.0, 340.0]


def test_the_smallest_is_the_lightest_ample_one(found: Sketch) -> None:
    ample = [option for option in found.options if option.answer.electric == "ample"]
    assert found.smallest in ample
    assert found.smallest is found.best
    assert found.best.weight_kg == min(option.weight_kg for option in ample)


def test_where_nothing_is_ample_the_best_is_told(job: Job) -> None:
    heavy = with_values(job.appliances[0], {"count": 60})
    settings = with_values(job.settings, {"draws": 5})
    found = decide.sketch(with_values(job, {"appliances": (heavy,), "settings": settings}))
    assert found.smallest is None
    assert found.best.answer.held == max(option.answer.held for option in found.options)
    lines = sketch_lines(found)
    assert lines[0].startswith("Nothing is ample. The best is short: ")
    assert max(map(len, lines)) <= 150


def test_cold_is_told_apart_from_what_a_battery_can_do(
    edited: Callable[..., Job], small_job: str
) -> None:
    """A heater far too weak for the frost: more panels would not warm the van."""
    weak = (
        '\n[[appliances]]\nuse = "furnace-propane"\nheat_watts = 400\n\n[propane]\ntank_l = 200\n'
    )
    job = edited(
        small_job,
        ("2027-05-07", "2027-01-09"),
        end=f"{weak}[settings]\ndraws = 10\n",
    )
    found = decide.sketch(job)
    assert found.smallest is not None
    assert (found.best.answer.electric, found.best.answer.all_held) == ("ample", 0)
    lines = sketch_lines(found)
    assert lines[2].startswith(f"But {found.best.answer.verdict} as a whole: in 10 of 10 ")
    assert len(lines[-1]) <= 76


def test_an_option_is_what_its_trip_is(job: Job, found: Sketch) -> None:
    option = found.options[PANELS.index(2)]
    assert (option.panels, option.batteries) == (job.panels[0].count, job.battery.count)
    settings = with_values(job.settings, {"draws": 20})
    (trip,) = simulate(with_values(job, {"settings": settings})).trips
    answer = answer_of(trip)
    assert (option.answer.held, option.answer.verdict) == (answer.held, answer.verdict)
    assert option.answer.lowest_soc.p10 == pytest.approx(answer.lowest_soc.p10, abs=1e-12)
    wanted = sum(float(load.wanted_wh.mean()) for load in trip.loads) / trip.days_long
    assert found.wanted_wh == pytest.approx(wanted, rel=1e-9)
    sun = trip.energy.taken["sun"] + trip.energy.unharvested
    assert found.sun_wh_per_100_w == pytest.approx(sun / option.panels_w * 100.0, rel=1e-6)


def test_the_saved_job_gives_the_same_answer(tmp_path: Path) -> None:
    folder, data = tmp_path / "Café Olé", tmp_path / "sketch.json"
    done = run("38.57, -109.55", *FLAGS, "--save", folder, "--json", data)
    assert done.exit_code == 0, done.stderr
    assert len(done.stdout.splitlines()) <= 12
    numbers = json.loads(data.read_text("utf-8"))
    assert {"place", "month", "people", "day", "options", "smallest"} <= set(numbers)
    assert (numbers["month"], numbers["people"]) == (3, 2)
    saved = load_job(folder / "cafe-ole.toml")
    assert saved.customer == "Café Olé"
    # A sketch tries its builds in the first simulated trips; the job may take more.
    first = with_values(saved.settings, {"draws": saved.settings.first_draws})
    answer = answer_of(simulate(with_values(saved, {"settings": first})).trips[0])
    smallest = numbers["smallest"]
    assert smallest in numbers["options"]
    assert (answer.verdict, answer.held) == (smallest["verdict"], smallest["held"])
    assert answer.lowest_soc.p10 == pytest.approx(smallest["lowest_soc_p10"], abs=1e-9)
    # A job that is there already stays.
    again = run("38.57, -109.55", *FLAGS, "--save", folder)
    assert again.exit_code == 2
    assert "is there already" in again.stderr


def test_lines_fit_the_terminal(found: Sketch) -> None:
    lines = run("38.57, -109.55", *FLAGS).stdout.splitlines()
    assert len(lines) <= 11
    assert max(map(len, lines)) <= 80
    assert lines[0].startswith("Smallest that is ample: ")
    assert sum("*" in line for line in lines) == 1
    # A narrow terminal has the columns in several tables, each with the battery beside it.
    heads, rows = sketch_table(found)
    assert len({len(row) for row in (heads, *rows)}) == 1
    assert sum("*" in cell for row in rows for cell in row) == 1


def test_what_no_battery_mends_is_counted() -> None:
    cold = SimpleNamespace(verdict="tight", electric="ample", draws=200, all_held=180)
    (line,) = _beside(cold)  # type: ignore[arg-type]
    assert line.startswith("But tight as a whole: in 20 of 200 warmth, hot water")
    cold.electric = "tight"
    assert _beside(cold) == ()  # type: ignore[arg-type]


def test_five_questions_give_the_same_answer() -> None:
    replies = "38.57, -109.55\nsnow\nmarch\n2\n4\nfridge,laptops,furnace\n"
    talked = run(typed=replies)
    assert talked.exit_code == 0, talked.stderr
    assert "give a month by its English name" in talked.stdout
    told = run("38.57, -109.55", *FLAGS).stdout
    assert talked.stdout.endswith(told)


def test_wrong_input_and_a_talk_that_ends() -> None:
    done = run("Atlantis City", "--month", "march")
    assert done.exit_code == 2
    assert "Traceback" not in done.stderr
    assert done.stderr.startswith("nightledger: PLACE")
    stopped = run(typed="quit\n")
    assert (stopped.exit_code, stopped.stderr) == (
        130,
        "nightledger: stopped; nothing was written\n",
    )
