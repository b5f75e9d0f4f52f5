"""A weather file's own hours, laid under a trip.

What is carried from the file's hour to the trip's is how clear it was: the share of the sunshine
outside the atmosphere that arrived as global, direct and diffuse irradiance. The sun itself is
always that of the trip's own date and place.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.arrays import Floats, Ints
from sim.sky.files.reader import WeatherYears, hour_of_year
from sim.sky.files.typical import HOURS
from sim.sky.sun import Sun
from sim.sky.sun_means import DEGREES_PER_HOUR, SunClock, mean_sun, sun_clock
from sim.sky.track import Track, Weather

_KINDS = ("ghi", "dni", "dhi")
_MARGIN_H = 2  # temperature runs from one hour to the next
_LOW_SUN_W_M2 = 20.0  # below this a share of the extraterrestrial says nothing
_LAPSE_C_PER_M = -0.0065  # ICAO standard atmosphere


@dataclass(frozen=True)
class _Window:
    """The file's hours from just before the trip to just after it.

    W hours, Y years. Hour 0 is `_MARGIN_H` before the hour in which the trip begins.

    Attributes
    ----------
    values : dict of str to ndarray, shape (W, Y)
        From the file.
    sun_ghi, sun_dni : ndarray, shape (W,)
        Extraterrestrial means at the station, on the level and facing the sun. [W/m2]
    clear : dict of str to ndarray, shape (W, Y)
        Share of it that arrived, as ghi, dni and dhi; in the dark that of the nearest light.
    """

    values: dict[str, Floats]
    sun_ghi: Floats
    sun_dni: Floats
    clear: dict[str, Floats]


@dataclass(frozen=True)
class _Parts:
    """The first or the second part of every step: a step may straddle two file hours.

    Attributes
    ----------
    hour : ndarray of int, shape (H,)
        File hour, counted from the one in which the trip begins.
    share : ndarray, shape (H,)
        Length over that of the step.
    hour_ghi, hour_dni : ndarray, shape (H,)
        Extraterrestrial means of the whole file hour at the step's place. [W/m2]
    part_ghi, part_dni : ndarray, shape (H,)
        Mean over the part in terms of the mean over its hour, by the height of the sun and
        by the time it is up.
    """

    hour: Ints
    share: Floats
    hour_ghi: Floats
    hour_dni: Floats
    part_ghi: Floats
    part_dni: Floats


def own_hours(years: WeatherYears, track: Track, sun: Sun) -> tuple[Weather, tuple[int, ...]]:
    """The file's own hours on the trip's dates, one draw for each year that covers them.

    Parameters
    ----------
    years : WeatherYears
        From `sim.sky.files.reader.read_weather`.
    track : Track
        H steps of at most 60 minutes.
    sun : Sun
        `sim.sky.sun.position` of the same track.

    Returns
    -------
    Weather
        shape (H, Y), in the order of the file; Y may be 0. It says nothing about itself.
    tuple of int
        The Y years in which the trip begins.

    Notes
    -----
    Irradiance is the mean over a file's hour and is spread over the steps inside it as the
    extraterrestrial irradiance is, so the hour keeps its energy; temperature runs straight
    from the middle of one hour to the next and is corrected to the track's altitude.
    A file of a far longitude is laid under the trip by solar time.
    """
    clock_hour, hours_east = _first_hour(years, track)
    count = _hours_touched(years, track)
    clock = sun_clock(
        clock_hour + np.timedelta64(3600, "s") * np.arange(-_MARGIN_H, count + _MARGIN_H), 60
    )
    window = _window(years, clock_hour, hours_east, clock)
    parts = _parts(track, sun, clock, clock_hour)
    used = np.unique(np.concatenate([part.hour[part.share > 0.0] for part in parts]))
    year = np.flatnonzero(~np.isnan(window.values["ghi"][used + _MARGIN_H]).any(axis=0))
    ghi, dni, dhi = (_irradiance(window, parts, year, name) for name in _KINDS)
    air = _temperature(years, track, window, clock_hour, year)
    return Weather(ghi, dni, dhi, air), tuple(years.years[column] for column in year)


def _first_hour(years: WeatherYears, track: Track) -> tuple[np.datetime64, int]:
    """Start of the file hour in which the trip begins [UTC], and hours to the file's sun.

    The second is 0 within half a time zone of the station's longitude.
    """
    offset = round(3600 * years.clock_offset_h)
    unix = int(track.start_utc[0].astype("datetime64[s]").astype(np.int64))
    begins = unix - (unix + offset) % 3600
    east = float(np.mean(track.longitude)) - years.longitude
    hours_east = round(((east + 180.0) % 360.0 - 180.0) / DEGREES_PER_HOUR)
    return np.datetime64(begins, "s"), hours_east


def _hours_touched(years: WeatherYears, track: Track) -> int:
    offset = round(3600 * years.clock_offset_h)
    unix = track.start_utc[[0, -1]].astype("datetime64[s]").astype(np.int64) + offset
    return int((unix[1] + 60 * track.step_minutes - 1) // 3600 - unix[0] // 3600) + 1


def _window(
    years: WeatherYears, clock_hour: np.datetime64, hours_east: int, clock: SunClock
) -> _Window:
    length = len(clock.declination)
    local = np.asarray(clock_hour + np.timedelta64(round(3600 * years.clock_offset_h), "s"))
    index = int(hour_of_year(local)) + hours_east - _MARGIN_H + np.arange(length)
    # Past the year's end the next year goes on; the last one begins again.
    over = (index // HOURS)[:, None] + np.arange(len(years.years))
    column = np.clip(over, 0, len(years.years) - 1)
    row = (index % HOURS)[:, None]
    values = {name: np.asarray(getattr(years, name))[row, column] for name in (*_KINDS, "temp_air")}
    # The file's sun shines on its own station at its own hour.
    longitude = years.longitude + DEGREES_PER_HOUR * hours_east
    cosine, up = mean_sun(clock, years.latitude, longitude, -0.5, 0.5)
    sun_ghi, sun_dni = cosine * clock.dni_extra, up * clock.dni_extra
    bright = np.flatnonzero(sun_ghi > _LOW_SUN_W_M2)
    clear = {name: np.zeros_like(values[name]) for name in _KINDS}
    if len(bright):
        middle = (bright[1:] + bright[:-1]) / 2.0
        nearest = bright[np.searchsorted(middle, np.arange(length))]
        for name in _KINDS:
            reference = sun_dni if name == "dni" else sun_ghi
            clear[name] = np.nan_to_num(values[name][nearest] / reference[nearest][:, None])
    return _Window(values, sun_ghi, sun_dni, clear)


def _parts(
    track: Track, sun: Sun, clock: SunClock, clock_hour: np.datetime64
) -> tuple[_Parts, _Parts]:
    """Steps cut where a file hour ends."""
    passed_s = (track.start_utc - clock_hour).astype("timedelta64[s]").astype(np.int64)
    hour, begin_s = np.divmod(passed_s, 3600)
    end_s = begin_s + 60 * track.step_minutes
    return (
        _part(track, sun, clock, hour, begin_s, np.minimum(end_s, 3600)),
        _part(track, sun, clock, hour + 1, np.zeros_like(begin_s), np.maximum(end_s - 3600, 0)),
    )


def _part(
    track: Track, sun: Sun, clock: SunClock, hour: Ints, begin_s: Ints, end_s: Ints
) -> _Parts:
    """One part of every step, given from the start of its file hour."""
    begin, end = begin_s / 3600.0 - 0.5, end_s / 3600.0 - 0.5
    # The second part of the last step may be empty and lie past the window.
    here = clock.at(np.minimum(hour + _MARGIN_H, len(clock.declination) - 1))
    cosine, up = mean_sun(here, track.latitude, track.longitude, -0.5, 0.5)
    part_cosine, part_up = mean_sun(here, track.latitude, track.longitude, begin, end)
    dark = cosine <= 0.0
    return _Parts(
        hour=hour,
        share=(end_s - begin_s) / (60.0 * track.step_minutes),
        hour_ghi=cosine * sun.dni_extra,
        hour_dni=up * sun.dni_extra,
        part_ghi=np.where(dark, 1.0, part_cosine / np.where(dark, 1.0, cosine)),
        part_dni=np.where(dark, 1.0, part_up / np.where(dark, 1.0, up)),
    )


def _irradiance(window: _Window, parts: tuple[_Parts, _Parts], year: Ints, name: str) -> Floats:
    """One kind of irradiance. [W/m2], shape (H, D)"""
    file_sun = window.sun_dni if name == "dni" else window.sun_ghi
    out = np.zeros((len(parts[0].hour), len(year)))
    for part in parts:
        used = np.flatnonzero(part.share > 0.0)
        hour = part.hour[used, None] + _MARGIN_H
        trip_sun = (part.hour_dni if name == "dni" else part.hour_ghi)[used, None]
        there = file_sun[hour]
        # The file's own value, and as much more or less as the trip's sun is stronger: their
        # ratio in full daylight, and nothing wild where the file's sun is at the horizon.
        value = window.values[name][hour, year] + window.clear[name][hour, year] * (
            trip_sun - there
        )
        value = np.where((trip_sun == 0.0) & (there > 0.0), 0.0, np.maximum(value, 0.0))
        weight = part.share * (part.part_dni if name == "dni" else part.part_ghi)
        out[used] += value * weight[used, None]
    return out


def _temperature(
    years: WeatherYears,
    track: Track,
    window: _Window,
    clock_hour: np.datetime64,
    year: Ints,
) -> Floats:
    """Air temperature in the middle of each step, at the track's altitude. shape (H, D)"""
    passed = (track.mid_unix - clock_hour.astype(np.int64)) / 3600.0 - 0.5
    before = np.floor(passed).astype(np.int64)
    weight = (passed - before)[:, None]
    air = window.values["temp_air"]
    # Next to an hour that the file does not cover, the hour itself holds.
    steps = before[:, None] + _MARGIN_H
    low, high = air[steps, year], air[steps + 1, year]
    low, high = np.where(np.isnan(low), high, low), np.where(np.isnan(high), low, high)
    higher = (track.altitude_m - years.altitude_m)[:, None]
    return np.asarray(low * (1.0 - weight) + high * weight + _LAPSE_C_PER_M * higher)
