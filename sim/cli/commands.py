"""All commands of the command line, in the order in which help lists them."""

from __future__ import annotations

from sim.cli import about, choices, trips
from sim.cli.front import app

__all__ = ["app"]

# As a job goes, from the first talk on.
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
