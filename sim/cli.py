"""The command line: parse, call, print, write. The rest of the program is imported inside the
commands, so that ``--help`` is quick."""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperGroup

from sim.errors import Fault, JobError, NightledgerError, OutputError

if TYPE_CHECKING:
    from sim.job.model import Job
    from sim.ledger.results import Result
    from sim.report.sections import Section

EXIT_NOT_MET, EXIT_BAD_INPUT, EXIT_STOPPED = 1, 2, 130


class _Commands(TyperGroup):
    """Turns the program's errors into one line each on stderr and exit code 2."""

    def invoke(self, ctx: Any) -> Any:
        try:
            return super().invoke(ctx)
        except NightledgerError as error:
            for fault in error.faults:
                typer.echo(f"nightledger: {fault}", err=True)
            raise typer.Exit(EXIT_BAD_INPUT) from None
        except KeyboardInterrupt:
            typer.echo("nightledger: stopped; no file was left half written", err=True)
            raise typer.Exit(EXIT_STOPPED) from None
        except BrokenPipeError:
            raise  # whoever read the output has seen enough; the library leaves quietly
        except OSError as error:
            # The output goes to a full disk, or the like; files have errors of their own.
            typer.echo(f"nightledger: the system refused: {error.strerror or error}", err=True)
            raise typer.Exit(EXIT_BAD_INPUT) from None


app = typer.Typer(
    cls=_Commands,
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help="The energy ledger of every night of a camper-van trip: will the lights stay on?",
)

JobPath = Annotated[Path, typer.Argument(metavar="JOB", help="The job file (TOML).")]
Out = Annotated[
    Path, typer.Option("--out", metavar="FOLDER", help="Where reports go; made when missing.")
]
Json = Annotated[
    Path | None, typer.Option("--json", metavar="FILE", help="Write the numbers as JSON too.")
]
Jobs = Annotated[
    int | None,
    typer.Option("--jobs", metavar="N", min=1, max=64, help="Threads; the numbers stay the same."),
]
Csv = Annotated[
    bool, typer.Option("--csv", help="Write hours, days and ledger of each trip as CSV too.")
]
REPORTS = Path("reports")


class Require(StrEnum):
    """The verdict that every trip must reach."""

    ample = "ample"
    tight = "tight"


def _version(asked: bool) -> None:
    if asked:
        from sim import __version__

        typer.echo(f"nightledger {__version__}")
        raise typer.Exit


@app.callback()
def main(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """The energy ledger of every night of a camper-van trip: will the lights stay on?"""


@app.command()
def demo(out: Out = REPORTS, json: Json = None) -> None:
    """Write the demo job and its report; needs no input.

    Example: nightledger demo
    """
    from sim.job.shelf import profiles_dir
    from sim.report.output import write_whole

    text = (profiles_dir() / "jobs" / "demo.toml").read_text("utf-8")
    path = write_whole(out / "demo.toml", text)
    _run_trips(path, out, json, csv=False)
    typer.echo(f"Job file: {path}  (copy it, change it, then: nightledger trip FILE)")


@app.command()
def begin(
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", help="Where job.toml goes; made when missing.")
    ],
    answers: Annotated[
        Path | None,
        typer.Option("--answers", metavar="FILE", help="Take the answers from a file, one a line."),
    ] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Replace a job.toml that is there already.")
    ] = False,
) -> None:
    """Ask about a customer and write a job file to go on from.

    Example: nightledger begin customers/lindqvist
    """
    from sim.job.file import load_job
    from sim.job.interview import Interview, Stopped, answered
    from sim.job.interview_file import job_text
    from sim.job.interview_questions import questions
    from sim.job.reading import read_text
    from sim.report.output import expect_writable, write_whole
    from sim.report.talk import converse, typed

    expect_writable(folder)
    path = folder / "job.toml"
    if path.exists() and not force:
        rule = "is there already; name another folder, or replace it with --force"
        raise OutputError(Fault(rule, file=str(path)))
    interview = Interview(questions)
    try:
        if answers is not None:
            found = answered(interview, read_text(answers).splitlines(), str(answers))
        else:
            from rich.console import Console

            found = converse(interview, typed(), Console(highlight=False))
    except Stopped:
        typer.echo("nightledger: stopped; nothing was written", err=True)
        raise typer.Exit(EXIT_STOPPED) from None
    write_whole(path, job_text(found))
    load_job(path)
    typer.echo(f"Job file: {path}  (change it, then: nightledger trip {path})")


