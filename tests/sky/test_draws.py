"""Weather drawn from the climate: what must hold of every draw."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from sim.arrays import Floats
from sim.errors import WeatherError
from sim.sky.climate import draws as drawing
from sim.sky.climate.days import local_days, on_date
from sim.sky.climate.draws import climate_draws
from sim.sky.climate.hours import broken_days
from sim.sky.climate.monthly import monthly
from sim.sky.sun import position
from sim.sky.track import Track, Weather

MOAB = (38.57, -109.55, 1227.0)
PORTLAND = (45.52, -122.68, 15.0)
SYDNEY = (-33.87, 151.21, 20.0)
MUMBAI = (19.08, 72.88, 10.0)
TROMSO = (69.65, 18.96, 10.0)
PINNED = (
    (0.2169968324871, 0.3208213250281, -0.5059262900620),
    (-1.3040360741015, 0.3558848790723, 0.4924635791652),
)

PLACES = [MOAB, PORTLAND, SYDNEY, MUMBAI, TROMSO]


def stay(
    place: tuple[float, float, float], start_utc: str, hours: float, minutes: int = 60
) -> Track:
    """A track that stays where it is."""
    steps = round(hours * 60 / minutes)
    start = np.datetime64(start_utc, "s") + np.arange(steps) * np.timedelta64(60 * minutes, "s")
    here = np.ones(steps)
    return Track(start, minutes, *(value * here for value in place))


def joined(*tracks: Track) -> Track:
    """Tracks one after the other; the clock runs on from the first."""
    first = tracks[0]
    steps = sum(map(len, tracks))
    start = first.start_utc[0] + np.arange(steps) * np.timedelta64(60 * first.step_minutes, "s")
    axes = (
        np.concatenate([getattr(track, name) for track in tracks])
        for name in ("latitude", "longitude", "altitude_m")
    )
    return Track(start, first.step_minutes, *axes)


def draw(track: Track, draws: int = 20, seed: int = 1, prudent: bool = False) -> Weather:
    return climate_draws(track, position(track), draws=draws, seed=seed, prudent=prudent)


def arrays(weather: Weather) -> list[Floats]:
    return [weather.ghi, weather.dni, weather.dhi, weather.temp_air]


def same(one: Weather, other: Weather) -> None:
    for mine, theirs in zip(arrays(one), arrays(other), strict=True):
        assert mine == pytest.approx(theirs, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("start", ["2025-06-18T00:00", "2025-12-18T07:30"])
@pytest.mark.parametrize("minutes", [5, 60])
def test_irradiance_is_possible(
    place: tuple[float, float, float], start: str, minutes: int
) -> None:
    track = stay(place, start, 96, minutes)
    sun = position(track)
    weather = draw(track)
    for array in arrays(weather):
        assert array.shape == (len(track), 20)
        assert np.isfinite(array).all()
    for array in arrays(weather)[:3]:
        assert array.min() >= -1e-9
    assert (weather.ghi <= sun.ghi_extra[:, None] + 1e-9).all()
    assert (weather.dni <= sun.dni_extra[:, None]).all()
    assert (weather.ghi[sun.zenith >= 90.0] == 0.0).all()
    closed = weather.dni * sun.cos_zenith[:, None] + weather.dhi
    assert closed == pytest.approx(weather.ghi, abs=1e-9)


def test_same_seed_same_weather_and_the_first_draws_do_not_depend_on_how_many() -> None:
    track = stay(MOAB, "2025-01-10T14:00", 72)
    many, few = draw(track, 30), draw(track, 3)
    same(many, draw(track, 30))
    same(few, Weather(*(array[:, :3] for array in arrays(many))))
    assert np.abs(draw(track, 3, seed=2).ghi - few.ghi).max() > 10.0
    assert np.abs(few.ghi[:, 0] - few.ghi[:, 1]).max() > 10.0


def test_the_random_numbers_are_the_same_on_any_machine() -> None:
    """Drawn once with numpy 2.4 on x86-64; Philox and SeedSequence are specified to the bit."""
    found = drawing._dice(day=20_000, draws=2, seed=7)
    assert found.shape == (2, 25)
    assert found[0, :3] == pytest.approx(PINNED[0], abs=1e-12)
    assert found[1, -3:] == pytest.approx(PINNED[1], abs=1e-12)


def test_a_date_has_its_weather_whenever_the_trip_sets_out() -> None:
    early = draw(stay(MOAB, "2025-01-20T07:00", 24 * 20), 6)
    for hours in (1, 31, 24 * 15):
        start = np.datetime64("2025-01-20T07:00") + np.timedelta64(hours, "h")
        late = draw(stay(MOAB, str(start), 24 * 20 - hours), 6)
        same(late, Weather(*(array[hours:] for array in arrays(early))))


def test_short_steps_see_the_weather_of_long_ones() -> None:
    """Per day and draw within 3 % of a bright day's sum: the sun moves within the hour."""
    for place, start in ((MOAB, "2025-01-10T07:00"), (SYDNEY, "2025-01-10T14:00")):
        coarse, fine = draw(stay(place, start, 240)), draw(stay(place, start, 240, 5))
        for name in ("ghi", "dni", "temp_air"):
            long = getattr(coarse, name).reshape(10, 24, -1).mean(axis=1)
            short = getattr(fine, name).reshape(10, 288, -1).mean(axis=1)
            assert short.mean() == pytest.approx(long.mean(), rel=0.02, abs=0.02)
            assert np.abs(short - long).max() < 0.03 * np.abs(long).max()


