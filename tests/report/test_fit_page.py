"""A log against the promise on page, screen, in JSON and as a job file, from the command line."""

from __future__ import annotations

import datetime as dt
import json
import math
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from sim.cli import app
from sim.fit.estimate import Estimate
from sim.fit.findings import Finding
from sim.fit.fit import fit
from sim.job.reading.load import load_job
from sim.log.reading import read_log
from sim.report.charts.fit_charts import Hours, hours_chart
from sim.report.data.fitted_job import fitted_job_text
from sim.report.words.by_locale import Writing
from sim.report.words.fit_words import cells, finding_sentence
from sim.resources import profiles_dir

LOGS = profiles_dir() / "logs"
runner = CliRunner()


@pytest.fixture(scope="module")
def ran(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """The demo's files and what was printed."""
    folder = tmp_path_factory.mktemp("fit")
    job = folder / "smith.toml"
    text = (LOGS / "demo.toml").read_text("utf-8")
    text = text.replace("Two panels in New Mexico", "Two <b>panels</b> & more")
    job.write_text(text.replace("[battery]\n", "[battery]  # ours\nhealth_pct = 99.0\n"), "utf-8")
    log = folder / "log.csv"
    marked = (LOGS / "demo.csv").read_text("utf-8")
    log.write_text(marked.replace("Solar power (W)", "Solar <i>power</i> (W)"), "utf-8")
    result = runner.invoke(
        app,
        [
            *("fit", str(job), str(log), "--out", str(folder)),
            *("--json", str(folder / "fit.json"), "--save", str(folder / "new.toml")),
        ],
    )
    assert result.exit_code == 0, result.output
    return folder, result.output


def test_the_answer_comes_first(ran: tuple[Path, str]) -> None:
    lines = ran[1].splitlines()
    assert lines[0] == "Two <b>panels</b> & more"
    answer = " ".join(lines[1:4])
    assert re.match(
        r"The sun brings \d\d % less than promised since 1\d February 2026, only", answer
    )
    assert "morning" in answer
    assert "\ufffd" not in ran[1]
    assert max(map(len, lines)) <= 80


def test_the_numbers(ran: tuple[Path, str]) -> None:
    data = json.loads((ran[0] / "fit.json").read_text("utf-8"))
    assert {"days", "columns", "findings", "promise_kept"} <= set(data)
    assert data["promise_kept"] is False
    assert data["columns"]["solar"] == "Solar <i>power</i> (W)"
    first = data["findings"][0]
    assert {"what", "broken", "factor", "low", "high", "since", "sentence"} <= set(first)
    assert first["what"] == "sun_by_hour"
    assert first["low"] < first["factor"] < first["high"] < 0.8
    assert len(data["findings"]) == 11


def test_the_page_escapes_and_shows_three_charts(ran: tuple[Path, str]) -> None:
    page = (ran[0] / "smith-fit.html").read_text("utf-8")
    assert "<b>panels" not in page
    assert "<i>power" not in page
    assert page.count('<svg class="drawn"') == 3
    assert "Content-Security-Policy" in page
    for heading in ("Was the promise kept?", "What the log shows", "What to measure next"):
        assert heading in page


def test_the_saved_job_starts_from_what_was_seen(ran: tuple[Path, str]) -> None:
    old, new = load_job(ran[0] / "smith.toml"), load_job(ran[0] / "new.toml")
    factor = next(
        x["factor"]
        for x in json.loads((ran[0] / "fit.json").read_text("utf-8"))["findings"]
        if x["what"] == "sun"
    )
    assert new.panels[0].seen_loss_pct == pytest.approx(100.0 * (1.0 - factor), abs=0.01)
    assert new.trips == old.trips
    assert "# ours" in (ran[0] / "new.toml").read_text("utf-8")


@pytest.mark.parametrize(("factor", "amps"), [(0.8, 16.0), (1.01, 20.0)])
def test_a_plug_that_brings_less_is_saved_so(tmp_path: Path, factor: float, amps: float) -> None:
    """1.01 with a spread of 0.02 may be the 20 A that were promised."""
    path = tmp_path / "job.toml"
    shore = "\n[shore]\ncharger_amps = 20\ninlet_volts = 120\ninlet_amps = 15\n"
    path.write_text((LOGS / "demo.toml").read_text("utf-8") + shore, "utf-8")
    found = fit(load_job(path), read_log(LOGS / "demo.csv"))
    seen = Finding("plug", True, Estimate(factor, 0.02))
    findings = tuple(seen if x.what == "plug" else x for x in found.findings)
    text = fitted_job_text(path, replace(found, findings=findings), dt.date(2026, 4, 1))
    path.write_text(text, "utf-8")
    assert [one.charger_amps for one in load_job(path).shore] == [amps]


def weather_file(path: Path, year: int) -> Path:
    """February and March of a year at the demo's place: every third day is dull."""
    rows = ["# latitude: 35.04", "# longitude: -106.62", "# altitude_m: 1619", "time,ghi,temp_air"]
    hour = dt.datetime(year, 1, 31)
    while hour < dt.datetime(year, 4, 1):
        height = max(0.0, math.cos((hour.hour + 0.5 - 12.3) / 12.0 * math.pi * 1.1))
        ghi = height * (250.0 if hour.day % 3 == 0 else 700.0)
        rows.append(f"{hour:%Y-%m-%dT%H:%M}-07:00,{ghi:.0f},{hour.day % 9:.1f}")
        hour += dt.timedelta(hours=1)
    path.write_text("\n".join(rows) + "\n", "utf-8")
    return path


def test_dates_and_numbers_are_written_by_the_locale(tmp_path: Path) -> None:
    text = (LOGS / "demo.toml").read_text("utf-8")
    job = tmp_path / "job.toml"
    job.write_text(text.replace("[settings]\n", '[settings]\nlocale = "fr_FR"\n'), "utf-8")
    result = runner.invoke(app, ["fit", str(job), str(LOGS / "demo.csv"), "--out", str(tmp_path)])
    assert result.exit_code == 0, result.output
    assert re.search(r"brings \d\d % less than promised since 16 February 2026", result.output)
    assert "+0,0 h" in result.output or "+0 h" in result.output
    assert re.search(r"[+\N{MINUS SIGN}]\d,\d points/day", result.output)
    assert not re.search(r"\d\.\d points/day", result.output)


@pytest.mark.parametrize(
    ("year", "said"),
    [(2026, "held against the same days of the weather file"), (2025, "only says what the months")],
)
def test_a_weather_file_is_the_days_own_in_its_year_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, year: int, said: str
) -> None:
    # How wide the figures are is looked at in tests/fit.
    monkeypatch.setattr("sim.fit.estimate._BOOTSTRAPS", 40)
    text = (LOGS / "demo.toml").read_text("utf-8")
    # What a single stop names gives way to what the command line names.
    job = tmp_path / "job.toml"
    job.write_text(text.replace("nights = 7\n", 'nights = 7\nweather = "clear"\n', 1), "utf-8")
    weather = weather_file(tmp_path / "weather.csv", year)
    asked = ("--weather", str(weather), "--out", str(tmp_path))
    numbers = tmp_path / "fit.json"
    result = runner.invoke(
        app, ["fit", str(job), str(LOGS / "demo.csv"), *asked, "--json", str(numbers)]
    )
    assert result.exit_code == 0, result.output
    assert said in " ".join(result.output.split())
    found = {x["what"]: x for x in json.loads(numbers.read_text("utf-8"))["findings"]}
    assert found["sun_by_hour"]["broken"] is True
    by_warmth = found["loads_by_temperature"]
    assert ("watts_per_kelvin" in by_warmth) == (year == 2026)


