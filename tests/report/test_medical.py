"""A breathing aid that goes without in some weather: named first wherever a verdict is shown, in a
colour of its own in the terminal, with its count in JSON and CSV."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from rich.console import Console

import sim
from sim.book import _Task, run_job
from sim.decide.calendar import Calendar
from sim.decide.compare import compare, state_of
from sim.decide.designs import DesignDecision
from sim.decide.levers.effect import LeverDecision
from sim.decide.panels.counts import PanelDecision
from sim.decide.remedy import remedies
from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.ledger.answer import answer_of
from sim.ledger.results import Result
from sim.report.data import decision_csv, decision_json, design_json
from sim.report.data.book_record import BookLine, book_json
from sim.report.data.export import trip_json
from sim.report.data.promise import promise_text, read_promise
from sim.report.page import decision_sections
from sim.report.page.book_page import render_book
from sim.report.page.client import render_page
from sim.report.page.compare_page import render_comparison
from sim.report.page.design_section import designs_section
from sim.report.terminal import decision_text
from sim.report.terminal.answer import answer_lines, print_result
from sim.report.terminal.book_table import print_book
from sim.report.terminal.design_table import print_designs
from sim.report.words.compare_words import medical as compared
from sim.report.words.numbers import GAP, Manner
from sim.report.words.promise_words import medical, remedy_words

Edited = Callable[..., Job]
DRAWS = 24
JOBS = Path(__file__).parents[1] / "data" / "jobs"
JOB = (
    (JOBS / "parked-in-january.toml")
    .read_text("utf-8")
    .replace("[[trips]]", '[[appliances]]\nuse = "medical-night-device"\n\n[[trips]]')
    .replace("nights = 8", "nights = 9")
)
# White on red, bold: what nothing else has.
ALARM = "\x1b[1;37;41m"
DESIGNS = """
[[designs]]
name = "As drawn"

[[designs]]
name = "Three batteries"
set = { "battery.count" = 3 }
"""


@pytest.fixture(scope="module")
def job(edited: Edited) -> Job:
    return edited(JOB + DESIGNS)


@pytest.fixture(scope="module")
def result(job: Job) -> Result:
    return sim.simulate(job)


@pytest.fixture(scope="module")
def panels(job: Job) -> PanelDecision:
    return sim.decide.panels(job)


@pytest.fixture(scope="module")
def levers(job: Job) -> LeverDecision:
    return sim.decide.levers(job)


@pytest.fixture(scope="module")
def calendar(job: Job) -> Calendar:
    return sim.decide.calendar(job)


@pytest.fixture(scope="module")
def designs(job: Job) -> DesignDecision:
    return sim.decide.designs(job)


def printed(show: Callable[[Console], None]) -> list[str]:
    """Lines as a terminal with colours gets them."""
    out = io.StringIO()
    show(Console(file=out, width=80, force_terminal=True, color_system="standard", _environ={}))
    return out.getvalue().splitlines()


def first_alarm(lines: list[str]) -> int:
    """Which line is the first in the strongest colour."""
    return next(n for n, line in enumerate(lines) if ALARM in line)


def test_a_trip_names_it_before_all_else(result: Result) -> None:
    answer = answer_of(result.trips[0])
    assert answer.medical == ("Breathing aid",)
    assert 0 < answer.medical_dark < DRAWS
    lines = printed(lambda console: print_result(result, console))
    # Title, verdict, and then the aid; what follows it has no colour.
    assert first_alarm(lines) == 2
    assert lines[2].startswith(f"  {ALARM}Breathing aid misses up to")
    assert ALARM not in "".join(lines[4:])
    page = render_page(result, written=dt.date(2026, 12, 1), version="1")
    assert '<strong class="alarm">' in page
    assert page.index('<strong class="alarm">') < page.index("The essentials hold in")


def test_many_of_them_leave_the_answer_its_six_lines(edited: Edited) -> None:
    """All by name where there is room, else the worst; each word of it in the alarm's colour."""
    names = ["Oxygen concentrator", "Wheelchair", "Insulin pump", "Hospital bed", "Hearing aids"]
    end = "".join(
        f'\n[[appliances]]\nkind = "steady"\nname = "{name}"\npriority = "essential"\n'
        f"medical = true\nwatts = {60 - number}\n"
        for number, name in enumerate(names)
    )
    result = sim.simulate(edited(JOB, end=end))
    (trip,) = result.trips
    assert len(trip.promise.medical) == len(names) + 1
    every = medical(trip)
    assert all(name in every for name in names)
    assert every.count("simulated trips") == every.count("misses up to") == 1
    mends = remedies(result.job, result)
    lines = answer_lines(trip, mends[0], Manner("us"))
    assert len(lines) <= 6
    shown = printed(lambda console: print_result(result, console, mends))
    assert shown[2].startswith(f"  {ALARM}Oxygen concentrator misses up to")
    assert f"5 more {trip.promise.medical[1].worst_wh:,.0f} Wh or less" in " ".join(lines)


