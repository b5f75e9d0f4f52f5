"""What all designs of a trip share, worked out once: timeline, sky, loads, one panel's sun."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TypeVar

import numpy as np

from sim.arrays import Floats
from sim.job.model.changes import with_values
from sim.job.model.job import Job, Trip
from sim.job.model.power import PanelGroup
from sim.sky import sun as sky
from sim.sky.sun import Sun
from sim.sky.track import Track, Weather
from sim.threads import Progress, run_tasks
from sim.trip.bank import BankWeather, bank_weather
from sim.trip.demand import Asked, Demand, demands
from sim.trip.known import Kept, Key, Known
from sim.trip.one_panel import shadow_loss
from sim.trip.sources import PanelUnit, other_sources, panel_unit
from sim.trip.substeps import parts_of
from sim.trip.timeline import Timeline, build_timeline
from sim.trip.weather import all_on_files, file_weather, track_of, trip_weather, under_shade
from sim.van.bank.sources import Source
from sim.van.bank.substeps import Substep

_T = TypeVar("_T")


@dataclass(frozen=True)
class TripSky:
    """Sun and weather over a track: what no design changes.

    Attributes
    ----------
    track : Track
    sun : Sun
    weather : Weather
    way : hashable
        The same for skies that are the same; None for one that is alone.
    """

    track: Track
    sun: Sun
    weather: Weather
    way: Hashable = None


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
    kept : Kept or None
        What comes of its loads under its sky, for others that have the same.
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
    kept: Kept | None = None

    @property
    def draws(self) -> int:
        """Number of draws, D."""
        return self.sky.weather.draws

    @cached_property
    def parts(self) -> dict[int, tuple[Substep, ...]]:
        """The steps that the battery does in parts."""
        shares = [None, *(x.share for x in self.others)]
        # Of the sources it is their shares, of the battery the size alone.
        acting = self.job.battery, *(None if x is None else x.tobytes() for x in shares)
        return self.once(
            "parts", acting, lambda: parts_of(self.job, self.timeline, self.sky.sun, shares)
        )

    def once(self, name: str, acting: Hashable, make: Callable[[], _T]) -> _T:
        """What comes of its loads and of what acts on it beside them, worked out once for all
        trips with the same."""
        return _once(self.kept, name, acting, make)

    @property
    def days_long(self) -> float:
        """Length of the trip. [days]"""
        return len(self.timeline) * self.timeline.step_hours / 24.0


def _once(kept: Kept | None, name: str, acting: Hashable, make: Callable[[], _T]) -> _T:
    return make() if kept is None else kept.get(name, acting, make)


class Skies:
    """What was computed already: skies, and loads and panels under them.

    Changes of a job that leave the way alone share one sky; those that leave the steps of the
    trip alone share its loads, or its panels, where they change nothing that acts on them. In
    `known` others may keep what came of them.
    """

    def __init__(self) -> None:
        self.known = Known()

    def timeline(self, job: Job, trip: Trip) -> Timeline:
        """The steps of a trip."""
        settings = job.settings.step_minutes, job.settings.wind_m_s
        key = "timeline", trip, job.living, job.alternator, *settings
        return self.known.get(key, lambda: build_timeline(job, trip))

    def over(self, job: Job, trip: Trip, timeline: Timeline) -> TripSky:
        """Sun and weather of a trip, in the draws that every change of it is tried in."""
        return self.over_each([(job, trip, timeline)])[0]

    def over_each(self, asked: Sequence[tuple[Job, Trip, Timeline]]) -> list[TripSky]:
        """The same for several trips; where the sun is on their ways is worked out in one go."""
        tracks = [track_of(timeline) for _, _, timeline in asked]
        ways = [_way(*one, track) for one, track in zip(asked, tracks, strict=True)]

        def drawn(places: Sequence[int]) -> list[TripSky]:
            suns = sky.positions([tracks[place] for place in places])
            return [over(place, sun) for place, sun in zip(places, suns, strict=True)]

        def over(place: int, sun: Sun) -> TripSky:
            draws = range(asked[place][0].settings.first_draws)
            weather = trip_weather(*asked[place], tracks[place], sun, draws)
            return TripSky(tracks[place], sun, weather, ways[place])

        return self.known.get_all(ways, drawn)

    def demands(
        self, asked: Sequence[tuple[Job, Timeline, TripSky]]
    ) -> list[tuple[Demand, Kept | None]]:
        """All loads of trips, each under its sky, and where what comes of them is kept."""

        def made(places: Sequence[int]) -> list[Demand]:
            chosen = (asked[place] for place in places)
            return demands(
                [Asked(job, line, self.under(line, x), x.sun) for job, line, x in chosen]
            )

        if any(above.way is None for _, _, above in asked):
            return [(wants, None) for wants in made(range(len(asked)))]
        keys = [Key((above.way, line.digest, _seen_by_loads(job))) for job, line, above in asked]
        found = zip(self.known.get_all(keys, made), keys, strict=True)
        return [(wants, Kept(self.known, key)) for wants, key in found]

    def under(self, timeline: Timeline, above: TripSky) -> Weather:
        """The weather under the shade of a trip's stops. shape (H, D)"""

        def made() -> Weather:
            return under_shade(above.weather, timeline, above.sun)

        if above.way is None:
            return made()
        acting = timeline.shade.tobytes(), timeline.horizon_deg.tobytes()
        return self.known.get(("under", above.way, *acting), made)

    def unit(self, group: PanelGroup, job: Job, timeline: Timeline, above: TripSky) -> PanelUnit:
        """One panel of a group of a trip's job under its sky."""

        def made() -> PanelUnit:
            under = self.under(timeline, above)
            return panel_unit(group, job, timeline, above.weather, above.sun, under=under)

        if above.way is None:
            return made()
        # How many there are is nothing to one of them, but for the shadow on their strings.
        alone = with_values(group, {"count": group.series}), shadow_loss(group)
        habits = job.living.wake_at, job.living.sleep_at, job.living.clear_snow
        bank = job.battery.charging_v, job.battery.nominal_v
        key = above.way, timeline.digest, alone, habits, bank
        return replace(self.known.get(key, made), group=group)


