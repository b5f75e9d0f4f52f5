"""Commands of a workshop with many customers: sketch, book, compare."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sim.cli.ends import EXIT_STOPPED
from sim.cli.front import Json
from sim.errors import Fault, OutputError, printable


def sketch(
    place: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[PLACE]",
            help='A town, "Moab, UT", or a coordinate; left out, five questions are asked.',
        ),
    ] = None,
    month: Annotated[
        str, typer.Option(help="By name or number; left out: January, in the south July.")
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
        typer.Option(metavar="FOLDER", help="Write the job file that the answer stands for."),
    ] = None,
    json: Json = None,
) -> None:
    """The two-minute answer: how many panels, how much battery.

    Example: nightledger sketch "Moab, UT" --month january --has fridge,laptops,furnace
    """
    import datetime as dt
    from tempfile import TemporaryDirectory

    from sim.interview.draft import Interview, Stopped
    from sim.interview.job_text import job_text
    from sim.interview.sketch import from_flags, sketch_questions, whole_answers
    from sim.report.data.names import file_stem
    from sim.report.data.output import settle

    path = None
    if save is not None:
        path = save / f"{file_stem(save.resolve().name)}.toml"
        if path.exists():
            rule = "is there already; name another folder"
            raise OutputError(Fault(rule, file=printable(str(path))))
    outputs = settle(job=path, data=json)
    if place:
        said = {"place": " ".join(place), "month": month, "people": people, "nights": nights}
        short = from_flags(said | {"has": has})
    else:
        from rich.console import Console

        from sim.interview.terminal import converse, typed

        try:
            short = converse(Interview(sketch_questions), typed(), Console(highlight=False))
        except Stopped:
            typer.echo("nightledger: stopped; nothing was written", err=True)
            raise typer.Exit(EXIT_STOPPED) from None
    today = dt.date.today()

    def text(panels: int, batteries: int) -> str:
        who = printable(save.resolve().name, 100) if save is not None else ""
        build = {"panels": panels, "batteries": batteries}
        return job_text(whole_answers(short, today, **build, customer=who))

    from sim import decide
    from sim.job.reading.load import load_job
    from sim.report.data.export import json_text
    from sim.report.words.sketch_words import sketch_json, sketch_lines

    with TemporaryDirectory() as folder:
        draft = Path(folder) / "sketch.toml"
        draft.write_text(text(1, 1), "utf-8")
        found = decide.sketch(load_job(draft))
    for line in sketch_lines(found):
        typer.echo(printable(line, 400).rstrip())
    best = found.best
    outputs.write(data=json_text(sketch_json(found)), job=text(best.panels, best.batteries))
    if path is not None:
        shown = printable(str(path))
        typer.echo(f"Job file: {shown}  (change it, then: nightledger trip {shown})")