def test_the_same_clouds_pass_at_half_past() -> None:
    """A zone of half an hour: the day's sun is the same within 5 % of a bright day."""
    whole = draw(stay(MUMBAI, "2025-03-01T18:00", 240))
    half = draw(stay(MUMBAI, "2025-03-01T18:30", 240))
    days = [weather.ghi.reshape(10, 24, -1).mean(axis=1) for weather in (whole, half)]
    assert np.abs(days[0] - days[1]).max() < 0.05 * days[0].max()


def hours_under(wanted: np.ndarray, share: np.ndarray, clouds: np.ndarray) -> np.ndarray:
    """Clear-sky index of every hour of days. shape (R, B, D)"""
    days, (rows, hours, draws) = broken_days(wanted, share, clouds), clouds.shape
    index = days.index(np.repeat(np.arange(rows), hours), clouds.reshape(-1, draws))
    return index.reshape(clouds.shape)


def test_hours_keep_the_day() -> None:
    rng = np.random.default_rng(3)
    share = rng.random((40, 25))
    share /= share.sum(axis=1, keepdims=True)
    wanted = rng.uniform(0.06, 1.3, (40, 30))
    hours = hours_under(wanted, share, rng.standard_normal((40, 25, 30)))
    assert np.einsum("rb,rbd->rd", share, hours) == pytest.approx(wanted, rel=5e-3)
    assert (hours > 0.0).all()
    assert (hours < 1.4).all()


def test_broken_clouds_swing_widest() -> None:
    rng = np.random.default_rng(4)
    share = np.full((3, 10), 0.1)
    levels = np.array([[0.15], [0.6], [1.05]]) * np.ones(500)
    spread = hours_under(levels, share, rng.standard_normal((3, 10, 500))).std(axis=1).mean(axis=1)
    assert spread[1] > 2.0 * spread[0]
    assert spread[1] > 2.0 * spread[2]


def test_a_day_cut_short_is_still_the_whole_days_weather() -> None:
    whole = draw(stay(MOAB, "2025-04-01T07:00", 72))
    part = draw(stay(MOAB, "2025-04-02T16:00", 3))
    same(part, Weather(*(array[33:36] for array in arrays(whole))))


def test_one_weather_follows_the_van() -> None:
    """At each stop a route has the irradiance of one who stayed there all along."""
    first, second = stay(MOAB, "2025-05-01T07:00", 60), stay(PORTLAND, "2025-05-03T19:00", 72)
    route = draw(joined(first, second))
    assert route.ghi[:60] == pytest.approx(draw(first).ghi, abs=1e-9)
    assert route.ghi[60:] == pytest.approx(draw(second).ghi, abs=1e-9)


