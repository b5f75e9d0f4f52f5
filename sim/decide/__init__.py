"""Decisions: what to build, what to change, and whether a design is within its limits.

sim.decide.panels(job)          how many panels, and which number is the smallest that is ample
sim.decide.levers(job)          one change at a time, and the best two together
sim.decide.calendar(job, trip)  the same trip in every week of the year
sim.decide.living_rules(job)    what the charge at sunset means; what a dull day costs; habits
sim.decide.grid(job)            panels x batteries x driving x trips, for a page to show
sim.decide.wiring(job)          currents, voltages, cables and fuses inside their limits
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sim.decide.lever_effects import levers as levers
    from sim.decide.nights import living_rules as living_rules
    from sim.decide.panel_counts import panels as panels
    from sim.decide.what_if import grid as grid
    from sim.decide.wiring_check import wiring as wiring
    from sim.decide.year_round import calendar as calendar

__all__ = ["calendar", "grid", "levers", "living_rules", "panels", "wiring"]

_HOME = {
    "calendar": "year_round",
    "grid": "what_if",
    "levers": "lever_effects",
    "living_rules": "nights",
    "panels": "panel_counts",
    "wiring": "wiring_check",
}


def __getattr__(name: str) -> Any:
    """The decisions, imported when first asked for."""
    if name in _HOME:
        from importlib import import_module

        return getattr(import_module(f"sim.decide.{_HOME[name]}"), name)
    raise AttributeError(f"module 'sim.decide' has no attribute {name!r}")
