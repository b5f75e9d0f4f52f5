"""The weather of a trip from a weather file.

A file of several years gives one draw a year. One year is one weather, not a share of many: it
sets how bright, how warm and how changeable each month is at its station, and the weather
generator draws the days around it.
"""

from __future__ import annotations

import calendar
from dataclasses import replace

import numpy as np

from sim.arrays import Floats, Ints
from sim.errors import Fault, WeatherError
from sim.sky.climate.draws import climate_draws
from sim.sky.files.own_hours import own_hours
from sim.sky.files.reader import WeatherYears
from sim.sky.files.station_months import LEAST_DAYS, days_known, station_months
from sim.sky.sun import Sun
from sim.sky.track import Track, Weather
from sim.units import EARTH_RADIUS_KM

_FAR_KM = 150.0
_FAR_M = 500.0


def file_draws(
    years: WeatherYears,
    track: Track,
    sun: Sun,
    *,
    draws: int,
    seed: int,
    prudent: bool = False,
    first: int = 0,
) -> Weather:
    """Weather for a track, drawn from a weather file or taken from its years.

    Parameters
    ----------
    years : WeatherYears
        From `sim.sky.files.reader.read_weather`.
    track : Track
        H steps of at most 60 minutes.
    sun : Sun
        `sim.sky.sun.position` of the same track.
    draws : int
        D, at least 1; of no account where the file has several years for the trip's dates.
    seed, prudent, first
        As of `sim.sky.climate.draws.climate_draws`.

    Returns
    -------
    Weather
        shape (H, Y), one draw for each of the Y years that cover the trip, where there are at
        least two; else shape (H, D), drawn around the months of the file's station.

    Raises
    ------
    WeatherError
        If the file knows too little of the trip's months.
    """
    if len(years.years) > 1:
        own, kept = own_hours(years, track, sun)
        if len(kept) > 1:
            return replace(own, years=kept, about=_about(years, track, _one_a_year(kept)))
    _check_months(years, track)
    measured = station_months(years)
    drawn = climate_draws(
        track, sun, draws=draws, seed=seed, prudent=prudent, measured=measured, first=first
    )
    said = (
        "One year says how bright, how warm and how changeable each month is at the station; "
        f"the weather of {first + draws:,} simulated trips around it is drawn with seed {seed}."
    )
    if prudent:
        said += " The spread between bright and dark days is widened by a tenth (prudent)."
    return replace(drawn, about=_about(years, track, said))


def file_days(years: WeatherYears, track: Track, sun: Sun) -> Weather | None:
    """The one weather that the file itself has on the trip's dates.

    None where it has those of several years, or of none.
    """
    own, kept = own_hours(years, track, sun)
    return own if len(kept) == 1 else None


def very_days(years: WeatherYears, track: Track, sun: Sun) -> Weather | None:
    """The weather that the file has of the track's very days, in their own year.

    None where it lacks some of them, or is a typical year: whose days never came.
    """
    own, kept = own_hours(years, track, sun)
    offset = np.timedelta64(round(3600 * years.clock_offset_h), "s")
    first, last = ((track.start_utc[n] + offset).astype("datetime64[Y]") for n in (0, -1))
    year, end = (int(x.astype(np.int64)) + 1970 for x in (first, last))
    # Past its last year a file begins again.
    if years.typical or year not in kept or end > years.years[-1]:
        return None
    column = kept.index(year)
    one = {kind: getattr(own, kind)[:, [column]] for kind in ("ghi", "dni", "dhi", "temp_air")}
    return replace(own, **one)


def _one_a_year(kept: tuple[int, ...]) -> str:
    return f"One draw a year, {len(kept)} of them: the file's own days of {_listed(kept)}."


def _listed(kept: tuple[int, ...]) -> str:
    """``2005 to 2014``, or single years where some are left out."""
    if kept[-1] - kept[0] == len(kept) - 1:
        return f"{kept[0]} to {kept[-1]}"
    return ", ".join(str(year) for year in kept)


def _check_months(years: WeatherYears, track: Track) -> None:
    """Refuse a file that knows too little of the trip's months."""
    unix = track.start_utc.astype("datetime64[s]").astype(np.int64)
    clock = (unix + round(3600 * years.clock_offset_h)).astype("datetime64[s]")
    touched: Ints = np.unique(clock.astype("datetime64[M]").astype(np.int64) % 12)
    known = days_known(years)
    few = [month for month in touched.tolist() if known[month] < LEAST_DAYS]
    if few:
        first, last = (str(day.astype("datetime64[D]"))[5:] for day in track.start_utc[[0, -1]])
        holds = ", ".join(
            f"{known[month]} days of {calendar.month_name[month + 1]}" for month in few
        )
        rule = (
            f"does not cover the trip from {first} to {last} (month-day): it has {holds}, and "
            f"{LEAST_DAYS} are the least that say what a month is like"
        )
        raise WeatherError(Fault(rule, file=years.file))


def _distance_km(latitude: Floats, longitude: Floats, to: tuple[float, float]) -> Floats:
    """Great-circle distance to one point, by the haversine formula. [km]"""
    north, other = np.radians(latitude), np.radians(to[0])
    east = np.radians(longitude - to[1])
    half = np.sin((north - other) / 2) ** 2 + np.cos(north) * np.cos(other) * np.sin(east / 2) ** 2
    return np.asarray(2.0 * EARTH_RADIUS_KM * np.arcsin(np.sqrt(np.minimum(half, 1.0))))


def _about(years: WeatherYears, track: Track, drawn: str) -> tuple[str, ...]:
    """Sentences on the file, the draws, and how far the trip strays from the station."""
    sentences = [years.source, *years.notes, drawn]
    away = _distance_km(track.latitude, track.longitude, (years.latitude, years.longitude))
    if away.max() > _FAR_KM:
        sentences.append(
            f"The trip goes as far as {away.max():.0f} km from the weather file's station; "
            "its clouds may be others."
        )
    higher = track.altitude_m - years.altitude_m
    most = float(higher[np.argmax(np.abs(higher))])
    if abs(most) > _FAR_M:
        way = "higher" if most > 0 else "lower"
        sentences.append(
            f"The trip goes {abs(most):.0f} m {way} than the weather file's station; "
            "temperatures are corrected by 6.5 K per 1000 m, clouds are not."
        )
    return tuple(sentences)
