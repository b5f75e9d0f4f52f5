"""The command line's front: the application, its errors, and the options commands share."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from sim.errors import NightledgerError

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
    typer.echo(f"Report: {paths[0]}")
    for path in paths[1:]:
        typer.echo(f"        {path}")
