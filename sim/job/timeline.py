"""One row per step of a trip: where the van is, whether it drives or is plugged in, who is aboard.

Steps start at the departure and are evenly spaced in UTC. What happens by the local clock
(leaving, waking, going out) is turned into shares of each step, so that the length of the
step does not change how much of it happens.

Habits assumed (common practice, no source): local driving at a stop starts at the hour the
van would leave; a night on the plug lasts from 18:00 to 08:00; an arrival before 05:00
belongs to the evening before.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from sim.job.fields import DAY_MINUTES
from sim.job.model import Job, Stop, Trip
from sim.job.places import Place, along

Floats = NDArray[np.float64]

PLUG_NIGHT = (18 * 60, 8 * 60)
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
    leg_starts, arrives, leaves : datetime
        UTC; the leg that leads here starts, ends, and the stay ends.
    """

    label: str
    zone: str
    leg_starts: dt.datetime
    arrives: dt.datetime
    leaves: dt.datetime


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
    latitude, longitude : ndarray
        In the middle of the step. [degrees]
    stop : ndarray of int
        Index of the stop the van stands at or drives to.
    driving, plugged, awake, asleep : ndarray
        Share of the step, 0 to 1; awake and asleep count only while somebody is aboard.
    people : ndarray
        Mean number of people aboard.
    shade, horizon_deg : ndarray
        Share of the beam taken by shade; height of the skyline. 0 on the road.
    stays : tuple of Stay
    """

    start_utc: NDArray[np.datetime64]
    step_minutes: int
    utc_offset_minutes: NDArray[np.int64]
    latitude: Floats
    longitude: Floats
    stop: NDArray[np.int64]
    driving: Floats
    plugged: Floats
    awake: Floats
    asleep: Floats
    people: Floats
    shade: Floats
    horizon_deg: Floats
    stays: tuple[Stay, ...]

    def __len__(self) -> int:
        return len(self.start_utc)

    @property
    def step_hours(self) -> float:
        """Length of a step. [h]"""
        return self.step_minutes / 60.0

    @property
    def local_minute(self) -> Floats:
        """Local clock at the start of each step. [minutes after midnight]"""
        return _local_minute(self.start_utc, self.utc_offset_minutes)

    def share_within(self, windows: Sequence[tuple[int, int]]) -> Floats:
        """Share of each step that lies in parts of the local day.

        Parameters
        ----------
        windows : sequence of (int, int)
            Start and end, minutes after midnight; an end before the start is past midnight.
        """
        return share_within(self.local_minute, self.step_minutes, windows)


def share_within(
    local_minute: Floats, step_minutes: int, windows: Sequence[tuple[int, int]]
) -> Floats:
    """Share of steps that lies in daily windows; overlapping windows count once.

    Parameters
    ----------
    local_minute : ndarray, shape (H,)
        Start of each step. [minutes after local midnight]
    step_minutes : int
    windows : sequence of (int, int)
        Minutes after midnight.

    Returns
    -------
    ndarray, shape (H,)
        0 to 1.
    """
    inside = np.zeros(DAY_MINUTES)
    for start, end in windows:
        if start < end:
            inside[start:end] = 1.0
        else:
            inside[start:] = 1.0
            inside[:end] = 1.0
    # minutes inside since midnight of the first day, over two days: a step may pass midnight
    passed = np.concatenate([[0.0], np.cumsum(np.tile(inside, 2))])
    grid = np.arange(2 * DAY_MINUTES + 1, dtype=np.float64)
    ends = np.interp(local_minute + step_minutes, grid, passed)
    return np.asarray((ends - np.interp(local_minute, grid, passed)) / step_minutes)


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
        H steps from departure to the end of the last stay, the last step filled up.
    """
    stays = lay_out(trip)
    step = job.settings.step_minutes
    begin, end = stays[0].leg_starts, stays[-1].leaves
    count = max(1, -(-int((end - begin).total_seconds()) // (60 * step)))
    first = _seconds(begin)
    unix = first + np.arange(count, dtype=np.int64) * 60 * step
    middle = unix + 30 * step
    leaves = np.array([_seconds(stay.leaves) for stay in stays])
    stop = np.minimum(np.searchsorted(leaves, middle, side="right"), len(stays) - 1)
    latitude, longitude = _positions(trip, stays, stop, middle)
    offset = _offsets(trip, stays, stop, unix)
    start_utc = unix.astype("datetime64[s]")
    clock = _local_minute(start_utc, offset)
    driving = _legs(stays, unix, step)
    local = np.zeros(count)
    plugged = np.zeros(count)
    for index, (item, stay) in enumerate(zip(trip.stops, stays, strict=True)):
        here = _overlap(unix, step, _seconds(stay.arrives), _seconds(stay.leaves))
        local += here * _local_driving(trip, item, stop == index, clock, step)
        if item.plug_in != "never":
            night = share_within(clock, step, [PLUG_NIGHT]) if item.plug_in == "nights" else 1.0
            plugged += here * night
    driving = np.minimum(driving + local, 1.0)
    parked = 1.0 - driving
    living = job.living
    aboard = 1.0 - parked * share_within(clock, step, living.out)
    awake_now = share_within(clock, step, [(living.wake_at, living.sleep_at)])
    settings = np.array([(item.shade_pct / 100.0, item.horizon_deg) for item in trip.stops])
    return Timeline(
        start_utc=start_utc,
        step_minutes=step,
        utc_offset_minutes=offset,
        latitude=latitude,
        longitude=longitude,
        stop=stop,
        driving=driving,
        plugged=np.minimum(plugged, 1.0 - driving),
        awake=np.minimum(aboard, awake_now),
        asleep=np.maximum(aboard - awake_now, 0.0),
        people=aboard * living.people,
        shade=settings[stop, 0] * parked,
        horizon_deg=settings[stop, 1] * (parked > 0.5),
        stays=stays,
    )


def lay_out(trip: Trip) -> tuple[Stay, ...]:
    """When each leg starts and ends and each stay is over, by the clocks of the places."""
    stays = []
    origin = trip.start or trip.stops[0].place
    leg_starts = _at(trip.depart, trip.leave_at, origin)
    for index, stop in enumerate(trip.stops):
        arrives = leg_starts + dt.timedelta(hours=stop.drive_hours)
        local = arrives.astimezone(ZoneInfo(stop.place.time_zone))
        evening = local.date() - dt.timedelta(days=int(local.time() < _NIGHT_ENDS))
        leaves = arrives
        if stop.nights:
            clock = leave_minute(trip, stop)
            leaves = _at(evening + dt.timedelta(days=stop.nights), clock, stop.place)
        leaves = max(leaves, arrives)
        stays.append(
            Stay(stop.place.label, stop.place.time_zone, leg_starts, arrives, leaves)
        )
        if index + 1 < len(trip.stops):
            leg_starts = leaves
    return tuple(stays)


def leave_minute(trip: Trip, stop: Stop) -> int:
    """Local clock at which the van leaves a stop. [minutes after midnight]"""
    return trip.leave_at if stop.leave_at is None else stop.leave_at


def _at(date: dt.date, minute: int, place: Place) -> dt.datetime:
    """An instant, UTC, from a place's calendar and clock; a clock time that the change to
    summer time skips is taken as the time it would have been."""
    midnight = dt.datetime.combine(date, dt.time())
    local = midnight + dt.timedelta(minutes=minute)
    return local.replace(tzinfo=ZoneInfo(place.time_zone)).astimezone(dt.UTC)


def _seconds(moment: dt.datetime) -> int:
    return round(moment.timestamp())


def _overlap(unix: NDArray[np.int64], step: int, begin: int, end: int) -> Floats:
    """Share of each step that lies between two instants."""
    inside = np.minimum(unix + 60 * step, end) - np.maximum(unix, begin)
    return np.asarray(np.maximum(inside, 0) / (60.0 * step), dtype=np.float64)


def _legs(stays: tuple[Stay, ...], unix: NDArray[np.int64], step: int) -> Floats:
    driving = np.zeros(len(unix))
    for stay in stays:
        driving += _overlap(unix, step, _seconds(stay.leg_starts), _seconds(stay.arrives))
    return driving


def _local_driving(
    trip: Trip, stop: Stop, here: NDArray[np.bool_], clock: Floats, step: int
) -> Floats:
    minutes = round(stop.local_drive_hours * 60)
    if minutes == 0:
        return np.zeros(len(clock))
    start = leave_minute(trip, stop) % DAY_MINUTES
    window = (start, (start + minutes) % DAY_MINUTES)
    return share_within(clock, step, [window]) * here


def _positions(
    trip: Trip, stays: tuple[Stay, ...], stop: NDArray[np.int64], middle: NDArray[np.int64]
) -> tuple[Floats, Floats]:
    latitude, longitude = np.empty(len(stop)), np.empty(len(stop))
    before = trip.start or trip.stops[0].place
    for index, (item, stay) in enumerate(zip(trip.stops, stays, strict=True)):
        here = stop == index
        begin, end = _seconds(stay.leg_starts), _seconds(stay.arrives)
        fraction = np.clip((middle[here] - begin) / max(end - begin, 1), 0.0, 1.0)
        latitude[here], longitude[here] = along(before, item.place, fraction)
        before = item.place
    return latitude, longitude


def _offsets(
    trip: Trip, stays: tuple[Stay, ...], stop: NDArray[np.int64], unix: NDArray[np.int64]
) -> NDArray[np.int64]:
    """UTC offset of the clock people live by: the last place's until the next is reached."""
    offsets = np.empty(len(unix), dtype=np.int64)
    first = (trip.start or trip.stops[0].place).time_zone
    zones = [first] + [item.place.time_zone for item in trip.stops]
    arrives = np.array([_seconds(stay.arrives) for stay in stays])
    which = stop + (unix >= arrives[stop])
    for index, name in enumerate(zones):
        zone = ZoneInfo(name)
        for row in np.flatnonzero(which == index):
            local = dt.datetime.fromtimestamp(int(unix[row]), zone)
            offset = local.utcoffset() or dt.timedelta()
            offsets[row] = round(offset.total_seconds() / 60)
    return offsets


def _local_minute(start_utc: NDArray[np.datetime64], offset: NDArray[np.int64]) -> Floats:
    minutes = start_utc.astype("datetime64[m]").astype(np.int64) + offset
    return np.asarray(minutes % DAY_MINUTES, dtype=np.float64)
