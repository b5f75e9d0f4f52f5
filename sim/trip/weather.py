"""The weather of a trip: which source each stop takes, and what the stops' shade leaves of it."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import TypeVar

import numpy as np

from sim.arrays import Ints
from sim.job.model.job import Job, Trip
from sim.places.altitude import altitude_m
from sim.sky.clear import clear_weather
from sim.sky.climate.draws import climate_draws
from sim.sky.files.reader import WeatherYears, read_weather
from sim.sky.files.under_trip import file_days, file_draws, very_days
from sim.sky.sun import Sun, shade
from sim.sky.track import Track, Weather
from sim.trip.timeline import Timeline

_WITHOUT_FILE = ("climate", "clear")
W = TypeVar("W", Weather, Weather | None)


def track_of(timeline: Timeline) -> Track:
    """The timeline's positions as the sky knows them; altitudes that no stop has are the map's."""
    height_m = altitude_m(timeline.latitude, timeline.longitude)
    if timeline.altitude_m is not None:
        height_m = np.where(np.isnan(timeline.altitude_m), height_m, timeline.altitude_m)
    return Track(
        start_utc=timeline.start_utc,
        step_minutes=timeline.step_minutes,
        latitude=timeline.latitude,
        longitude=timeline.longitude,
        altitude_m=height_m,
    )


def trip_weather(
    job: Job, trip: Trip, timeline: Timeline, track: Track, sun: Sun, draws: range
) -> Weather:
    """Weather of every step of a trip, in some of its draws.

    Parameters
    ----------
    job : Job
    trip : Trip
    timeline : Timeline
        Of that trip, H steps.
    track : Track
        `track_of` the timeline.
    sun : Sun
        Position on that track.
    draws : range
        Numbers of the draws, from 0, one after the other.

    Returns
    -------
    Weather
        shape (H, D), under an open sky; D is that of the draws, or as many years as the weather
        files of all stops have for the trip's dates. Stops that share a source share its draws;
        a leg takes the weather of the stop it leads to.

    Raises
    ------
    WeatherError
        A weather file cannot be used, or a place has no climate.
    """

    def drawn(source: str, track: Track, sun: Sun) -> Weather:
        return _weather_from(source, job, track, sun, draws)

    parts = _by_source(job, trip, timeline, track, sun, drawn)
    return _joined(parts, len(timeline), len(draws))


def all_on_files(job: Job, trip: Trip) -> bool:
    """Whether every stop of a trip takes its weather from a file."""
    names = (stop.weather or job.settings.weather for stop in trip.stops)
    return not any(name in _WITHOUT_FILE for name in names)


def file_weather(
    job: Job,
    trip: Trip,
    timeline: Timeline,
    track: Track,
    sun: Sun,
    *,
    in_its_year: bool = False,
) -> Weather | None:
    """The one weather that the weather files of the stops have on the trip's own dates.

    None where a stop takes its weather from elsewhere, or from a file that has no day, or those
    of several years, for it; with `in_its_year` where it has not those of the trip's own year.
    Other parameters and errors as of `trip_weather`; shape (H, 1).
    """
    if not all_on_files(job, trip):
        return None

    def own(source: str, track: Track, sun: Sun) -> Weather | None:
        days = very_days if in_its_year else file_days
        return days(_read(source, track), track, sun)

    parts = _by_source(job, trip, timeline, track, sun, own)
    known = [(rows, weather) for rows, weather in parts if weather is not None]
    return _joined(known, len(timeline), 1) if len(known) == len(parts) else None


def under_shade(weather: Weather, timeline: Timeline, sun: Sun) -> Weather:
    """The weather as the van gets it, behind the trees and skylines of its stops.

    Parameters
    ----------
    weather : Weather
        shape (H, D), under an open sky.
    timeline : Timeline
        H steps.
    sun : Sun
        H steps.

    Returns
    -------
    Weather
        shape (H, D); steps under an open sky are unchanged.
    """
    covered = np.flatnonzero((timeline.shade > 0.0) | (timeline.horizon_deg > 0.0))
    if not covered.size:
        return weather
    under = shade(
        weather.dni,
        weather.dhi,
        sun,
        shade_fraction=timeline.shade,
        horizon_deg=timeline.horizon_deg,
        rows=covered,
    )
    ghi, dni, dhi = weather.ghi.copy(), weather.dni.copy(), weather.dhi.copy()
    ghi[covered], dni[covered], dhi[covered] = under
    return replace(weather, ghi=ghi, dni=dni, dhi=dhi)


def _by_source(
    job: Job,
    trip: Trip,
    timeline: Timeline,
    track: Track,
    sun: Sun,
    weather_of: Callable[[str, Track, Sun], W],
) -> list[tuple[Ints, W]]:
    """Rows of the timeline that share a source, and its weather on them."""
    names = np.array([stop.weather or job.settings.weather for stop in trip.stops])
    parts = []
    for name in dict.fromkeys(names):
        # Each source sees its own steps alone: a place without climate may have a file.
        rows = np.flatnonzero(names[timeline.stop] == name)
        if rows.size:
            parts.append((rows, weather_of(str(name), track.at(rows), sun.at(rows))))
    return parts


def _joined(parts: list[tuple[Ints, Weather]], steps: int, draws: int) -> Weather:
    """The weather of all steps, from that of some of them each.

    The years of files go with the years of other files, the same years together where they have
    at least two in common; beside drawn weather they come again and again.
    """
    years = _common_years([weather.years for _, weather in parts])
    count = len(years) or draws
    whole = parts[0][1]
    if len(parts) == 1 and whole.ghi.shape == (steps, count):
        return whole
    ghi, dni, dhi, temp_air = (np.empty((steps, count)) for _ in range(4))
    for rows, weather in parts:
        column = np.arange(count) % weather.draws
        if years and set(years) <= set(weather.years):
            column = np.array([weather.years.index(year) for year in years])
        ghi[rows], dni[rows] = weather.ghi[:, column], weather.dni[:, column]
        dhi[rows], temp_air[rows] = weather.dhi[:, column], weather.temp_air[:, column]
    about = dict.fromkeys(sentence for _, weather in parts for sentence in weather.about)
    return Weather(ghi, dni, dhi, temp_air, about=tuple(about), years=years)


def _common_years(all_years: list[tuple[int, ...]]) -> tuple[int, ...]:
    """The years that a trip is carried through, empty where some of its weather is drawn."""
    first = min(all_years, key=len)
    common = tuple(year for year in first if all(year in years for years in all_years))
    return common if len(common) > 1 else first


def _weather_from(source: str, job: Job, track: Track, sun: Sun, draws: range) -> Weather:
    """Weather of some steps from "climate", "clear" or a weather file."""
    settings = job.settings
    seed, prudent, first = settings.seed, settings.prudent, draws.start
    if source not in _WITHOUT_FILE:
        years = _read(source, track)
        return file_draws(
            years, track, sun, draws=len(draws), seed=seed, prudent=prudent, first=first
        )
    drawn = climate_draws(track, sun, draws=len(draws), seed=seed, prudent=prudent, first=first)
    if source == "clear":
        return clear_weather(track, sun, drawn.temp_air)
    return drawn


def _read(source: str, track: Track) -> WeatherYears:
    """A weather file; a table that does not say where it was recorded was recorded where it is
    used."""
    place = float(track.latitude[-1]), float(track.longitude[-1]), float(track.altitude_m[-1])
    try:
        stat = os.stat(source)
    except (OSError, ValueError):
        return read_weather(Path(source), place=place)  # which says what is wrong
    return _read_once(source, (stat.st_mtime_ns, stat.st_size), place)


@lru_cache(maxsize=4)
def _read_once(
    source: str, stamp: tuple[int, int], place: tuple[float, float, float]
) -> WeatherYears:
    """Read once for all designs and weeks that lie under it; `stamp` changes with the file."""
    return read_weather(Path(source), place=place)