@pytest.mark.parametrize(
    ("arguments", "rule"),
    [
        (("demo.toml",), "name the log too"),
        (("demo.toml", "README.md"), "README.md: is not a table|README.md: has no column of times"),
        (("demo.toml", "none.csv"), "there is no such file"),
        (("demo.csv", "demo.toml"), "the job file comes first"),
        (("demo.toml", "demo.csv", "--column", "soc"), "write what it is and its heading"),
        (("demo.toml", "demo.csv", "--column", "soc=Fuel"), "no such column"),
        (("demo.toml", "demo.csv", "--column", "fuel=Time"), "no such kind of column"),
    ],
)
def test_bad_input_is_one_sentence(tmp_path: Path, arguments: tuple[str, ...], rule: str) -> None:
    named = [str(LOGS / x) if "." in x and "=" not in x else x for x in arguments]
    result = runner.invoke(app, ["fit", *named, "--out", str(tmp_path)])
    assert result.exit_code == 2
    assert re.search(rule, result.output)
    assert "Traceback" not in result.output
    assert not list(tmp_path.iterdir())


def test_a_folder_named_demo_hides_no_demo(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "demo").mkdir()
    result = runner.invoke(app, ["fit", "demo", "--out", "out"])
    assert result.exit_code == 0, result.output
    assert result.output.startswith("Two panels in New Mexico")
    # A log of one's own has no job of that name, and is told how the demo is had.
    result = runner.invoke(app, ["fit", "demo", "log.csv", "--out", "out"])
    assert result.exit_code == 2
    assert "demo: there is no such file; for the job and log of the program:" in result.output


