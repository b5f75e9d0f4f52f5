"""Commands that run a job: demo, begin, trip, check."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sim.cli.ends import EXIT_NOT_MET, EXIT_STOPPED
from sim.cli.front import REPORTS, JobPath, Json, Out, say_written
from sim.cli.importing import importing
from sim.cli.usage import one_of
from sim.cli.writing import settle_job
from sim.errors import Fault, JobError, OutputError, printable

if TYPE_CHECKING:
    from sim.interview.draft import Answers, Interview
    from sim.job.model.job import Job, Trip
    from sim.ledger.results import Result
    from sim.second import Second

Csv = Annotated[
    bool,
    typer.Option("--csv", help="Write answers, and each trip's hours, days and ledger, as CSV."),
]


# The verdicts that meet a required one.
_MET_BY = {"ample": ("ample",), "tight": ("ample", "tight")}


@dataclass(frozen=True)
class Extras:
    """What a run of trips adds to report and answer on request: tables, the decisions, where the
    electricity goes, the kept promise, and what each design costs."""

    csv: bool = False
    decide: bool = False
    full: bool = False
    keep: bool = False
    prices: bool = False


def demo(out: Out = REPORTS, json: Json = None) -> None:
    """Write the demo job and its report; needs no input.

    Example: nightledger demo
    """
    from sim.job.reading.toml_errors import read_text
    from sim.job.schema import SCHEMA_FILE, SCHEMA_LINE, schema_text
    from sim.report.data.output import settle
    from sim.resources import profiles_dir

    text = SCHEMA_LINE + (profiles_dir() / "jobs" / "demo.toml").read_text("utf-8")
    path = out / "demo.toml"
    outputs = settle(job=path, data=out / SCHEMA_FILE)
    if path.exists() and read_text(path) != text:
        rule = (
            "is there already and no longer the demo as it comes; run it with: nightledger trip, "
            "or name another folder with --out"
        )
        raise OutputError(Fault(rule, file=printable(str(path))))
    outputs.write(job=text, data=schema_text())
    run_trips(path, out, json)
    typer.echo(
        f"Job file: {printable(str(path))}  (copy it, change it, then: nightledger trip FILE)"
    )


def begin(
    folder: Annotated[
        Path,
        typer.Argument(
            metavar="FOLDER",
            help="Where the job file goes, named after the folder; made when missing.",
        ),
    ],
    answers: Annotated[
        Path | None,
        typer.Option("--answers", metavar="FILE", help="Take the answers from a file, one a line."),
    ] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Replace a job file that is there already.")
    ] = False,
) -> None:
    """Ask about a customer and write a job file to go on from.

    Stopped with Ctrl-C, the answers so far are kept, and offered the next time.

    Example: nightledger begin customers/lindqvist
    """
    import datetime as dt
    from functools import partial

    from sim.interview.draft import Interview, Stopped, answered
    from sim.interview.job_text import job_text
    from sim.interview.kept import draft_file
    from sim.interview.questions import questions
    from sim.job.reading.load import load_job
    from sim.job.reading.toml_errors import read_text
    from sim.job.schema import SCHEMA_FILE, SCHEMA_LINE, schema_text
    from sim.report.data.names import file_stem
    from sim.report.data.output import settle
    from sim.report.words.numbers import counted

    path = folder / f"{file_stem(folder.resolve().name)}.toml"
    if path.exists() and not force:
        rule = "is there already; name another folder, or replace it with --force"
        raise OutputError(Fault(rule, file=printable(str(path))))
    read = () if answers is None else (answers,)
    outputs = settle(job=path, data=folder / SCHEMA_FILE, inputs=read)
    interview = Interview(partial(questions, today=dt.date.today()))
    left = 0
    if answers is None:
        found = _asked(interview, draft_file(path))
    else:
        try:
            found, left = answered(interview, read_text(answers).splitlines(), str(answers))
        except Stopped:
            raise _stopped("nothing was written") from None
    outputs.write(job=SCHEMA_LINE + job_text(found), data=schema_text())
    load_job(path)
    if answers is None:
        draft_file(path).unlink(missing_ok=True)
    shown = printable(str(path))
    typer.echo(f"Job file: {shown}  (change it, then: nightledger trip {shown})")
    if left:
        after = f"{counted(left, 'question')} after the last line of {printable(str(answers))}"
        typer.echo(f"By default: {after}.")


def _asked(interview: Interview, draft: Path) -> Answers:
    """Answers from the terminal; when it is stopped, those so far are kept in a draft."""
    from sim.interview.draft import BACK, Stopped
    from sim.interview.kept import draft_text, go_on, read_draft
    from sim.interview.terminal import KEEPS, OPENING, converse, typed
    from sim.report.data.parts import write_whole
    from sim.report.terminal.lines import screen
    from sim.report.words.numbers import counted

    console, lines = screen(), typed()
    replies = read_draft(draft)
    try:
        if replies and go_on(len(replies), lines, console):
            interview.resume(replies)
            kept = len(interview.answers)
            them = "it" if kept == 1 else "them"
            typer.echo(f"Kept: {counted(kept, 'answer')}; {BACK} goes to {them}.\n")
        return converse(interview, lines, console, f"{OPENING} {KEEPS}")
    except (KeyboardInterrupt, Stopped) as end:
        if not interview.answers or (isinstance(end, Stopped) and end.by_word):
            raise _stopped("nothing was written") from None
        write_whole({draft: draft_text(interview.replies)})
        raise _stopped(
            f"the answers so far are in {printable(str(draft))}; nightledger begin "
            f"{printable(str(draft.parent))} goes on from there"
        ) from None


def _stopped(what: str) -> typer.Exit:
    # The terminal may be gone: closing its window stops the program too.
    with suppress(OSError):
        typer.echo(f"nightledger: stopped; {what}", err=True)
    return typer.Exit(EXIT_STOPPED)


def trip(
    job: JobPath,
    out: Out = REPORTS,
    json: Json = None,
    csv: Csv = False,
    require: Annotated[
        str | None,
        typer.Option(
            "--require",
            metavar="VERDICT",
            parser=one_of("--require", _MET_BY),
            help="Exit with code 1 unless every trip is at least this: ample or tight.",
        ),
    ] = None,
    decide: Annotated[
        bool,
        typer.Option(
            "--decide", help="Add panels, levers, calendar and living rules to the report."
        ),
    ] = False,
    full: Annotated[
        bool, typer.Option("--full", help="Print where the electricity goes as well.")
    ] = False,
    keep: Annotated[
        bool,
        typer.Option("--keep", help="Keep the promise beside the report, for compare."),
    ] = False,
    prices: Annotated[
        bool, typer.Option("--prices", help="Show the client what each design costs.")
    ] = False,
) -> None:
    """Run every trip of a job and write the client's report.

    Example: nightledger trip job.toml --csv --require ample
    """
    extras = Extras(csv=csv, decide=decide, full=full, keep=keep, prices=prices)
    result, _ = run_trips(job, out, json, extras)
    if require is not None:
        missed = [trip.name for trip in result.trips if trip.verdict not in _MET_BY[require]]
        for name in missed:
            typer.echo(f"nightledger: {name} is not {require}", err=True)
        if missed:
            raise typer.Exit(EXIT_NOT_MET)


def check(job: JobPath, json: Json = None) -> None:
    """Check a job file: what is wrong with it, and what is odd.

    Example: nightledger check job.toml
    """
    import datetime as dt

    from sim.job.reading.load import load_job
    from sim.job.rules.remarks import Remark, remarks
    from sim.report.data.names import weather_files
    from sim.report.terminal.lines import print_list, screen
    from sim.report.words.drives import EstimatedDrive, drive_lines, estimated_drives

    faults: tuple[Fault, ...] = ()
    odd: tuple[Remark, ...] = ()
    drives: list[EstimatedDrive] = []
    inputs = [job]
    try:
        found = load_job(job)
        inputs += weather_files(found)
        odd = remarks(found, dt.date.today())
        drives = estimated_drives(found)
    except JobError as error:
        faults = error.faults
    if json is not None:
        from sim.report.data.export import check_json, json_text
        from sim.report.data.output import settle

        data = json_text(check_json(faults, odd, drives))
        settle(data=json, inputs=inputs).write(data=data)
    if faults:
        raise JobError(*faults)
    order = f"in order{', but look at these' if odd else ''}"
    lines = [f"{printable(str(job), 1000)}: {order}. {'; '.join(map(_briefly, found.trips))}."]
    lines += [f"  {remark}" for remark in odd]
    print_list(lines + drive_lines(drives, found.settings.units), screen())


def _briefly(trip: Trip) -> str:
    """``Weekend (2 nights)``."""
    from sim.report.words.numbers import counted, shortened

    return f"{shortened(trip.name)} ({counted(sum(stop.nights for stop in trip.stops), 'night')})"


def run_trips(
    job_file: Path, out: Path, json: Path | None, extras: Extras = Extras()
) -> tuple[Result, list[Path]]:
    """Load, simulate, print and write; what `demo`, `trip` and `watch` share. Returns the result
    and the files written, the page first."""
    from sim.cli.choices import begin_grid, second_process

    with second_process() as second:
        with importing():
            from sim.job.reading.load import load_job

        job = load_job(job_file)
        begin_grid(job, second, always=extras.decide)
        return _run(job_file, job, out, json, extras, second)


def _run(
    job_file: Path, job: Job, out: Path, json: Path | None, extras: Extras, second: Second
) -> tuple[Result, list[Path]]:
    """Simulate, print and write."""
    with importing():
        import datetime as dt

        from sim import __version__
        from sim.cli.choices import all_decided, what_may_be_tried
        from sim.decide.remedy import remedies
        from sim.job.rules.remarks import remarks
        from sim.ledger.simulate import simulate
        from sim.report.data import export
        from sim.report.data.decision_csv import ANSWER, answers_csv
        from sim.report.data.decision_json import grid_json
        from sim.report.data.promise import promise_text
        from sim.report.page.client import begun_page
        from sim.report.terminal import answer
        from sim.report.terminal.design_table import print_designs
        from sim.report.terminal.lines import screen
        from sim.report.words.promise_words import remedy_words
        from sim.trip.prepare import Skies

    tables = (ANSWER, *export.table_ends(job)) if extras.csv else ()
    outputs = settle_job(job_file, job, out, json, tables=tables, keep=extras.keep)
    skies = Skies()
    with answer.progress_bar("Running the trips") as progress:
        result = simulate(job, lean=True, skies=skies, progress=progress)
    with answer.progress_bar("Looking for what helps") as progress:
        mends = remedies(job, result, skies=skies, progress=progress)
    sections, decisions, chosen = all_decided(
        result, skies, decide=extras.decide, prices=extras.prices
    )
    begun = begun_page(
        result,
        written=(today := dt.date.today()),
        version=__version__,
        sections=sections,
        remedies=[remedy_words(mend) for mend in mends],
    )
    odd, stem = remarks(job, today), outputs.stem
    data = export.trip_json(result, mends) | {"remarks": export.remarks_json(odd)} | decisions
    grid = what_may_be_tried(result, skies, second, always=extras.decide)
    if grid is not None:
        data["what_if"] = grid_json(grid)
    page = begun.whole(grid)
    written = outputs.write(
        page=page,
        data=export.json_text(data),
        promise=promise_text(result, __version__, today) if extras.keep else None,
        tables=answers_csv(result, stem) | export.csv_files(result, stem) if extras.csv else None,
    )
    console = screen()
    answer.print_result(result, console, mends, full=extras.full)
    if chosen is not None:
        print_designs(chosen, console)
    answer.print_remarks(odd, console)
    say_written(written)
    return result, written
