"""One row per step of a trip: where the van is, whether it drives or is plugged in, who is aboard.

Steps start at the departure and are evenly spaced in UTC. What happens (driving, waking, going
out) is laid out minute by minute and then gathered into shares of each step, so that the length
of the step does not change how much of it happens, and a clock change may fall into its middle.

Habits assumed (common practice, no source): local driving at a stop starts at the hour the
van would leave; a night on the plug lasts from 18:00 to 08:00.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from sim.arrays import Bools, Floats, Ints
from sim.job.model.fields import DAY_MINUTES
from sim.job.model.job import Job, Stop, Trip
from sim.job.model.power import Alternator
from sim.places.lookup import along
from sim.sky.climate.wind import monthly_wind
from sim.trip.stays import Stay, lay_out, leave_minute

# Hours of the local day on the plug, by a stop's plug_in.
PLUGGED = {"never": [], "nights": [(18 * 60, 8 * 60)], "always": [(0, DAY_MINUTES)]}
# Several drives of a day about a stop are spread over so long (common practice, no source).
_OUTING_MINUTES = 9 * 60


@dataclass(frozen=True)
class Timeline:
    """A trip, step by step. Arrays have shape (H,) unless said.

    Attributes
    ----------
    start_utc : ndarray of datetime64[s]
        Start of each step.
    step_minutes : int
    utc_offset_minutes : ndarray of int
        Of the local clock at the start of each step.
    clock : ndarray of int, shape (H, step_minutes)
        Local clock at the start of each minute. [minutes after midnight]
    latitude, longitude : ndarray
        In the middle of the step. [degrees]
    stop : ndarray of int
        Index of the stop the van is at or drives to, in the middle of the step.
    driving, plugged, idling, awake, asleep : ndarray
        Share of the step, 0 to 1; awake and asleep count only while somebody is aboard.
    people : ndarray
        Mean number of people aboard.
    shade : ndarray
        Mean share of the beam taken by shade; 0 on the road.
    horizon_deg : ndarray
        Height of the skyline in the middle of the step; 0 on the road.
    stays : tuple of Stay
    wind_m_s : ndarray
        Mean wind of the stop the van is at or drives to. [m/s]
    heading_deg : ndarray, optional
        Where the front of the parked van points, in the middle of the step; NaN where nobody
        knows, None where it is not asked. [degrees]
    starting : ndarray, shape (2, H), optional
        Share of the step in which the engine, on the road or idling, has only just started and
        fills its own battery; None where it is not asked.
    altitude_m : ndarray, optional
        Height of the stop where the job or its town gives it; NaN on a leg and elsewhere, None
        where it is not asked. [m]
    """

    start_utc: NDArray[np.datetime64]
    step_minutes: int
    utc_offset_minutes: Ints
    clock: NDArray[np.int16]
    latitude: Floats
    longitude: Floats
    stop: Ints
    driving: Floats
    plugged: Floats
    idling: Floats
    awake: Floats
    asleep: Floats
    people: Floats
    shade: Floats
    horizon_deg: Floats
    stays: tuple[Stay, ...]
    wind_m_s: Floats
    heading_deg: Floats | None = None
    altitude_m: Floats | None = None
    starting: Floats | None = None

    def __len__(self) -> int:
        return len(self.start_utc)

    @property
    def step_hours(self) -> float:
        """Length of a step. [h]"""
        return self.step_minutes / 60.0

    @cached_property
    def local_times(self) -> tuple[dt.datetime, ...]:
        """Start of every step by the clock people live by, with its offset; one more for the end
        of the last step."""
        offsets = self.utc_offset_minutes.tolist()
        zones = [dt.timezone(dt.timedelta(minutes=offset)) for offset in offsets]
        seconds = self.start_utc.astype(np.int64).tolist()
        times = list(map(dt.datetime.fromtimestamp, seconds, zones))
        step = dt.timedelta(minutes=self.step_minutes)
        end = (times[-1] + step).astimezone(ZoneInfo(self.stays[-1].zone))
        offset = end.utcoffset() or dt.timedelta()
        return (*times, end.replace(tzinfo=dt.timezone(offset)))

    @cached_property
    def digest(self) -> bytes:
        """The same for timelines that are the same in every step."""
        whole = hashlib.sha256()
        for field in fields(self):
            value = getattr(self, field.name)
            content = value.tobytes() if isinstance(value, np.ndarray) else repr(value).encode()
            whole.update(field.name.encode() + len(content).to_bytes(8, "big") + content)
        return whole.digest()

    @property
    def local_day(self) -> Ints:
        """Number of the local calendar day of each step, from 0. shape (H,)

        A day that a zone left out, such as 30 December 2011 in Samoa, is not counted.
        """
        minutes = self.start_utc.astype("datetime64[m]").astype(np.int64)
        days = (minutes + self.utc_offset_minutes) // DAY_MINUTES
        # A clock set back at midnight must not start the day before anew.
        days = np.maximum.accumulate(days)
        return np.asarray(np.cumsum(np.diff(days, prepend=days[0]) > 0), dtype=np.int64)

    @property
    def engine(self) -> Floats:
        """Share of the step in which the engine has power to spare: on the road, and idling in
        camp. shape (2, H)"""
        runs = np.stack([self.driving, self.idling])
        return runs if self.starting is None else runs - self.starting

    def share_within(self, windows: Sequence[tuple[int, int]]) -> Floats:
        """Share of each step that lies in parts of the local day.

        Parameters
        ----------
        windows : sequence of (int, int)
            Start and end, minutes after midnight; an end before the start is past midnight.
        """
        inside = within(self.clock, windows)
        return np.asarray(np.add.reduce(inside, axis=1, dtype=np.int16) / inside.shape[1])


def within(clock: NDArray[np.int16], windows: Sequence[tuple[int, int]]) -> Bools:
    """Whether each minute lies in daily windows.

    Parameters
    ----------
    clock : ndarray of int
        Local clock at the start of the minute. [minutes after midnight]
    windows : sequence of (int, int)
        Start and end, minutes after midnight; an end before the start is past midnight.

    Returns
    -------
    ndarray of bool, shape of `clock`
    """
    inside = np.zeros(DAY_MINUTES, dtype=np.bool_)
    for start, end in windows:
        if start < end:
            inside[start:end] = True
        else:
            inside[start:] = True
            inside[:end] = True
    return inside.take(clock)


def build_timeline(job: Job, trip: Trip) -> Timeline:
    """Lay a trip out on its steps.

    Parameters
    ----------
    job : Job
    trip : Trip
        One of the job's.

    Returns
    -------
    Timeline
        H steps from departure to the end of the last stay. The last step is filled up: the van
        stays at the last stop with everybody aboard as the day has it, but off the plug.
    """
    stays = lay_out(trip)
    step = job.settings.step_minutes
    begin, end = _minute(stays[0].leg_starts), _minute(stays[-1].leaves)
    count = max(1, -(-(end - begin) // step))
    # From here on, one row is a minute until `_gathered` makes steps of them.
    minute = begin + np.arange(count * step, dtype=np.int64)
    arrives = np.array([_minute(stay.arrives) for stay in stays])
    leaves = np.array([_minute(stay.leaves) for stay in stays])
    stop = np.minimum(np.searchsorted(leaves, minute, side="right"), len(stays) - 1)
    offset = _offsets(trip, arrives, begin, begin + len(minute))
    clock = ((minute + offset) % DAY_MINUTES).astype(np.int16)
    under_way = minute < arrives[stop]
    driving, plugged, idling = _engine_and_plug(trip, stays, begin, clock, under_way)
    starting = _starting(driving | idling, job.alternator)
    aboard = driving | ~within(clock, job.living.out)
    awake = within(clock, [(job.living.wake_at, job.living.sleep_at)])
    shade, horizon_deg = np.array([(x.shade_pct / 100.0, x.horizon_deg) for x in trip.stops]).T
    middle = slice(step // 2, None, step)
    latitude, longitude = _positions(trip, stays, stop[middle], minute[::step] + 0.5 * step)
    return Timeline(
        start_utc=(60 * minute[::step]).astype("datetime64[s]"),
        step_minutes=step,
        utc_offset_minutes=offset[::step],
        clock=clock.reshape(count, step),
        latitude=latitude,
        longitude=longitude,
        stop=stop[middle],
        driving=_gathered(driving, step),
        plugged=_gathered(plugged, step),
        idling=_gathered(idling, step),
        awake=_gathered(aboard & awake, step),
        asleep=_gathered(aboard & ~awake, step),
        people=_gathered(aboard, step) * job.living.people,
        shade=_gathered(shade[stop] * ~(driving | under_way), step),
        horizon_deg=horizon_deg[stop[middle]] * ~(driving | under_way)[middle],
        stays=stays,
        heading_deg=_headings(trip)[stop[middle]],
        wind_m_s=_winds(job, trip)[stop[middle], _months(minute[middle] + offset[middle])],
        starting=np.stack([_gathered(runs & starting, step) for runs in (driving, idling)]),
        altitude_m=np.where(under_way[middle], np.nan, _altitudes(trip)[stop[middle]]),
    )


def _engine_and_plug(
    trip: Trip,
    stays: tuple[Stay, ...],
    begin: int,
    clock: NDArray[np.int16],
    under_way: Bools,
) -> tuple[Bools, Bools, Bools]:
    """Whether the van drives, is on the plug and idles, in each minute from `begin`."""
    driving = under_way.copy()
    plugged, idling = (np.zeros(len(clock), dtype=np.bool_) for _ in range(2))
    for stay in stays:
        driving[_minute(stay.rests) - begin : _minute(stay.goes_on) - begin] = False
    for item, stay in zip(trip.stops, stays, strict=True):
        here = slice(_minute(stay.arrives) - begin, _minute(stay.leaves) - begin)
        driving[here] = _about(trip, item, clock[here])
        plugged[here] = within(clock[here], PLUGGED[item.plug_in]) & ~driving[here]
        idling[here] = within(clock[here], _idling(item)) & ~driving[here]
    return driving, plugged, idling


def _gathered(values: Floats | Bools, step: int) -> Floats:
    """Mean over each step of what is known by the minute."""
    return np.asarray(values.reshape(-1, step).mean(axis=1), dtype=np.float64)


def _headings(trip: Trip) -> Floats:
    """Heading of each stop, NaN where it is not given. [degrees]"""
    headings = [np.nan if x.heading_deg is None else x.heading_deg for x in trip.stops]
    return np.array(headings, dtype=np.float64)


def _winds(job: Job, trip: Trip) -> Floats:
    """Mean wind at each stop in each month, January first: the stop's, the job's, or the
    climate's. [m/s], shape (stops, 12)"""
    given = [job.settings.wind_m_s if x.wind_m_s is None else x.wind_m_s for x in trip.stops]
    places = [stop.place for stop in trip.stops]
    winds = monthly_wind(
        np.array([place.latitude for place in places]),
        np.array([place.longitude for place in places]),
    )
    for row, wind_m_s in zip(winds, given, strict=True):
        if wind_m_s is not None:
            row[:] = wind_m_s
    return winds


