"""The audit: what each appliance takes a day on each trip, and why that changes with the season."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from sim.job.appliance_model import (
    AirConditioner,
    ApplianceBase,
    ColdBox,
    Fan,
    Heater,
    HotWater,
    Lights,
)
from sim.ledger.results import Result, TripResult

Cause = Literal["outside", "inside", "night", "aboard", "ac"]
# A change is worth a sentence from so many watt-hours a day and such a share on.
LEAST_WH, LEAST_SHARE = 10.0, 0.1


@dataclass(frozen=True)
class AuditRow:
    """One appliance.

    Attributes
    ----------
    name, supply, priority : str
        As in the ledger; "inverter" for the inverter's own draw and losses.
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
    cause : str
        What it answers to: "outside", "inside" (temperatures, deg C), "night" (hours a day
        without sun), "aboard" (hours a day with somebody aboard), "ac" (AC loads, Wh/day).
    cold_value, warm_value : float
        That, on the two trips.
    """

    name: str
    cold_wh: float
    warm_wh: float
    cause: Cause
    cold_value: float
    warm_value: float


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
    trips = result.trips
    rows = [
        AuditRow(
            line.name,
            line.supply,
            line.priority,
            tuple(float(t.loads[number].wanted_wh.mean()) / t.days_long for t in trips),
        )
        for number, line in enumerate(trips[0].loads)
    ]
    air = [float(trip.temp_air.mean()) for trip in trips]
    cold, warm = int(np.argmin(air)), int(np.argmax(air))
    kinds: list[ApplianceBase | None] = [x for x in result.job.appliances if x.count > 0]
    kinds += [None] * (len(rows) - len(kinds))
    changes = [
        change
        for row, item in zip(rows, kinds, strict=True)
        if (change := _change(row, item, trips, cold, warm)) is not None
    ]
    return Audit(
        trips=tuple(trip.name for trip in trips),
        rows=tuple(sorted(rows, key=lambda row: -max(row.wh_day))),
        coldest=trips[cold].name,
        warmest=trips[warm].name,
        changes=tuple(sorted(changes, key=lambda x: -abs(x.warm_wh - x.cold_wh))),
    )


def _change(
    row: AuditRow, item: ApplianceBase | None, trips: tuple[TripResult, ...], cold: int, warm: int
) -> Change | None:
    before, after = row.wh_day[cold], row.wh_day[warm]
    moved = abs(after - before)
    if moved < max(LEAST_WH, LEAST_SHARE * max(before, after)):
        return None
    cause = _cause(row, item)
    return Change(
        row.name, before, after, cause, _value(cause, trips[cold]), _value(cause, trips[warm])
    )


def _cause(row: AuditRow, item: ApplianceBase | None) -> Cause:
    """What an appliance answers to."""
    match item:
        case Heater():
            return "outside"
        case ColdBox() | Fan() | AirConditioner():
            return "inside"
        case Lights():
            return "night"
        case HotWater():
            return "aboard"
        case None:
            # The inverter follows what it feeds, a tank's warmer the frost.
            return "ac" if row.supply == "inverter" else "outside"
        case _:
            return "aboard"


def _value(cause: Cause, trip: TripResult) -> float:
    match cause:
        case "outside":
            return float(trip.temp_air.mean())
        case "inside":
            return float(trip.cabin_c.mean())
        case "night":
            return 24.0 * float(1.0 - trip.sun_up.mean())
        case "aboard":
            return 24.0 * float((trip.timeline.people > 0.0).mean())
        case "ac":
            fed = [load.wanted_wh.mean() for load in trip.loads if load.supply == "ac"]
            return float(sum(fed)) / trip.days_long
