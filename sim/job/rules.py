"""Rules that hold between the keys of a job: what one section promises, another must keep."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path as FilePath
from typing import Any

from sim.job.lines import Path
from sim.job.model import Job, Stop, Trip

MAX_TRIP_DAYS = 366
MAX_LANE_STEPS = 60_000_000
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
        Empty when all is right.
    """
    findings = [*_battery(job), *_settings(job), *_appliances(job), *_panels(job), *_trips(job)]
    job, missing = _weather(job, folder)
    return job, findings + missing


def _battery(job: Job) -> Iterator[Finding]:
    bank = job.battery
    floors = [("cutoff_soc", bank.cutoff_soc), ("reserve_soc", bank.reserve_soc)]
    floors.append(("extras_soc", bank.extras_soc))
    for (low_name, low), (name, value) in zip(floors, floors[1:], strict=False):
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
    # Above this the loss in the bank's resistance would eat the charge itself.
    limit_mohm = 250.0 * bank.nominal_v / (bank.max_charge_c * bank.capacity_ah)
    if bank.resistance_mohm > limit_mohm:
        yield (
            ("battery", "resistance_mohm"),
            bank.resistance_mohm,
            f"too high for max_charge_c: at that current a unit of this size may have at most "
            f"{limit_mohm:.1f} milliohm",
        )


def _settings(job: Job) -> Iterator[Finding]:
    settings = job.settings
    if settings.tight_share > settings.ample_share:
        yield (
            ("settings", "tight_share"),
            settings.tight_share,
            f"must not be above ample_share, which is {settings.ample_share:g}",
        )


def _appliances(job: Job) -> Iterator[Finding]:
    heaters = 0
    for index, item in enumerate(job.appliances):
        if item.supply == "ac" and job.inverter is None:
            yield (
                ("appliances", index, "supply"),
                item.supply,
                f"{item.name} needs AC, but the job has no [inverter]; add one or use a DC type",
            )
        heaters += item.kind == "heater" and item.count > 0
        if item.kind == "heater" and heaters > 1:
            yield ("appliances", index), item.name, "one heater a van; give the larger one"


def _panels(job: Job) -> Iterator[Finding]:
    for index, group in enumerate(job.panels):
        if group.mount == "tilted" and group.tilt_deg is None:
            yield ("panels", index), "tilted", "a tilted group needs tilt_deg, such as 30"
        if group.mount == "flat" and group.tilt_deg:
            yield (
                ("panels", index, "tilt_deg"),
                group.tilt_deg,
                'a flat group has no tilt; write mount = "tilted" or leave it out',
            )


def _trips(job: Job) -> Iterator[Finding]:
    seen: set[str] = set()
    for index, trip in enumerate(job.trips):
        if trip.name in seen:
            yield ("trips", index, "name"), trip.name, "two trips have this name; tell them apart"
        seen.add(trip.name)
        days = trip_days(trip)
        if days > MAX_TRIP_DAYS:
            yield (
                ("trips", index),
                f"{days:.0f} days",
                f"a trip may last at most {MAX_TRIP_DAYS} days; split it",
            )
        elif days == 0:
            yield ("trips", index), trip.name, "no nights and no driving: give a stop some nights"
        elif days * 1440 / job.settings.step_minutes * job.settings.draws > MAX_LANE_STEPS:
            yield (
                ("settings", "draws"),
                job.settings.draws,
                f"too many for {trip.name} at {job.settings.step_minutes} minutes a step; "
                "take fewer draws or longer steps",
            )
        for number, stop in enumerate(trip.stops):
            yield from _stop(job, stop, ("trips", index, "stops", number))


def _stop(job: Job, stop: Stop, path: Path) -> Iterator[Finding]:
    if stop.plug_in != "never" and job.shore is None:
        yield (
            (*path, "plug_in"),
            stop.plug_in,
            "the job has no [shore] inlet and charger; add one",
        )
    if stop.plug_in != "never" and stop.nights == 0:
        yield (*path, "plug_in"), stop.plug_in, "a stop without nights has no time to plug in"


def trip_days(trip: Trip) -> float:
    """Length of a trip, near enough: its nights and its driving. [days]"""
    return sum(stop.nights + stop.drive_hours / 24.0 for stop in trip.stops)


def _weather(job: Job, folder: FilePath) -> tuple[Job, list[Finding]]:
    missing: list[Finding] = []

    def absolute(name: str, path: Path) -> str:
        if name in ("climate", "clear"):
            return name
        try:
            file = folder / name
            if file.is_file():
                return str(file)
        except (OSError, ValueError):
            pass
        rule = 'no such weather file beside the job file; "climate" and "clear" need none'
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
