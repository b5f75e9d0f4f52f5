"""Rules that hold between the keys of a job: what one section promises, another must keep."""

from __future__ import annotations

import os
from collections.abc import Iterator
from itertools import pairwise
from math import ceil, floor
from pathlib import Path as FilePath
from typing import Any

from sim.job.appliance_model import Appliance, ColdBox
from sim.job.fields import DAY_MINUTES
from sim.job.lines import Path
from sim.job.model import Job, Stop, Trip
from sim.job.places import Place, distance_km
from sim.job.power_model import PanelGroup, Shore
from sim.job.roof_model import roof_findings
from sim.job.stores_rules import stores_findings
from sim.job.wiring_rules import wiring_findings
from sim.units import KM_PER_MILE, celsius_to_fahrenheit

MAX_TRIP_DAYS = 366
# Some 27 arrays of steps times draws at the peak: 4 GB.
MAX_LANE_STEPS = 20_000_000
# A stop nearer than this needs no drive_hours; a straight line is never driven faster than
# this (common practice, no source).
NEAR_KM = 10.0
FASTEST_KM_H = 130.0
# A cold box is rated in a room that is warmer than its inside (common practice, no source).
LEAST_RISE_K = 5.0
Finding = tuple[Path, Any, str]


def checked(job: Job, folder: FilePath) -> tuple[Job, list[Finding]]:
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
    findings = [
        finding
        for rule in (*_RULES, stores_findings, wiring_findings, roof_findings)
        for finding in rule(job)
    ]
    job, missing = _weather(job, folder)
    return job, findings + missing


def _battery(job: Job) -> Iterator[Finding]:
    bank = job.battery
    floors = [("cutoff_soc", bank.cutoff_soc), ("reserve_soc", bank.reserve_soc)]
    floors.append(("extras_soc", bank.extras_soc))
    for (low_name, low), (name, value) in pairwise(floors):
        if value < low:
            yield ("battery", name), value, f"must not be below {low_name}, which is {low:g}"
    if bank.extras_soc + bank.reconnect_above_soc > 0.95:
        yield (
            ("battery", "extras_soc"),
            bank.extras_soc,
            "with reconnect_above_soc this leaves no charge at which loads come back; "
            "their sum must be at most 0.95",
        )
    if bank.charging_v < bank.nominal_v:
        yield (
            ("battery", "charging_v"),
            bank.charging_v,
            f"must not be below nominal_v, which is {bank.nominal_v:g}",
        )
    if bank.tail_c > bank.max_charge_c:
        yield (
            ("battery", "tail_c"),
            bank.tail_c,
            f"must not be above max_charge_c, which is {bank.max_charge_c:g}",
        )
    # Above this the loss in the bank's resistance would eat the charge itself.
    limit_mohm = 250.0 * bank.nominal_v / (bank.max_charge_c * bank.capacity_ah)
    if bank.resistance_mohm > limit_mohm:
        yield (
            ("battery", "resistance_mohm"),
            bank.resistance_mohm,
            f"too high for max_charge_c: at that current a unit of this size may have at most "
            f"{floor(10 * limit_mohm) / 10:.1f} milliohm",
        )


def _van(job: Job) -> Iterator[Finding]:
    van = job.van
    # Both sides, front and back.
    sides_m2 = 2.0 * van.height_m * (van.length_m + van.width_m)
    if van.glass_m2 > sides_m2:
        rule = f"more than all four sides of the van, which have {sides_m2:.1f} square metres"
        yield ("van", "glass_m2"), van.glass_m2, rule


def _living(job: Job) -> Iterator[Finding]:
    wake_at, sleep_at = job.living.wake_at, job.living.sleep_at
    if wake_at % DAY_MINUTES == sleep_at % DAY_MINUTES and (wake_at, sleep_at) != (0, DAY_MINUTES):
        rule = 'must not be the time of wake_at; awake all day is "00:00" to "24:00"'
        yield ("living", "sleep_at"), _clock(sleep_at), rule


