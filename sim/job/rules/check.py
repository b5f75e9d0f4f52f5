"""Rules that hold between the keys of a job: one section must not contradict another."""

from __future__ import annotations

from pathlib import Path

from sim.job.model.job import Job
from sim.job.rules.build import build_findings
from sim.job.rules.findings import Finding
from sim.job.rules.tanks import tank_findings
from sim.job.rules.trips import trip_findings, weather_findings
from sim.job.rules.wiring import wiring_findings

_RULES = (build_findings, trip_findings, tank_findings, wiring_findings)


def checked(job: Job, folder: Path) -> tuple[Job, list[Finding]]:
    """The job with weather paths made absolute, and what is wrong with it.

    Parameters
    ----------
    job : Job
        Valid key by key.
    folder : Path
        The job file's folder, from which weather files are named.

    Returns
    -------
    Job
    list of (path, value, rule)
        Empty when all is right; None for a value that is not worth telling.
    """
    job, missing = weather_findings(job, folder)
    return job, between(job) + missing


def between(job: Job) -> list[Finding]:
    """Where one section contradicts another, weather files apart."""
    return [finding for rule in _RULES for finding in rule(job)]
