"""The sun and the air of a place, month by month: from the world climate, or from a file."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from sim.arrays import Floats
from sim.errors import printable
from sim.places.altitude import altitude_m
from sim.places.lookup import Place
from sim.sky import sun as sky
from sim.sky.climate.draws import climate_draws
from sim.sky.climate.monthly import MonthlyClimate, monthly
from sim.sky.files.own_hours import own_hours
from sim.sky.files.reader import read_weather
from sim.sky.files.under_trip import file_draws
from sim.sky.sun import Sun
from sim.sky.track import Track, Weather
from sim.van import chargers, panels

# A year with no leap day, to lay the months on; its calendar is all that is used of it.
_YEAR = 2027
_DRAWS = 24
_HIGH_M = 1000.0  # above which the map's altitude is worth a word
_DOUBTFUL_M = 100.0  # from which a town's doubtful altitude is
_NO_SUN_KWH = 0.05  # a day, below which shares of it say nothing [kWh/m2]
QUANTILES = (0.1, 0.5, 0.9)

# What the yield of one panel is worked out for: losses as a panel group of a job has them
# (common practice, no source), a controller that never limits, a bank that is never full.
PANEL_WATTS = 100.0
PANEL_TEMP_COEFF_PCT_C = -0.36
PANEL_LOSSES_PCT = (3.0, 2.0, 2.0, 2.0)
CONTROLLER_EFFICIENCY = 0.96


@dataclass(frozen=True)
class Almanac:
    """Twelve months of a place. Arrays have shape (12,), January first.

    Attributes
    ----------
    source : str
        "climate", or the name of the weather file.
    latitude, longitude : float
        Of the place or the station. [degrees]
    altitude_m : float
        [m]
    ghi_kwh_m2_day : ndarray
        Mean daily sun on a level surface. [kWh/m2/day]
    ghi_quantiles : ndarray, shape (3, 12)
        Of the single days: 10 %, 50 % and 90 %. [kWh/m2/day]
    clearness_index : ndarray
        Sun on the ground over sun outside the atmosphere; NaN in polar night.
    clear_sky_share : ndarray
        Sun on the ground over what a cloudless sky would give; NaN in polar night.
    temperature_c, temperature_range_c : ndarray
        Mean temperature [deg C] and mean daily range [K].
    daylight_h : ndarray
        [h]
    ghi_doubt, ghi_doubt_with_file : ndarray, or None
        One standard deviation of a month's sun in one year, as a share of it: now, and with a
        weather file of the place. None for a file.
    panel_wh_day : ndarray
        What one flat 100 W panel puts into a bank that is never full. [Wh/day]
    about : tuple of str
        Sources and how sure they are.
    """

    source: str
    latitude: float
    longitude: float
    altitude_m: float
    ghi_kwh_m2_day: Floats
    ghi_quantiles: Floats
    clearness_index: Floats
    clear_sky_share: Floats
    temperature_c: Floats
    temperature_range_c: Floats
    daylight_h: Floats
    panel_wh_day: Floats
    about: tuple[str, ...]
    ghi_doubt: Floats | None = None
    ghi_doubt_with_file: Floats | None = None


def climate_almanac(place: Place, *, seed: int = 1) -> Almanac:
    """The built-in climate of a place.

    Parameters
    ----------
    place : Place
    seed : int
        Of the draws that the spread of the days is read from.

    Returns
    -------
    Almanac
        Sun, clearness, temperature and daylight are the climate's own means; spread,
        clear-sky share and panel yield come from 24 years drawn as a trip draws them.

    Raises
    ------
    WeatherError
        The place has no climate.
    """
    height = place.altitude_m
    if height is None:
        height = float(altitude_m(np.array([place.latitude]), np.array([place.longitude]))[0])
    means = monthly(place.latitude, place.longitude, height)
    track = _year(place.latitude, place.longitude, height)
    sun = sky.position(track)
    weather = climate_draws(track, sun, draws=_DRAWS, seed=seed)
    almanac = _almanac("climate", track, sun, weather, means)
    note = _altitude_note(place, height)
    if note:
        return replace(almanac, about=(*almanac.about, note))
    return almanac


def _altitude_note(place: Place, height_m: float) -> str | None:
    """How sure the altitude is, where it is not sure."""
    if place.altitude_m is None and height_m > _HIGH_M:
        whence = "is that of a coarse map and can be hundreds of metres wrong in mountains"
    elif (place.altitude_doubt_m or 0.0) >= _DOUBTFUL_M:
        whence = (
            "is estimated from a coarse map and the towns nearby, and can well be "
            f"{place.altitude_doubt_m:.0f} m off"
        )
    else:
        return None
    return (
        f"The altitude, {height_m:.0f} m, {whence}; 100 m change the temperature by 0.65 K. If you "
        f'know better, write it behind the place: "{place.label}, {height_m:.0f} m".'
    )


def file_almanac(path: Path) -> Almanac:
    """A weather file at its own station: its own days, or where it has gaps days like them.

    Raises
    ------
    WeatherError
        The file cannot be used.
    """
    years = read_weather(path)
    track = _year(years.latitude, years.longitude, years.altitude_m)
    sun = sky.position(track)
    own, whole_years = own_hours(years, track, sun)
    if whole_years:
        weather = replace(own, about=(years.source, *years.notes))
    else:
        weather = file_draws(years, track, sun, draws=_DRAWS, seed=0)
    return _almanac(printable(path.name), track, sun, weather, None)


def _year(latitude: float, longitude: float, height_m: float) -> Track:
    """A place for a year of hours that begins at local solar midnight, to the hour."""
    offset = round(longitude / 15.0)
    start = np.datetime64(f"{_YEAR}-01-01T00:00:00") - np.timedelta64(offset, "h")
    hours = np.arange(8760)
    return Track(
        start_utc=start + hours * np.timedelta64(3600, "s"),
        step_minutes=60,
        latitude=np.full(8760, latitude),
        longitude=np.full(8760, longitude),
        altitude_m=np.full(8760, height_m),
    )


def _almanac(
    source: str, track: Track, sun: Sun, weather: Weather, means: MonthlyClimate | None
) -> Almanac:
    daily = _daily(weather.ghi) / 1000.0
    outside = _months(_daily(sun.ghi_extra[:, None]) / 1000.0)
    ghi = _months(daily)
    hours = weather.temp_air.reshape(365, 24, -1)
    return Almanac(
        source=source,
        latitude=float(track.latitude[0]),
        longitude=float(track.longitude[0]),
        altitude_m=float(track.altitude_m[0]),
        ghi_kwh_m2_day=means.ghi_kwh_m2_day if means else ghi,
        ghi_quantiles=_month_quantiles(daily),
        clearness_index=np.where(
            outside > _NO_SUN_KWH, means.clearness_index if means else _ratio(ghi, outside), np.nan
        ),
        clear_sky_share=_ratio(ghi, _months(_daily(sky.clear_sky(track, sun)[0][:, None]) / 1000)),
        temperature_c=means.temperature_c if means else _months(hours.mean(axis=1)),
        temperature_range_c=means.temperature_range_c if means else _months(np.ptp(hours, axis=1)),
        daylight_h=means.daylight_h if means else _daylight(track),
        panel_wh_day=_months(_daily(_panel(weather, sun))),
        about=weather.about,
        ghi_doubt=means.ghi_doubt if means else None,
        ghi_doubt_with_file=means.ghi_doubt_with_file if means else None,
    )


def _panel(weather: Weather, sun: Sun) -> Floats:
    """One flat 100 W panel on the roof of a parked van. [W], shape (H, D)"""
    plane = sky.on_plane(weather.ghi, weather.dni, weather.dhi, sun, tilt_deg=0.0, azimuth_deg=0.0)
    poa = plane.beam + plane.sky + plane.ground
    cell = panels.cell_temperature(poa, weather.temp_air, np.zeros(len(poa)))
    watts = panels.panel_watts(
        panels.through_glass(plane, 0.0),
        cell,
        rated_watts=PANEL_WATTS,
        temp_coeff_pct_c=PANEL_TEMP_COEFF_PCT_C,
        kept=panels.kept_share(*PANEL_LOSSES_PCT),
    )
    offered, _ = chargers.solar_controller_watts(
        watts, efficiency=CONTROLLER_EFFICIENCY, amps=np.inf, charging_v=1.0
    )
    return offered


def _daylight(track: Track) -> Floats:
    """Mean time from sunrise to sunset by month; 0.833 degrees below the horizon, the
    definition that NOAA and the almanacs use. [h]"""
    minutes = Track(
        start_utc=track.start_utc[0] + np.arange(8760 * 6) * np.timedelta64(600, "s"),
        step_minutes=10,
        latitude=np.full(8760 * 6, track.latitude[0]),
        longitude=np.full(8760 * 6, track.longitude[0]),
        altitude_m=np.zeros(8760 * 6),
    )
    up = (sky.position(minutes).zenith < 90.833).astype(np.float64)
    return _months(up.reshape(365, 144, 1).sum(axis=1) / 6.0)


def _daily(hourly: Floats) -> Floats:
    """Sums of the days. shape (365, D)"""
    return np.asarray(hourly.reshape(365, 24, -1).sum(axis=1))


def _month_of_day() -> np.ndarray:
    days = np.datetime64(f"{_YEAR}-01-01") + np.arange(365)
    return days.astype("datetime64[M]").astype(int) % 12


def _months(daily: Floats) -> Floats:
    """Means of the months over days and draws. shape (12,)"""
    month = _month_of_day()
    return np.array([daily[month == m].mean() for m in range(12)])


def _month_quantiles(daily: Floats) -> Floats:
    month = _month_of_day()
    return np.array([np.quantile(daily[month == m], QUANTILES) for m in range(12)]).T


def _ratio(part: Floats, whole: Floats) -> Floats:
    """Share; NaN where there is too little sun to speak of one."""
    return np.divide(part, whole, out=np.full_like(part, np.nan), where=whole > _NO_SUN_KWH)