def _settings(job: Job) -> Iterator[Finding]:
    settings = job.settings
    if settings.tight_share > settings.ample_share:
        yield (
            ("settings", "tight_share"),
            settings.tight_share,
            f"must not be above ample_share, which is {settings.ample_share:g}",
        )
    longest = max(job.trips, key=trip_days)
    steps = min(trip_days(longest), MAX_TRIP_DAYS) * 1440 / settings.step_minutes
    if steps * settings.draws > MAX_LANE_STEPS:
        yield (
            ("settings", "draws"),
            settings.draws,
            f"too many for {longest.name} at {settings.step_minutes} minutes a step; take at "
            f"most {int(MAX_LANE_STEPS / steps)}, or longer steps",
        )


def _appliances(job: Job) -> Iterator[Finding]:
    for index, item in enumerate(job.appliances):
        path: Path = ("appliances", index)
        if item.runs == "plugged" and job.shore is None:
            rule = f"{item.name} runs only on the plug, but the job has no [shore]; add it"
            yield (*path, "runs"), item.runs, rule
        elif item.runs == "plugged" and job.shore is not None and item.supply == "ac":
            yield from _on_inlet(item, job.shore, path)
        elif item.supply == "ac" and item.runs != "plugged":
            yield from _on_inverter(job, item, path)
        if isinstance(item, ColdBox):
            yield from _cold_box(item, path)


def _on_inlet(item: Appliance, shore: Shore, path: Path) -> Iterator[Finding]:
    most = shore.inlet_volts * shore.inlet_amps
    if item.most_watts > most:
        key = _watts_key(item)
        rule = (
            f"{item.name} draws {item.most_watts:.0f} watts; the inlet's breaker trips above "
            f"{most:.0f}, which is inlet_volts times inlet_amps of [shore]"
        )
        yield (*path, key), getattr(item, key), rule


def _watts_key(item: Appliance) -> str:
    """The key that says most of what an appliance draws."""
    keys = ("max_watts", "heat_watts", "cool_watts", "watts")
    return next(key for key in keys if hasattr(item, key))


def _on_inverter(job: Job, item: Appliance, path: Path) -> Iterator[Finding]:
    if job.inverter is None:
        yield (
            (*path, "supply"),
            item.supply,
            f"{item.name} needs AC, but the job has no [inverter]; add one or take a DC type",
        )
        return
    if item.most_watts > job.inverter.watts:
        key = _watts_key(item)
        yield (
            (*path, key),
            getattr(item, key),
            f"{item.name} draws {item.most_watts:.0f} watts, more than the inverter gives, which "
            f"is {job.inverter.watts:g} watts",
        )


def _cold_box(item: ColdBox, path: Path) -> Iterator[Finding]:
    if item.rated_ambient_c < item.inside_c + LEAST_RISE_K:
        yield (
            (*path, "rated_ambient_c"),
            item.rated_ambient_c,
            f"must be {LEAST_RISE_K:g} degrees C ({LEAST_RISE_K * 1.8:g} degrees F) or more above "
            f"the inside, which has {item.inside_c:.1f} degrees C "
            f"({celsius_to_fahrenheit(item.inside_c):.1f} degrees F)",
        )
    if item.max_watts * 24.0 < item.rated_wh_day:
        yield (
            (*path, "rated_wh_day"),
            item.rated_wh_day,
            f"max_watts, which is {item.max_watts:g}, brings no more than "
            f"{item.max_watts * 24.0:g} in a day",
        )


def _panels(job: Job) -> Iterator[Finding]:
    for index, group in enumerate(job.panels):
        path: Path = ("panels", index)
        if group.mount == "tilted" and group.tilt_deg is None:
            yield (*path, "mount"), group.mount, "a tilted group needs tilt_deg too, such as 30"
        aims = (("tilt_deg", group.tilt_deg), ("facing_deg", group.facing_deg))
        for key, value in (*aims, ("side", group.side)):
            if group.mount == "flat" and value is not None:
                rule = 'a flat group has none; write mount = "tilted", or leave it out'
                yield (*path, key), value, rule
        if group.side is not None and group.mount == "portable":
            rule = "portable panels are turned by hand; write facing_deg, or leave both out"
            yield (*path, "side"), group.side, rule
        if group.side is not None and group.facing_deg is not None:
            yield (*path, "side"), group.side, "stands beside facing_deg; leave one of them out"
        if 0 < group.count < group.series:
            rule = f"more panels in a string than the group has; count is {group.count}"
            yield (*path, "series"), group.series, rule
        if group.controller == "pwm":
            yield from _pwm(job, group, path)


