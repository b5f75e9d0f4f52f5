"""What the charts draw, taken from results: hours or days of the charge, days or weeks of energy.

Times here are naive and local: the wall clock people live by.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sim.arrays import Bools, Floats, Ints
from sim.ledger.course import WEEK_DAYS, lows_of
from sim.ledger.results import Result, TripResult

Grain = Literal["hour", "day"]
Span = tuple[dt.datetime, dt.datetime]

# Beyond these a chart by the hour is a smear, and the page too large to mail; the charge is then
# drawn by its lowest point of each day.
HOURLY_DAYS = 45
HOURLY_POINTS = 10_000
# Trips longer than this are shown by the week.
DAILY_DAYS = 60
# Trips are drawn on one scale of time if the shortest fills so much of the longest.
_ONE_SPAN_SHARE = 0.6


@dataclass(frozen=True)
class ChargePoints:
    """The charge of a trip, point by point, and what went on from each point to the next.

    Attributes
    ----------
    grain : str
        "hour": charge at that time, N + 1 points for N hours. "day": lowest of each day, N points.
    times : list of datetime
        Naive, local; one for each point.
    p10, p50, p90 : ndarray
        Quantiles over draws. 0 to 1.
    bad : ndarray
        The draw that the verdict turns on, `answer.bad_draw`. 0 to 1.
    taken_w : dict of ndarray, shape (N,)
        Taken of the sources, by their kind: means over draws and time. [W]
    served_w, outside_c, cabin_c, dark, driving : ndarray, shape (N,)
        Means over draws and time; dark is the share of draws with a dark hour, driving of time.
    bad_dark : ndarray of bool, shape (N,)
        Whether something is off in that draw.
    stop : ndarray of int, shape (N,)
        Index of the stop.
    stores : tuple of ndarray, each of shape (N,)
        Level of each tank at that time, the middle of all draws. 0 to 1.
    """

    grain: Grain
    times: list[dt.datetime]
    p10: Floats
    p50: Floats
    p90: Floats
    bad: Floats
    taken_w: dict[str, Floats]
    served_w: Floats
    outside_c: Floats
    cabin_c: Floats
    dark: Floats
    driving: Floats
    bad_dark: Bools
    stop: Ints
    stores: tuple[Floats, ...]
    file_days: Floats | None = None


@dataclass(frozen=True)
class Period:
    """A local day, or a week of them. Energies are means over draws, a day. [Wh/day]

    Attributes
    ----------
    first, last : date
    taken : dict
        From the sources, by their kind.
    low_p10, low_p50, low_p90 : float
        Lowest charge of the period, over draws.
    """

    first: dt.date
    last: dt.date
    taken: dict[str, float]
    served: float
    unserved: float
    losses: float
    unharvested: float
    low_p10: float
    low_p50: float
    low_p90: float


def local_clock(trip: TripResult) -> list[dt.datetime]:
    """Naive local start of every step, and the end of the last."""
    return [time.replace(tzinfo=None) for time in trip.local_times()]


def grain_of(result: Result) -> list[Grain]:
    """Whether each trip's charge is drawn by the hour or by the day."""
    short = [trip.days_long <= HOURLY_DAYS for trip in result.trips]
    points = sum(trip.hours_long for trip, fits in zip(result.trips, short, strict=True) if fits)
    return ["hour" if fits and points <= HOURLY_POINTS else "day" for fits in short]


