"""Levers on how people travel."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from sim.decide.levers.lever import Lever, NotApplicable, prices_of, with_appliances
from sim.job.model.changes import with_values
from sim.job.model.fields import bounds
from sim.job.model.job import Job, Stop, Trip

MORE_DRIVING_HOURS = 0.5
PLUG_EVERY_NIGHTS = 5
_MOST_DRIVING_HOURS = bounds(Stop, "local_drive_hours")[1]


def driving(job: Job) -> Iterator[Lever]:
    """Longer drives at the stops."""
    if not job.alternator:
        raise NotApplicable("no alternator")

    def longer(stop: Stop) -> Stop:
        if stop.nights == 0:
            return stop
        hours = min(stop.local_drive_hours + MORE_DRIVING_HOURS, _MOST_DRIVING_HOURS)
        return with_values(stop, {"local_drive_hours": hours})

    name = "Half an hour more driving a day"
    yield Lever(name, lambda job: _with_stops(job, longer), weight_kg=0.0)


def plug_nights(job: Job) -> Iterator[Lever]:
    """Some nights on a plug."""
    if not job.shore:
        raise NotApplicable("no plug")
    most = max(sum(len(nights) for nights in _plugged(trip)) for trip in job.trips)
    if most == 0:
        raise NotApplicable("short trips")

    def change(job: Job) -> Job:
        trips = tuple(_with_plug(trip) for trip in job.trips)
        return with_values(job, {"trips": trips})

    price = prices_of(job).plug_night
    yield Lever("One night in five on a plug", change, None if price is None else most * price, 0.0)


def full_at_departure(job: Job) -> Iterator[Lever]:
    """A battery charged up before the trip, where it leaves with less."""
    if all(trip.start_soc == 1.0 for trip in job.trips):
        return

    def change(job: Job) -> Job:
        trips = tuple(with_values(trip, {"start_soc": 1.0}) for trip in job.trips)
        return with_values(job, {"trips": trips})

    yield Lever("Battery full at departure", change, 0.0, 0.0)


def refuelled(job: Job) -> Iterator[Lever]:
    """The generator's tank filled up at every stop, as often as it takes.

    The price is that of the fuel, which is burnt either way: nothing is added.
    """
    camps = [stop for trip in job.trips for stop in trip.stops if stop.nights]
    if job.generator is None or all("fuel" in stop.services for stop in camps):
        return

    def filled(stop: Stop) -> Stop:
        if stop.nights == 0 or "fuel" in stop.services:
            return stop
        return with_values(stop, {"services": (*stop.services, "fuel")})

    name = "The generator refuelled at every stop"
    yield Lever(name, lambda job: _with_stops(job, filled), 0.0, 0.0)


def _plugged(trip: Trip) -> list[list[int]]:
    """For each stop the nights of its stay that become nights on the plug: the third of every
    five of the trip that are not on one already."""
    night, found = 0, []
    for stop in trip.stops:
        nights = range(night, night + stop.nights)
        night += stop.nights
        middle = [n - nights.start for n in nights if n % PLUG_EVERY_NIGHTS == 2]
        found.append(middle if stop.plug_in == "never" else [])
    return found


def _with_plug(trip: Trip) -> Trip:
    stops: list[Stop] = []
    for stop, nights in zip(trip.stops, _plugged(trip), strict=True):
        done = 0
        for night in nights:
            for count, plug in ((night - done, "never"), (1, "nights")):
                if count:
                    stops.append(_part_of(stop, count, plug, is_first=done == 0))
                    done += count
        if stop.nights - done or not nights:
            stops.append(_part_of(stop, stop.nights - done, stop.plug_in, is_first=done == 0))
    return with_values(trip, {"stops": tuple(stops)})


def _part_of(stop: Stop, nights: int, plug_in: str, *, is_first: bool) -> Stop:
    update = {"nights": nights, "plug_in": plug_in}
    return with_values(stop, update if is_first else {**update, "drive_hours": 0.0})


def clean(job: Job) -> Iterator[Lever]:
    """Panels without dirt."""
    if not any(group.count and group.soiling_pct > 0 for group in job.panels):
        raise NotApplicable("clean")

    def change(job: Job) -> Job:
        groups = tuple(with_values(g, {"soiling_pct": 0.0}) for g in job.panels)
        return with_values(job, {"panels": groups})

    yield Lever("Panels kept clean", change, 0.0, 0.0)


def snow(job: Job) -> Iterator[Lever]:
    """Panels without snow."""
    if not any(group.count and group.mount != "portable" for group in job.panels):
        raise NotApplicable("none on roof")
    if job.living.clear_snow == "each morning":
        raise NotApplicable("habit")

    def change(job: Job) -> Job:
        living = with_values(job.living, {"clear_snow": "each morning"})
        return with_values(job, {"living": living})

    yield Lever("Snow swept off the panels each morning", change, 0.0, 0.0)


def extras(job: Job) -> Iterator[Lever]:
    """Each extra left at home."""
    extras = [item for item in job.appliances if item.priority == "extra" and item.count > 0]
    if not extras:
        raise NotApplicable("no extras")
    for extra in extras:

        def change(job: Job, name: str = extra.name) -> Job:
            return with_appliances(
                job, lambda item: with_values(item, {"count": 0}) if item.name == name else item
            )

        # What it weighs, and would save, is not known.
        yield Lever(f"Left at home: {extra.name}", change, 0.0)


def _with_stops(job: Job, change: Callable[[Stop], Stop]) -> Job:
    trips = tuple(
        with_values(trip, {"stops": tuple(change(stop) for stop in trip.stops)})
        for trip in job.trips
    )
    return with_values(job, {"trips": trips})
