"""What all designs of a trip share, worked out once: timeline, sky, loads, one panel's sun."""

from __future__ import annotations

import threading
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from sim.arrays import Floats
from sim.job.model.changes import with_values
from sim.job.model.job import Job, Trip
from sim.sky import sun as sky
from sim.sky.sun import Sun
from sim.sky.track import Track, Weather
from sim.threads import Progress
from sim.trip.bank import BankWeather, bank_weather
from sim.trip.demand import Demand, demand
from sim.trip.sources import PanelUnit, other_sources, panel_unit
from sim.trip.substeps import parts_of
from sim.trip.timeline import Timeline, build_timeline
from sim.trip.weather import file_weather, track_of, trip_weather, under_shade
from sim.van.bank.sources import Source
from sim.van.bank.substeps import Substep


@dataclass(frozen=True)
class TripSky:
    """Sun and weather over a track: what no design changes."""

    track: Track
    sun: Sun
    weather: Weather


@dataclass(frozen=True)
class PreparedTrip:
    """A trip with all that its designs share.

    Attributes
    ----------
    job : Job
    trip : Trip
    timeline : Timeline
        H steps.
    sky : TripSky
        D draws.
    wants : Demand
    units : tuple of PanelUnit
        One panel of each group.
    others : tuple of Source
        All sources but the sun, in the order of use after it.
    ghi : ndarray, shape (H, D)
        On a level surface under the stop's shade. [W/m2]
    bank : BankWeather
        What its temperature does to the bank; the heating is that of one unit.
    """

    job: Job
    trip: Trip
    timeline: Timeline
    sky: TripSky
    wants: Demand
    units: tuple[PanelUnit, ...]
    others: tuple[Source, ...]
    ghi: Floats
    bank: BankWeather

    @property
    def draws(self) -> int:
        """Number of draws, D."""
        return self.sky.weather.draws

    @cached_property
    def parts(self) -> dict[int, tuple[Substep, ...]]:
        """The steps that the battery does in parts."""
        shares = [None, *(x.share for x in self.others)]
        return parts_of(self.job, self.timeline, self.sky.sun, shares)

    @property
    def days_long(self) -> float:
        """Length of the trip. [days]"""
        return len(self.timeline) * self.timeline.step_hours / 24.0


class Skies:
    """Skies that were computed already: changes of a job that leave the way alone share one."""

    def __init__(self) -> None:
        self._known: dict[tuple[object, ...], TripSky] = {}
        self._lock = threading.Lock()

    def over(self, job: Job, trip: Trip, timeline: Timeline) -> TripSky:
        """Sun and weather of a trip."""
        track = track_of(timeline)
        settings = job.settings
        names = [stop.weather or settings.weather for stop in trip.stops]
        sources = list(dict.fromkeys(names))
        source = np.array([sources.index(name) for name in names])[timeline.stop]
        key = (
            (settings.draws, settings.seed, settings.prudent, track.step_minutes),
            tuple(sources),
            *(a.tobytes() for a in (source, track.start_utc, track.latitude, track.longitude)),
        )
        with self._lock:
            if key not in self._known:
                sun = sky.position(track)
                weather = trip_weather(job, trip, timeline, track, sun)
                self._known[key] = TripSky(track, sun, weather)
            return self._known[key]


def file_sky(job: Job, trip: Trip) -> TripSky | None:
    """The sky of a trip on the weather files' own days; see `weather.file_weather`."""
    timeline = build_timeline(job, trip)
    track = track_of(timeline)
    sun = sky.position(track)
    weather = file_weather(job, trip, timeline, track, sun)
    return None if weather is None else TripSky(track, sun, weather)


def prepare_trip(
    job: Job,
    trip: Trip,
    *,
    skies: Skies | None = None,
    above: TripSky | None = None,
    progress: Progress | None = None,
) -> PreparedTrip:
    """Work out once what all designs of a trip share.

    Parameters
    ----------
    job : Job
    trip : Trip
        One of the job's, or like one.
    skies : Skies, optional
        Where the sky may be found, or kept for the next.
    above : TripSky, optional
        A sky to take in place of the job's own.
    progress : callable, optional
        Called with the share of the work done, 0 to 1.

    Raises
    ------
    WeatherError
        A weather file cannot be used, or a place has no climate.
    """
    timeline = build_timeline(job, trip)
    above = above or (skies or Skies()).over(job, trip, timeline)
    weather, sun = above.weather, above.sun
    tell = progress or (lambda done: None)
    tell(0.5)
    wants = demand(job, timeline, weather, sun)

    one_unit = with_values(job, {"battery": with_values(job.battery, {"count": 1})})
    prepared = PreparedTrip(
        job=job,
        trip=trip,
        timeline=timeline,
        sky=above,
        wants=wants,
        units=tuple(panel_unit(group, job, timeline, weather, sun) for group in job.panels),
        others=other_sources(job, trip, timeline, above.track, weather.temp_air, wants),
        ghi=under_shade(weather, timeline, sun).ghi,
        bank=bank_weather(one_unit, timeline, weather.temp_air, sun, wants.cabin_c),
    )
    tell(1.0)
    return prepared
