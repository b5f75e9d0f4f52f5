"""The weather of a trip from a weather file: one year as a level, several years as draws."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from sim.errors import WeatherError
from sim.sky.climate.draws import climate_draws
from sim.sky.climate.monthly import monthly
from sim.sky.files.own_hours import own_hours
from sim.sky.files.reader import WeatherYears
from sim.sky.files.under_trip import file_days, file_draws
from sim.sky.sun import position
from sim.sky.track import Track, Weather

KINDS = ("ghi", "dni", "dhi", "temp_air")
DAYS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
MONTH_OF_HOUR = np.repeat(np.arange(12), 24 * DAYS)


@pytest.fixture(scope="module")
def miami(typical_year: Callable[[str], WeatherYears]) -> WeatherYears:
    return typical_year("12839.tm2")


def stay(
    years: WeatherYears, first: str, days: int, *, north: float = 0.0, up_m: float = 0.0
) -> Track:
    """Hours near the station; `first` in the file's own clock."""
    start = np.datetime64(first, "s") - np.timedelta64(round(3600 * years.clock_offset_h), "s")
    here = np.ones(24 * days)
    return Track(
        start + np.timedelta64(3600, "s") * np.arange(24 * days),
        60,
        (years.latitude + north) * here,
        years.longitude * here,
        (years.altitude_m + up_m) * here,
    )


def lay(years: WeatherYears, track: Track, draws: int = 8, **said: object) -> Weather:
    return file_draws(years, track, position(track), draws=draws, seed=1, **said)  # type: ignore[arg-type]


def of_years(years: WeatherYears, count: int) -> WeatherYears:
    """The same year again and again, a little duller each time."""
    duller = 1.0 - 0.01 * np.arange(count)
    tables = {name: getattr(years, name) * duller for name in ("ghi", "dni", "dhi")}
    return replace(
        years,
        years=tuple(range(2001, 2001 + count)),
        temp_air=np.repeat(years.temp_air, count, axis=1),
        **tables,
    )


def as_climate_has_it(years: WeatherYears) -> WeatherYears:
    """A station whose months are those of the built-in climate at its place, its days its own."""
    climate = monthly(years.latitude, years.longitude, years.altitude_m)
    ghi = np.bincount(MONTH_OF_HOUR, years.ghi[:, 0]) / DAYS / 1000.0
    air = np.bincount(MONTH_OF_HOUR, years.temp_air[:, 0]) / DAYS / 24.0
    times = (climate.ghi_kwh_m2_day / ghi)[MONTH_OF_HOUR][:, None]
    warmer = (climate.temperature_c - air)[MONTH_OF_HOUR][:, None]
    return replace(years, ghi=times * years.ghi, temp_air=years.temp_air + warmer)


def fortnights(weather: Weather) -> np.ndarray:
    """Mean sun of each draw. [kWh/m2/day]"""
    return np.asarray(weather.ghi.mean(axis=0) * 24.0 / 1000.0)


# --- one year ---------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["12839.tm2", "723170TYA.CSV", "703165TY.csv"])
def test_the_year_that_is_drawn_has_the_months_of_the_file(
    name: str, typical_year: Callable[[str], WeatherYears]
) -> None:
    """Sun within 3 % and 0.02 kWh/m2, temperature within 1 K: 30 draws have noise of their own
    (Sand Point's months stand 3 K apart from year to year)."""
    years = typical_year(name)
    drawn = lay(years, stay(years, "2027-01-01T00", 365), draws=30)

    def months(hours: np.ndarray) -> np.ndarray:
        return np.bincount(MONTH_OF_HOUR, hours) / DAYS / 24.0

    sun, own = months(drawn.ghi.mean(axis=1)), months(years.ghi[:, 0])
    np.testing.assert_allclose(sun, own, rtol=0.03, atol=0.8)
    air = months(drawn.temp_air.mean(axis=1)) - months(years.temp_air[:, 0])
    assert np.abs(air).max() < 1.0
    assert abs(air.mean()) < 0.3


def test_file_and_climate_agree_where_their_level_does(miami: WeatherYears) -> None:
    """Miami's two weeks in July. As the file has them they are 4 % brighter than the climate's
    (10 % before stations around put it right); with the climate's level they are its own: the
    middle within 2 %, the bad and the good case within 6 %, as the station's days spread a little
    less than the climate's (7.5 % before days in heat spread less)."""
    track = stay(miami, "2027-07-05T00", 14)
    sun = position(track)
    climate = fortnights(climate_draws(track, sun, draws=200, seed=1))
    own = fortnights(lay(miami, track, draws=200))
    levelled = fortnights(lay(as_climate_has_it(miami), track, draws=200))
    level = monthly(miami.latitude, miami.longitude, miami.altitude_m).ghi_kwh_m2_day[6]
    brighter = miami.ghi[MONTH_OF_HOUR == 6].sum() / 31.0 / 1000.0 / level
    assert brighter == pytest.approx(1.04, abs=0.01)
    assert own.mean() / climate.mean() == pytest.approx(brighter, rel=0.02)
    assert levelled.mean() == pytest.approx(climate.mean(), rel=0.02)
    for share, within in ((0.1, 0.06), (0.5, 0.02), (0.9, 0.06)):
        expected = np.quantile(climate, share)
        assert np.quantile(levelled, share) == pytest.approx(expected, rel=within)
    # One year shifted by some days had no spread to speak of: a share of it said nothing.
    assert np.std(own) > 0.7 * np.std(climate)


