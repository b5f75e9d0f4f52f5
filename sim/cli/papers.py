"""Commands that write papers: quote, handover."""

from __future__ import annotations

import datetime as dt
from typing import Annotated

import typer

from sim.cli.front import ONE_THREAD, REPORTS, JobPath, Jobs, Json, Out, say_written
from sim.cli.usage import whole_number
from sim.cli.writing import settle_job
from sim.errors import Fault, JobError

Date = Annotated[
    str | None,
    typer.Option("--date", metavar="DATE", help="The day on the paper, 2027-01-09; else today."),
]


def quote(
    job: JobPath,
    date: Date = None,
    valid_days: Annotated[
        int | None,
        typer.Option(
            "--valid-days",
            metavar="N",
            parser=whole_number("--valid-days", 1, 3650),
            help="How many days the quote holds.",
        ),
    ] = None,
    out: Out = REPORTS,
    json: Json = None,
    jobs: Jobs = ONE_THREAD,
) -> None:
    """A quote to sign, a sheet for each design.

    Example: nightledger quote job.toml --valid-days 30
    """
    from sim import __version__
    from sim.job.reading.load import load_job

    written = _day(date)
    found = load_job(job)
    from sim import decide
    from sim.report.data.design_json import designs_json
    from sim.report.data.export import json_text
    from sim.report.page.quote_page import render_quote
    from sim.report.terminal.answer import progress_bar
    from sim.report.terminal.design_table import print_designs
    from sim.report.terminal.lines import plain, screen

    outputs = settle_job(job, found, out, json, what="quote")
    with progress_bar("Running the designs") as progress:
        chosen = decide.designs(found, jobs=jobs, progress=progress)
    until = None if valid_days is None else written + dt.timedelta(days=valid_days)
    data = {
        "title": found.title,
        "customer": found.customer,
        "date": written.isoformat(),
        "valid_until": None if until is None else until.isoformat(),
        "program": __version__,
        "designs": designs_json(chosen),
    }
    files = outputs.write(
        page=render_quote(chosen, written=written, version=__version__, valid_until=until),
        data=json_text(data),
    )
    console = screen()
    console.print(plain(found.title), style="bold")
    print_designs(chosen, console)
    say_written(files)


def handover(
    job: JobPath,
    date: Date = None,
    out: Out = REPORTS,
    json: Json = None,
    jobs: Jobs = ONE_THREAD,
) -> None:
    """The sheet that stays in the van: charge, winter, emergencies.

    Example: nightledger handover job.toml
    """
    from sim import __version__
    from sim.job.reading.load import load_job

    written = _day(date)
    found = load_job(job)
    from sim import decide
    from sim.report.data.export import json_text
    from sim.report.data.handover_json import handover_json
    from sim.report.page.handover_page import render_handover
    from sim.report.terminal.answer import progress_bar
    from sim.report.terminal.handover_lines import print_handover
    from sim.report.terminal.lines import screen

    outputs = settle_job(job, found, out, json, what="handover")
    with progress_bar("Writing the sheet") as progress:
        sheet = decide.handover(found, jobs=jobs, progress=progress)
    data = {"date": written.isoformat(), "program": __version__, **handover_json(sheet)}
    files = outputs.write(
        page=render_handover(sheet, written=written, version=__version__), data=json_text(data)
    )
    print_handover(sheet, screen())
    say_written(files)


def _day(date: str | None) -> dt.date:
    """The day on a paper: today, or as the builder says it."""
    if date is None:
        return dt.date.today()
    try:
        found = dt.date.fromisoformat(date.strip())
    except ValueError:
        found = None
    if found is None or not 2000 <= found.year <= 2099:
        rule = "must be a date as year-month-day, such as 2027-01-09"
        raise JobError(Fault(rule, key="--date", value=date))
    return found