@app.command()
def trip(
    job: JobPath,
    out: Out = REPORTS,
    json: Json = None,
    csv: Csv = False,
    require: Annotated[
        Require | None,
        typer.Option("--require", help="Exit with code 1 unless every trip is at least this."),
    ] = None,
    decide: Annotated[
        bool,
        typer.Option("--decide", help="Add panels, levers and living rules to the report."),
    ] = False,
) -> None:
    """Run every trip of a job and write the client's report.

    Example: nightledger trip job.toml --csv --require ample
    """
    result = _run_trips(job, out, json, csv=csv, decide=decide)
    if require is not None:
        met = {"ample": ("ample",), "tight": ("ample", "tight")}[require.value]
        missed = [trip.name for trip in result.trips if trip.verdict not in met]
        for name in missed:
            typer.echo(f"nightledger: {name} is not {require.value}", err=True)
        if missed:
            raise typer.Exit(EXIT_NOT_MET)


@app.command()
def sky(
    place: Annotated[
        str, typer.Argument(metavar="PLACE", help='A town, "Moab, UT", or a "38.57, -109.55".')
    ],
    file: Annotated[
        Path | None,
        typer.Option("--file", metavar="FILE", help="Show a weather file beside the climate."),
    ] = None,
    out: Out = REPORTS,
    json: Json = None,
) -> None:
    """Sun, temperature and daylight of a place, month by month.

    Example: nightledger sky "Moab, UT"
    """
    import datetime as dt

    from rich.console import Console

    from sim import __version__
    from sim.job.places import find_place

    found = find_place(place)
    from sim.ledger.almanac import climate_almanac, file_almanac
    from sim.report.almanac import print_almanac, sky_json
    from sim.report.almanac_page import render_almanac
    from sim.report.output import file_stem, write_whole
    from sim.report.tables import json_text

    almanacs = (climate_almanac(found), *([file_almanac(file)] if file else []))
    # Where people think in Fahrenheit the table does too.
    print_almanac(found, almanacs, Console(highlight=False), us_units=found.country == "US")
    page = render_almanac(found, almanacs, written=dt.date.today(), version=__version__)
    typer.echo(f"Report: {write_whole(out / f'sky-{file_stem(found.label)}.html', page)}")
    if json is not None:
        write_whole(json, json_text(sky_json(found, almanacs)))
        typer.echo(f"        {json}")


@app.command()
def panels(
    job: JobPath,
    up_to: Annotated[
        int | None,
        typer.Option("--up-to", metavar="N", help="Try so many panels, not what fits the roof."),
    ] = None,
    out: Out = REPORTS,
    json: Json = None,
    jobs: Jobs = None,
) -> None:
    """How many panels: from none to as many as fit, over all trips.

    Example: nightledger panels job.toml
    """
    from rich.console import Console

    from sim.job.file import load_job

    found = load_job(job)
    from sim import decide
    from sim.report import decision_page, decisions, terminal
    from sim.report.output import expect_writable

    expect_writable(out)
    with terminal.progress_bar("Trying the panels") as progress:
        chosen = decide.panels(found, up_to=up_to, jobs=_threads(jobs), progress=progress)
    us_units = found.settings.units == "us"
    section = decision_page.panels_section(found, chosen)
    data = decisions.panels_json(chosen)
    written = _write_decision(job, found, section, data, out, json)
    decisions.print_panels(chosen, Console(highlight=False), us_units=us_units)
    _say_written(written)