def test_of_panels_that_gave_nothing_no_part_of_the_day_is_kept(tmp_path: Path) -> None:
    head, *rows = [
        line for line in (LOGS / "demo.csv").read_text("utf-8").splitlines() if line[0] != "#"
    ]
    log = tmp_path / "dark.csv"
    dark = [f"{row.rpartition(',')[0]},0" for row in rows]
    log.write_text("\n".join([head, *dark]), "utf-8")
    result = runner.invoke(app, ["fit", str(LOGS / "demo.toml"), str(log), "--out", str(tmp_path)])
    assert result.exit_code == 0, result.output
    text = " ".join(result.output.split())
    assert "The sun brings 100 % less than promised" in text
    assert "(0 % of the promise)" in text
    assert "Sun in the" not in text


def test_a_kept_promise_takes_the_place_of_the_job(tmp_path: Path) -> None:
    from sim.decide.compare import State
    from sim.report.data.promise import promise_json, promised_job

    job = load_job(profiles_dir() / "jobs" / "demo.toml")
    path = tmp_path / "promise.json"
    state = State(job.model_dump(mode="json"), (), "0")
    path.write_text(json.dumps(promise_json(state, dt.date(2026, 1, 1))), "utf-8")
    assert promised_job(path) == job
    demo = load_job(LOGS / "demo.toml")
    state = State(demo.model_dump(mode="json"), (), "0")
    path.write_text(json.dumps(promise_json(state, dt.date(2026, 1, 1))), "utf-8")
    log = str(LOGS / "demo.csv")
    out = ("--out", str(tmp_path))
    result = runner.invoke(app, ["fit", str(path), log, *out])
    assert result.exit_code == 0, result.output
    assert "only in the morning" in " ".join(result.output.split())
    result = runner.invoke(app, ["fit", str(path), log, *out, "--save", str(tmp_path / "n.toml")])
    assert result.exit_code == 2
    assert "give the job file" in result.output


def test_a_counter_is_in_points_a_day_and_a_factor_in_percent() -> None:
    found = Estimate(0.012, 0.004, is_factor=False)
    drift = cells(Finding("counter", True, found), Writing("en_US", "metric"))
    assert drift[1:4] == ("broken", "+1.2 points/day", "+0.7 to +1.7")
    load = cells(
        Finding("standing_load", True, Estimate(20.0, 5.0, is_factor=False)),
        Writing("en_US", "metric"),
    )
    assert load[2:4] == ("+20 W", "+14 to +26 W")
    share = cells(Finding("sun", False, Estimate(0.91, 0.02)), Writing("en_US", "metric"))
    assert share[1:3] == ("kept", "91\xa0%")


def far_apart(hours: Hours) -> tuple[float, float]:
    """Hours between the two names of the chart, and watts."""
    first, second = hours_chart(hours).layout.annotations
    return abs(first.x - second.x), abs(first.y - second.y)


def test_names_in_the_chart_of_hours_do_not_touch() -> None:
    """Both lines have their farthest point at noon: one name goes to another hour."""
    peak = np.where(np.arange(24) == 12, 50.0, np.arange(24) / 10.0)
    apart_h, _ = far_apart(Hours(peak, peak - 1.0))
    assert apart_h >= 5
    # Above and below the promise they may stand over one another.
    apart_h, apart_w = far_apart(Hours(peak, -peak))
    assert (apart_h, apart_w) == (0.0, 100.0)
    # What is known of a few hours alone has its name there, also late at night.
    late = np.where(np.arange(24) == 23, 5.0, np.nan)
    first, second = hours_chart(Hours(late, peak)).layout.annotations
    assert (first.x, second.x) == (23.5, 12.5)


@pytest.mark.parametrize(
    ("factor", "says"),
    [
        (1.2, "The bank takes 20\xa0% more than its label"),
        (0.8, "The bank holds 20\xa0% less than its"),
    ],
)
def test_a_bank_of_another_size_is_said_either_way(factor: float, says: str) -> None:
    found = Finding("capacity", True, Estimate(factor, 0.03))
    assert finding_sentence(found, Writing("en_US", "metric")).startswith(says)
