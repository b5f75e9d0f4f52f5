"""Where the van stood while its log was written: the job's trips, or the stays it names."""

from __future__ import annotations

import datetime as dt
from itertools import pairwise

import numpy as np

from sim.errors import Fault, JobError
from sim.job.model.changes import with_values
from sim.job.model.job import Job, Log, LogStay, Stop, Trip
from sim.trip.stays import lay_out

# A log that shares less than this with the trips says nothing of them. [days]
LEAST_DAYS = 2.0


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
        return (_as_trip(job.log, _date(last)),)
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


def _as_trip(log: Log, last: dt.date) -> Trip:
    """The stays of a log as one trip, which ends with the log."""
    ends = max(last, log.stays[-1].arrives) + dt.timedelta(days=1)
    days = [*(stay.arrives for stay in log.stays), ends]
    stops = tuple(
        _as_stop(stay, (leaves - arrives).days)
        for stay, (arrives, leaves) in zip(log.stays, pairwise(days), strict=True)
    )
    return Trip(name="Log", depart=days[0], leave_at="00:00", stops=stops)  # type: ignore[arg-type]


def _as_stop(stay: LogStay, nights: int) -> Stop:
    shared = set(Stop.model_fields) & set(LogStay.model_fields)
    return Stop(nights=nights, **{key: getattr(stay, key) for key in shared})


def with_start(trip: Trip, soc: float) -> Trip:
    """A trip that starts with another charge."""
    return with_values(trip, {"start_soc": float(np.clip(soc, 0.0, 1.0))})


def _date(moment: np.datetime64) -> dt.date:
    found: dt.date = moment.astype("datetime64[D]").astype(object)
    return found
