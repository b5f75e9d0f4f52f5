"""Levers on tanks: what mends a trip that panels cannot."""

from __future__ import annotations

from collections.abc import Iterator

from sim.decide.levers.lever import Lever
from sim.job.model.changes import with_values
from sim.job.model.job import Job, Service, Trip
from sim.ledger.promise import LackKind

_VERBS: dict[Service, str] = {
    "propane": "Propane filled at",
    "water": "Fresh water filled at",
    "dump": "Grey tanks emptied at",
    "fuel": "The generator's tank filled at",
}


# Which service fills or empties what, where that can be had on the way.
_SERVES: dict[LackKind, Service] = {"propane": "propane", "fresh": "water", "grey": "dump"}


def for_tank(job: Job, trip: Trip, kind: LackKind) -> Iterator[Lever]:
    """What mends one kind of tank on a trip: a service on the way, or a larger tank."""
    if kind not in _SERVES:
        return
    yield from served_on_the_way(job, trip, _SERVES[kind])
    match kind:
        case "propane":
            yield from larger_propane_tank(job)
        case "fresh":
            yield from larger_fresh_tank(job)
        case _:
            yield from larger_grey_tanks(job)


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

        yield Lever(f"{_VERBS[service]} {stop.place.name}", change, 0.0, 0.0, tanks_only=True)


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