# Sections of a job that no load looks at; of the battery its voltage alone, and of the habits
# all but what becomes of the snow.
LOADS_LOOK_PAST = frozenset(
    [
        "title",
        "customer",
        "panels",
        "alternator",
        "generator",
        "propane",
        "trips",
        "settings",
        "wiring",
        "roof",
        "prices",
        "levers",
        "designs",
        "handover",
    ]
)


def _way(job: Job, trip: Trip, timeline: Timeline, track: Track) -> Hashable:
    """The same for trips that see the same sky."""
    settings = job.settings
    names = [stop.weather or settings.weather for stop in trip.stops]
    sources = list(dict.fromkeys(names))
    source = np.array([sources.index(name) for name in names])[timeline.stop]
    return (
        (settings.first_draws, settings.seed, settings.prudent, track.step_minutes),
        tuple(sources),
        *(a.tobytes() for a in (source, track.start_utc, track.latitude, track.longitude)),
    )


def _seen_by_loads(job: Job) -> tuple[Hashable, ...]:
    """All of a job that its loads may depend on, beside the steps and the sky of its trip."""
    seen = {name: part for name, part in job if name not in LOADS_LOOK_PAST}
    living = tuple(value for name, value in seen.pop("living") if name != "clear_snow")
    return seen.pop("battery").charging_v, living, tuple(seen.values())


def file_sky(job: Job, trip: Trip, *, in_its_year: bool = False) -> TripSky | None:
    """The sky of a trip on the weather files' own days; see `weather.file_weather`."""
    if not all_on_files(job, trip):
        return None
    timeline = build_timeline(job, trip)
    track = track_of(timeline)
    sun = sky.position(track)
    weather = file_weather(job, trip, timeline, track, sun, in_its_year=in_its_year)
    return None if weather is None else TripSky(track, sun, weather)


def sky_in(job: Job, trip: Trip, draws: range, way: tuple[Track, Sun] | None = None) -> TripSky:
    """The sky of a trip in some of its draws, kept by nobody.

    Parameters
    ----------
    job : Job
    trip : Trip
    draws : range
        Numbers of the draws, from 0, one after the other.
    way : (Track, Sun), optional
        Of the trip, where they are known: all draws have the same.
    """
    timeline = build_timeline(job, trip)
    if way is None:
        track = track_of(timeline)
        way = track, sky.position(track)
    track, sun = way
    return TripSky(track, sun, trip_weather(job, trip, timeline, track, sun, draws))


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
        Where sky, loads and panels may be found, or kept for the next.
    above : TripSky, optional
        A sky to take in place of the job's own.
    progress : callable, optional
        Called with the share of the work done, 0 to 1.

    Raises
    ------
    WeatherError
        A weather file cannot be used, or a place has no climate.
    """
    skies = skies or Skies()
    timeline = skies.timeline(job, trip)
    above = above or skies.over(job, trip, timeline)
    tell = progress or (lambda done: None)
    tell(0.5)
    (loads,) = skies.demands([(job, timeline, above)])
    prepared = _prepared(job, trip, timeline, above, loads, skies)
    tell(1.0)
    return prepared


def prepare_trips(
    trips: Sequence[tuple[Job, Trip]], *, skies: Skies, jobs: int = 1
) -> list[PreparedTrip]:
    """The same for several trips, each of its job, in so many threads; their cabins are stepped
    side by side."""

    def part(first: int, tell: Progress) -> list[PreparedTrip]:
        own = trips[first::jobs]
        lines = [skies.timeline(job, trip) for job, trip in own]
        above = skies.over_each([(*one, line) for one, line in zip(own, lines, strict=True)])
        wants = skies.demands(list(zip((job for job, _ in own), lines, above, strict=True)))
        each = zip(own, lines, above, wants, strict=True)
        return [_prepared(*one, line, sky, loads, skies) for one, line, sky, loads in each]

    parts = run_tasks(part, range(min(jobs, len(trips))), jobs=jobs)
    return [parts[number % jobs][number // jobs] for number in range(len(trips))]


def _prepared(
    job: Job,
    trip: Trip,
    timeline: Timeline,
    above: TripSky,
    loads: tuple[Demand, Kept | None],
    skies: Skies,
) -> PreparedTrip:
    """A trip with its sky and its loads, and what comes of them."""
    (wants, kept), temp_air = loads, above.weather.temp_air
    one_unit = with_values(job, {"battery": with_values(job.battery, {"count": 1})})
    return PreparedTrip(
        job=job,
        trip=trip,
        timeline=timeline,
        sky=above,
        wants=wants,
        units=tuple(skies.unit(group, job, timeline, above) for group in job.panels),
        others=_once(
            kept,
            "others",
            (job.alternator, job.generator, job.battery.charging_v, trip),
            lambda: other_sources(job, trip, timeline, above.track, temp_air, wants),
        ),
        ghi=skies.under(timeline, above).ghi,
        bank=_once(
            kept,
            "bank",
            one_unit.battery,
            lambda: bank_weather(one_unit, timeline, temp_air, above.sun, wants.cabin_c),
        ),
        kept=kept,
    )
