"""Sunrise, noon and sunset by the elevation that `sim.sky.sun.position` crosses.

The sun rises and sets when its centre stands 0.833 degrees below the horizon: 34 minutes of
arc for refraction and 16 for the sun's half width. That is the definition of NOAA's solar
calculator, of the US Naval Observatory and of the SPA report alike.
"""

from __future__ import annotations

import csv
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest

from sim.arrays import Floats
from sim.sky.sun import clear_sky, position
from sim.sky.track import Track

DATA = Path(__file__).parent / "data"
RISE_ZENITH_DEG = 90.833
STEP_MINUTES = 5
STEPS_A_DAY = 1440 // STEP_MINUTES


class SunTimes(NamedTuple):
    """Crossings in one day, minutes after its start; None where there is none."""

    rise: float | None
    noon: float
    set: float | None


def standing_track(start: datetime, days: int, latitude: float, longitude: float) -> Track:
    """Whole days at one place at sea level, in steps of five minutes."""
    steps = np.arange(days * STEPS_A_DAY) * (60 * STEP_MINUTES)
    here = np.ones(len(steps))
    return Track(
        start_utc=(round(start.timestamp()) + steps).astype("datetime64[s]"),
        step_minutes=STEP_MINUTES,
        latitude=latitude * here,
        longitude=longitude * here,
        altitude_m=0.0 * here,
    )


def sun_times(track: Track) -> list[SunTimes]:
    """Sun times of every day of a track that starts near midnight."""
    sun = position(track)
    above = (RISE_ZENITH_DEG - sun.zenith).reshape(-1, STEPS_A_DAY)
    # East before noon, west after it, in both hemispheres.
    east = np.sin(np.radians(sun.azimuth)).reshape(-1, STEPS_A_DAY)
    times = []
    for height, eastward in zip(above, east, strict=True):
        noon = crossing(-eastward)
        assert noon is not None
        times.append(SunTimes(crossing(height), noon, crossing(-height)))
    return times


def crossing(values: Floats) -> float | None:
    """When a day's values first go from below zero to above, in minutes; None if never."""
    rising = np.flatnonzero((values[:-1] < 0.0) & (values[1:] >= 0.0))
    if not len(rising):
        return None
    step = rising[0]
    before, after = values[step], values[step + 1]
    return float(STEP_MINUTES * (step + 0.5 - before / (after - before)))


def solar_day(day: date, latitude: float, longitude: float) -> tuple[datetime, SunTimes]:
    """Start and sun times of the 24 hours about the mean noon of a longitude."""
    midnight = datetime(day.year, day.month, day.day, tzinfo=UTC)
    start = midnight - timedelta(minutes=round(4 * longitude))
    (times,) = sun_times(standing_track(start, 1, latitude, longitude))
    return start, times


def seconds_off(start: datetime, minutes: float | None, day: date, published: str) -> float:
    """Ours minus the published clock time, such as ``05:31:20-06:00``. [s]"""
    assert minutes is not None, "the sun should cross the horizon"
    expected = datetime.fromisoformat(f"{day.isoformat()}T{published}")
    return (start + timedelta(minutes=minutes) - expected).total_seconds()


def test_noaa_year() -> None:
    """366 days at 40 N 105 W: sunrise, sunset, length of day and equation of time.

    Source: NOAA_Solar_Calculations_year.xls, see data/README.md.

    Tolerances: 60 s for sunrise and sunset, since the workbook takes declination and equation
    of time at noon and so is up to 28 s off its own definition; day length 30 s, where most
    of that cancels; equation of time 0.1 minutes, twice the error of the workbook's series.
    """
    with (DATA / "noaa_year_40n_105w_2010_noon.csv").open(newline="") as lines:
        table = list(csv.DictReader(lines))
    start = datetime.fromisoformat("2010-01-01T00:00:00-07:00")

    times = sun_times(standing_track(start, len(table), 40.0, -105.0))

    assert len(times) == 366
    for row, ours in zip(table, times, strict=True):
        assert ours.rise is not None
        assert ours.set is not None
        assert ours.rise == pytest.approx(1440.0 * float(row["sunrise_frac"]), abs=1.0)
        assert ours.set == pytest.approx(1440.0 * float(row["sunset_frac"]), abs=1.0)
        assert ours.set - ours.rise == pytest.approx(float(row["daylight_min"]), abs=0.5)
        # At 105 W in UTC-7 the mean sun stands south at 12:00.
        assert 720.0 - ours.noon == pytest.approx(float(row["eot_min"]), abs=0.1)
    lengths = [ours.set - ours.rise for ours in times if ours.rise and ours.set]
    assert max(lengths) == pytest.approx(900.88, abs=0.5)
    assert min(lengths) == pytest.approx(559.48, abs=0.5)


