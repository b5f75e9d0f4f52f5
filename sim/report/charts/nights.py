"""The nights of a trip: the charge at dawn in the bad case, and what happened in each."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup
from numpy.typing import NDArray

from sim.arrays import Bools
from sim.ledger.results import TripResult
from sim.report.charts.chart_data import Grain, local_clock

# Where the sun does not rise, or does not set, a night ends at this hour.
_MORNING_H = 8
# What is filled in or let out in a day, as a share of the tank, to count as a service.
_SERVICE_SHARE = 0.05


@dataclass(frozen=True)
class Night:
    """One night.

    Attributes
    ----------
    evening : date
        Day on which it begins.
    stop : int
        Index of the stop at dawn.
    point : int
        Of the chart's points, the one at dawn.
    soc : float
        Charge at dawn in the bad case, 0 to 1.
    is_off, is_plugged, is_served : bool
        Something is off in the bad case; on the plug; a tank is filled or emptied: from one noon
        to the next.
    """

    evening: dt.date
    stop: int
    point: int
    soc: float
    is_off: bool
    is_plugged: bool
    is_served: bool

    @property
    def drawing(self) -> Markup:
        """A square filled as high as the charge, with its marks."""
        parts = [
            '<rect class="f-clear s-rule" width="100%" height="100%"/>',
            f'<rect class="f-band" y="{100 - 100 * self.soc:.0f}%" width="100%" '
            f'height="{100 * self.soc:.0f}%"/>',
        ]
        if self.is_off:
            parts.append('<rect class="f-floor" y="88%" width="100%" height="12%"/>')
        if self.is_plugged:
            ladder = 'stroke-width="5" stroke-dasharray="3 1.5"'
            parts.append(f'<line class="s-plug" {ladder} x1="0" x2="100%" y1="3" y2="3"/>')
        if self.is_served:
            parts.append('<svg x="100%" y="0"><path class="f-ink" d="M-3 6v9l-6-9z"/></svg>')
        parts.append(
            f'<text class="f-ink" x="50%" y="50%" dy=".35em" text-anchor="middle">'
            f"{self.evening.day}</text>"
        )
        return Markup('<svg aria-hidden="true" focusable="false">{}</svg>').format(
            Markup("".join(parts))
        )


def nights_of(trip: TripResult, grain: Grain, bad: int) -> list[Night]:
    """Every night of a trip.

    Parameters
    ----------
    trip : TripResult
    grain : str
        Of the trip's chart.
    bad : int
        The draw of the bad case.
    """
    clock = np.array(local_clock(trip), dtype="datetime64[m]")
    first, last = (clock[n].astype("datetime64[D]") for n in (0, -1))
    served = _served(trip)
    per_hour = 60 // trip.timeline.step_minutes
    found, column = [], trip.column(bad)
    for evening in np.arange(first, last):
        noon = evening + np.timedelta64(12, "h")
        next_noon = noon + np.timedelta64(24, "h")
        begin, end = (int(np.searchsorted(clock[:-1], time)) for time in (noon, next_noon))
        if begin == end:
            continue
        dawn = _dawn(trip, clock, evening + np.timedelta64(1, "D"))
        dark = trip.dark[begin // per_hour : -(-end // per_hour), column]
        asleep = slice(begin, min(end, dawn + 1))
        day = int(trip.day_index[min(dawn, len(trip.timeline) - 1)])
        found.append(
            Night(
                evening=evening.item(),
                stop=int(trip.timeline.stop[min(dawn, len(trip.timeline) - 1)]),
                point=dawn // per_hour if grain == "hour" else day,
                soc=float(trip.soc[dawn, column]),
                is_off=bool(dark.any()),
                is_plugged=bool((trip.timeline.plugged[asleep] > 0).any()),
                is_served=bool(served[begin:end].any()),
            )
        )
    return found


def _dawn(trip: TripResult, clock: NDArray[np.datetime64], day: np.datetime64) -> int:
    """The step at which the sun rises on a day, or its morning where it does not."""
    noon = day + np.timedelta64(12, "h")
    begin, end = (int(np.searchsorted(clock[:-1], time)) for time in (day, noon))
    up = trip.sun_up[begin:end]
    rises = np.flatnonzero(~up[:-1] & up[1:])
    if len(rises):
        return int(begin + rises[0] + 1)
    morning = int(np.searchsorted(clock[:-1], day + np.timedelta64(_MORNING_H, "h")))
    return min(morning, len(trip.soc) - 1)


def _served(trip: TripResult) -> Bools:
    """Whether a tank is filled or emptied in each step. shape (H,)"""
    found = np.zeros(len(trip.timeline), dtype=bool)
    for store in trip.stores:
        found |= store.levels.renewed.mean(axis=1) > _SERVICE_SHARE * store.capacity
    return found
