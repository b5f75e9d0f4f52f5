"""The wiring sheet shown: one content in terminal, page, CSV and JSON; names stay text."""

from __future__ import annotations

import csv
import datetime as dt
import html
import io
import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from rich.console import Console

from sim.decide import wiring
from sim.decide.wiring.rows import STATUSES, WiringSheet
from sim.job.reading.load import load_job
from sim.report.data.export import json_text
from sim.report.data.wiring_data import wiring_csv, wiring_json
from sim.report.page.wiring_page import render_wiring
from sim.report.terminal.wiring_sheet import print_sheet
from sim.report.words.wiring_lines import check_lines, on_cable_list, ticks
from sim.report.words.wiring_words import answer, check_text, check_texts, counts, rule_text
from sim.resources import profiles_dir

HOSTILE = "=1+1 <script>x</script> [red]pump[/red] & 'q' \u202e"
PLAN = """
[wiring]
co_alarm = false
main_switch = true
[wiring.inverter]
length_ft = 5
cable_awg = "2"
"""


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> WiringSheet:
    """The demo's, with a plan, a hostile name and a line of every status."""
    text = (profiles_dir() / "jobs" / "demo.toml").read_text("utf-8")
    text = text.replace('use = "water-pump"', f'use = "water-pump"\nname = {json.dumps(HOSTILE)}')
    path = tmp_path_factory.mktemp("sheet") / "job.toml"
    path.write_text(text + PLAN, "utf-8")
    made = wiring(load_job(path))
    assert all(made.count(status) for status in STATUSES)
    return made


@pytest.fixture(scope="module")
def page(sheet: WiringSheet) -> str:
    return render_wiring(sheet, written=dt.date(2027, 1, 9), version="9.9")


def shown(sheet: WiringSheet, width: int = 80) -> str:
    out = io.StringIO()
    print_sheet(sheet, Console(file=out, width=width, color_system=None, _environ={}))
    return out.getvalue()


def test_every_line_is_on_the_page(sheet: WiringSheet, page: str) -> None:
    words = html.unescape(re.sub(r"<[^>]+>", " ", page)).replace("\N{NO-BREAK SPACE}", " ")
    assert "A check of the design, not a permit. Local codes" in words
    for check in check_texts(sheet):
        assert check.basis in words
    listed = {(x.run, x.subject) for x in sheet.checks if on_cable_list(x)}
    of_list = [check_text(x, sheet.units) for x in sheet.checks if (x.run, x.subject) in listed]
    for line in check_lines(sheet):
        if line in of_list:
            continue
        by_run = line.status in ("pass", "choose")
        told = line.what if by_run else f"{line.run}: {line.what}"
        for text in (told, line.run, line.value, line.advice):
            assert text in words
    for tick in ticks(sheet):
        assert f"☐ {tick.text} " in " ".join(words.split())
    # what must change comes first, and a source is said once
    order = [page.index(f'id="{name}"') for name in ("change", "say", "cables", "pass")]
    assert order == sorted(order)
    for basis in {check.basis for check in check_texts(sheet)}:
        assert words.count(f" {basis} ") == 1, basis
    for run in sheet.runs:
        assert rule_text(run, sheet.units) in words
        assert run.cable is not None
        assert run.cable.name in words


def test_fuses_and_cables_are_listed_once(sheet: WiringSheet, page: str) -> None:
    """With what each must be good for and its source; a run is named in no second list."""
    listed = [check for check in sheet.checks if on_cable_list(check)]
    assert len(listed) > 15
    heads = [
        html.unescape(head) for head in re.findall(r'<th scope="row" dir="auto">([^<]*)</th>', page)
    ]
    passes = {x.run for x in sheet.checks if x.status == "pass" and not on_cable_list(x)}
    for run in sheet.runs:
        assert heads.count(run.name) == 1 + (run.name in passes)
    words = " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())
    assert "Cables and fuses to order" in words
    assert "45 A at least 44.5 A, at the roof end" in words
    assert "6 AWG (16 mm²) chosen here: carries 65 A at 104 °F, at least 60 A, its fuse" in words
    # what must change is said above, and not as if it were right
    change = [x for x in sheet.checks if x.subject == "ampacity" and x.status == "change"]
    assert change
    fitted = re.search(r"<div>2 AWG.*?</div>", page)
    assert fitted
    assert "carries" not in fitted[0]
    # where all is fitted nothing is to be ordered
    done = tuple(replace(x, status="pass", case="") for x in sheet.checks if on_cable_list(x))
    fine = render_wiring(replace(sheet, checks=done), written=dt.date(2027, 1, 9), version="9.9")
    assert ">Cables and fuses</h2>" in fine


def test_what_is_asked_of_several_runs_is_one_line(sheet: WiringSheet, page: str) -> None:
    """All runs whose length is not known, each by its name; its keys are said in one line."""
    unknown = [check for check in check_texts(sheet) if check.value == "length not known"]
    assert len(unknown) > 5
    (line,) = (line for line in check_lines(sheet) if line.value == "length not known")
    for check in unknown:
        assert check.run in line.run.translate(dict.fromkeys((0x2068, 0x2069)))
    assert line.advice.count("length_ft") == 1
    assert "[wiring.roof], [wiring.controller]" in line.advice
    assert line.advice.endswith("and [[wiring.loads]] with the name of the load")
    assert line.limit == "3 % or 10 %"
    assert "[wiring.inverter]" not in line.advice  # its length is given
    assert page.count("length not known") == 1
    assert " ".join(shown(sheet).split()).count("length not known") == 1
    # Of one run alone it is asked as ever.
    kept, *others = [check for check in sheet.checks if check.subject == "drop"][:2]
    alone = replace(sheet, checks=(kept, *(x for x in sheet.checks if x.subject != "drop")))
    assert others
    assert check_lines(alone)[0] == check_texts(alone)[0]


