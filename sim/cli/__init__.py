"""The command line: parse, call, print, write. The rest of the program is imported inside the
commands, so that ``--help`` is quick."""

from __future__ import annotations

import sys

from sim.cli import about, choices, trips
from sim.cli.front import app

__all__ = ["app", "run"]

# In the order in which help lists them: as a job goes, from the first talk on.
COMMANDS = (
    trips.demo,
    trips.begin,
    trips.trip,
    choices.panels,
    choices.levers,
    choices.calendar,
    choices.wiring,
    trips.check,
    about.sky,
    about.shelf,
    about.doctor,
)
for command in COMMANDS:
    app.command()(command)


def run() -> None:
    """Entry point of the ``nightledger`` command."""
    # A builder's terminal may not speak UTF-8; better a replaced sign than a stop.
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    app()
