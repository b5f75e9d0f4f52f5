"""The drives of a trip: hours from the job, or estimated from its places."""

from __future__ import annotations

from dataclasses import dataclass

from sim.job.model.job import Stop, Trip
from sim.places.lookup import Place
from sim.places.roads import Drive, estimated_drive


@dataclass(frozen=True)
class Leg:
    """The drive to a stop.

    Attributes
    ----------
    before : Place or None
        Where it starts; None where the trip begins at its first stop.
    stop : Stop
    hours : float
        Without pauses.
    estimate : Drive or None
        Where the job leaves the hours out and there is a way to drive.
    no_way : bool
        The job leaves the hours out and no land joins the two places.
    """

    before: Place | None
    stop: Stop
    hours: float
    estimate: Drive | None = None
    no_way: bool = False


def legs(trip: Trip) -> tuple[Leg, ...]:
    """The drive to each stop of a trip."""
    found = []
    before = trip.start
    for stop in trip.stops:
        if stop.drive_hours is not None:
            found.append(Leg(before, stop, stop.drive_hours))
        elif before is None:
            found.append(Leg(before, stop, 0.0))
        else:
            drive = estimated_drive(before, stop.place)
            far = drive is not None and drive.hours > 0.0
            hours = 0.0 if drive is None else drive.hours
            found.append(Leg(before, stop, hours, drive if far else None, drive is None))
        before = stop.place
    return tuple(found)