def _pwm(job: Job, group: PanelGroup, path: Path) -> Iterator[Finding]:
    if group.vmp_v is None:
        rule = "a PWM controller needs vmp_v too, the panel's voltage at its maximum power point"
        yield (*path, "controller"), group.controller, rule
    elif group.vmp_v * group.series < job.battery.charging_v:
        yield (
            (*path, "vmp_v"),
            group.vmp_v,
            "too low to charge the bank through a PWM controller; with series it must reach "
            f"charging_v, which is {job.battery.charging_v:g}",
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
        before = trip.start
        for number, stop in enumerate(trip.stops):
            here: Path = (*path, "stops", number)
            yield from _stop(job, stop, here)
            if before is not None:
                yield from _leg(before, stop, here)
            before = stop.place


def _stop(job: Job, stop: Stop, path: Path) -> Iterator[Finding]:
    if stop.idle_hours > 0 and job.alternator is None:
        rule = "the job has no [alternator] to charge from; add it, or leave this out"
        yield (*path, "idle_hours"), stop.idle_hours, rule
    if stop.local_drives > 1 and stop.local_drive_hours == 0:
        rule = "splits local_drive_hours, which is left out; give both"
        yield (*path, "local_drives"), stop.local_drives, rule
    if stop.pause_hours > 0 and stop.drive_hours == 0:
        rule = "a pause is one of the drive to this stop; give drive_hours, or leave this out"
        yield (*path, "pause_hours"), stop.pause_hours, rule
    if stop.nights > 0:
        if stop.plug_in != "never" and job.shore is None:
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
        yield (*path, "leave_at"), _clock(stop.leave_at), rule


def _leg(before: Place, stop: Stop, path: Path) -> Iterator[Finding]:
    """The way to a stop takes time: a key forgotten here would move the van by magic."""
    km = distance_km(before, stop.place)
    way = (
        f"{stop.place.label} is {km:.0f} km ({km / KM_PER_MILE:.0f} miles) in a straight line "
        f"from {before.label}"
    )
    if "drive_hours" not in stop.model_fields_set and km > NEAR_KM:
        yield (*path, "drive_hours"), None, f"this key is missing: {way}"
    elif stop.drive_hours > 0 and km / stop.drive_hours > FASTEST_KM_H:
        yield (
            (*path, "drive_hours"),
            stop.drive_hours,
            f"too short: {way}; at least {ceil(10 * km / FASTEST_KM_H) / 10:.1f}",
        )


def trip_days(trip: Trip) -> float:
    """Length of a trip, near enough: its nights and its legs. [days]"""
    return sum(stop.nights + (stop.drive_hours + stop.pause_hours) / 24.0 for stop in trip.stops)


def _clock(minute: int) -> str:
    return f"{minute // 60:02d}:{minute % 60:02d}"


def _weather(job: Job, folder: FilePath) -> tuple[Job, list[Finding]]:
    missing: list[Finding] = []

    def absolute(name: str, path: Path) -> str:
        if name in ("climate", "clear"):
            return name
        # A job file from elsewhere must not reach what its reader has not put beside it.
        file = FilePath(os.path.normpath(folder / name))
        if not file.is_relative_to(folder):
            rule = "must lie in the job file's folder or below it; copy the file there"
            missing.append((path, name, rule))
            return name
        try:
            if file.is_file():
                return str(file)
        except (OSError, ValueError):
            pass
        rule = 'no such weather file beside the job file; "climate" and "clear" need none'
        if name.strip().lower() in ("climate", "clear"):
            rule = f'did you mean "{name.strip().lower()}"?'
        missing.append((path, name, rule))
        return name

    file = absolute(job.settings.weather, ("settings", "weather"))
    settings = job.settings.model_copy(update={"weather": file})
    trips = []
    for index, trip in enumerate(job.trips):
        stops = tuple(
            stop.model_copy(
                update={"weather": absolute(stop.weather, ("trips", index, "stops", n, "weather"))}
            )
            if stop.weather is not None
            else stop
            for n, stop in enumerate(trip.stops)
        )
        trips.append(trip.model_copy(update={"stops": stops}))
    return job.model_copy(update={"settings": settings, "trips": tuple(trips)}), missing


_RULES = (_battery, _van, _living, _settings, _appliances, _panels, _trips)
