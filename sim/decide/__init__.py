"""Decisions: what to build, what to change, and whether a design is within its limits.

sim.decide.panels(job)          how many panels, and which number is the smallest that is ample
sim.decide.levers(job)          one change at a time, and the best two together
sim.decide.calendar(job, trip)  the same trip in every week of the year
sim.decide.living_rules(job)    what the charge at sunset means; what a dull day costs; habits
sim.decide.designs(job)         whole alternatives of the job, each over all trips
sim.decide.grid(job)            panels x batteries x driving x trips, for a page to show
sim.decide.handover(job)        facts for the sheet that stays in the van
sim.decide.sketch(job)          panels x battery over the first trip, and the smallest ample one
sim.decide.compare(old, new)    what changed from one state of a job to another
sim.decide.wiring(job)          currents, voltages, cables and fuses inside their limits

The public functions share their names with the modules they come from, so they are imported here
at once: `sim.decide.panels` is always the function.
"""

from __future__ import annotations

from sim.decide.calendar import calendar
from sim.decide.compare import compare
from sim.decide.designs import designs
from sim.decide.handover import handover
from sim.decide.levers.effects import levers
from sim.decide.living_rules import living_rules
from sim.decide.panels.counts import panels
from sim.decide.sketch import sketch
from sim.decide.what_if import grid
from sim.decide.wiring.check import wiring

__all__ = [
    "calendar",
    "compare",
    "designs",
    "grid",
    "handover",
    "levers",
    "living_rules",
    "panels",
    "sketch",
    "wiring",
]