def test_a_files_draws_are_the_generators(miami: WeatherYears) -> None:
    """The same seed has the same spells: bright where the climate is bright."""
    track = stay(miami, "2027-03-05T00", 14)
    climate = fortnights(climate_draws(track, position(track), draws=60, seed=1))
    assert np.corrcoef(fortnights(lay(miami, track, draws=60)), climate)[0, 1] > 0.88
    few = lay(miami, track, draws=5)
    for name in KINDS:
        np.testing.assert_array_equal(getattr(lay(miami, track), name)[:, :5], getattr(few, name))
    assert few.years == ()


def test_prudent_reaches_a_file(miami: WeatherYears) -> None:
    track = stay(miami, "2027-03-05T00", 14)
    plain, wide = lay(miami, track, 60), lay(miami, track, 60, prudent=True)
    assert np.std(wide.ghi.mean(axis=0)) > 1.05 * np.std(plain.ghi.mean(axis=0))
    assert "prudent" in " ".join(wide.about)


def test_a_place_without_climate_may_have_a_file(miami: WeatherYears) -> None:
    """In the middle of the South Pacific, where the built-in climate knows nothing."""
    ocean = replace(miami, latitude=-45.0, longitude=-130.0, clock_offset_h=-9.0)
    track = stay(ocean, "2027-01-05T00", 3)
    with pytest.raises(WeatherError, match="built-in climate knows nothing"):
        climate_draws(track, position(track), draws=2, seed=1)
    assert lay(ocean, track).ghi.shape == (72, 8)


def test_a_higher_place_is_colder(miami: WeatherYears) -> None:
    here, up = (lay(miami, stay(miami, "2027-03-05T00", 5, up_m=up_m)) for up_m in (0.0, 1000.0))
    np.testing.assert_allclose(here.temp_air - up.temp_air, 6.5, atol=0.4)


def part_of(years: WeatherYears, first: int, last: int) -> WeatherYears:
    """The file with the days from `first` to before `last` of the year alone."""
    hour = np.arange(8760)[:, None]
    here = (hour >= 24 * first) & (hour < 24 * last)
    return replace(years, **{name: np.where(here, getattr(years, name), np.nan) for name in KINDS})


def test_a_month_of_twenty_days_is_a_month(miami: WeatherYears) -> None:
    july = part_of(miami, 181, 201)
    lay(july, stay(july, "2027-07-20T00", 5))
    with pytest.raises(WeatherError, match=r"07-30 to 08-04 .* it has 0 days of August"):
        lay(july, stay(july, "2027-07-30T06", 5))
    week = part_of(miami, 181, 200)
    with pytest.raises(WeatherError, match="it has 19 days of July, and 20 are the least"):
        lay(week, stay(week, "2027-07-03T00", 5))


def test_the_files_own_days(miami: WeatherYears) -> None:
    track = stay(miami, "2027-07-05T00", 14)
    own = file_days(miami, track, position(track))
    assert own is not None
    first = 24 * 185
    np.testing.assert_allclose(own.ghi[:, 0], miami.ghi[first : first + 336, 0], atol=1e-6)
    half = part_of(miami, 0, 190)
    assert file_days(half, track, position(track)) is None
    two = of_years(miami, 2)
    assert file_days(two, track, position(track)) is None


# --- several years ----------------------------------------------------------------------------


def test_one_draw_a_year_however_many_are_asked(miami: WeatherYears) -> None:
    five = of_years(miami, 5)
    track = stay(five, "2027-07-05T00", 14)
    weather = lay(five, track, draws=200)
    assert weather.years == (2001, 2002, 2003, 2004, 2005)
    own, _ = own_hours(five, track, position(track))
    for name in KINDS:
        np.testing.assert_array_equal(getattr(weather, name), getattr(own, name))
    assert "One draw a year, 5 of them: the file's own days of 2001 to 2005." in weather.about


def test_years_that_do_not_cover_the_trip_are_left_out(miami: WeatherYears) -> None:
    three = of_years(miami, 3)
    hidden = {name: getattr(three, name).copy() for name in KINDS}
    for values in hidden.values():
        values[24 * 186, 1] = np.nan
    three = replace(three, **hidden)
    weather = lay(three, stay(three, "2027-07-05T00", 14))
    assert weather.years == (2001, 2003)
    assert "the file's own days of 2001, 2003" in " ".join(weather.about)
    # With one year left that covers it, all of them set the level.
    for values in hidden.values():
        values[24 * 186, 0] = np.nan
    weather = lay(replace(three, **hidden), stay(three, "2027-07-05T00", 14))
    assert weather.years == ()
    assert weather.draws == 8


# --- what is said -----------------------------------------------------------------------------


def test_what_the_report_says(miami: WeatherYears) -> None:
    about = lay(miami, stay(miami, "2027-01-01T00", 2), draws=200).about
    assert about[0] == miami.source
    assert about[1 : 1 + len(miami.notes)] == miami.notes
    assert "the weather of 200 simulated trips around it is drawn with seed 1" in about[-1]


def test_far_places_are_told_and_not_refused(miami: WeatherYears) -> None:
    near = lay(miami, stay(miami, "2026-05-01T00", 2, north=0.5, up_m=100.0)).about
    assert not any("km" in sentence or "1000 m" in sentence for sentence in near)
    far = lay(miami, stay(miami, "2026-05-01T00", 2, north=2.0, up_m=600.0)).about
    assert any("222 km" in sentence for sentence in far)
    assert any("600 m higher" in sentence for sentence in far)
