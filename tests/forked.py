"""A command of the program in a forked process: what is imported once need not be again."""

from __future__ import annotations

import contextlib
import gc
import os
import signal
import sys
import time
import traceback
import warnings
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

# All that the commands import when they run.
import sim.book
import sim.cli.commands
import sim.decide
import sim.fit.fit
import sim.interview.questions
import sim.ledger.almanac
import sim.ledger.simulate
import sim.report.page.book_page
import sim.report.page.client
import sim.report.page.decision_sections
import sim.report.page.fit_page
import sim.report.page.wiring_page

# No code of the program's own: the child did not come as far as to end by itself.
FELL = 99
_LONGEST_S = 120.0


def heed_stops() -> None:
    """What starts the tests may ignore stops, as a shell does for what runs behind it."""
    for name in ("SIGINT", "SIGHUP"):
        signal.signal(getattr(signal, name), signal.SIG_DFL)


def start(arguments: Sequence[str], folder: Path, before: Callable[[], None]) -> int:
    """Start a command in a folder, after something was done in its process; the process's id.

    What it says goes to the files `stdout` and `stderr` in the folder.
    """
    with warnings.catch_warnings():
        # A test runner has threads of its own, which the child never asks for anything.
        warnings.simplefilter("ignore", DeprecationWarning)
        child = os.fork()
    if child == 0:
        _run(arguments, folder, before)
    return child


def ended(child: int, folder: Path) -> tuple[int, str, str]:
    """Exit code of a command that is about to end, and what it said on stdout and on stderr."""
    until = time.monotonic() + _LONGEST_S
    while not (found := os.waitpid(child, os.WNOHANG))[0]:
        if time.monotonic() > until:
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
            raise AssertionError("the command did not end")
        time.sleep(0.01)
    said = [(folder / name).read_text("utf-8") for name in ("stdout", "stderr")]
    return os.waitstatus_to_exitcode(found[1]), said[0], said[1]


def _stream(number: int) -> Any:
    """What a new interpreter makes of a stream; none where it is closed."""
    try:
        os.fstat(number)
    except OSError:
        return None
    return os.fdopen(number, "w", encoding="utf-8")


def _run(arguments: Sequence[str], folder: Path, before: Callable[[], None]) -> None:
    """The rest of a forked process: one command, as from a shell."""
    code = FELL
    try:
        # What the parent made is shared with it for as long as nobody looks at it.
        gc.freeze()
        os.chdir(folder)
        for number, name in ((1, "stdout"), (2, "stderr")):
            flags = os.O_WRONLY | os.O_CREAT | os.O_TRUNC
            os.dup2(os.open(folder / name, flags, 0o644), number)
        warnings.simplefilter("error")
        before()
        sys.stdin = None  # type: ignore[assignment]
        sys.stdout, sys.stderr = _stream(1), _stream(2)
        sys.argv = ["nightledger", *arguments]
        try:
            sim.cli.run()
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else 0
        for stream in (sys.stdout, sys.stderr):
            if stream is not None:
                stream.flush()
    except BaseException:
        code = FELL
        with contextlib.suppress(BaseException):
            traceback.print_exc(file=sys.stderr)
            sys.stderr.flush()
    finally:
        os._exit(code)
