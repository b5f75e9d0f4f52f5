"""Rules between the wiring section and the rest of a job."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from sim.errors import join_or, shown
from sim.job.model.wiring import CableEntry
from sim.job.reading.toml_lines import Path
from sim.job.rules.findings import Finding

if TYPE_CHECKING:
    from sim.job.model.job import Job


def wiring_findings(job: Job) -> Iterator[Finding]:
    """What is wrong with a job's wiring section.

    Yields
    ------
    path, value, rule
        As the other rules of a job do.
    """
    plan = job.wiring
    if plan is None:
        return
    for name in type(plan).model_fields:
        cable = getattr(plan, name)
        if isinstance(cable, CableEntry):
            yield from _cable(cable, ("wiring", name))
    names = list(dict.fromkeys(item.name for item in job.appliances if item.supply == "dc"))
    seen: set[str] = set()
    for index, load in enumerate(plan.loads):
        path: Path = ("wiring", "loads", index)
        yield from _cable(load, path)
        if load.name not in names:
            known = join_or(shown(name, 40) for name in names) or "none in this job"
            yield (*path, "name"), load.name, f"no DC appliance has this name; there is {known}"
        if load.name in seen:
            yield (*path, "name"), load.name, "this appliance has two cables here; keep one"
        seen.add(load.name)


def _cable(cable: CableEntry, path: Path) -> Iterator[Finding]:
    if cable.cable_awg is not None and cable.cable_mm2 is not None:
        yield (*path, "cable_mm2"), cable.cable_mm2, "give cable_awg or cable_mm2, not both"
    if cable.parallel > 1 and cable.cable_awg is None and cable.cable_mm2 is None:
        rule = "say of which cable: give cable_awg or cable_mm2 too"
        yield (*path, "parallel"), cable.parallel, rule