def test_a_remedy_that_leaves_it_without_says_so(job: Job) -> None:
    """Verdicts of 5 in 6 are ample here: what is enough may leave the aid without in some."""
    settings = with_values(job.settings, {"ample_share": 20 / 24, "tight_share": 20 / 24})
    lenient = with_values(job, {"settings": settings})
    run = sim.simulate(lenient)
    assert run.trips[0].verdict == "short"
    (remedy,) = remedies(lenient, run)
    assert remedy is not None
    assert remedy.verdict == "ample"
    still = f"Breathing aid may still go without in {remedy.medical_dark}."
    assert (still in remedy_words(remedy)) == (remedy.medical_dark > 0)
    left = replace(remedy, medical=("Breathing aid",), medical_dark=3)
    assert remedy_words(left).endswith(" Breathing aid may still go without in 3.")
    (trip,) = trip_json(run, [left])["trips"]
    assert trip["remedy"]["medical"] == {"names": ["Breathing aid"], "share": 3 / DRAWS}


def test_every_design_that_was_summed_up_counts_it(
    result: Result, panels: PanelDecision, levers: LeverDecision, designs: DesignDecision
) -> None:
    """What is summed up knows only that something of the aid's priority goes without: never in
    fewer simulated trips than the aid itself, and in none where nothing does."""
    exact = answer_of(result.trips[0]).medical_dark
    as_it_is = panels.option(panels.job_count).trips[0]
    assert as_it_is.medical == ("Breathing aid",)
    assert exact <= as_it_is.medical_dark == DRAWS - as_it_is.essentials_held
    assert levers.base[0].medical_dark == as_it_is.medical_dark
    assert designs.options[0].trips[0].medical_dark == as_it_is.medical_dark
    ample = designs.options[1].trips[0]
    assert (ample.essentials_held, ample.medical, ample.medical_dark) == (DRAWS, (), 0)


def shown(
    panels: PanelDecision, levers: LeverDecision, calendar: Calendar, designs: DesignDecision
) -> Iterator[list[str]]:
    yield printed(lambda c: decision_text.print_panels(panels, c, us_units=True))
    yield printed(lambda c: decision_text.print_levers(levers, c, us_units=True))
    yield printed(lambda c: decision_text.print_calendar(calendar, c))
    yield printed(lambda c: print_designs(designs, c))


def test_decisions_name_it_first_and_mark_their_rows(
    panels: PanelDecision, levers: LeverDecision, calendar: Calendar, designs: DesignDecision
) -> None:
    for lines in shown(panels, levers, calendar, designs):
        assert first_alarm(lines) == 1
        assert "Breathing aid may go without" in lines[1]
    dark = panels.option(panels.job_count).trips[0].medical_dark
    rows = printed(lambda c: decision_text.print_panels(panels, c, us_units=True))
    assert any(f"!{dark}" in line and "(job)" in line for line in rows)


def test_pages_of_decisions_have_it_in_a_colour_of_its_own(
    job: Job,
    panels: PanelDecision,
    levers: LeverDecision,
    calendar: Calendar,
    designs: DesignDecision,
) -> None:
    sections = (
        decision_sections.panels_section(job, panels),
        decision_sections.levers_section(job, levers),
        decision_sections.calendar_section(job, calendar),
        designs_section(designs, prices=False),
    )
    for section in sections:
        assert "Breathing aid may go without" in section.alarm.replace(GAP, " ")
    page = decision_sections.render_decision(
        job, sections, written=dt.date(2026, 12, 1), version="1"
    )
    assert page.count('<strong class="alarm">') == len(sections)


def test_json_has_its_count(
    panels: PanelDecision, levers: LeverDecision, calendar: Calendar, designs: DesignDecision
) -> None:
    data = decision_json.panels_json(panels)
    assert "Breathing aid" in data["medical"]
    counts = [option["trips"][0]["medical"] for option in data["options"]]
    assert counts[0] == {"names": ["Breathing aid"], "share": 1.0}
    assert "Breathing aid" in decision_json.levers_json(levers)["medical"]
    year = decision_json.calendar_json(calendar)
    assert "Breathing aid" in year["medical"]
    july = next(week for week in year["weeks"] if week["depart"].split("-")[1] == "07")
    assert july["medical_share"][calendar.counts.index(2)] == 0.0
    drawn, three = design_json.designs_json(designs)
    assert drawn["trips"][0]["medical"]["names"] == ["Breathing aid"]
    assert three["trips"][0]["medical"] == {"names": [], "share": 0.0}


