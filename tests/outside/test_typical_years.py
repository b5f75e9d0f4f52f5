"""Typical years of three stations, through our reader and laid under a year of trip.

The files are NREL's and ship with pvlib: Miami (TMY2, 12839), Greensboro NC (TMY3, 723170)
and Sand Point AK (TMY3, 703165). W. Marion, K. Urban, User's Manual for TMY2s,
NREL/SP-463-7668, 1995; S. Wilcox, W. Marion, User's Manual for TMY3 Data Sets,
NREL/TP-581-43156, 2008.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
import pvlib
import pytest

from sim.sky.clear import clear_weather
from sim.sky.files.own_hours import own_hours
from sim.sky.files.reader import WeatherYears
from sim.sky.sun import position, split_global
from sim.sky.track import Track, Weather

DAYS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])

# Mean GHI of each month and the year [kWh/m2/day], summed up from the files' own GHI column
# by the rows' month; two decimals.
MONTHS = {
    "12839.tm2": (
        (3.49, 4.43, 5.16, 6.16, 6.03, 5.76, 5.99, 5.67, 4.91, 4.37, 3.57, 3.36),
        4.91,
    ),
    "723170TYA.CSV": (
        (2.41, 3.06, 4.25, 5.41, 5.64, 6.25, 6.08, 5.61, 4.43, 3.59, 2.43, 2.24),
        4.29,
    ),
    "703165TY.csv": (
        (0.58, 1.05, 1.85, 3.06, 3.28, 3.81, 5.00, 2.70, 3.04, 1.61, 0.74, 0.46),
        2.27,
    ),
}
# Position, altitude and offset as the files' first lines have them [degrees, m, h].
STATIONS = {
    "12839.tm2": (25.8, -(80 + 16 / 60), 2.0, -5.0),
    "723170TYA.CSV": (36.1, -79.95, 273.0, -5.0),
    "703165TY.csv": (55.317, -160.517, 7.0, -9.0),
}

# What is wrong in the files as published: Miami's diffuse light of some hours exceeds its global.
NOTES = {
    "12839.tm2": (
        "Direct or diffuse light in 14 hours is more than the global light and is cut to what "
        "that leaves.",
    )
}


@pytest.fixture(scope="module", params=sorted(MONTHS))
def station(
    request: pytest.FixtureRequest, typical_year: Callable[[str], WeatherYears]
) -> tuple[str, WeatherYears]:
    return request.param, typical_year(request.param)


def trip(years: WeatherYears, start_local: str, steps: int, minutes: int) -> Track:
    """A track that stays at the station; `start_local` in the file's standard time."""
    offset = np.timedelta64(round(3600 * years.clock_offset_h), "s")
    start = np.datetime64(start_local, "s") - offset
    here = np.ones(steps)
    return Track(
        start + np.timedelta64(60 * minutes, "s") * np.arange(steps),
        minutes,
        years.latitude * here,
        years.longitude * here,
        years.altitude_m * here,
    )


def lay(years: WeatherYears, track: Track) -> Weather:
    return own_hours(years, track, position(track))[0]


def months(ghi: np.ndarray) -> np.ndarray:
    month = np.repeat(np.arange(12), 24 * DAYS)
    return np.bincount(month, ghi) / 1000.0 / DAYS


def test_station(station: tuple[str, WeatherYears]) -> None:
    name, years = station
    found = (years.latitude, years.longitude, years.altitude_m, years.clock_offset_h)
    assert found == pytest.approx(STATIONS[name], abs=1e-9)
    assert years.notes == NOTES.get(name, ())


def test_month_sums(station: tuple[str, WeatherYears]) -> None:
    """Within 0.005 kWh/m2/day, the rounding of the table."""
    name, years = station
    published, year = MONTHS[name]
    np.testing.assert_allclose(months(years.ghi[:, 0]), published, atol=0.00501)
    assert years.ghi.sum() / 365e3 == pytest.approx(year, abs=0.00501)