def test_bright_days_are_bright_along_the_whole_route() -> None:
    """Two places 70 km apart on the same days: their suns go hand in hand."""
    here = draw(stay(MOAB, "2025-05-01T07:00", 480)).ghi.reshape(20, 24, -1).mean(axis=1)
    there = draw(stay((38.9, -110.2, 1300.0), "2025-05-01T07:00", 480))
    far = there.ghi.reshape(20, 24, -1).mean(axis=1)
    assert np.corrcoef(here.ravel(), far.ravel())[0, 1] > 0.95


def test_driving_is_smooth() -> None:
    """A day's drive in 5 minute steps: no jump in the air, no daylight lost on the road."""
    steps = 288
    leg = stay(MOAB, "2025-05-01T07:00", 24, 5)
    on_the_way = np.clip((np.arange(steps) - 100) / 100.0, 0.0, 1.0)
    moving = replace(
        leg,
        latitude=MOAB[0] + 3.0 * on_the_way,
        longitude=MOAB[1] - 2.0 * on_the_way,
    )
    weather = draw(moving)
    assert np.abs(np.diff(weather.temp_air, axis=0)).max() < 1.0
    sunny = position(moving).zenith < 80.0
    assert weather.ghi[sunny].min() > 10.0


@pytest.mark.parametrize("place", [MOAB, SYDNEY, TROMSO])
def test_air_does_not_jump_at_midnight_or_at_the_turn_of_a_month(
    place: tuple[float, float, float],
) -> None:
    """5 minutes change it by 0.6 K at most, a day and a month may begin in between.

    The steepest honest slope: 20 K in the 8 hours after sunrise on a half cosine, 0.33 K.
    """
    weather = draw(stay(place, "2025-01-29T00:00", 96, 5))
    assert np.abs(np.diff(weather.temp_air, axis=0)).max() < 0.6


def test_months_melt_into_each_other_and_keep_their_means() -> None:
    """A cosine of the year, 20 from coldest to warmest: at most 0.18 a day where steepest."""
    table = 10.0 * np.cos(2.0 * np.pi * np.arange(12.0) / 12.0)[None]
    date = np.arange("2025-01-01", "2026-01-01", dtype="datetime64[D]").astype(np.float64) + 0.5
    values = on_date(table, date, np.zeros(365, dtype=np.int64))
    month = date.astype("datetime64[D]").astype("datetime64[M]").astype(int) % 12
    assert np.abs(np.diff(values)).max() < 0.19
    means = np.bincount(month, values) / np.bincount(month)
    # months differ in length by a tenth at most, which the weights leave out
    assert means == pytest.approx(table[0], abs=0.1)


@pytest.mark.parametrize("place", [MOAB, PORTLAND, SYDNEY, MUMBAI])
def test_a_year_has_the_climates_months(place: tuple[float, float, float]) -> None:
    """GHI 4 %, temperature 0.9 K (chance alone makes 0.4 K in 40 Januaries), range 8 %."""
    track = stay(place, "2001-01-01T00:00", 8760)
    weather, climate = draw(track, draws=40), monthly(*place)
    month = np.repeat(
        np.arange("2001-01-01", "2002-01-01", dtype="datetime64[D]")
        .astype("datetime64[M]")
        .astype(int)
        % 12,
        24,
    )
    count = np.bincount(month)
    ghi = np.bincount(month, weather.ghi.mean(axis=1)) / count * 24.0 / 1000.0
    air = np.bincount(month, weather.temp_air.mean(axis=1)) / count
    daily = np.ptp(weather.temp_air.reshape(365, 24, -1), axis=1).mean()
    assert ghi == pytest.approx(climate.ghi_kwh_m2_day, rel=0.04)
    assert air == pytest.approx(climate.temperature_c, abs=0.9)
    assert daily == pytest.approx(climate.temperature_range_c.mean(), rel=0.08)


