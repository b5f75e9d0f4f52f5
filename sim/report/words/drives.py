"""Sentences about drives whose hours the job leaves out."""

from __future__ import annotations

from collections.abc import Sequence

from sim.job.drives import legs
from sim.job.model.job import Job
from sim.places.lookup import Place
from sim.places.roads import Drive
from sim.units import KM_PER_MILE

EstimatedDrive = tuple[Place, Place, Drive]


def estimated_drives(job: Job) -> list[EstimatedDrive]:
    """From where, to where and how long: the drives of all trips that were estimated, each once."""
    found = {
        (leg.before, leg.stop.place): leg.estimate
        for trip in job.trips
        for leg in legs(trip)
        if leg.before is not None and leg.estimate is not None
    }
    return [(start, end, drive) for (start, end), drive in found.items()]


def drive_lines(drives: Sequence[EstimatedDrive], units: str) -> list[str]:
    """One line for each estimated drive, below a line that says what they are."""
    lines = [f"  {_words(*drive, units)}" for drive in drives]
    head = "Hours of driving left out are estimated from the places, without pauses:"
    return [head, *lines] if lines else []


def drive_sentences(job: Job) -> tuple[str, ...]:
    """The same for the assumptions of a report."""
    drives = "; ".join(_words(*drive, job.settings.units) for drive in estimated_drives(job))
    if not drives:
        return ()
    return (
        "Hours of driving that the job leaves out are estimated from the straight line, the relief "
        "along it and the country, without pauses. Against 75 published drives nine in ten such "
        f"estimates came within 30 %. {drives}.",
    )


def _words(start: Place, end: Place, drive: Drive, units: str) -> str:
    miles = units == "us"
    length = drive.road_km / KM_PER_MILE if miles else drive.road_km
    unit = "miles" if miles else "km"
    return f"{start.label} to {end.label}: {drive.hours:g} h, about {length:.0f} {unit}"