@app.command()
def levers(job: JobPath, out: Out = REPORTS, json: Json = None, jobs: Jobs = None) -> None:
    """Which fix: one change at a time, and the best two together.

    Example: nightledger levers job.toml
    """
    from rich.console import Console

    from sim.job.file import load_job

    found = load_job(job)
    from sim import decide
    from sim.report import decision_page, decisions, terminal
    from sim.report.output import expect_writable

    expect_writable(out)
    with terminal.progress_bar("Pulling the levers") as progress:
        tried = decide.levers(found, jobs=_threads(jobs), progress=progress)
    section = decision_page.levers_section(tried)
    written = _write_decision(job, found, section, decisions.levers_json(tried), out, json)
    decisions.print_levers(tried, Console(highlight=False))
    _say_written(written)


@app.command()
def calendar(
    job: JobPath,
    trip: Annotated[
        str | None,
        typer.Option("--trip", metavar="NAME", help="Which trip; the start of its name will do."),
    ] = None,
    out: Out = REPORTS,
    json: Json = None,
    jobs: Jobs = None,
) -> None:
    """The same trip started in every week of the year.

    Example: nightledger calendar job.toml --trip January
    """
    from rich.console import Console

    from sim.job.file import load_job

    found = load_job(job)
    from sim import decide
    from sim.report import decision_page, decisions, terminal
    from sim.report.output import expect_writable

    expect_writable(out)
    with terminal.progress_bar("Going round the year") as progress:
        year = decide.calendar(found, trip, jobs=_threads(jobs), progress=progress)
    section = decision_page.calendar_section(year)
    written = _write_decision(job, found, section, decisions.calendar_json(year), out, json)
    decisions.print_calendar(year, Console(highlight=False))
    _say_written(written)


@app.command()
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

    from rich.console import Console

    from sim import __version__
    from sim.job.file import load_job

    found = load_job(job)
    from sim.decide import wiring as check_wiring
    from sim.report import wiring_sheet
    from sim.report.output import file_stem, write_whole
    from sim.report.tables import json_text

    sheet = check_wiring(found)
    page = wiring_sheet.render_wiring(sheet, written=dt.date.today(), version=__version__)
    stem = f"{file_stem(job.stem)}-wiring"
    written = [write_whole(out / f"{stem}.html", page)]
    if json is not None:
        written.append(write_whole(json, json_text(wiring_sheet.wiring_json(sheet))))
    if csv:
        files = wiring_sheet.wiring_csv(sheet, stem)
        written += [write_whole(out / name, text) for name, text in files.items()]
    wiring_sheet.print_sheet(sheet, Console(highlight=False))
    _say_written(written)


@app.command()
def check(job: JobPath, json: Json = None) -> None:
    """Check a job file and list everything that is wrong with it.

    Example: nightledger check job.toml
    """
    from sim.job.file import load_job

    faults: tuple[Fault, ...] = ()
    try:
        found = load_job(job)
    except JobError as error:
        faults = error.faults
    if json is not None:
        from sim.report.output import write_whole
        from sim.report.tables import faults_json, json_text

        write_whole(json, json_text(faults_json(faults)))
    if faults:
        raise JobError(*faults)
    trips = ", ".join(
        f"{trip.name} ({sum(s.nights for s in trip.stops)} nights)" for trip in found.trips
    )
    typer.echo(f"{job}: in order. {trips}.")


@app.command()
def shelf(
    name: Annotated[
        str | None, typer.Argument(metavar="[NAME]", help="A profile to show whole.")
    ] = None,
    json: Json = None,
) -> None:
    """List the profiles that come with the program, or show one whole.

    Example: nightledger shelf fridge-dc
    """
    from rich.console import Console

    from sim.job.shelf import everything, find
    from sim.report import terminal
    from sim.report.output import write_whole
    from sim.report.tables import json_text, shelf_json

    profiles = everything() if name is None else find(name)
    if json is not None:
        write_whole(json, json_text(shelf_json(profiles)))
    console = Console(highlight=False)
    if name is None:
        terminal.print_shelf(profiles, console)
    else:
        for profile in profiles:
            terminal.print_profile(profile, console)