def rows_of(files: dict[str, str], name: str) -> list[dict[str, str]]:
    # One way to end a line, on every system.
    assert "\r" not in files[name]
    return list(csv.DictReader(io.StringIO(files[name])))


def test_csv_has_the_three_promises_in_columns(
    result: Result, panels: PanelDecision, levers: LeverDecision, calendar: Calendar
) -> None:
    (trip,) = rows_of(decision_csv.answers_csv(result, "job"), "job-answer.csv")
    answer = answer_of(result.trips[0])
    assert trip["verdict"] == answer.verdict == "short"
    assert int(trip["essentials_held"]) == answer.essentials_held < DRAWS
    assert int(trip["comforts_held"]) == answer.comforts_held == DRAWS
    assert int(trip["stores_and_cold_held"]) == answer.stores_held == DRAWS
    assert int(trip["medical_may_go_without"]) == answer.medical_dark
    tried = rows_of(decision_csv.panels_csv(panels, "job-panels"), "job-panels-tried.csv")
    assert [int(row["panels"]) for row in tried] == [option.count for option in panels.options]
    assert [int(row["essentials_held"]) for row in tried] == [
        option.trips[0].essentials_held for option in panels.options
    ]
    changes = rows_of(decision_csv.levers_csv(levers, "job-levers"), "job-levers-tried.csv")
    assert changes[0]["change"] == ""
    assert int(changes[0]["essentials_held"]) == levers.base[0].essentials_held
    assert changes[1]["change"] == levers.effects[0].name
    starts = rows_of(decision_csv.calendar_csv(calendar, "job-year"), "job-year-tried.csv")
    assert len(starts) == len(calendar.departs) * len(calendar.counts)
    assert {row["verdict"] for row in starts} == {"short", "ample"}


def test_compare_and_promise_carry_it(result: Result, tmp_path: Path) -> None:
    kept = tmp_path / "job-promise.json"
    kept.write_text(promise_text(result, "1", dt.date(2026, 12, 1)), "utf-8")
    state = read_promise(kept)
    assert state == read_promise(kept)
    dark = answer_of(result.trips[0]).medical_dark
    assert (state.trips[0].medical, state.trips[0].medical_dark) == (("Breathing aid",), dark)
    found = compare(state, state_of(result, "1"))
    (said,) = compared(found)
    assert said == (
        f"Breathing aid goes without in {dark} of {DRAWS} simulated trips of “Trip”; before, in "
        f"{dark} of {DRAWS}."
    )
    page = render_comparison(found, written=dt.date(2026, 12, 1), version="1")
    assert '<strong class="alarm">Breathing aid goes without' in page
    # A promise that does not know of it says nothing of before.
    older = replace(state, trips=(replace(state.trips[0], medical=(), medical_dark=None),))
    assert "before" not in next(compared(compare(older, state)))
    assert not list(compared(compare(state, older)))


def test_the_book_carries_it(job: Job, result: Result, tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(JOB, "utf-8")
    last, error = run_job(_Task(path, tmp_path / "job.html", {}, "1", dt.date(2026, 12, 1)))
    assert error is None
    assert last is not None
    line = BookLine("job.toml", "Ada", "job.html", last, (), None, {})
    dark = answer_of(result.trips[0]).medical_dark
    said = f"Ada, Trip: Breathing aid goes without in {dark} of {DRAWS} simulated trips."
    lines = printed(lambda console: print_book((line,), console))
    assert first_alarm(lines) == 1
    assert said in lines[1]
    (told,) = book_json((line,))["jobs"]
    assert told["trips"][0]["medical"] == {"names": ["Breathing aid"], "share": dark / DRAWS}
    page = render_book((line,), written=dt.date(2026, 12, 1), version="1")
    assert f'<strong class="alarm">{said}</strong>' in page.replace("\u2068", "").replace(
        "\u2069", ""
    )


def test_the_row_underlined_is_the_change_that_the_answer_names(
    job: Job, levers: LeverDecision
) -> None:
    """On an ample trip what keeps the aid on; where it needs nothing, none."""
    named = levers.enough[0]
    (ledger,) = decision_sections.levers_section(job, levers).ledgers
    assert ledger.chosen is not None
    assert ledger.rows[ledger.chosen][0] == named.name
    answer = named.trips[0].answer
    ample = replace(levers, base=(answer,))
    (ledger,) = decision_sections.levers_section(job, ample).ledgers
    assert answer.medical_dark == 0
    assert ledger.chosen is None
    ill = replace(ample, base=(replace(answer, medical=("Breathing aid",), medical_dark=1),))
    (ledger,) = decision_sections.levers_section(job, ill).ledgers
    assert ledger.rows[ledger.chosen or 0][0] == ill.enough[0].name