# NOAA's sunrise tables and solar calculator, https://gml.noaa.gov/grad/solcalc/, as quoted in
# public tests: place, latitude, longitude, day, sunrise, sunset, solar noon (None: not given).
NOAA_TIMES = [
    ("Greenwich", 51.4779, -0.0015, "2026-11-03", "06:57Z", "16:29Z", "11:43:31Z"),
    ("San Diego", 32.7157, -117.1611, "2026-10-08", "06:48-07:00", "18:24-07:00", "12:36:14-07:00"),
    ("San Diego", 32.7157, -117.1611, "2026-12-21", "06:47-08:00", "16:47-08:00", "11:46:38-08:00"),
    ("Leon", 42.60, -5.57, "2026-10-15", "08:35+02:00", "19:40+02:00", None),
    ("Tokushima", 34.16, 134.50, "2026-10-15", "06:07+09:00", "17:28+09:00", None),
    ("Quito", -0.18, -78.47, "2026-10-15", "05:56-05:00", "18:03-05:00", None),
    ("Reykjavik", 64.13, -21.94, "2026-10-15", "08:18Z", "18:08Z", None),
    ("Ramat Aviv", 32.1134, 34.7857, "2026-01-14", "06:42+02:00", "16:58+02:00", None),
    ("Ramat Aviv", 32.1134, 34.7857, "2026-03-26", "05:37+02:00", "17:56+02:00", None),
    ("Tehran", 35.6892, 51.3890, "2025-01-01", "07:14+03:30", "17:02+03:30", "12:08+03:30"),
    ("Jakarta", -6.2088, 106.8456, "2025-03-21", "05:57+07:00", "18:03+07:00", "12:00+07:00"),
    ("Jakarta", -6.2088, 106.8456, "2025-09-12", "05:47+07:00", "17:50+07:00", "11:49+07:00"),
    ("Istanbul", 41.0082, 28.9784, "2025-01-01", "08:29+03:00", "17:47+03:00", "13:08+03:00"),
    ("Istanbul", 41.0082, 28.9784, "2025-09-12", "06:42+03:00", "19:18+03:00", "13:00+03:00"),
    ("Virginia", 37.95, -76.45, "2026-08-28", None, "19:41-04:00", None),
    ("Virginia", 37.95, -76.45, "2026-09-06", None, "19:28-04:00", None),
    ("New York", 40.7128, -74.0060, "2024-06-20", "05:24-04:00", "20:31-04:00", None),
    ("Sydney", -33.8688, 151.2093, "2024-06-21", "07:01+10:00", "16:54+10:00", None),
    ("Kansas", 39.833, -98.583, "2025-11-01", None, None, "13:17:52-05:00"),
    # NOAA_Solar_Calculations_day.xls, the day of data/README.md.
    (
        "40 N 105 W",
        40.0,
        -105.0,
        "2010-06-21",
        "05:31:20-06:00",
        "20:32:13-06:00",
        "13:01:50-06:00",
    ),
]
# Printed to the minute (30 s), by a method that is up to 28 s off its own definition.
RISE_TOLERANCE_S = 60.0
# Printed to the minute (30 s), or to the second with the equation of time of 0 h (15 s).
NOON_TOLERANCE_S = 45.0


@pytest.mark.parametrize(
    ("place", "latitude", "longitude", "day", "sunrise", "sunset", "noon"), NOAA_TIMES
)
def test_noaa_times(
    place: str,
    latitude: float,
    longitude: float,
    day: str,
    sunrise: str | None,
    sunset: str | None,
    noon: str | None,
) -> None:
    date_there = date.fromisoformat(day)
    start, ours = solar_day(date_there, latitude, longitude)
    if sunrise:
        assert abs(seconds_off(start, ours.rise, date_there, sunrise)) <= RISE_TOLERANCE_S
    if sunset:
        assert abs(seconds_off(start, ours.set, date_there, sunset)) <= RISE_TOLERANCE_S
    if noon:
        assert abs(seconds_off(start, ours.noon, date_there, noon)) <= NOON_TOLERANCE_S


# The SPA report's own sunrise, noon and sunset, NREL/TP-560-34302 appendix A (Golden, 2003,
# and the meridian of Greenwich), and its web calculator (Golden, 2015), as quoted in pvlib's
# tests/test_spa.py and tests/test_solarposition.py. The algorithm looks for a sunset within
# the UTC date, and where evening falls after midnight UTC that is the evening before:
# place, day, sunrise, noon, evening, sunset.
GOLDEN = (39.742476, -105.1786)
SPA_TIMES = [
    (GOLDEN, "2003-10-17", "06:12:43-07:00", None, "2003-10-16", "17:20:19-07:00"),
    ((-35.0, 0.0), "1996-07-05", "07:08:15Z", "12:04:36Z", "1996-07-05", "17:01:04Z"),
    ((-35.0, 0.0), "2004-12-04", "04:38:57Z", "11:50:22Z", "2004-12-04", "19:02:03Z"),
    ((35.0, 0.0), "1994-01-02", "07:08:12Z", None, "1994-01-02", "16:59:55Z"),
    (GOLDEN, "2015-01-02", "07:21:55-07:00", "12:04:45-07:00", "2015-01-02", "16:47:43-07:00"),
    (GOLDEN, "2015-08-02", "05:00:27-07:00", "12:06:58-07:00", "2015-08-01", "19:13:58-07:00"),
]
# Printed to the second; a straight line between five-minute steps adds up to 1 s, and the
# report's 0.8333 degrees against 0.833 another 0.1 s.
SPA_TOLERANCE_S = 2.5