@app.command()
def doctor(json: Json = None) -> None:
    """Look at versions, data tables and report writing.

    Example: nightledger doctor
    """
    from dataclasses import asdict

    from rich.console import Console

    from sim.report.doctor import examine, print_findings
    from sim.report.output import write_whole
    from sim.report.tables import json_text

    findings = examine()
    print_findings(findings, Console(highlight=False))
    if json is not None:
        write_whole(json, json_text({"findings": [asdict(finding) for finding in findings]}))
    if not all(finding.ok for finding in findings):
        raise typer.Exit(EXIT_BAD_INPUT)


def _decided(job: Job) -> tuple[Section, ...]:
    """All decisions that belong into the client's report."""
    from sim import decide
    from sim.report import decision_page
    from sim.report.terminal import progress_bar

    threads, sections = _threads(None), []
    if job.panels:
        with progress_bar("Trying the panels") as progress:
            chosen = decide.panels(job, jobs=threads, progress=progress)
        sections.append(decision_page.panels_section(job, chosen))
    with progress_bar("Pulling the levers") as progress:
        sections.append(
            decision_page.levers_section(decide.levers(job, jobs=threads, progress=progress))
        )
    with progress_bar("Counting the nights") as progress:
        rules = decide.living_rules(job, jobs=threads, progress=progress)
    return (*sections, decision_page.living_section(rules))


def _threads(jobs: int | None) -> int:
    import os

    # More share one interpreter's lock and gain nothing.
    return jobs or min(os.cpu_count() or 1, 2)


def _write_decision(
    file: Path, job: Job, section: Section, data: dict[str, Any], out: Path, json: Path | None
) -> list[Path]:
    """Write a decision's page and, if asked for, its numbers."""
    import datetime as dt

    from sim import __version__
    from sim.report.decision_page import render_decision
    from sim.report.output import file_stem, write_whole
    from sim.report.tables import json_text

    page = render_decision(job, (section,), written=dt.date.today(), version=__version__)
    written = [write_whole(out / f"{file_stem(file.stem)}-{section.key}.html", page)]
    if json is not None:
        written.append(write_whole(json, json_text(data)))
    return written


def _run_trips(
    job_file: Path, out: Path, json: Path | None, *, csv: bool, decide: bool = False
) -> Result:
    """Load, simulate, print and write; what `demo` and `trip` share."""
    import datetime as dt

    from rich.console import Console

    from sim import __version__
    from sim.job.file import load_job

    job = load_job(job_file)
    from sim.ledger.simulate import simulate
    from sim.report import tables, terminal
    from sim.report.output import expect_writable, file_stem, write_whole
    from sim.report.page import render_page

    expect_writable(out)
    with terminal.progress_bar("Running the trips") as progress:
        result = simulate(job, progress=progress)
    sections = _decided(job) if decide else ()
    page = render_page(result, written=dt.date.today(), version=__version__, sections=sections)
    stem = file_stem(job_file.stem)
    written = [write_whole(out / f"{stem}.html", page)]
    if json is not None:
        written.append(write_whole(json, tables.json_text(tables.trip_json(result))))
    if csv:
        files = tables.csv_files(result, stem)
        written += [write_whole(out / name, text) for name, text in files.items()]
    terminal.print_result(result, Console(highlight=False))
    _say_written(written)
    return result


def _say_written(paths: list[Path]) -> None:
    typer.echo(f"Report: {paths[0]}")
    for path in paths[1:]:
        typer.echo(f"        {path}")


def run() -> None:
    """Entry point of the ``nightledger`` command."""
    # A builder's terminal may not speak UTF-8; better a replaced sign than a stop.
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    app()
