"""Commands that decide: panels, levers, calendar, wiring."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from sim.cli.front import ONE_THREAD, REPORTS, Full, JobPath, Jobs, Json, Out, say_written
from sim.cli.importing import importing
from sim.cli.usage import whole_number
from sim.cli.writing import settle_job

if TYPE_CHECKING:
    from sim.decide.designs import DesignDecision
    from sim.decide.what_if import Block, Cells, Grid
    from sim.job.model.job import Job
    from sim.ledger.results import Result
    from sim.report.data.output import Outputs
    from sim.report.page.sections import Section
    from sim.second import Second, Tasks
    from sim.trip.prepare import Skies

Csv = Annotated[
    bool, typer.Option("--csv", help="Write what was tried, and what then holds, as CSV too.")
]
# So much work takes some ten seconds; with --decide a builder waits for more.
_QUICK_LANE_STEPS = 60e6
# A job of so much work has a grid that takes longer than a second process needs to begin with it.
_WORTH_A_PROCESS = 30e3
# The grid, and what is said of it.
_GRID, _SAYS = "sim.decide.what_if", "sim.report.page.try_it"


def panels(
    job: JobPath,
    up_to: Annotated[
        int | None,
        typer.Option(
            "--up-to",
            metavar="N",
            parser=whole_number("--up-to", 0),
            help="Try up to so many panels, whatever fits the roof.",
        ),
    ] = None,
    out: Out = REPORTS,
    json: Json = None,
    csv: Csv = False,
    jobs: Jobs = ONE_THREAD,
    full: Full = False,
) -> None:
    """How many panels: from none to as many as fit, over all trips.

    Example: nightledger panels job.toml
    """
    from sim.job.reading.load import load_job

    found = load_job(job)
    with importing():
        from sim import decide
        from sim.report.data import decision_csv, decision_json
        from sim.report.page import decision_sections
        from sim.report.terminal import answer, decision_text
        from sim.report.terminal.lines import screen

    outputs = settle_job(job, found, out, json, what="panels", tables=_tables(csv))
    with answer.progress_bar("Trying the panels") as progress:
        chosen = decide.panels(found, up_to=up_to, jobs=jobs, progress=progress)
    us_units = found.settings.units == "us"
    tables = decision_csv.panels_csv(chosen, outputs.stem) if csv else None
    section = decision_sections.panels_section(found, chosen)
    data = decision_json.panels_json(chosen)
    written = _write_decision(found, section, data, outputs, tables)
    decision_text.print_panels(chosen, screen(), us_units=us_units, full=full)
    say_written(written)


def levers(
    job: JobPath,
    out: Out = REPORTS,
    json: Json = None,
    csv: Csv = False,
    jobs: Jobs = ONE_THREAD,
    full: Full = False,
) -> None:
    """Which fix: one change, or two together.

    Example: nightledger levers job.toml
    """
    from sim.job.reading.load import load_job

    found = load_job(job)
    with importing():
        from sim import decide
        from sim.report.data import decision_csv, decision_json
        from sim.report.page import decision_sections
        from sim.report.terminal import answer, decision_text
        from sim.report.terminal.lines import screen

    outputs = settle_job(job, found, out, json, what="levers", tables=_tables(csv))
    with answer.progress_bar("Pulling the levers") as progress:
        tried = decide.levers(found, jobs=jobs, progress=progress)
    tables = decision_csv.levers_csv(tried, outputs.stem) if csv else None
    section = decision_sections.levers_section(found, tried)
    written = _write_decision(found, section, decision_json.levers_json(tried), outputs, tables)
    us_units = found.settings.units == "us"
    decision_text.print_levers(tried, screen(), us_units=us_units, full=full)
    say_written(written)


def calendar(
    job: JobPath,
    trip: Annotated[
        str | None,
        typer.Option("--trip", metavar="NAME", help="Which trip; the start of its name will do."),
    ] = None,
    out: Out = REPORTS,
    json: Json = None,
    csv: Csv = False,
    jobs: Jobs = ONE_THREAD,
    full: Full = False,
) -> None:
    """The same trip started in every week of the year.

    Example: nightledger calendar job.toml --trip January
    """
    from sim.job.reading.load import load_job

    found = load_job(job)
    with importing():
        from sim import decide
        from sim.report.data import decision_csv, decision_json
        from sim.report.page import decision_sections
        from sim.report.terminal import answer, decision_text
        from sim.report.terminal.lines import screen

    outputs = settle_job(job, found, out, json, what="calendar", tables=_tables(csv))
    with answer.progress_bar("Going round the year") as progress:
        year = decide.calendar(found, trip, jobs=jobs, progress=progress)
    tables = decision_csv.calendar_csv(year, outputs.stem) if csv else None
    section = decision_sections.calendar_section(found, year)
    written = _write_decision(found, section, decision_json.calendar_json(year), outputs, tables)
    decision_text.print_calendar(year, screen(), full=full)
    say_written(written)


def wiring(
    job: JobPath,
    out: Out = REPORTS,
    json: Json = None,
    csv: Annotated[bool, typer.Option("--csv", help="Write cables and checks as CSV too.")] = False,
) -> None:
    """Check cables, fuses and limits before ordering.

    Example: nightledger wiring job.toml --csv
    """
    import datetime as dt

    from sim import __version__
    from sim.job.reading.load import load_job

    found = load_job(job)
    from sim.decide import wiring as check_wiring
    from sim.report.data.export import json_text
    from sim.report.data.wiring_data import TABLES, wiring_csv, wiring_json
    from sim.report.page.wiring_page import render_wiring
    from sim.report.terminal.lines import screen
    from sim.report.terminal.wiring_sheet import print_sheet

    tables = TABLES if csv else ()
    outputs = settle_job(job, found, out, json, what="wiring", tables=tables)
    sheet = check_wiring(found)
    written = outputs.write(
        page=render_wiring(sheet, written=dt.date.today(), version=__version__),
        data=json_text(wiring_json(sheet)),
        tables=wiring_csv(sheet, outputs.stem) if csv else None,
    )
    print_sheet(sheet, screen())
    say_written(written)


def all_decided(
    result: Result, skies: Skies, *, decide: bool, prices: bool
) -> tuple[tuple[Section, ...], dict[str, Any], DesignDecision | None]:
    """What a report shows beside its trips: sections, their numbers as plain data, and the
    designs."""
    from sim.report.data.design_json import designs_json
    from sim.report.page.design_section import designs_section

    job = result.job
    sections, data = decided(result, skies) if decide else ((), {})
    chosen = designed(job, skies)
    if chosen is not None:
        sections = (designs_section(chosen, prices=prices), *sections)
        data["designs"] = designs_json(chosen)
    return sections, data, chosen


def decided(result: Result, skies: Skies) -> tuple[tuple[Section, ...], dict[str, Any]]:
    """All decisions that belong in the client's report, and their numbers as plain data.

    The year is that of the hardest trip, unless it would keep the builder waiting.
    """
    from sim import decide
    from sim.decide.calendar import year_lane_steps
    from sim.report.data import decision_json
    from sim.report.page import decision_sections
    from sim.report.terminal.answer import progress_bar
    from sim.report.words.sentences import tried_in_first

    job, sections, data = result.job, [], {}
    if job.panels:
        with progress_bar("Trying the panels") as progress:
            chosen = decide.panels(job, skies=skies, progress=progress)
        sections.append(decision_sections.panels_section(job, chosen))
        data["panels"] = decision_json.panels_json(chosen)
    with progress_bar("Pulling the levers") as progress:
        tried = decide.levers(job, skies=skies, progress=progress)
    sections.append(decision_sections.levers_section(job, tried))
    data["levers"] = decision_json.levers_json(tried)
    if text := tried_in_first(result):
        sections = [replace(x, sentences=(*x.sentences, text)) for x in sections]
    if job.panels:
        hardest = chosen.option(chosen.job_count).worst.trip
        if year_lane_steps(job, hardest, len(chosen.options)) <= _QUICK_LANE_STEPS:
            with progress_bar("Going round the year") as progress:
                year = decide.calendar(job, hardest, progress=progress)
            sections.append(decision_sections.calendar_section(job, year))
            data["calendar"] = decision_json.calendar_json(year)
    with progress_bar("Counting the nights") as progress:
        rules = decide.living_rules(job, skies=skies, progress=progress)
    sections.append(decision_sections.living_section(rules))
    data["living_rules"] = decision_json.living_json(rules)
    return tuple(sections), data


def designed(job: Job, skies: Skies) -> DesignDecision | None:
    """The designs among which the client may choose; None where the job names none."""
    from sim import decide
    from sim.report.terminal.answer import progress_bar

    if not job.designs:
        return None
    with progress_bar("Running the designs") as progress:
        return decide.designs(job, skies=skies, progress=progress)


@contextmanager
def second_process() -> Iterator[Second]:
    """A second process for the grid of a report, where there is a core for it."""
    from sim import stopping
    from sim.second import Second, cores

    second = None
    try:
        # A stop that comes now must find what it has to end.
        with stopping.unstoppable():
            second = Second([_GRID, _SAYS], start=cores() > 1 and stopping.listens())
        yield second
    finally:
        if second is not None:
            with stopping.unstoppable():
                second.close()


def begin_grid(job: Job, second: Second, *, always: bool) -> None:
    """Let the second process begin with the grid that `what_may_be_tried` ends; it is ended itself
    where that is not worth it."""
    from functools import partial

    from sim.job.rules.trips import job_lane_steps

    if job.panels and job_lane_steps(job) >= _WORTH_A_PROCESS:
        with importing():
            second.begin(partial(_blocks_to_do, job, always=always))
    else:
        second.close()


def _blocks_to_do(job: Job, *, always: bool) -> Tasks[Block]:
    """The blocks of a job's grid, under skies of their own: a second process has no others."""
    from sim.trip.prepare import Skies

    cells = _cells(job, Skies(), always=always)
    return _nothing if cells is None else cells.block, len(cells or ())


