"""Commands of a workshop with many customers: sketch, book, compare."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sim.cli.ends import EXIT_BAD_INPUT, EXIT_STOPPED
from sim.cli.front import REPORTS, Json, Out, say_written
from sim.cli.usage import whole_number
from sim.errors import Fault, OutputError, printable

if TYPE_CHECKING:
    from sim.decide.compare import State
    from sim.decide.sketch import Sketch
    from sim.interview.draft import Answers


def sketch(
    place: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="PLACE",
            help='A town, "Moab, UT", or a coordinate; left out, five questions are asked.',
        ),
    ] = None,
    month: Annotated[
        str,
        typer.Option(
            metavar="MONTH", help="By name or number; left out: January, in the south July."
        ),
    ] = "",
    people: Annotated[str, typer.Option(metavar="N", help="2 when left out.")] = "",
    nights: Annotated[
        str, typer.Option(metavar="N", help="In a row, parked; 7 when left out.")
    ] = "",
    has: Annotated[
        str,
        typer.Option(
            metavar="LIST",
            help="What is aboard besides lights, pump, phones and alarm: fridge,laptops,kettle.",
        ),
    ] = "",
    save: Annotated[
        Path | None,
        typer.Option(metavar="FOLDER", help="Write the job file behind the answer."),
    ] = None,
    json: Json = None,
) -> None:
    """The two-minute answer: how many panels, how much battery.

    Example: nightledger sketch "Moab, UT" --month january --has fridge,laptops,furnace
    """
    from sim.interview.sketch import from_flags
    from sim.report.data.export import json_text
    from sim.report.data.output import settle
    from sim.report.terminal.grid import Looks, print_table
    from sim.report.terminal.lines import print_list, screen
    from sim.report.words.sketch_words import sketch_json, sketch_lines, sketch_table

    path = None if save is None else _new_job(save)
    outputs = settle(job=path, data=json)
    if place:
        said = {"place": " ".join(place), "month": month, "people": people, "nights": nights}
        short = from_flags(said | {"has": has})
    else:
        short = _asked()
    customer = "" if save is None else printable(save.resolve().name, 100)
    found, job = _sketched(short, customer)
    print_list(sketch_lines(found), screen())
    heads, rows = sketch_table(found)
    print_table(heads, rows, screen(), Looks(figures=range(1, len(heads)), gap=1))
    outputs.write(data=json_text(sketch_json(found)), job=job)
    if path is not None:
        shown = printable(str(path))
        typer.echo(f"Job file: {shown}  (change it, then: nightledger trip {shown})")


def _new_job(folder: Path) -> Path:
    """The job file to write into a folder, which must not be there yet."""
    from sim.report.data.names import file_stem

    path = folder / f"{file_stem(folder.resolve().name)}.toml"
    if path.exists():
        rule = "is there already; name another folder"
        raise OutputError(Fault(rule, file=printable(str(path))))
    return path


def _asked() -> Answers:
    """The short answers, asked for in the terminal."""
    from sim.interview.draft import Interview, Stopped
    from sim.interview.sketch import sketch_questions
    from sim.interview.terminal import converse, typed
    from sim.report.terminal.lines import screen

    try:
        return converse(Interview(sketch_questions), typed(), screen())
    except Stopped:
        typer.echo("nightledger: stopped; nothing was written", err=True)
        raise typer.Exit(EXIT_STOPPED) from None


def _sketched(short: Answers, customer: str) -> tuple[Sketch, str]:
    """What the short answers come to, and the text of the job file with the best build."""
    import datetime as dt
    from tempfile import TemporaryDirectory

    from sim import decide
    from sim.interview.job_text import job_text
    from sim.interview.sketch import whole_answers
    from sim.job.reading.load import load_job

    today = dt.date.today()

    def text(panels: int, batteries: int) -> str:
        build = {"panels": panels, "batteries": batteries}
        return job_text(whole_answers(short, today, **build, customer=customer))

    with TemporaryDirectory() as folder:
        draft = Path(folder) / "sketch.toml"
        draft.write_text(text(1, 1), "utf-8")
        found = decide.sketch(load_job(draft))
    return found, text(found.best.panels, found.best.batteries)


def compare(
    old: Annotated[
        Path, typer.Argument(metavar="OLD", help="A job file, or a promise kept by trip --keep.")
    ],
    new: Annotated[Path, typer.Argument(metavar="NEW", help="A job file, or a later promise.")],
    out: Out = REPORTS,
    json: Json = None,
) -> None:
    """What changed between two job files, or since a promise.

    Example: nightledger compare reports/smith-promise.json smith.toml
    """
    import datetime as dt

    from sim import __version__, decide
    from sim.report.data.export import json_text
    from sim.report.data.names import file_stem
    from sim.report.data.output import owner_of, settle
    from sim.report.page.compare_page import render_comparison
    from sim.report.terminal.answer import print_alarm
    from sim.report.terminal.lines import print_list, screen
    from sim.report.words.compare_words import comparison_json, comparison_lines, medical

    outputs = settle(
        page=out / f"{file_stem(new.stem)}-compare.html",
        data=json,
        owner=owner_of("compare", new, out),
        inputs=(old, new),
    )
    found = decide.compare(_state(old), _state(new))
    page = render_comparison(found, written=dt.date.today(), version=__version__)
    written = outputs.write(page=page, data=json_text(comparison_json(found)))
    print_alarm(medical(found), screen())
    print_list(comparison_lines(found), screen())
    say_written(written)


def _state(path: Path) -> State:
    """A job as it was promised, or as it is now."""
    from sim.report.data.promise import is_promise, read_promise

    if is_promise(path):
        return read_promise(path)
    from sim import __version__
    from sim.decide.compare import state_of
    from sim.job.reading.load import load_job
    from sim.ledger.simulate import simulate
    from sim.report.terminal.answer import progress_bar

    job = load_job(path)
    with progress_bar(f"Running {printable(path.name, 40)}") as progress:
        return state_of(simulate(job, lean=True, progress=progress), __version__)


def book(
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", help="Where the jobs are, in it or below it.")
    ],
    run: Annotated[
        bool, typer.Option("--run", help="Run every job that changed since its last run.")
    ] = False,
    out: Out = REPORTS,
    json: Json = None,
    jobs: Annotated[
        int | None,
        typer.Option(
            "--jobs",
            metavar="N",
            parser=whole_number("--jobs", 1, 60),
            help="How many jobs run side by side, up to 60; left out: one for each core.",
        ),
    ] = None,
) -> None:
    """All jobs below a folder: their verdicts, and which are stale.

    Example: nightledger book customers --run
    """
    import datetime as dt
    import os

    from sim import __version__
    from sim.book import job_files, look, run_stale
    from sim.report.data.book_record import INDEX, RECORD, book_json, read_record, record_json
    from sim.report.data.export import json_text
    from sim.report.data.output import owner_of, settle
    from sim.report.terminal.answer import progress_bar
    from sim.report.terminal.book_table import print_book
    from sim.report.terminal.lines import screen

    inputs = job_files(folder)
    record = read_record(out)
    outputs = settle(data=json, inputs=inputs)
    lines = look(folder, out, record, __version__)
    console = screen()
    if not run:
        print_book(lines, console)
    else:
        from sim.report.page.book_page import render_book

        page = out / INDEX
        owner = owner_of("book", folder, out)
        book_files = settle(page=page, data=out / RECORD, owner=owner, inputs=inputs)
        with progress_bar("Running the jobs") as progress:
            processes = jobs or os.cpu_count() or 1
            lines = run_stale(
                lines, folder, out, __version__, processes=processes, progress=progress
            )
        index = render_book(lines, written=dt.date.today(), version=__version__)
        written = book_files.write(page=index, data=json_text(record_json(lines)))
        print_book(lines, console)
        say_written(written)
    outputs.write(data=json_text(book_json(lines)))
    if any(line.error is not None for line in lines):
        raise typer.Exit(EXIT_BAD_INPUT)