def test_days_remember() -> None:
    """The number behind KT 0.35 and the spell of temperature 0.76 from one day to the next."""
    latent = drawing._latent(20_000, 20_400, 100, 5)
    kt, cold = latent.brightness, latent.warmth
    assert np.mean(kt[1:] * kt[:-1]) == pytest.approx(0.35, abs=0.02)
    assert kt.std() == pytest.approx(1.0, abs=0.02)
    assert cold.std() == pytest.approx(1.0, abs=0.02)
    weather = draw(stay(MOAB, "2001-07-01T07:00", 24 * 60), draws=150)
    daily = weather.temp_air.reshape(60, 24, -1).mean(axis=1)
    about = daily - daily.mean(axis=1, keepdims=True)
    lag = (about[1:] * about[:-1]).mean() / (about**2).mean()
    assert lag == pytest.approx(0.76, abs=0.05)


def test_seeds_agree_on_how_bright_and_how_warm_a_fortnight_is() -> None:
    """Mean sun and mean temperature of 14 days over 200 draws: from seed to seed they move by
    less than 0.4 of what independent draws would make them move (measured: 0.2)."""
    track = stay(MOAB, "2027-01-09T07:00", 24 * 14)
    means, spreads = [], []
    for seed in range(1, 13):
        weather = draw(track, 200, seed)
        spells = np.stack([weather.ghi.mean(axis=0), weather.temp_air.mean(axis=0)])
        means.append(spells.mean(axis=1))
        spreads.append(spells.std(axis=1))
    dice = np.mean(spreads, axis=0) / np.sqrt(200.0)
    assert (np.std(means, axis=0, ddof=1) < 0.4 * dice).all()


def test_coldest_at_sunrise_and_warmest_after_noon() -> None:
    track = stay(MOAB, "2025-07-10T07:00", 240)
    air = draw(track, draws=100).temp_air.mean(axis=1)
    hour = (local_days(track).clock % 1.0) * 24.0
    by_hour = [air[np.floor(hour) == h].mean() for h in range(24)]
    assert int(np.argmin(by_hour)) in (4, 5)
    assert int(np.argmax(by_hour)) in (13, 14)


def test_bright_days_have_wide_temperatures() -> None:
    weather = draw(stay(MOAB, "2025-03-01T07:00", 480), draws=50)
    sunshine = weather.ghi.reshape(20, 24, -1).sum(axis=1)
    width = np.ptp(weather.temp_air.reshape(20, 24, -1), axis=1)
    assert 0.3 < np.corrcoef(sunshine.ravel(), width.ravel())[0, 1] < 0.8


def test_prudent_spreads_the_days_and_keeps_their_mean() -> None:
    track = stay(PORTLAND, "2025-01-05T08:00", 480)
    plain, prudent = (
        draw(track, 100, prudent=choice).ghi.reshape(20, 24, -1).sum(axis=1)
        for choice in (False, True)
    )
    assert prudent.std() / plain.std() == pytest.approx(1.1, abs=0.04)
    assert prudent.mean() == pytest.approx(plain.mean(), rel=0.01)


def test_polar_night_is_dark_and_the_midnight_sun_shines() -> None:
    assert draw(stay(TROMSO, "2025-12-21T00:00", 48)).ghi.max() == 0.0
    summer = draw(stay(TROMSO, "2025-06-21T22:00", 3))
    assert summer.ghi.min() > 0.0


def percent_in(sentence: str) -> int:
    """The first whole number of per cent."""
    return int(re.search(r"(\d+) %", sentence)[1])  # type: ignore[index]


def test_what_the_report_says() -> None:
    south = draw(stay(MOAB, "2025-06-01T00:00", 6), draws=7, seed=3)
    assert "weather of 7 simulated trips" in south.about[0]
    assert "seed 3" in south.about[0]
    assert "Beyond 60" not in " ".join(south.about)
    assert "known to within about" in south.about[1]
    north = draw(stay(TROMSO, "2025-06-01T00:00", 6), prudent=True)
    assert any("Beyond 60 degrees" in line for line in north.about)
    assert any("prudent" in line for line in north.about)
    assert percent_in(north.about[1]) > percent_in(south.about[1])


def test_across_the_date_line() -> None:
    """Along the coast of Chukotka: the days go on, and no clouds come or go at 180 degrees."""
    steps = 96
    track = stay((66.5, 179.0, 50.0), "2025-06-01T00:00", 48, 30)
    east = 179.0 + 2.0 * np.arange(steps) / steps
    wrapped = replace(track, longitude=(east + 180.0) % 360.0 - 180.0)
    running_on = replace(track, longitude=east)
    same(draw(wrapped), draw(running_on))
    assert np.diff(local_days(wrapped).day).max() <= 1