def _nothing(number: int) -> Block:
    raise AssertionError(f"there is no block {number}")


def what_may_be_tried(result: Result, skies: Skies, second: Second, *, always: bool) -> Grid | None:
    """The grid of the report's last section, unless it would keep the builder waiting."""
    from sim.decide.own_cell import as_answered
    from sim.report.page.try_it import says
    from sim.report.terminal.answer import progress_bar
    from sim.report.words.numbers import Manner

    job = result.job
    with progress_bar("Trying other builds") as progress:
        cells = _cells(job, skies, always=always)
        if cells is None:
            return None
        found = cells.joined(second.finish((cells.block, len(cells)), progress))
    return as_answered(found, result, says(Manner(job.settings.units)))


def _cells(job: Job, skies: Skies, *, always: bool) -> Cells | None:
    """The cells of a job's grid, fewer where all would keep the builder waiting; None where even
    those would."""
    from sim.decide.what_if import Cells, lane_steps
    from sim.report.page.try_it import says
    from sim.report.words.numbers import Manner

    coarse = lane_steps(job) > _QUICK_LANE_STEPS and not always
    if not job.panels or (coarse and lane_steps(job, coarse=True) > _QUICK_LANE_STEPS):
        return None
    return Cells(job, says(Manner(job.settings.units)), coarse=coarse, skies=skies)


def _tables(csv: bool) -> tuple[str, ...]:
    from sim.report.data.decision_csv import TRIED

    return (TRIED,) if csv else ()


def _write_decision(
    job: Job,
    section: Section,
    data: dict[str, Any],
    outputs: Outputs,
    tables: dict[str, str] | None,
) -> list[Path]:
    """Write a decision's page and, if asked for, its numbers and tables."""
    import datetime as dt

    from sim import __version__
    from sim.report.data.export import json_text
    from sim.report.page.decision_sections import render_decision

    page = render_decision(job, (section,), written=dt.date.today(), version=__version__)
    return outputs.write(page=page, data=json_text(data), tables=tables)
