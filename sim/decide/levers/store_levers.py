"""Levers on tanks: what mends a trip that panels cannot."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

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
    yield from _larger(job, "propane", 2.0, "A propane tank of twice the size")


def larger_fresh_tank(job: Job) -> Iterator[Lever]:
    """Half as much water again."""
    yield from _larger(job, "fresh", 1.5, "A fresh tank half as large again")


def larger_grey_tanks(job: Job) -> Iterator[Lever]:
    """Grey tanks of twice the size."""
    yield from _larger(job, "grey", 2.0, "Grey tanks of twice the size")


def _larger(job: Job, kind: LackKind, times: float, name: str) -> Iterator[Lever]:
    """Tanks of one kind so many times as large, where the job has any and they may be so large."""
    litres, most_l = _MOST_L[kind]
    if 0.0 < times * litres(job) <= most_l:
        yield Lever(name, partial(_with_tanks, kind=kind, times=times), tanks_only=True)


def _with_tanks(job: Job, *, kind: LackKind, times: float) -> Job:
    """The job with larger tanks, whatever else was changed in it before."""
    if kind == "propane" and job.propane is not None:
        more = with_values(job.propane, {"tank_l": times * job.propane.tank_l})
        return with_values(job, {"propane": more})
    assert job.water is not None
    changes: dict[str, object] = {"fresh_l": times * job.water.fresh_l}
    if kind == "grey":
        changes = {
            "grey": tuple(
                with_values(tank, {"capacity_l": times * tank.capacity_l})
                for tank in job.water.grey
            )
        }
    return with_values(job, {"water": with_values(job.water, changes)})


def _propane_l(job: Job) -> float:
    return job.propane.tank_l if job.propane is not None else 0.0


def _fresh_l(job: Job) -> float:
    return job.water.fresh_l if job.water is not None else 0.0


def _grey_l(job: Job) -> float:
    tanks = job.water.grey if job.water is not None else ()
    return max((tank.capacity_l for tank in tanks), default=0.0)


# What the largest tank of a kind holds, and how much one may.
_MOST_L: dict[LackKind, tuple[Callable[[Job], float], float]] = {
    "propane": (_propane_l, 500.0),
    "fresh": (_fresh_l, 2000.0),
    "grey": (_grey_l, 2000.0),
}