def _months(local_minute: Ints) -> Ints:
    """Month of a minute of the local clock, 0 for January."""
    months = local_minute.astype("datetime64[m]").astype("datetime64[M]")
    return np.asarray(months.astype(np.int64) % 12)


def _minute(moment: dt.datetime) -> int:
    """Minutes since 1970-01-01 UTC."""
    return round(moment.timestamp() / 60.0)


def _about(trip: Trip, stop: Stop, clock: NDArray[np.int16]) -> Bools:
    """Whether the van drives about in each minute of a stay."""
    windows = _local_driving(trip, stop)
    if not windows or not len(clock):
        return np.zeros(len(clock), dtype=np.bool_)
    about = within(clock, windows)
    first, over = windows[0]
    since = (int(clock[0]) - first) % DAY_MINUTES
    # Who arrives when the day's first drive is over has driven enough.
    if since >= (over - first) % DAY_MINUTES:
        about[: (DAY_MINUTES - since) % DAY_MINUTES] = False
    return about


def _local_driving(trip: Trip, stop: Stop) -> list[tuple[int, int]]:
    """Parts of the day in which the van drives about at a stop."""
    minutes = round(60 * stop.local_drive_hours)
    if minutes == 0:
        return []
    first = leave_minute(trip, stop)
    apart = max(_OUTING_MINUTES, minutes) // stop.local_drives
    ends = [minutes * n // stop.local_drives for n in range(stop.local_drives + 1)]
    return [
        ((first + n * apart) % DAY_MINUTES, (first + n * apart + after - before) % DAY_MINUTES)
        for n, (before, after) in enumerate(pairwise(ends))
        if after > before
    ]


def _altitudes(trip: Trip) -> Floats:
    """Altitude of each stop, NaN where only the map knows it. [m]"""
    return np.array([item.place.altitude_m for item in trip.stops], dtype=np.float64)


def _idling(stop: Stop) -> list[tuple[int, int]]:
    """Part of the day in which the engine of the parked van runs."""
    minutes = round(60 * stop.idle_hours)
    if minutes == 0:
        return []
    return [(stop.idle_at % DAY_MINUTES, (stop.idle_at + minutes) % DAY_MINUTES)]


def _starting(runs: Bools, alternators: tuple[Alternator, ...]) -> Bools:
    """Minutes in which the engine has only just started."""
    minute = np.arange(len(runs))
    starts = runs & ~np.concatenate([[False], runs[:-1]])
    since = minute - np.maximum.accumulate(np.where(starts, minute, 0))
    # One engine starts for all of them: the slowest to be ready counts.
    return runs & (since < max((item.start_minutes for item in alternators), default=0))


def _positions(
    trip: Trip, stays: tuple[Stay, ...], stop: Ints, middle: NDArray[np.floating[Any]]
) -> tuple[Floats, Floats]:
    """Latitude and longitude in the middle of each step. [degrees], middle in [min UTC]"""
    latitude = np.array([item.place.latitude for item in trip.stops])[stop]
    longitude = np.array([item.place.longitude for item in trip.stops])[stop]
    before = trip.start or trip.stops[0].place
    runs = pairwise(np.searchsorted(stop, np.arange(len(stays) + 1)))
    for item, stay, (first, last) in zip(trip.stops, stays, runs, strict=True):
        begin, end = _minute(stay.leg_starts), _minute(stay.arrives)
        rests, pause = _minute(stay.rests), _minute(stay.goes_on) - _minute(stay.rests)
        if end > begin and last > first:
            rested = np.clip(middle[first:last] - rests, 0.0, pause)
            driven = middle[first:last] - begin - rested
            done = np.clip(driven / (end - begin - pause), 0.0, 1.0)
            way = along(before, item.place, done)
            latitude[first:last], longitude[first:last] = way
        before = item.place
    return latitude, longitude


def _offsets(trip: Trip, arrives: Ints, begin: int, end: int) -> Ints:
    """UTC offset of the clock people live by, every minute: the last place's until the next is
    reached."""
    places = [trip.start or trip.stops[0].place, *(item.place for item in trip.stops)]
    runs = zip(places, pairwise([begin, *arrives.tolist(), end]), strict=True)
    return np.concatenate([_zone_offsets(place.time_zone, *run) for place, run in runs])


def _zone_offsets(name: str, begin: int, end: int) -> Ints:
    """UTC offset of a zone in every minute from `begin` to before `end`. [min]"""
    zone = ZoneInfo(name)

    def offset(minute: int) -> int:
        local = dt.datetime.fromtimestamp(60 * minute, zone)
        return round((local.utcoffset() or dt.timedelta()).total_seconds() / 60.0)

    offsets = np.empty(end - begin, dtype=np.int64)
    # Clocks change at most once a day: look at its two ends, search between when they differ.
    for first in range(begin, end, DAY_MINUTES):
        last = min(first + DAY_MINUTES, end)
        before = offset(first)
        change = last
        if offset(last - 1) != before:
            change = bisect_left(range(last), True, first, key=lambda m: offset(m) != before)
        offsets[first - begin : change - begin] = before
        offsets[change - begin : last - begin] = offset(last - 1)
    return offsets
