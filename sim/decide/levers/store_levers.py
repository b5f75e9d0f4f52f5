"""Levers on tanks and on when strong loads run: what mends a trip that panels cannot."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from sim.decide.levers.lever import Lever, with_appliances
from sim.job.model.appliances import AirConditioner, ApplianceBase, Heater
from sim.job.model.changes import with_values
from sim.job.model.job import Job, Service, Trip

# A load this strong is worth a habit of its own (common practice, no source).
STRONG_W = 300.0
_VERBS: dict[Service, str] = {
    "propane": "Propane filled at",
    "water": "Fresh water filled at",
    "dump": "Grey tanks emptied at",
    "fuel": "The generator's tank filled at",
}


def served_on_the_way(job: Job, trip: Trip, service: Service) -> Iterator[Lever]:
    """A service at one more stop of a trip: each stop that has none so far.

    The price is that of the filling, which is used up either way: nothing is added.
    """
    for number, stop in enumerate(trip.stops):
        if service in stop.services:
            continue

        def change(job: Job, number: int = number) -> Job:
            trips = tuple(
                _with_service(one, number, service) if one.name == trip.name else one
                for one in job.trips
            )
            return with_values(job, {"trips": trips})

        yield Lever(f"{_VERBS[service]} {stop.place.label}", change, 0.0, 0.0, tanks_only=True)


def _with_service(trip: Trip, number: int, service: Service) -> Trip:
    stop = trip.stops[number]
    more = with_values(stop, {"services": (*stop.services, service)})
    return with_values(trip, {"stops": (*trip.stops[:number], more, *trip.stops[number + 1 :])})


def larger_propane_tank(job: Job) -> Iterator[Lever]:
    """Twice the propane."""
    if job.propane is not None and 2.0 * job.propane.tank_l <= 500.0:
        twice = with_values(job.propane, {"tank_l": 2.0 * job.propane.tank_l})
        yield Lever(
            "A propane tank of twice the size",
            lambda job: _with(job, "propane", twice),
            tanks_only=True,
        )


def larger_fresh_tank(job: Job) -> Iterator[Lever]:
    """Half as much water again."""
    if job.water is not None and 1.5 * job.water.fresh_l <= 2000.0:
        more = with_values(job.water, {"fresh_l": 1.5 * job.water.fresh_l})
        yield Lever(
            "A fresh tank half as large again",
            lambda job: _with(job, "water", more),
            tanks_only=True,
        )


def larger_grey_tanks(job: Job) -> Iterator[Lever]:
    """Grey tanks of twice the size."""
    if job.water is not None and job.water.grey:
        grey = tuple(
            with_values(tank, {"capacity_l": min(2.0 * tank.capacity_l, 2000.0)})
            for tank in job.water.grey
        )
        more = with_values(job.water, {"grey": grey})
        yield Lever(
            "Grey tanks of twice the size", lambda job: _with(job, "water", more), tanks_only=True
        )


def _with(job: Job, key: str, value: object) -> Job:
    return with_values(job, {key: value})


def held_back(job: Job) -> Iterator[Lever]:
    """Strong loads kept for the plug, and for the sun, where the job has these."""
    has_plug = bool(job.shore) and any(s.plug_in != "never" for t in job.trips for s in t.stops)
    has_sun = any(group.count for group in job.panels)
    for item in job.appliances:
        if item.count == 0 or item.runs != "always" or item.most_watts < STRONG_W:
            continue
        if item.priority == "essential" or isinstance(item, Heater):
            continue
        if has_plug:
            yield Lever(f"{item.name} only on the plug", _run(item, "plugged"), 0.0, 0.0)
        if has_sun and not isinstance(item, AirConditioner):
            yield Lever(f"{item.name} only while the sun is high", _run(item, "sun"), 0.0, 0.0)


def _run(item: ApplianceBase, runs: str) -> Callable[[Job], Job]:
    def change(job: Job) -> Job:
        return with_appliances(
            job, lambda one: with_values(one, {"runs": runs}) if one.name == item.name else one
        )

    return change