@pytest.mark.parametrize(("place", "day", "sunrise", "noon", "evening", "sunset"), SPA_TIMES)
def test_spa_report_times(
    place: tuple[float, float],
    day: str,
    sunrise: str,
    noon: str | None,
    evening: str,
    sunset: str,
) -> None:
    date_there, date_of_evening = date.fromisoformat(day), date.fromisoformat(evening)
    start, ours = solar_day(date_there, *place)
    assert abs(seconds_off(start, ours.rise, date_there, sunrise)) <= SPA_TOLERANCE_S
    if noon:
        assert abs(seconds_off(start, ours.noon, date_there, noon)) <= SPA_TOLERANCE_S
    start, ours = solar_day(date_of_evening, *place)
    assert abs(seconds_off(start, ours.set, date_of_evening, sunset)) <= SPA_TOLERANCE_S


# US Naval Observatory, tables of sunrise and sunset, as quoted in pvlib's tests (the first
# twelve) and in other public tests: latitude, longitude, day there, sunrise, sunset.
USNO_TIMES = [
    (39.0, -105.0, "2015-01-02", "07:19-07:00", "16:49-07:00"),
    (39.0, -105.0, "2015-04-02", "05:43-07:00", "18:24-07:00"),
    (39.0, -105.0, "2015-08-02", "05:01-07:00", "19:10-07:00"),
    (39.0, -105.0, "2015-12-02", "07:01-07:00", "16:38-07:00"),
    (39.917, 116.383, "2015-01-02", "07:36+08:00", "17:00+08:00"),
    (39.917, 116.383, "2015-04-02", "05:58+08:00", "18:39+08:00"),
    (39.917, 116.383, "2015-08-02", "05:13+08:00", "19:28+08:00"),
    (39.917, 116.383, "2015-12-02", "07:17+08:00", "16:50+08:00"),
    (39.742476, -105.1786, "2015-01-01", "07:22-07:00", "16:47-07:00"),
    (39.742476, -105.1786, "2015-01-02", "07:22-07:00", "16:48-07:00"),
    (39.742476, -105.1786, "2015-01-03", "07:22-07:00", "16:49-07:00"),
    (39.742476, -105.1786, "2015-08-02", "05:00-07:00", "19:13-07:00"),
    (34.05, -118.24, "2026-11-01", "06:13-08:00", None),
    (-36.85, 174.76, "2026-10-25", "06:24+13:00", None),
    (1.87, -157.4, "2026-10-24", "05:42-10:30", None),
    (64.15, -21.94, "2026-06-21", "02:55Z", None),
    (64.15, -21.94, "2026-12-21", "11:22Z", "15:29Z"),
]


@pytest.mark.parametrize(("latitude", "longitude", "day", "sunrise", "sunset"), USNO_TIMES)
def test_us_naval_observatory(
    latitude: float, longitude: float, day: str, sunrise: str, sunset: str | None
) -> None:
    """Tolerance as for NOAA: times are printed to the minute."""
    date_there = date.fromisoformat(day)
    start, ours = solar_day(date_there, latitude, longitude)
    assert abs(seconds_off(start, ours.rise, date_there, sunrise)) <= RISE_TOLERANCE_S
    if sunset:
        assert abs(seconds_off(start, ours.set, date_there, sunset)) <= RISE_TOLERANCE_S


def test_sunset_after_midnight() -> None:
    """Reykjavik, 21 June 2026: sunset at 00:04 UTC of the next day.

    Source: US Naval Observatory, as quoted in a public test, which gives 21 h 09 min of day
    for the times above. Tolerance as for NOAA, once for each of the two crossings.
    """
    start, ours = solar_day(date(2026, 6, 21), 64.15, -21.94)
    assert abs(seconds_off(start, ours.set, date(2026, 6, 22), "00:04Z")) <= RISE_TOLERANCE_S
    assert ours.rise is not None
    assert ours.set is not None
    assert ours.set - ours.rise == pytest.approx(21 * 60 + 9, abs=2 * RISE_TOLERANCE_S / 60)


@pytest.mark.parametrize(
    ("day", "always_up"), [(date(2024, 6, 21), True), (date(2024, 12, 21), False)]
)
def test_polar_day_and_night(day: date, always_up: bool) -> None:
    """Tromsø, 69.6492 N 18.9553 E: NOAA's calculator gives neither sunrise nor sunset.

    The sun is up for the whole day in June and down for the whole day in December, and the
    clear sky follows.
    """
    start, times = solar_day(day, 69.6492, 18.9553)
    assert times.rise is None
    assert times.set is None
    track = standing_track(start, 1, 69.6492, 18.9553)
    sun = position(track)
    assert ((sun.zenith < RISE_ZENITH_DEG) == always_up).all()
    for irradiance in clear_sky(track, sun):
        assert ((irradiance > 0.0) == always_up).all()
