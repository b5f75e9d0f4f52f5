"""The stops of a trip with their instants: when the van sets off, arrives and leaves again.

Habit assumed (common practice, no source): an arrival before 05:00 belongs to the evening
before.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from sim.job.drives import legs
from sim.job.model.job import Stop, Trip
from sim.places.lookup import Place

_NIGHT_ENDS = dt.time(5)


@dataclass(frozen=True)
class Stay:
    """A stop with its instants.

    Attributes
    ----------
    label : str
        Name of the place.
    zone : str
        IANA name of its time zone.
    leg_starts, rests, goes_on, arrives, leaves : datetime
        UTC; the leg that leads here starts, is paused, goes on and ends, and the stay ends.
    """

    label: str
    zone: str
    leg_starts: dt.datetime
    rests: dt.datetime
    goes_on: dt.datetime
    arrives: dt.datetime
    leaves: dt.datetime


def lay_out(trip: Trip) -> tuple[Stay, ...]:
    """When each leg starts and ends and each stay is over, by the clocks of the places."""
    stays = []
    leg_starts = _at(trip.depart, trip.leave_at, trip.start or trip.stops[0].place)
    for leg in legs(trip):
        stop, drive, pause = leg.stop, round(60 * leg.hours), round(60 * leg.stop.pause_hours)
        rests = leg_starts + dt.timedelta(minutes=drive // 2)
        goes_on = rests + dt.timedelta(minutes=pause if drive else 0)
        arrives = goes_on + dt.timedelta(minutes=drive - drive // 2)
        leaves = _leaves(stop, arrives, leave_minute(trip, stop))
        place = stop.place
        stays.append(
            Stay(place.label, place.time_zone, leg_starts, rests, goes_on, arrives, leaves)
        )
        leg_starts = leaves
    return tuple(stays)


def _leaves(stop: Stop, arrives: dt.datetime, clock: int) -> dt.datetime:
    """When a stay is over, UTC."""
    if stop.nights == 0:
        return arrives
    local = arrives.astimezone(ZoneInfo(stop.place.time_zone))
    evening = local.date() - dt.timedelta(days=int(local.time() < _NIGHT_ENDS))
    leaves = _at(evening + dt.timedelta(days=stop.nights), clock, stop.place)
    # In before dawn, out at an hour that is past already: the next day's is meant.
    if leaves <= arrives:
        leaves = _at(evening + dt.timedelta(days=stop.nights + 1), clock, stop.place)
    return leaves


def leave_minute(trip: Trip, stop: Stop) -> int:
    """Local clock at which the van leaves a stop. [minutes after midnight]"""
    return trip.leave_at if stop.leave_at is None else stop.leave_at


def _at(date: dt.date, minute: int, place: Place) -> dt.datetime:
    """An instant, UTC, from a place's calendar and clock; of a clock time that summer time
    skips or repeats, the earlier reading of the clock decides."""
    local = dt.datetime.combine(date, dt.time()) + dt.timedelta(minutes=minute)
    return local.replace(tzinfo=ZoneInfo(place.time_zone)).astimezone(dt.UTC)
