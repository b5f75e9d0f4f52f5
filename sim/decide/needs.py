"""What a trip would need where no single change is enough, nor two: driving, a plug, panels."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from sim.decide.levers import build_levers, warmth_levers
from sim.decide.levers.lever import Lever, NotApplicable
from sim.decide.levers.store_levers import for_tank
from sim.decide.panels.counts import as_job
from sim.decide.panels.roof import counted_group
from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.ledger.answer import Answer

# What it takes in panels is looked for up to so many.
MOST_PANELS = 40
# And what in driving, a day at each stop. [h]
DRIVING_HOURS = (1.0, 2.0, 3.0, 4.0, 6.0, 8.0)

NeedKind = Literal["driving", "plug", "panels"]


@dataclass(frozen=True)
class Need:
    """What would make a trip ample: hours of driving a day, a plug at every stop, or panels of
    the first group."""

    kind: NeedKind
    amount: float


def with_need(job: Job, index: int, need: Need) -> Job:
    """The job with what a trip needs: panels of its group, or a key at every stop with nights."""
    if need.kind == "panels":
        return as_job(job, counted_group(job), round(need.amount))
    plug = {"plug_in": "always"}
    values = {"local_drive_hours": need.amount} if need.kind == "driving" else plug
    trip = job.trips[index]
    stops = tuple(with_values(x, values) if x.nights else x for x in trip.stops)
    changed = with_values(trip, {"stops": stops})
    return with_values(job, {"trips": (*job.trips[:index], changed, *job.trips[index + 1 :])})


def against_cold(job: Job) -> list[Lever]:
    """What lets the battery be charged in the cold, where it may be too cold for that."""
    try:
        return list(warmth_levers.warm_battery(job))
    except NotApplicable:
        return []


def charger_on_the_road(job: Job) -> tuple[Lever, ...]:
    """What it takes for driving to charge anything: a DC-DC charger, where there is none."""
    return () if job.alternator else tuple(build_levers.dcdc(job))


def finishing(job: Job, index: int, answer: Answer) -> Iterator[Lever]:
    """What mends the rest where a need has brought the electricity."""
    for kind in dict.fromkeys(one.kind for one in answer.behind):
        if kind == "warmth":
            for make in (build_levers.insulation, warmth_levers.stronger_heater):
                try:
                    yield from make(job)
                except NotApplicable:
                    continue
        else:
            yield from for_tank(job, job.trips[index], kind)
