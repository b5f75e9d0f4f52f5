"""All commands of the command line, in the order in which help lists them."""

from __future__ import annotations

from sim.cli import about, choices, logs, papers, trips, watch, workshop
from sim.cli.front import GROUPS, app
from sim.cli.usage import Command

__all__ = ["app"]

# In the order of a builder's work, from the first talk.
COMMANDS = {
    "The first talk": (workshop.sketch, trips.begin),
    "The promise": (
        trips.check,
        trips.trip,
        watch.watch,
        choices.panels,
        choices.levers,
        choices.calendar,
        workshop.compare,
        papers.quote,
    ),
    "The build": (choices.wiring,),
    "The handover": (papers.handover, logs.fit),
    "Around it": (workshop.book, trips.demo, about.sky, about.shelf, about.doctor),
}
for heading, commands in COMMANDS.items():
    for command in commands:
        app.command(cls=Command)(command)
        GROUPS.setdefault(heading, []).append(command.__name__)
