"""How a command ends: one sentence and an exit code for each way, never a traceback."""

from __future__ import annotations

import os
import sys
import traceback
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import typer

from sim.errors import NightledgerError, printable

EXIT_NOT_MET, EXIT_BAD_INPUT, EXIT_STOPPED = 1, 2, 130
# A fault of the program itself, as in sysexits.h; the output's reader is gone, as a shell
# tells it (128 and the number of the signal).
EXIT_BROKEN, EXIT_NO_READER = 70, 141
# Set to anything, a fault of the program shows its traceback too.
TRACEBACK = "NIGHTLEDGER_TRACEBACK"


@contextmanager
def ends_clearly() -> Iterator[None]:
    """Around a command: whatever ends it becomes a sentence and an exit code.

    Raises
    ------
    typer.Exit
    """
    try:
        try:
            yield
        finally:
            # A full disk may refuse buffered output too; better here than at the end.
            if sys.stdout is not None:
                sys.stdout.flush()
    except NightledgerError as error:
        for fault in error.faults:
            typer.echo(f"nightledger: {fault}", err=True)
        raise typer.Exit(EXIT_BAD_INPUT) from None
    except KeyboardInterrupt:
        typer.echo("nightledger: stopped; no file was left half written", err=True)
        raise typer.Exit(EXIT_STOPPED) from None
    except (BrokenPipeError, SystemExit):
        # Whoever read the output has seen enough. The library for tables has its own way to
        # leave then; nothing else here calls for an exit of Python's own.
        _mute()
        raise typer.Exit(EXIT_NO_READER) from None
    except OSError as error:
        # The output goes to a full disk, or the like; files have errors of their own.
        _mute()
        typer.echo(f"nightledger: the system refused: {error.strerror or error}", err=True)
        raise typer.Exit(EXIT_BAD_INPUT) from None
    except MemoryError:
        rule = "this machine has not enough memory for it; take fewer draws or longer steps"
        typer.echo(f"nightledger: {rule}", err=True)
        raise typer.Exit(EXIT_BAD_INPUT) from None
    except Exception as error:
        # The command line's own errors bring their code and their text.
        if hasattr(error, "exit_code") or isinstance(error, typer.Abort):
            raise
        typer.echo(f"nightledger: {_broken(error)}", err=True)
        raise typer.Exit(EXIT_BROKEN) from None


def _broken(error: Exception) -> str:
    """A sentence on a fault of the program itself."""
    if os.environ.get(TRACEBACK):
        traceback.print_exception(error)
    where = ""
    if frames := traceback.extract_tb(error.__traceback__):
        where = f" in {Path(frames[-1].filename).name}, line {frames[-1].lineno}"
    what = printable(f"{type(error).__name__}: {error}".rstrip(": "), 200)
    return (
        f"a fault of the program, not of your input ({what}{where}); please report it with the "
        f"job file. {TRACEBACK}=1 shows more"
    )


def _mute() -> None:
    """Send what is still to be printed nowhere; else Python complains when it exits."""
    with suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
