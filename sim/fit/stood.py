"""Where the van stood while its log was written: the job's trips, or the stays it names."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

import numpy as np

from sim.errors import Fault, JobError
from sim.job.model.changes import with_values
from sim.job.model.job import Job, Log, LogStay, Stop, Trip
from sim.job.rules.findings import clock_text
from sim.trip.stays import lay_out

# A log that shares less than this with the trips says nothing of them. [days]
LEAST_DAYS = 2.0
_MOST_NIGHTS = 180


def trips_of_log(job: Job, first: np.datetime64, last: np.datetime64) -> tuple[Trip, ...]:
    """The trips on which a log was written, in the order of time.

    Parameters
    ----------
    job : Job
    first, last : datetime64
        Of the log, by whatever clock.

    Raises
    ------
    JobError
        The job says nothing of where the van stood then.
    """
    if job.log is not None:
        return (_as_trip(job.log, _date(first), _date(last)),)
    day = dt.timedelta(days=1)
    met = []
    for trip in job.trips:
        stays = lay_out(trip)
        begins, ends = stays[0].leg_starts.date(), stays[-1].leaves.date()
        if begins - day <= _date(last) and ends + day >= _date(first):
            met.append((begins, trip))
    if not met:
        rule = (
            f"the log runs from {_date(first)} to {_date(last)}, and no trip of the job is then; "
            "say where the van stood with [[log.stays]] (place, arrives)"
        )
        raise JobError(Fault(rule))
    met.sort(key=lambda item: item[0])
    # Of trips that are on at the same time only the first can have been made.
    chosen = [met[0][1]]
    for _, trip in met[1:]:
        if lay_out(trip)[0].leg_starts >= lay_out(chosen[-1])[-1].leaves:
            chosen.append(trip)
    return tuple(chosen)


def _as_trip(log: Log, first: dt.date, last: dt.date) -> Trip:
    """The stays of a log as one trip, from its first day to its last."""
    ends = max(last, log.stays[-1].arrives) + dt.timedelta(days=1)
    leaving = [*(stay.arrives for stay in log.stays[1:]), ends]
    met = [
        (stay, max(stay.arrives, first), leaves)
        for stay, leaves in zip(log.stays, leaving, strict=True)
        if leaves > first and stay.arrives <= last
    ]
    if not met:
        rule = f"the log runs from {first} to {last}, and none of its stays is then"
        raise JobError(Fault(rule, key="log.stays"))
    stops = [
        stop
        for stay, arrives, leaves in met
        for stop in _as_stops(stay, arrives, leaves, log.leave_at)
    ]
    stay, begins, _ = met[0]
    leave_at = log.leave_at
    if begins > stay.arrives or not stay.drive_hours:
        # It stands there at midnight already, which counts as the night before.
        leave_at = 0
        stops[0] = with_values(stops[0], {"nights": stops[0].nights + 1, "drive_hours": 0.0})
    return Trip(
        name="Log",
        depart=begins,
        leave_at=clock_text(leave_at),  # type: ignore[arg-type]
        stops=tuple(stops),
    )


def _as_stops(stay: LogStay, arrives: dt.date, leaves: dt.date, leave_at: int) -> Iterator[Stop]:
    """A stay as stops of a trip, none longer than a trip may have them."""
    shared = set(Stop.model_fields) & set(LogStay.model_fields)
    values = {key: getattr(stay, key) for key in shared} | {"leave_at": clock_text(leave_at)}
    nights = (leaves - arrives).days
    while nights > 0:
        yield Stop(nights=min(nights, _MOST_NIGHTS), **values)
        nights -= _MOST_NIGHTS
        values["drive_hours"] = 0.0


def with_start(trip: Trip, soc: float) -> Trip:
    """A trip that starts with another charge."""
    return with_values(trip, {"start_soc": float(np.clip(soc, 0.0, 1.0))})


def _date(moment: np.datetime64) -> dt.date:
    found: dt.date = moment.astype("datetime64[D]").astype(object)
    return found