def charge_points(trip: TripResult, grain: Grain, bad: int) -> ChargePoints:
    """The charge of a trip by the hour, or by its lowest of each day.

    Parameters
    ----------
    trip : TripResult
    grain : str
    bad : int
        The draw of the bad case.
    """
    steps = len(trip.timeline)
    times, course, column = local_clock(trip), trip.course, trip.column(bad)
    charge, bad_dark = trip.soc[:, column], trip.dark[:, column]
    if grain == "hour":
        starts = np.arange(0, steps, 60 // trip.timeline.step_minutes)
        edges = np.append(starts, steps)
        spread, charge, times = course.soc[:, edges], charge[edges], [times[i] for i in edges]
        own = None if trip.file_days_soc is None else trip.file_days_soc[edges]
        dark = course.dark
    else:
        starts = np.flatnonzero(np.diff(trip.day_index, prepend=-1))
        spread, charge = course.day_low, lows_of(charge, trip.day_index)
        own = trip.file_days_soc
        own = None if own is None else lows_of(own, trip.day_index)
        times = [dt.datetime.combine(times[i].date(), dt.time(12)) for i in starts]
        dark, hours = course.dark_days, bad_dark
        bad_dark = np.zeros(len(starts), dtype=bool)
        np.logical_or.at(bad_dark, trip.day_index[:: 60 // trip.timeline.step_minutes], hours)
    counts = np.diff(np.append(starts, steps))

    def mean(values: Floats) -> Floats:
        over_draws = values.mean(axis=1) if values.ndim == 2 else values
        return np.asarray(np.add.reduceat(over_draws, starts) / counts)

    p10, p50, p90 = spread
    return ChargePoints(
        grain=grain,
        times=times,
        p10=p10,
        p50=p50,
        p90=p90,
        bad=charge,
        taken_w={kind: mean(watts) for kind, watts in trip.taken_w().items()},
        served_w=mean(trip.served_w),
        outside_c=mean(trip.temp_air),
        cabin_c=mean(trip.cabin_c),
        dark=dark,
        driving=mean(trip.timeline.driving),
        bad_dark=bad_dark,
        stop=trip.timeline.stop[starts],
        stores=tuple(x.level_over_draws[1, starts] / x.capacity for x in trip.stores),
        file_days=own,
    )


def periods(trip: TripResult) -> list[Period]:
    """The trip by local days, or by weeks where it is long."""
    dates = trip.dates
    days = len(dates)
    length = 1 if days <= DAILY_DAYS else WEEK_DAYS
    number = trip.day_index // length
    starts = np.flatnonzero(np.diff(number, prepend=-1))
    low = trip.course.day_low if length == 1 else trip.course.week_low
    hours = trip.timeline.step_hours

    def sums(flows: dict[str, Floats]) -> dict[str, Floats]:
        return {
            name: np.add.reduceat(flow.mean(axis=1), starts) * hours for name, flow in flows.items()
        }

    taken, spent = sums(trip.taken_w()), sums(trip.spent_w())
    found = []
    for index, start in enumerate(starts):
        begin = int(number[start]) * length
        end = min(begin + length, days) - 1
        count = end - begin + 1
        found.append(
            Period(
                first=dates[begin],
                last=dates[end],
                taken={kind: float(values[index]) / count for kind, values in taken.items()},
                **{name: float(values[index]) / count for name, values in spent.items()},
                low_p10=float(low[0, index]),
                low_p50=float(low[1, index]),
                low_p90=float(low[2, index]),
            )
        )
    return found


def first_low(charge: Floats) -> int:
    """The first point at which a charge is as low as it ever is, to a percent.

    An empty battery stays empty, and loses a trifle by itself: what counts is when it got there.
    """
    percents = np.round(100.0 * charge)
    return int(np.argmax(percents <= percents.min()))


def runs(flags: Bools) -> list[tuple[int, int]]:
    """First index and the one after the last of each run of true values."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], flags, [False])).astype(np.int8)))
    return [(int(a), int(b)) for a, b in edges.reshape(-1, 2)]


def spans(flags: Bools, clock: Sequence[dt.datetime]) -> list[Span]:
    """Start and end of each run of true steps by the local clock."""
    return [(clock[first], clock[last]) for first, last in runs(flags)]


def share_spans(share: Floats, clock: Sequence[dt.datetime], step_hours: float) -> list[Span]:
    """Start and end of each run of steps with a share above 0, as long as its shares add up to."""
    found = []
    for first, last in runs(share > 0):
        length = dt.timedelta(hours=float(share[first:last].sum()) * step_hours)
        found.append((clock[first], clock[first] + length))
    return found


def time_ranges(results: Sequence[TripResult]) -> list[Span]:
    """What each trip's chart shows of time: the same length for all, if they are near enough."""
    clocks = [local_clock(trip) for trip in results]
    # Eastward over the date line the clock goes back by a day.
    ends = [(min(clock), max(clock)) for clock in clocks]
    lengths = [end - begin for begin, end in ends]
    longest = max(lengths)
    if min(lengths) < _ONE_SPAN_SHARE * longest:
        return ends
    return [(begin, begin + longest) for begin, _ in ends]
