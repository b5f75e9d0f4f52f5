"""All commands of the command line, in the order in which help lists them."""

from __future__ import annotations

from sim.cli import about, choices, logs, trips, workshop
from sim.cli.front import GROUPS, app

__all__ = ["app"]

# As a builder's days go, from the first talk on.
COMMANDS = {
    "The first talk": (workshop.sketch, trips.begin),
    "The promise": (
        trips.check,
        trips.trip,
        choices.panels,
        choices.levers,
        choices.calendar,
        workshop.compare,
    ),
    "The build": (choices.wiring,),
    "After the handover": (logs.fit,),
    "Around it": (workshop.book, trips.demo, about.sky, about.shelf, about.doctor),
}
for heading, commands in COMMANDS.items():
    for command in commands:
        app.command()(command)
        GROUPS.setdefault(heading, []).append(command.__name__)
