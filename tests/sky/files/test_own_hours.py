"""A weather file's own hours under a trip: exact where it can be, right under any other sun."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.sky.files.own_hours import own_hours
from sim.sky.files.reader import WeatherYears
from sim.sky.sun import position
from sim.sky.sun_means import mean_sun, sun_clock
from sim.sky.track import Track, Weather

KINDS = ("ghi", "dni", "dhi")


def invented(years: tuple[int, ...] = (2026,), *, typical: bool = True) -> WeatherYears:
    """A station at 50 N 10 E, UTC+1, without sun; its temperature is the day of the year.

    In later columns it is 1000 higher for every year.
    """
    day = np.repeat(np.arange(365.0), 24)[:, None] + 1000.0 * np.arange(len(years))
    dark = np.zeros_like(day)
    return WeatherYears(
        "station.csv", "Invented.", (), 50.0, 10.0, 300.0, 1.0, typical, years,
        dark, dark, dark, day,
    )  # fmt: skip


def steady(years: WeatherYears, ghi: float, dni: float, dhi: float) -> WeatherYears:
    """The same station with steady shares of the extraterrestrial irradiance."""
    clock = sun_clock(years.start_utc(), 60)
    cosine, up = mean_sun(clock, years.latitude, years.longitude, -0.5, 0.5)
    level, facing = (cosine * clock.dni_extra)[:, None], (up * clock.dni_extra)[:, None]
    return replace(years, ghi=ghi * level, dni=dni * facing, dhi=dhi * level)


def stay(
    years: WeatherYears,
    first: str,
    hours: int,
    minutes: int = 60,
    *,
    north: float = 0.0,
    east: float = 0.0,
    up_m: float = 0.0,
) -> Track:
    """A track near the station; `first` in the file's clock, the rest counted from it."""
    start = np.datetime64(first, "s") - np.timedelta64(round(3600 * years.clock_offset_h), "s")
    steps = np.arange(hours * 60 // minutes)
    here = np.ones(len(steps))
    return Track(
        start + np.timedelta64(60 * minutes, "s") * steps,
        minutes,
        (years.latitude + north) * here,
        (years.longitude + east) * here,
        (years.altitude_m + up_m) * here,
    )


def lay(years: WeatherYears, track: Track) -> Weather:
    return own_hours(years, track, position(track))[0]


@pytest.fixture(scope="module", params=["723170TYA.CSV", "703165TY.csv"])
def station(
    request: pytest.FixtureRequest, typical_year: Callable[[str], WeatherYears]
) -> WeatherYears:
    return typical_year(request.param)


# --- the file itself ------------------------------------------------------------------------


@pytest.mark.parametrize(("first", "row"), [("2025-01-01T00", 0), ("2023-06-20T08", 170 * 24 + 8)])
def test_aligned_hours_at_the_station_are_the_files_own(
    station: WeatherYears, first: str, row: int
) -> None:
    weather = lay(station, stay(station, first, 336))
    for name in (*KINDS, "temp_air"):
        own = getattr(station, name)[row : row + 336, 0]
        np.testing.assert_allclose(getattr(weather, name)[:, 0], own, rtol=1e-12, atol=1e-9)


@pytest.mark.parametrize("minutes", [5, 10, 15, 20, 30])
def test_finer_steps_keep_every_hours_energy(station: WeatherYears, minutes: int) -> None:
    hourly = lay(station, stay(station, "2025-03-01T00", 336))
    fine = lay(station, stay(station, "2025-03-01T00", 336, minutes))
    for name in KINDS:
        means = getattr(fine, name).reshape(336, -1, 1).mean(axis=1)
        np.testing.assert_allclose(means, getattr(hourly, name), rtol=1e-9, atol=1e-9)


def test_fine_steps_follow_the_sun_within_the_hour(station: WeatherYears) -> None:
    """At sunrise the hour's light comes at its end, and none before the sun is up."""
    track = stay(station, "2025-05-10T00", 240, 5)
    sun, weather = position(track), lay(station, track)
    ghi = weather.ghi[:, 0].reshape(-1, 12)
    lit = (sun.zenith < 90.0).reshape(-1, 12)
    dawn = lit.any(axis=1) & ~lit[:, 0] & lit[:, -1] & (ghi.sum(axis=1) > 0)
    assert dawn.sum() >= 3
    # A step that the sun leaves half way may hold a little.
    deep = (sun.zenith > 91.0).reshape(-1, 12)
    assert ghi[dawn][deep[dawn]].max() == 0.0
    assert (np.diff(ghi[dawn], axis=1) >= -1e-9).all()
    assert (ghi[dawn][:, -1] > 1.2 * ghi[dawn].mean(axis=1)).all()


@settings(max_examples=25, deadline=None)
@given(
    minute=st.integers(0, 59),
    step=st.sampled_from([5, 7, 10, 15, 20, 30, 45, 60]),
    day=st.integers(0, 364),
    north=st.floats(-3, 3),
    east=st.floats(-8, 8),
)
def test_any_track_gets_the_energy_of_its_share_of_hours(
    minute: int, step: int, day: int, north: float, east: float
) -> None:
    """Steady weather stays steady under every sun: step by step, to the closed form."""
    years = steady(invented(), 0.5, 0.3, 0.2)
    first = np.datetime64("2026-01-01T00:00") + np.timedelta64(1440 * day + minute, "m")
    track = stay(years, str(first), 72, step, north=north, east=east)
    weather = lay(years, track)
    clock = sun_clock(track.start_utc, step)
    half = step / 120.0
    cosine, up = mean_sun(clock, track.latitude, track.longitude, -half, half)
    # The declination is that of the file hour's middle; 1 W/m2 of 1400 covers it.
    level = (clock.dni_extra * cosine)[:, None]
    np.testing.assert_allclose(weather.ghi, 0.5 * level + 0 * weather.ghi, atol=1.0)
    np.testing.assert_allclose(weather.dhi, 0.2 * level + 0 * weather.ghi, atol=1.0)
    # The beam holds while the sun is up, to the minute of sunrise.
    facing = (clock.dni_extra * up)[:, None] + 0 * weather.ghi
    np.testing.assert_allclose(weather.dni, 0.3 * facing, atol=420.0 * 0.5 / step + 1.0)


def test_no_light_at_night_and_none_beyond_reason(station: WeatherYears) -> None:
    track = stay(station, "2025-01-01T00", 8760)
    sun, weather = position(track), lay(station, track)
    clock = sun_clock(track.start_utc, 60)
    cosine, _ = mean_sun(clock, track.latitude, track.longitude, -0.5, 0.5)
    night = cosine == 0.0
    assert weather.ghi[night].max() <= 5.0  # the files' own twilight, 5 W/m2
    assert (weather.ghi <= (1.1 * cosine * sun.dni_extra + 20.0)[:, None]).all()
    assert (weather.dni <= 0.75 * 1415.0).all()
    for name in KINDS:
        assert getattr(weather, name).min() >= 0.0


def test_a_twilight_that_the_trip_does_not_have_is_left_out() -> None:
    """A little light with the sun hardly up is not carried into an hour of night."""
    years = steady(invented(), 0.5, 0.3, 0.2)
    low = (years.ghi > 0.0) & (years.ghi < 8.0)
    assert low.sum() > 100
    years = replace(years, ghi=np.where(low, 18.0, years.ghi))
    track = stay(years, "2026-09-20T00", 240)
    cosine, _ = mean_sun(sun_clock(track.start_utc, 60), track.latitude, track.longitude, -0.5, 0.5)
    assert lay(years, track).ghi[cosine == 0.0].max() == 0.0


def test_new_year_runs_on_into_the_same_typical_year() -> None:
    years = invented()
    weather = lay(years, stay(years, "2026-12-30T00", 96))
    noons = weather.temp_air[12::24, 0]
    np.testing.assert_allclose(noons, [363.0, 364.0, 0.0, 1.0])


@pytest.mark.parametrize(
    ("first", "days"),
    [
        ("2024-02-27T00", [57, 58, 59, 60]),  # on through 29 February without a break
        ("2024-02-29T00", [59, 60, 61, 62]),  # which itself starts as 1 March
        ("2024-03-01T00", [59, 60, 61, 62]),
        ("2024-12-30T00", [363, 364, 0, 1]),
        ("2025-02-27T00", [57, 58, 59, 60]),
    ],
)
def test_leap_days(first: str, days: list[int]) -> None:
    years = invented()
    weather = lay(years, stay(years, first, 96))
    np.testing.assert_allclose(weather.temp_air[12::24, 0], days)


def test_a_trip_of_366_days() -> None:
    years = steady(invented(), 0.5, 0.3, 0.2)
    weather = lay(years, stay(years, "2024-01-01T00", 24 * 366))
    assert weather.ghi.shape == (24 * 366, 1)
    assert not any(np.isnan(getattr(weather, name)).any() for name in (*KINDS, "temp_air"))


# --- files of several years -----------------------------------------------------------------


def year_of(weather: Weather) -> list[int]:
    return [int(value // 1000) for value in weather.temp_air[12]]


def test_one_draw_a_year_in_order() -> None:
    years = invented((2015, 2016, 2017), typical=False)
    track = stay(years, "2026-04-11T00", 48)
    weather, kept = own_hours(years, track, position(track))
    assert kept == (2015, 2016, 2017)
    np.testing.assert_allclose(weather.temp_air[12], [100.0, 1100.0, 2100.0])


def test_new_year_runs_on_into_the_next_year_of_the_file() -> None:
    years = invented((2015, 2016), typical=False)
    weather = lay(years, stay(years, "2026-12-31T00", 48))
    np.testing.assert_allclose(weather.temp_air[12], [364.0, 1364.0])
    np.testing.assert_allclose(weather.temp_air[36], [1000.0, 1000.0])  # the last begins again


def part_of_a_year() -> WeatherYears:
    """Only 1 July to 20 July of one year, and all of the next."""
    years = invented((2018, 2019), typical=False)
    hidden = np.ones((8760, 2), dtype=bool)
    hidden[24 * 181 : 24 * 201, 0] = False
    hidden[:, 1] = False
    fields = {name: np.where(hidden, np.nan, getattr(years, name)) for name in (*KINDS, "temp_air")}
    return replace(years, **fields)


@pytest.mark.parametrize(
    ("first", "hours", "kept"),
    [
        ("2026-07-08T00", 24 * 7, (2018, 2019)),
        ("2026-07-01T00", 24 * 20, (2018, 2019)),
        ("2026-06-30T23", 24 * 7, (2019,)),
        ("2026-07-14T01", 24 * 7, (2019,)),
        ("2026-01-08T00", 24, (2019,)),
    ],
)
def test_only_years_that_cover_the_trip_are_laid(
    first: str, hours: int, kept: tuple[int, ...]
) -> None:
    years = part_of_a_year()
    track = stay(years, first, hours)
    weather, found = own_hours(years, track, position(track))
    assert found == kept
    assert weather.ghi.shape == (hours, len(kept))
    assert not np.isnan(weather.temp_air).any()
    assert not np.isnan(weather.ghi).any()


def test_hours_that_no_step_needs_may_be_missing() -> None:
    """A trip that comes back to the file's place asks nothing of the days between."""
    years = part_of_a_year()
    hidden = years.ghi.copy()
    hidden[24 * 185 : 24 * 187, 0] = np.nan
    years = replace(years, ghi=hidden)
    track = stay(years, "2026-07-03T00", 24 * 8)
    here = np.r_[0 : 24 * 2, 24 * 4 : 24 * 8]
    assert own_hours(years, track.at(here), position(track.at(here)))[1] == (2018, 2019)
    assert own_hours(years, track, position(track))[1] == (2019,)


# --- other places ---------------------------------------------------------------------------


def test_temperature_runs_from_hour_to_hour_and_falls_with_height() -> None:
    years = invented()
    ramp = np.tile(np.arange(24.0), 365)[:, None]
    years = replace(years, temp_air=ramp)
    track = stay(years, "2026-05-01T06:30", 4, 30, up_m=1000.0)
    # Hour 6 holds in its middle, 06:30; the steps' middles are 06:45, 07:15 ...
    expected = np.array([6.25, 6.75, 7.25, 7.75, 8.25, 8.75, 9.25, 9.75]) - 6.5
    np.testing.assert_allclose(lay(years, track).temp_air[:, 0], expected)


def test_a_file_of_another_continent_is_laid_by_solar_time() -> None:
    """Clear mornings and dull afternoons stay mornings and afternoons."""
    years = steady(invented(), 0.6, 0.3, 0.2)
    afternoon = (np.arange(8760) % 24 >= 12)[:, None]
    years = replace(years, ghi=np.where(afternoon, 0.2, 1.0) * years.ghi)
    track = stay(years, "2026-06-01T00", 240, east=-120.0)
    sun, ghi = position(track), lay(years, track).ghi[:, 0]
    share = ghi / np.maximum(sun.ghi_extra, 1.0)
    high = sun.zenith < 60.0
    morning = high & (sun.azimuth < 150.0)
    late = high & (sun.azimuth > 210.0)
    np.testing.assert_allclose(share[morning], 0.6, atol=0.02)
    np.testing.assert_allclose(share[late], 0.12, atol=0.02)
