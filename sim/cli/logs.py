"""Commands on the logs of battery monitors: fit."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sim.cli.front import REPORTS, Json, Out, say_written
from sim.errors import Fault, LogError, printable

if TYPE_CHECKING:
    from sim.job.model.job import Job

# In place of JOB and LOG: those that come with the program.
DEMO = "demo"
# What only a log is called.
_LOGS = {".csv", ".tsv", ".xlsx", ".xlsm", ".xls", ".ods"}


def fit(
    job: Annotated[
        Path,
        typer.Argument(metavar="JOB", help="The job file, a promise kept by trip --keep, or demo."),
    ],
    log: Annotated[
        Path | None,
        typer.Argument(metavar="LOG", help="The battery monitor's log: CSV, text or .xlsx."),
    ] = None,
    column: Annotated[
        list[str] | None,
        typer.Option(
            "--column",
            metavar='WHAT="HEADING"',
            help="Say what a column is: time, soc, current, power, voltage, solar, "
            "solar_current, load, load_current, temperature.",
        ),
    ] = None,
    weather: Annotated[
        Path | None,
        typer.Option("--weather", metavar="FILE", help="The weather as it was, from a file."),
    ] = None,
    save: Annotated[
        Path | None,
        typer.Option("--save", metavar="FILE", help="Write the job with what was seen."),
    ] = None,
    out: Out = REPORTS,
    json: Json = None,
) -> None:
    """Hold a battery monitor's log against the promise.

    Example: nightledger fit job.toml log.csv --column soc="Charge"
    """
    from sim.report.data.fitted_job import expect_job_file

    asked = _asked(column or ())
    # A folder of that name is none to read.
    is_demo = str(job) == DEMO and not job.is_file()
    if is_demo and log is not None:
        rule = f"there is no such file; for the job and log of the program: nightledger fit {DEMO}"
        raise LogError(Fault(rule, file=DEMO))
    job, log = _demo() if is_demo else (job, log)
    if log is None:
        raise LogError(Fault("name the log too: nightledger fit JOB LOG"))
    if job.suffix.lower() in _LOGS:
        rule = "is a log by its name; the job file comes first: nightledger fit JOB LOG"
        raise LogError(Fault(rule, file=printable(str(job), 1000)))
    if save is not None:
        expect_job_file(job)
    _fit(job, _job(job, weather), log, asked, save, out, json)


def _fit(
    job: Path,
    found_job: Job,
    log: Path,
    asked: dict[str, str],
    save: Path | None,
    out: Path,
    json: Path | None,
) -> None:
    """Read the log, fit, print and write."""
    import datetime as dt

    from sim import __version__
    from sim.fit.fit import fit as fitted
    from sim.log.reading import read_log
    from sim.report.data.export import json_text
    from sim.report.data.fit_json import fit_json
    from sim.report.data.fitted_job import fitted_job_text
    from sim.report.data.names import report_stem, weather_files
    from sim.report.data.output import owner_of, settle
    from sim.report.page.fit_page import render_fit
    from sim.report.terminal.answer import progress_bar
    from sim.report.terminal.fit_answer import print_fit
    from sim.report.terminal.lines import screen

    stem = report_stem(job, found_job.customer)
    outputs = settle(
        page=out / f"{stem}-fit.html",
        data=json,
        job=save,
        owner=owner_of("fit", job, out),
        inputs=(job, log, *weather_files(found_job)),
    )
    with progress_bar("Reading the log") as progress:
        read = read_log(log, asked)
        found = fitted(found_job, read, progress)
    saved = None
    if save is not None:
        saved = fitted_job_text(job, found, dt.date.today())
    written = outputs.write(
        page=render_fit(found, written=dt.date.today(), version=__version__),
        data=json_text(fit_json(found)),
        job=saved,
    )
    print_fit(found, screen())
    say_written(written)


def _demo() -> tuple[Path, Path]:
    """The job file and the log that come with the program."""
    from sim.resources import profiles_dir

    folder = profiles_dir() / "logs"
    return folder / "demo.toml", folder / "demo.csv"


def _asked(column: list[str] | tuple[str, ...]) -> dict[str, str]:
    """Headings by what they are."""
    asked = {}
    for text in column:
        what, sign, heading = text.partition("=")
        if not sign or not heading.strip():
            rule = 'write what it is and its heading, such as soc="State of charge"'
            raise LogError(Fault(rule, key="--column", value=text))
        asked[what.strip()] = heading.strip().strip('"')
    return asked


def _job(path: Path, weather: Path | None) -> Job:
    """The job of a file or of a kept promise, under another weather if one is given."""
    from sim.job.model.changes import with_values
    from sim.job.reading.load import load_job
    from sim.report.data.promise import is_promise, promised_job

    job = promised_job(path) if is_promise(path) else load_job(path)
    if weather is None:
        return job
    settings = with_values(job.settings, {"weather": str(weather.resolve())})
    # It takes the place of what single stops name too.
    trips = tuple(
        with_values(
            trip, {"stops": tuple(with_values(stop, {"weather": None}) for stop in trip.stops)}
        )
        for trip in job.trips
    )
    return with_values(job, {"settings": settings, "trips": trips})