def test_a_place_seen_again_is_one_place_and_its_day_one_pair() -> None:
    there = stay(MOAB, "2025-06-01T08:00", 40)
    # Out to the west for an hour in the morning, and back on the same day.
    away = np.isin(np.arange(40), (3, 30))
    days = local_days(replace(there, longitude=np.where(away, MOAB[1] - 1.0, MOAB[1])))
    assert days.place.tolist() == np.where(away, 0, 1).tolist()
    assert days.longitude.tolist() == [MOAB[1] - 1.0, MOAB[1]]
    assert days.pair_place[days.pair].tolist() == days.place.tolist()
    assert days.pair_day[days.pair].tolist() == days.day.tolist()
    pairs = list(zip(days.pair_place.tolist(), days.pair_day.tolist(), strict=True))
    assert pairs == sorted(set(pairs))


def test_the_open_sea_is_an_error() -> None:
    with pytest.raises(WeatherError, match="weather file"):
        draw(stay((0.0, -140.0, 0.0), "2025-06-01T00:00", 6))


ODD_PLACES = {
    "equator": (0.0, 32.0, 1174.0),
    "where latitude and longitude are 0": (0.0, 0.0, 0.0),
    "North Cape": (71.17, 25.78, 300.0),
    "Utqiagvik": (71.29, -156.79, 5.0),
    "Ushuaia": (-54.81, -68.31, 20.0),
    "Fiji, on the date line": (-16.8, 180.0, 0.0),
    "La Paz": (-16.5, -68.15, 3640.0),
    "highest summit": (27.99, 86.92, 8849.0),
    "Dead Sea": (31.5, 35.48, -430.0),
}


@pytest.mark.parametrize("place", ODD_PLACES.values(), ids=ODD_PLACES)
def test_a_year_at_odd_places(place: tuple[float, float, float]) -> None:
    """Every hour is possible, and each month's sun is the climate's: on every third day of a year
    12 % and 0.05 kWh/m2 for the chance of 24 draws; 20 % beyond 60 degrees, where a month's sun
    and its clearness fall together and a product of means is not the mean of products."""
    whole = stay(place, "2025-01-01T00:00", 8760)
    third = np.arange(8760) // 24 % 3 == 0
    axes = (whole.start_utc, whole.latitude, whole.longitude, whole.altitude_m)
    start, *where = (axis[third] for axis in axes)
    track = Track(start, 60, *where)
    sun = position(track)
    weather = climate_draws(track, sun, draws=24, seed=1)
    for values in arrays(weather):
        assert np.isfinite(values).all()
    assert min(part.min() for part in (weather.ghi, weather.dni, weather.dhi)) >= 0.0
    assert (weather.ghi <= sun.ghi_extra[:, None] + 1e-9).all()
    assert weather.dni * sun.cos_zenith[:, None] + weather.dhi == pytest.approx(weather.ghi)
    assert weather.temp_air.min() > -70.0
    assert weather.temp_air.max() < 55.0
    month = track.start_utc.astype("datetime64[M]").astype(int) % 12
    drawn = np.array([24.0 * weather.ghi[month == m].mean() for m in range(12)]) / 1000.0
    near = 0.2 if abs(place[0]) > 60.0 else 0.12
    assert drawn == pytest.approx(monthly(*place).ghi_kwh_m2_day, rel=near, abs=0.05)


def test_draws_go_on_where_the_first_end() -> None:
    """Whatever their number: draws 6 to 13 of 14 are those that are asked for alone."""
    track = stay(MOAB, "2027-01-09T07:00", 50.0)
    sun = position(track)
    whole = climate_draws(track, sun, draws=14, seed=5)
    rest = climate_draws(track, sun, draws=8, seed=5, first=6)
    for name in ("ghi", "dni", "dhi", "temp_air"):
        np.testing.assert_array_equal(getattr(rest, name), getattr(whole, name)[:, 6:])
    assert rest.about == whole.about
