"""Rules for the trips: their length, their stops, the way between them, their weather files."""

from __future__ import annotations

import os
from collections.abc import Iterator
from math import ceil
from pathlib import Path as FilePath

from sim.job.drives import Leg, legs
from sim.job.model.changes import with_values
from sim.job.model.job import Job, Trip
from sim.job.reading.toml_lines import Path
from sim.job.rules.findings import Finding, clock_text
from sim.places.lookup import Place, distance_km
from sim.units import KM_PER_MILE

MAX_TRIP_DAYS = 366
# Some 27 arrays of steps times draws, where many designs are tried: 4 GB.
MAX_LANE_STEPS = 20_000_000
# A straight line is never driven faster than this (common practice, no source).
FASTEST_KM_H = 130.0
MOST_DRIVE_H = 48.0


def trip_findings(job: Job) -> Iterator[Finding]:
    """What contradicts itself in the trips and in how finely they are run."""
    yield from _settings(job)
    yield from _trips(job)


def trip_days(trip: Trip) -> float:
    """Length of a trip, near enough: its nights and its legs. [days]"""
    return sum(leg.stop.nights + (leg.hours + leg.stop.pause_hours) / 24.0 for leg in legs(trip))


def job_lane_steps(job: Job) -> float:
    """How much work a job is: steps of its trips times draws."""
    steps = sum(trip_days(trip) for trip in job.trips) * 1440.0 / job.settings.step_minutes
    return float(steps * job.settings.first_draws)


def _settings(job: Job) -> Iterator[Finding]:
    settings = job.settings
    longest = max(job.trips, key=trip_days)
    steps = min(trip_days(longest), MAX_TRIP_DAYS) * 1440 / settings.step_minutes
    if steps * settings.first_draws > MAX_LANE_STEPS:
        yield (
            ("settings", "draws"),
            settings.first_draws,
            f"too many for {longest.name} at {settings.step_minutes} minutes a step; take at "
            f"most {int(MAX_LANE_STEPS / steps)}, or longer steps",
        )


def _trips(job: Job) -> Iterator[Finding]:
    seen: set[str] = set()
    for index, trip in enumerate(job.trips):
        path: Path = ("trips", index)
        if trip.name in seen:
            yield (*path, "name"), trip.name, "another trip has this name; tell them apart"
        seen.add(trip.name)
        days = trip_days(trip)
        if days > MAX_TRIP_DAYS:
            yield (
                path,
                None,
                f"nights and driving add up to {days:.1f} days; a trip may last at most "
                f"{MAX_TRIP_DAYS}, so split it",
            )
        elif days == 0:
            yield path, None, "no nights and no driving; give a stop some nights"
        for number, leg in enumerate(legs(trip)):
            here: Path = (*path, "stops", number)
            yield from _stop(job, leg, here)
            if leg.before is not None:
                yield from _leg(leg.before, leg, here)


def _stop(job: Job, leg: Leg, path: Path) -> Iterator[Finding]:
    stop = leg.stop
    if stop.idle_hours > 0 and not job.alternator:
        rule = "the job has no [alternator] to charge from; add it, or leave this out"
        yield (*path, "idle_hours"), stop.idle_hours, rule
    if stop.local_drives > 1 and stop.local_drive_hours == 0:
        rule = "splits local_drive_hours, which is left out; give both"
        yield (*path, "local_drives"), stop.local_drives, rule
    if stop.pause_hours > 0 and leg.hours == 0 and not leg.no_way:
        rule = "a pause is one of the drive to this stop; give drive_hours, or leave this out"
        yield (*path, "pause_hours"), stop.pause_hours, rule
    if stop.nights > 0:
        if stop.plug_in != "never" and not job.shore:
            yield (*path, "plug_in"), stop.plug_in, "the job has no [shore] section; add it"
        return
    if stop.plug_in != "never":
        rule = "a stop without nights has no time to plug in; give it nights, or leave this out"
        yield (*path, "plug_in"), stop.plug_in, rule
    if stop.local_drive_hours > 0:
        rule = "a stop without nights has no days; add this to drive_hours of the leg"
        yield (*path, "local_drive_hours"), stop.local_drive_hours, rule
    if stop.idle_hours > 0:
        rule = "a stop without nights is left on arrival; give it nights, or leave this out"
        yield (*path, "idle_hours"), stop.idle_hours, rule
    if stop.leave_at is not None:
        rule = "a stop without nights is left on arrival; give it nights, or leave this out"
        yield (*path, "leave_at"), clock_text(stop.leave_at), rule


def _leg(before: Place, leg: Leg, path: Path) -> Iterator[Finding]:
    """The way to a stop takes time, and not less than it can."""
    stop, key = leg.stop, (*path, "drive_hours")
    km = distance_km(before, stop.place)
    way = (
        f"{stop.place.label} is {km:.0f} km ({km / KM_PER_MILE:.0f} miles) in a straight line "
        f"from {before.label}"
    )
    if leg.no_way:
        rule = "with the sea between; give the hours at the wheel, 0 where a ferry does it all"
        yield key, None, f"this key is missing: {way}, {rule}"
    elif leg.estimate is not None and leg.hours > MOST_DRIVE_H:
        rule = f"about {leg.hours:.0f} hours by road; put stops between"
        yield key, None, f"this key is missing: {way}, {rule}"
    elif leg.estimate is None and leg.hours > 0 and km / leg.hours > FASTEST_KM_H:
        least = ceil(10 * km / FASTEST_KM_H) / 10
        yield key, leg.hours, f"too short: {way}; at least {least:.1f}"


def weather_findings(job: Job, folder: FilePath) -> tuple[Job, list[Finding]]:
    """The job with weather paths made absolute from a folder, and the files that are not there."""
    missing: list[Finding] = []

    def absolute(name: str, path: Path) -> str:
        if name in ("climate", "clear"):
            return name
        # A job file from elsewhere must not reach what its reader has not put beside it.
        file = FilePath(os.path.normpath(folder / name))
        # Without a folder the paths were made absolute before: a lever's job.
        if folder.parts and not file.is_relative_to(folder):
            rule = "must lie in the job file's folder or below it; copy the file there"
            missing.append((path, name, rule))
            return name
        try:
            if file.is_file() and file.resolve().is_relative_to(folder.resolve()):
                return str(file)
            if file.is_file():
                rule = "is a link that leads out of the job file's folder; copy the file there"
                missing.append((path, name, rule))
                return name
        except (OSError, ValueError):
            pass
        rule = 'no such weather file beside the job file; "climate" and "clear" need none'
        if name.strip().lower() in ("climate", "clear"):
            rule = f'did you mean "{name.strip().lower()}"?'
        missing.append((path, name, rule))
        return name

    file = absolute(job.settings.weather, ("settings", "weather"))
    settings = with_values(job.settings, {"weather": file})
    trips = []
    for index, trip in enumerate(job.trips):
        stops = tuple(
            with_values(
                stop, {"weather": absolute(stop.weather, ("trips", index, "stops", n, "weather"))}
            )
            if stop.weather is not None
            else stop
            for n, stop in enumerate(trip.stops)
        )
        trips.append(with_values(trip, {"stops": stops}))
    return with_values(job, {"settings": settings, "trips": tuple(trips)}), missing
