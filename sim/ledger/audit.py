"""The audit: what each appliance takes a day on each trip, and why that changes with the season."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from sim.job.model.job import Job
from sim.ledger.lines import LoadLine
from sim.ledger.results import Result, TripResult
from sim.trip.household import uses_of
from sim.trip.kinds.table import Answer, Cause, kind_of

# A change is worth a sentence from so many watt-hours a day and such a share on.
LEAST_WH, LEAST_SHARE = 10.0, 0.1


@dataclass(frozen=True)
class AuditRow:
    """One appliance.

    Attributes
    ----------
    name, supply, priority : str
        As in the ledger; "converter" or "inverter" for its own draw and losses.
    wh_day : tuple of float
        Wanted, mean over draws, for each trip in the order of the job. [Wh/day]
    """

    name: str
    supply: str
    priority: str
    wh_day: tuple[float, ...]


@dataclass(frozen=True)
class Change:
    """What an appliance takes more or less of on the warmest trip than on the coldest, and why.

    Attributes
    ----------
    name : str
    cold_wh, warm_wh : float
        [Wh/day]
    cause : str or None
        What it answers to: "outside", "inside" (mean temperatures, deg C), "night" (hours a day
        without sun), "aboard", "plug", "road" (hours a day with somebody aboard, on the plug,
        driving), "water" (litres a day), "meals" (cooked a day, one for each person), "ac" (AC
        loads, Wh/day). None where nothing it answers to has moved the way that would explain it:
        then trips begin and end at other hours.
    cold_value, warm_value : float or None
        That, on the two trips.
    """

    name: str
    cold_wh: float
    warm_wh: float
    cause: Cause | None
    cold_value: float | None
    warm_value: float | None


@dataclass(frozen=True)
class Audit:
    """Where the electricity of a job goes.

    Attributes
    ----------
    trips : tuple of str
    rows : tuple of AuditRow
        The largest first.
    coldest, warmest : str
        Names of the trips that are compared; the same where there is one alone.
    changes : tuple of Change
        The largest first; empty when there is one trip.
    """

    trips: tuple[str, ...]
    rows: tuple[AuditRow, ...]
    coldest: str
    warmest: str
    changes: tuple[Change, ...]


def audit(result: Result) -> Audit:
    """Sort a job's appliances by what they take, and compare its coldest and warmest trip.

    Parameters
    ----------
    result : Result
    """
    job, trips = result.job, result.trips
    lines = list(zip(*(trip.loads for trip in trips), strict=True))
    rows = [_row(trips, line) for line in lines]
    air = [trip.mean_outside_c for trip in trips]
    cold, warm = int(np.argmin(air)), int(np.argmax(air))
    changes = []
    for row, (line, *_) in zip(rows, lines, strict=True):
        before, after = row.wh_day[cold], row.wh_day[warm]
        if abs(after - before) >= max(LEAST_WH, LEAST_SHARE * max(before, after)):
            why = _why(_answers_to(line), job, trips[cold], trips[warm], after > before)
            changes.append(Change(row.name, before, after, *why))
    return Audit(
        trips=tuple(trip.name for trip in trips),
        rows=tuple(sorted(rows, key=lambda row: -max(row.wh_day))),
        coldest=trips[cold].name,
        warmest=trips[warm].name,
        changes=tuple(sorted(changes, key=lambda x: -abs(x.warm_wh - x.cold_wh))),
    )


def _row(trips: tuple[TripResult, ...], lines: tuple[LoadLine, ...]) -> AuditRow:
    """One line of the ledger over all trips."""
    wh_day = (
        float(line.wanted_wh.mean()) / trip.days_long
        for trip, line in zip(trips, lines, strict=True)
    )
    return AuditRow(lines[0].name, lines[0].supply, lines[0].priority, tuple(wh_day))


def _answers_to(line: LoadLine) -> list[Answer]:
    """What a line answers to, what counts most first."""
    item = line.appliance
    if item is None:
        # Inverter and converter follow what they feed, a tank's warmer the frost.
        own: dict[str, list[Answer]] = {"inverter": [("ac", 1)], "converter": [("dc", 1)]}
        return own.get(line.supply, [("outside", -1)])
    times: dict[str, list[Answer]] = {
        "plugged": [("plug", 1)],
        "driving": [("road", 1)],
        "sun": [("night", -1)],
    }
    return [*times.get(item.runs, []), *kind_of(item).answers_to(item), ("aboard", 1)]


def _why(
    answers: list[Answer], job: Job, cold: TripResult, warm: TripResult, is_more: bool
) -> tuple[Cause | None, float | None, float | None]:
    """The first of what it answers to that moved the way that explains the change."""
    for cause, sign in answers:
        before, after = (_VALUES[cause](job, trip) for trip in (cold, warm))
        if after != before and (sign * (after - before) > 0.0) == is_more:
            return cause, before, after
    return None, None, None


def _fed_wh_day(supply: str, job: Job, trip: TripResult) -> float:
    fed = [load.wanted_wh.mean() for load in trip.loads if load.supply == supply]
    return float(sum(fed)) / trip.days_long


_VALUES: dict[Cause, Callable[[Job, TripResult], float]] = {
    "outside": lambda job, trip: trip.mean_outside_c,
    "inside": lambda job, trip: trip.mean_inside_c,
    "night": lambda job, trip: 24.0 * float(1.0 - trip.sun_up.mean()),
    "aboard": lambda job, trip: 24.0 * float(trip.timeline.people.mean()) / job.living.people,
    "plug": lambda job, trip: 24.0 * float(trip.timeline.plugged.mean()),
    "road": lambda job, trip: 24.0 * float(trip.timeline.driving.mean()),
    "water": lambda job, trip: float(uses_of(job, trip.timeline).water_l.sum()) / trip.days_long,
    "meals": lambda job, trip: float(uses_of(job, trip.timeline).meals.sum()) / trip.days_long,
    "ac": partial(_fed_wh_day, "ac"),
    "dc": partial(_fed_wh_day, "dc"),
}
