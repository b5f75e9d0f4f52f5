"""The command line: parse, call, print, write. The rest of the program is imported inside the
commands, so that ``--help`` is quick."""

from __future__ import annotations

import gc
import sys
from typing import Any

__all__ = ["app", "run"]

_EXIT_STOPPED = 130


def run() -> None:
    """Entry point of the ``nightledger`` command."""
    from sim import stopping
    from sim.cli.importing import importing

    stopping.listen()
    try:
        from sim.cli.streams import speak

        # A builder's terminal may not speak UTF-8; better the nearest letter than a stop.
        speak()
        with importing():
            from sim.cli.commands import app

        app(prog_name="nightledger")
    except KeyboardInterrupt:  # while the command line itself was still being read
        print("nightledger: stopped; no file was left half written", file=sys.stderr)
        sys.exit(_EXIT_STOPPED)
    finally:
        stopping.hear_no_more()
        # All that is left goes with the process: nobody need look through it for garbage.
        gc.freeze()


def __getattr__(name: str) -> Any:
    """The application; read only when asked for, so that Ctrl-C works from the start."""
    if name == "app":
        from sim.cli.commands import app

        return app
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
