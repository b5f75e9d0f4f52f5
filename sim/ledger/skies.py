"""The weather of a trip: which source each stop takes, and what the stops' shade leaves of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from sim.job.model import Job, Trip
from sim.job.places import altitude_m
from sim.job.timeline import Timeline
from sim.sky.draws import climate_draws
from sim.sky.file_draws import file_draws
from sim.sky.sun import Sun, clear_sky, shade
from sim.sky.track import Track, Weather
from sim.sky.weather_files import read_weather


def track_of(timeline: Timeline) -> Track:
    """The timeline's positions as the sky knows them, with altitudes looked up."""
    return Track(
        start_utc=timeline.start_utc,
        step_minutes=timeline.step_minutes,
        latitude=timeline.latitude,
        longitude=timeline.longitude,
        altitude_m=altitude_m(timeline.latitude, timeline.longitude),
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
    names = [stop.weather or job.settings.weather for stop in trip.stops]
    sources = [_source(name, job, track, sun) for name in dict.fromkeys(names)]
    if len(sources) == 1:
        return sources[0]()
    merged = sources[0]()
    arrays = [merged.ghi.copy(), merged.dni.copy(), merged.dhi.copy(), merged.temp_air.copy()]
    about = list(merged.about)
    for name, source in list(zip(dict.fromkeys(names), sources, strict=True))[1:]:
        here = np.isin(timeline.stop, [i for i, other in enumerate(names) if other == name])
        weather = source()
        about += [line for line in weather.about if line not in about]
        for into, values in zip(
            arrays, (weather.ghi, weather.dni, weather.dhi, weather.temp_air), strict=True
        ):
            into[here] = values[here]
    ghi, dni, dhi, temp_air = arrays
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


def _source(name: str, job: Job, track: Track, sun: Sun) -> Callable[[], Weather]:
    draws, seed, prudent = job.settings.draws, job.settings.seed, job.settings.prudent

    def climate() -> Weather:
        return climate_draws(track, sun, draws=draws, seed=seed, prudent=prudent)

    def cloudless() -> Weather:
        drawn = climate()
        shape = drawn.ghi.shape
        ghi, dni, dhi = (np.broadcast_to(x[:, None], shape) for x in clear_sky(track, sun))
        note = "A cloudless sky on every day (Ineichen-Perez): an upper bound, not a forecast."
        return replace(drawn, ghi=ghi, dni=dni, dhi=dhi, about=(note,))

    def file() -> Weather:
        return file_draws(read_weather(Path(name)), track, sun, draws=draws, seed=seed)

    return {"climate": climate, "clear": cloudless}.get(name, file)
