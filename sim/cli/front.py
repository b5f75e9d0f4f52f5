"""The command line's front: the application, its errors, and the options commands share."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from sim.cli.ends import ends_clearly
from sim.cli.usage import as_fault, no_such_command, whole_number
from sim.errors import printable

_NEGATIVE = re.compile(r"-[.0-9]")
# Headings of the help, each with its commands.
GROUPS: dict[str, list[str]] = {}


class _Commands(TyperGroup):
    """Commands that end in a sentence and an exit code, whatever happens."""

    def make_context(self, info_name: Any, args: list[str], *rest: Any, **more: Any) -> Any:
        # A coordinate in the south is no option: a blank before it keeps it from being one.
        args = [f" {arg}" if _NEGATIVE.match(arg) else arg for arg in args]
        # A terminal that does not know its width says 0, and nothing would be printed in that.
        if os.environ.get("COLUMNS") == "0":
            del os.environ["COLUMNS"]
        with ends_clearly():
            return super().make_context(info_name, args, *rest, **more)

    def invoke(self, ctx: Any) -> Any:
        with ends_clearly():
            return super().invoke(ctx)

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        try:
            return super().parse_args(ctx, args)
        except Exception as error:
            raise as_fault(error, self, ctx) from None

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        if self.get_command(ctx, args[0]) is None and not args[0].startswith("-"):
            raise no_such_command(args[0], self.commands)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        widest = max(map(len, self.commands))
        for heading, names in GROUPS.items():
            with formatter.section(heading):
                limit = formatter.width - 6 - widest
                rows = [
                    (name.ljust(widest), self.commands[name].get_short_help_str(limit))
                    for name in names
                ]
                formatter.write_dl(rows)


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
# More threads wait for one another's turn at the interpreter: the demo's decisions took a tenth
# longer on two, and half again as much of the processors.
ONE_THREAD = 1
Jobs = Annotated[
    int,
    typer.Option(
        "--jobs",
        metavar="N",
        parser=whole_number("--jobs", 1, 64),
        help="Threads, up to 64; the numbers stay the same.",
    ),
]
Full = Annotated[
    bool, typer.Option("--full", help="Print what experts ask too: all rows, how sure, bounds.")
]
REPORTS = Path("reports")


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


def say_written(paths: list[Path]) -> None:
    """Say where the report lies, and what else was written."""
    typer.echo(f"Report: {printable(str(paths[0]), 1000)}")
    for path in paths[1:]:
        typer.echo(f"        {printable(str(path), 1000)}")
