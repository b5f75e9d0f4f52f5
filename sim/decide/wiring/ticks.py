"""What must be there and no figure can tell: the builder ticks it."""

from __future__ import annotations

from collections.abc import Iterator

from sim.decide.wiring.rows import Check, Status, Subject
from sim.job.model.job import Job
from sim.job.model.wiring import WiringPlan

# The key of the job, the part it is about, and what must be aboard for it to be asked.
_TICKS: tuple[tuple[Subject, str, str], ...] = (
    ("main_switch", "Battery", "always"),
    ("fuse_at_battery", "Battery", "always"),
    ("ac_dc_apart", "Panels of breakers", "ac"),
    ("extinguisher", "Safety", "always"),
    ("smoke_alarm", "Safety", "always"),
    ("co_alarm", "Safety", "fuel"),
    ("propane_alarm", "Safety", "propane"),
    ("propane_outside", "Safety", "propane"),
)


def ticks(job: Job, plan: WiringPlan) -> Iterator[Check]:
    """What must be there: yes, no, or for the builder to tick.

    Parameters
    ----------
    job : Job
    plan : WiringPlan
        The job's own, or an empty one.
    """
    asked = {"always"}
    if job.inverter is not None or job.shore:
        asked.add("ac")
    if burns_fuel(job) or job.generator is not None:
        asked.add("fuel")
    if job.propane is not None:
        asked.add("propane")
    for key, run, when in _TICKS:
        if when in asked:
            yield _ticked(run, key, getattr(plan, key))


def _ticked(run: str, key: Subject, there: bool | None) -> Check:
    status: Status = "say" if there is None else "pass" if there else "change"
    case = "unknown" if there is None else "yes" if there else "no"
    return Check(run, key, status, case, {"key": key})


def burns_fuel(job: Job) -> bool:
    """Whether anything aboard burns fuel."""
    present = [item for item in job.appliances if item.count > 0]
    return any(item.heat_from not in (None, "electricity", "engine") for item in present)