def test_ticks_stand_in_a_list_of_their_own(sheet: WiringSheet) -> None:
    text = shown(sheet)
    assert "under [wiring], as in main_switch = true:" in text
    assert "  ☐ Safety: Smoke alarm (UL 217) (smoke_alarm)" in text
    # What the plan says is no longer asked for.
    assert "(main_switch)" not in text
    assert "co_alarm" not in [tick.key for tick in ticks(sheet)]


def test_no_two_lines_have_the_same_label(sheet: WiringSheet) -> None:
    labels = [(line.run, line.what) for line in check_lines(sheet)]
    assert len(labels) == len(set(labels))
    cold = [what for _, what in labels if what.startswith("Open-circuit voltage in the cold")]
    assert len(cold) == 2


def test_the_page_needs_nothing_else(page: str) -> None:
    assert not re.search(r"""(src|href)=["'](?!#)|@import|url\(""", page)
    assert "<script" not in page
    assert page.rstrip().endswith("</html>")
    assert len(page) < 200_000


def test_a_name_is_only_a_name(sheet: WiringSheet, page: str) -> None:
    assert html.escape(HOSTILE, quote=False).split(" \u202e")[0].replace("'", "&#39;") in page
    terminal = shown(sheet, 200)
    assert "=1+1 <script>x</script> [red]pump[/red] & 'q'" in terminal
    assert "\u202e" not in terminal


def test_the_terminal_says_what_is_to_be_done(sheet: WiringSheet) -> None:
    text = shown(sheet)
    assert all(len(line) <= 80 for line in text.splitlines())
    words = " ".join(text.split())
    assert "A check of the design, not a permit." in words
    assert words.index("To change") < words.index("To say or to tick")
    # The answer comes first, what must change before the list of cables.
    assert words.index(f"{len(sheet.checks)} checks: {counts(sheet)}.") < words.index("To change")
    assert words.index("To say or to tick") < words.index("Run Amps Fuse Cable Drop")


def test_csv_is_safe_for_a_spreadsheet(sheet: WiringSheet) -> None:
    files = wiring_csv(sheet, "job-wiring")
    assert sorted(files) == ["job-wiring-cables.csv", "job-wiring-checks.csv"]
    for text in files.values():
        rows = list(csv.reader(io.StringIO(text)))
        assert len({len(row) for row in rows}) == 1
        assert not any(cell.startswith(("=", "+", "-", "@")) for row in rows for cell in row)
        assert any(cell.startswith("'=1+1") for row in rows for cell in row)


def test_json_holds_numbers(sheet: WiringSheet) -> None:
    data = json.loads(json_text(wiring_json(sheet)))
    assert data["counts"] == {status: sheet.count(status) for status in STATUSES}
    inverter = next(run for run in data["runs"] if run["name"] == "Battery to inverter")
    assert inverter["amps"] == pytest.approx(198.4, abs=0.05)
    assert (inverter["fuse_a"], inverter["cable_awg"], inverter["cable_mm2"]) == (
        250,
        "2 AWG",
        33.63,
    )
    assert inverter["length_m"] == pytest.approx(1.524)
    assert inverter["is_fitted"] is True
    dcdc = next(run for run in data["runs"] if run["name"] == "DC-DC charger to battery")
    assert (dcdc["length_m"], dcdc["drop_v"]) == (None, None)


def test_no_customer_and_metric_units(small_job: str, write_job: Callable[[str], Path]) -> None:
    job = load_job(write_job(small_job + '[settings]\nunits = "metric"\n'))
    page = render_wiring(wiring(job), written=dt.date(2027, 1, 9), version="9.9")
    assert re.search(r"Written [^<]*9\sJan", page)
    assert "°F" not in page


def test_the_fuses_of_strings_stand_in_the_terminal(tmp_path: Path) -> None:
    """Three strings of 9.5 A: 14.8 A each, so 15 A; the run from the roof has its own fuse."""
    text = (profiles_dir() / "jobs" / "demo.toml").read_text("utf-8")
    panel = "[[panels]]\nisc_a = 9.5\nseries_fuse_a = 20\ncount = 3\n"
    head, tail = text.split("[[panels]]", 1)
    rest = re.sub(r"^count = .*$", "", tail, count=1, flags=re.M)
    path = tmp_path / "job.toml"
    path.write_text(head + panel + rest + PLAN, "utf-8")
    assert "fit 15 A in each string" in shown(wiring(load_job(path)))


def test_the_answer_comes_first_what_must_change_by_name(sheet: WiringSheet, page: str) -> None:
    changes = [check for check in check_texts(sheet) if check.status == "change"]
    said = answer(sheet)
    assert said.startswith("Not to be ordered as it is; change first: ")
    assert changes[0].run in said
    lines = shown(sheet).splitlines()
    assert lines[1].startswith("Not to be ordered as it is")
    assert max(map(len, lines)) <= 80
    assert wiring_json(sheet)["answer"] == said
    assert html.escape(said.split(":")[0]) in page


def test_a_sheet_without_changes_says_what_is_still_to_be_said(sheet: WiringSheet) -> None:
    rest = replace(sheet, checks=tuple(x for x in sheet.checks if x.status != "change"))
    count = rest.count("say")
    assert answer(rest) == (
        f"Nothing must change; {count} of {len(rest.checks)} checks are still to be said."
    )
    fine = replace(sheet, checks=tuple(x for x in sheet.checks if x.status == "pass"))
    assert answer(fine) == f"Nothing must change: all {len(fine.checks)} checks are in order."