def test_month_sums_of_a_trip_of_a_year(station: tuple[str, WeatherYears]) -> None:
    """The same after the way through the trip's own year, hour by hour."""
    name, years = station
    laid = lay(years, trip(years, "2026-01-01T00:00", 8760, 60)).ghi[:, 0]
    np.testing.assert_allclose(months(laid), MONTHS[name][0], atol=0.00501)


def test_month_sums_of_a_trip_in_odd_steps(station: tuple[str, WeatherYears]) -> None:
    """Within 0.03 kWh/m2/day: steps from 20 past to 20 past move a little across midnight."""
    name, years = station
    laid = lay(years, trip(years, "2026-01-01T00:20", 8760, 60)).ghi[:, 0]
    np.testing.assert_allclose(months(laid), MONTHS[name][0], atol=0.03)


def noon_slip_minutes(track: Track, ghi: np.ndarray, longitude: float) -> np.ndarray:
    """Centroid of each clear day's radiation after pvlib's solar noon. [min]

    Clear is a day with at least 95 % of the clear-sky sum. Noon is 12:00 UTC less longitude
    and equation of time.
    """
    clear = clear_weather(track, position(track), np.zeros((len(track), 1))).ghi[:, 0]
    unix = track.mid_unix
    times = pd.to_datetime(unix, unit="s", utc=True)
    equation_min = pvlib.solarposition.equation_of_time_spencer71(times.day_of_year)
    solar_min = unix / 60.0 + 4.0 * longitude + np.asarray(equation_min)
    day = np.floor(solar_min / 1440.0).astype(int)
    slips = []
    for one in np.unique(day)[1:-1]:
        here = day == one
        if ghi[here].sum() >= 0.95 * clear[here].sum():
            minute = solar_min[here] - 1440.0 * one
            slips.append(np.average(minute, weights=ghi[here]) - 720.0)
    return np.array(slips)


# The start of the steps and their length; none of them may move the sun.
STEPS = [("2026-01-01T00:00", 60), ("2026-01-01T00:30", 60), ("2026-01-01T00:10", 20)]


@pytest.mark.parametrize(("start", "minutes"), STEPS)
def test_clear_days_have_their_middle_at_solar_noon(
    station: tuple[str, WeatherYears], start: str, minutes: int
) -> None:
    """Within 2 minutes in the mean and 25 on any day: weather is not quite even.

    A half hour, from an hour-ending stamp dropped or counted twice or from the sun taken at
    the edge of a step, is far outside.
    """
    _, years = station
    track = trip(years, start, 365 * 24 * 60 // minutes, minutes)
    slip = noon_slip_minutes(track, lay(years, track).ghi[:, 0], years.longitude)
    assert len(slip) >= 12
    assert abs(slip.mean()) < 2.0
    assert np.abs(slip).max() < 25.0


@pytest.mark.parametrize("hours", [-1, 1])
def test_the_noon_test_sees_a_slipped_hour(station: tuple[str, WeatherYears], hours: int) -> None:
    """The measure itself: radiation moved by an hour moves it by an hour."""
    _, years = station
    track = trip(years, "2026-01-01T00:00", 8760, 60)
    slip = noon_slip_minutes(track, np.roll(years.ghi[:, 0], hours), years.longitude)
    assert slip.mean() == pytest.approx(60.0 * hours, abs=2.0)


def test_beam_split_from_the_files_own_global(station: tuple[str, WeatherYears]) -> None:
    """What a file without a beam column would be given, against the file's own beam.

    The year within 7 %, months within 12 % and 8 % rms; found 5 %, 11 % and 6 to 7 %. Erbs'
    correlation, tried here in its place, misses the months by 10, 13 and 25 % rms.
    """
    _, years = station
    track = trip(years, "2026-01-01T00:00", 8760, 60)
    weather = lay(years, track)
    dni = split_global(weather.ghi, position(track), track)[0][:, 0]
    ratio = months(dni) / months(weather.dni[:, 0])
    assert dni.sum() / weather.dni.sum() == pytest.approx(1.0, abs=0.07)
    assert ratio == pytest.approx(np.ones(12), abs=0.12)
    assert np.sqrt(np.mean((ratio - 1.0) ** 2)) < 0.08
