"""The weather of a trip: which source each stop takes, and what the stops' shade leaves of it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from sim.job.model.job import Job, Trip
from sim.places.altitude import altitude_m
from sim.sky.clear import clear_weather
from sim.sky.climate.draws import climate_draws
from sim.sky.files.reader import read_weather
from sim.sky.files.under_trip import file_draws
from sim.sky.sun import Sun, shade
from sim.sky.track import Track, Weather
from sim.trip.timeline import Timeline


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


def trip_weather(job: Job, trip: Trip, timeline: Timeline, track: Track, sun: Sun) -> Weather:
    """Weather of every step and draw of a trip.

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

    Returns
    -------
    Weather
        shape (H, draws), under an open sky. Stops that share a source share its draws; a leg
        takes the weather of the stop it leads to.

    Raises
    ------
    WeatherError
        A weather file cannot be used, or a place has no climate.
    """
    names = np.array([stop.weather or job.settings.weather for stop in trip.stops])
    shape = (len(timeline), job.settings.draws)
    ghi, dni, dhi, temp_air = (np.empty(shape) for _ in range(4))
    about: dict[str, None] = {}
    for name in dict.fromkeys(names):
        # Each source sees its own steps alone: a place without climate may have a file.
        rows = np.flatnonzero(names[timeline.stop] == name)
        if rows.size == 0:
            continue
        weather = _weather_from(str(name), job, track.at(rows), sun.at(rows))
        ghi[rows], dni[rows], dhi[rows] = weather.ghi, weather.dni, weather.dhi
        temp_air[rows] = weather.temp_air
        about |= dict.fromkeys(weather.about)
    return Weather(ghi=ghi, dni=dni, dhi=dhi, temp_air=temp_air, about=tuple(about))


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
    covered = (timeline.shade > 0.0) | (timeline.horizon_deg > 0.0)
    if not covered.any():
        return weather
    under = shade(
        weather.dni,
        weather.dhi,
        sun,
        shade_fraction=timeline.shade,
        horizon_deg=timeline.horizon_deg,
    )
    ghi, dni, dhi = (
        np.where(covered[:, None], shaded, bright)
        for shaded, bright in zip(under, (weather.ghi, weather.dni, weather.dhi), strict=True)
    )
    return replace(weather, ghi=ghi, dni=dni, dhi=dhi)


def _weather_from(source: str, job: Job, track: Track, sun: Sun) -> Weather:
    """Weather of some steps from "climate", "clear" or a weather file."""
    draws, seed = job.settings.draws, job.settings.seed
    if source not in ("climate", "clear"):
        # A table that does not say where it was recorded was recorded where it is used.
        place = float(track.latitude[-1]), float(track.longitude[-1]), float(track.altitude_m[-1])
        years = read_weather(Path(source), place=place)
        return file_draws(years, track, sun, draws=draws, seed=seed)
    drawn = climate_draws(track, sun, draws=draws, seed=seed, prudent=job.settings.prudent)
    if source == "clear":
        return clear_weather(track, sun, drawn.temp_air)
    return drawn
