"""The weather of a trip: sources by stop, and clear against drawn."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pvlib
import pytest

from sim.job.model.job import Job
from sim.sky.files.reader import read_weather
from sim.sky.files.under_trip import file_draws
from sim.sky.sun import Sun, clear_sky, position
from sim.sky.track import Track, Weather
from sim.trip.timeline import build_timeline
from sim.trip.weather import track_of, trip_weather

MakeJob = Callable[..., Job]
# Typical year of Greensboro, North Carolina (NREL TMY3), which ships with pvlib.
STATION = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
NAME = "greensboro.csv"
SECOND_STOP = 'place = "37.30, -110.00"'


@pytest.fixture
def station(tmp_path: Path) -> Path:
    """The file beside the job, where a job may name it."""
    return Path(shutil.copy(STATION, tmp_path / NAME))


def weather_of(job: Job, number: int = 0) -> tuple[Weather, Track, Sun]:
    trip = job.trips[number]
    timeline = build_timeline(job, trip)
    track = track_of(timeline)
    sun = position(track)
    return (
        trip_weather(job, trip, timeline, track, sun, range(job.settings.first_draws)),
        track,
        sun,
    )


def test_track_is_the_timeline_with_altitudes(make_job: MakeJob) -> None:
    job = make_job()
    timeline = build_timeline(job, job.trips[0])
    track = track_of(timeline)
    np.testing.assert_array_equal(track.start_utc, timeline.start_utc)
    np.testing.assert_array_equal(track.latitude, timeline.latitude)
    np.testing.assert_array_equal(track.longitude, timeline.longitude)
    assert track.step_minutes == 60
    # The Colorado Plateau lies at 1 to 2.5 km.
    assert track.altitude_m.min() > 900.0
    assert track.altitude_m.max() < 2600.0


@pytest.mark.parametrize("number", [0, 1])
def test_clear_is_an_upper_bound_on_average(make_job: MakeJob, number: int) -> None:
    """Every hour of the day gets at least the drawn mean; its air is that of the drawn weather."""
    drawn, _, _ = weather_of(make_job(("draws = 6", "draws = 80")), number)
    bright, track, sun = weather_of(
        make_job(("draws = 6", 'draws = 80\nweather = "clear"')), number
    )
    # 1 % and 2 W/m2: eighty draws, and a dusk whose mean the climate takes over the whole hour.
    assert (bright.ghi.mean(axis=1) * 1.01 + 2.0 >= drawn.ghi.mean(axis=1)).all()
    assert bright.ghi.mean() > 1.1 * drawn.ghi.mean()
    for part, model in zip(
        (bright.ghi, bright.dni, bright.dhi), clear_sky(track, sun), strict=True
    ):
        assert part.shape == drawn.ghi.shape
        np.testing.assert_array_equal(part, np.repeat(model[:, None], 80, axis=1))
    np.testing.assert_array_equal(bright.temp_air, drawn.temp_air)
    assert any("upper bound" in line for line in bright.about)
    assert len(bright.about) == 1


def test_a_file_for_all_stops(make_job: MakeJob, station: Path) -> None:
    job = make_job(end=f'weather = "{NAME}"\n')
    weather, track, sun = weather_of(job)
    expected = file_draws(read_weather(station), track, sun, draws=6, seed=8)
    np.testing.assert_array_equal(weather.ghi, expected.ghi)
    np.testing.assert_array_equal(weather.temp_air, expected.temp_air)
    assert weather.about == expected.about


def test_each_stop_has_its_own_source(make_job: MakeJob, station: Path) -> None:
    """The first by the climate, the second by a file, the leg to it as the stop it leads to."""
    mixed, track, sun = weather_of(make_job((SECOND_STOP, f'{SECOND_STOP}\nweather = "{NAME}"')))
    climate, _, _ = weather_of(make_job())
    file = file_draws(read_weather(station), track, sun, draws=6, seed=8)
    job = make_job()
    timeline = build_timeline(job, job.trips[0])
    first, second = timeline.stop == 0, timeline.stop == 1
    assert first.sum() > 40
    assert second.sum() > 40
    for name in ("ghi", "dni", "dhi", "temp_air"):
        got = getattr(mixed, name)
        np.testing.assert_array_equal(got[first], getattr(climate, name)[first])
        # Longitudes beside others round in their last digit.
        np.testing.assert_allclose(got[second], getattr(file, name)[second], rtol=1e-6)
    # What is said of both is said, once.
    # How sure the sun is depends on the places and months that see the climate.
    sure = "How bright a whole month is here"
    said, expected = (
        {line for line in lines if not line.startswith(sure)}
        for lines in (mixed.about, (*climate.about, *file.about))
    )
    assert said == expected
    assert len(mixed.about) == len(set(mixed.about))


def test_a_stop_may_be_clear_among_clouds(make_job: MakeJob) -> None:
    mixed, track, sun = weather_of(make_job((SECOND_STOP, f'{SECOND_STOP}\nweather = "clear"')))
    job = make_job()
    second = build_timeline(job, job.trips[0]).stop == 1
    ghi = clear_sky(track, sun)[0]
    np.testing.assert_array_equal(mixed.ghi[second], np.repeat(ghi[second, None], 6, axis=1))
    assert np.ptp(mixed.ghi[~second], axis=1).max() > 50.0


def test_prudent_reaches_the_climate(make_job: MakeJob) -> None:
    plain, _, _ = weather_of(make_job())
    wide, _, _ = weather_of(make_job(end="prudent = true\n"))
    assert not np.array_equal(plain.ghi, wide.ghi)
    assert any("prudent" in line for line in wide.about)


def test_an_altitude_that_is_told_counts_at_its_stop(make_job: MakeJob) -> None:
    """The second stop 1000 m higher than the map has it: 6.5 K colder there, nothing else."""
    plain, track, _ = weather_of(make_job())
    timeline = build_timeline(make_job(), make_job().trips[0])
    there = (timeline.stop == 1) & (timeline.latitude == timeline.latitude[-1])
    height_m = track.altitude_m[-1] + 1000.0
    told = f'place = "37.30, -110.00, {height_m:.1f} m"'
    high, track_told, _ = weather_of(make_job((SECOND_STOP, told)))
    assert track_told.altitude_m[there] == pytest.approx(height_m, abs=0.051)
    np.testing.assert_array_equal(track_told.altitude_m[~there], track.altitude_m[~there])
    colder = (plain.temp_air - high.temp_air)[there].mean()
    assert colder == pytest.approx(6.5, abs=0.3)
    np.testing.assert_array_equal(plain.temp_air[~there], high.temp_air[~there])
