"""Trips on weather files: one year as a level with its own days beside, several years as draws."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np
import pvlib
import pytest

import sim
from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.ledger.answer import answer_of
from sim.ledger.study import run_designs
from sim.report.data.export import json_text, trip_json
from sim.sky.files.reader import WeatherYears, read_weather
from sim.sky.files.under_trip import file_days
from sim.sky.sun import position
from sim.trip.designs import design_of
from sim.trip.prepare import prepare_trip
from sim.trip.timeline import build_timeline
from sim.trip.weather import file_weather, track_of, trip_weather

MakeJob = Callable[..., Job]
STATION = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
FULL_JOB = (Path(__file__).parents[1] / "data" / "jobs" / "full.toml").read_text("utf-8")
SECOND_STOP = 'place = "37.30, -110.00"'


def table(years: WeatherYears, first: int, count: int) -> str:
    """The station's year as a table of several, each 3 K warmer and 4 % duller than the last."""
    rows = [f"# latitude: {years.latitude}", f"# longitude: {years.longitude}"]
    rows += [f"# altitude_m: {years.altitude_m}", "time,ghi,temp_air"]
    for number in range(count):
        start = np.datetime64(f"{first + number}-01-01T00", "h")
        end = np.datetime64(f"{first + number + 1}-01-01T00", "h")
        hours = np.arange(start, end)
        index = np.arange(len(hours)) % 8760
        ghi = (1.0 - 0.04 * number) * years.ghi[index, 0]
        air = 3.0 * number + years.temp_air[index, 0]
        rows += [
            f"{hour}:00-05:00,{g:.1f},{t:.2f}" for hour, g, t in zip(hours, ghi, air, strict=True)
        ]
    return "\n".join(rows) + "\n"


@pytest.fixture(scope="module")
def years() -> WeatherYears:
    return read_weather(STATION)


@pytest.fixture(scope="module")
def tables(years: WeatherYears, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two tables, 2009 to 2011 and 2010 to 2013: two years in common."""
    folder = tmp_path_factory.mktemp("years")
    (folder / "three.csv").write_text(table(years, 2009, 3))
    (folder / "four.csv").write_text(table(years, 2010, 4))
    return folder


@pytest.fixture(scope="module")
def make_job(edited: MakeJob, tables: Path) -> MakeJob:
    """The full job with parts of its text replaced, beside the weather files."""
    shutil.copy(STATION, tables)
    return partial(edited, FULL_JOB, folder=tables)


def test_one_draw_a_year_whatever_the_job_asks(make_job: MakeJob) -> None:
    job = make_job(end='weather = "three.csv"\n')
    trip = sim.simulate(job).trips[0]
    assert (trip.draws, trip.years) == (3, (2009, 2010, 2011))
    assert trip.file_days_soc is None
    np.testing.assert_allclose(np.diff(trip.temp_air, axis=1), 3.0, atol=1e-6)
    prepared = prepare_trip(job, job.trips[0])
    (own,) = run_designs(prepared, [design_of(job)]).answers("Spring", job.settings.bounds)
    assert (own.draws, own.years) == (3, True)
    assert own.held == round(trip.share_without_dark * 3)


def test_two_files_go_by_the_years_they_share(make_job: MakeJob) -> None:
    job = make_job(
        (SECOND_STOP, f'{SECOND_STOP}\nweather = "four.csv"'), end='weather = "three.csv"\n'
    )
    timeline = build_timeline(job, job.trips[0])
    track = track_of(timeline)
    weather = trip_weather(job, job.trips[0], timeline, track, position(track), range(6))
    assert weather.years == (2010, 2011)
    # 2010 is the second year of one table and the first of the other.
    first, second = (weather.temp_air[timeline.stop == stop] for stop in (0, 1))
    np.testing.assert_allclose(np.diff(first, axis=1), 3.0, atol=1e-6)
    np.testing.assert_allclose(np.diff(second, axis=1), 3.0, atol=1e-6)
    assert weather.ghi.shape == (len(timeline), 2)


def test_years_beside_drawn_weather_come_again(make_job: MakeJob) -> None:
    job = make_job((SECOND_STOP, f'{SECOND_STOP}\nweather = "three.csv"'))
    timeline = build_timeline(job, job.trips[0])
    track = track_of(timeline)
    weather = trip_weather(job, job.trips[0], timeline, track, position(track), range(6))
    assert weather.years == ()
    second = weather.ghi[timeline.stop == 1]
    assert second.shape[1] == 6
    np.testing.assert_array_equal(second[:, :3], second[:, 3:])


def test_the_files_own_days_are_carried_through_the_battery(make_job: MakeJob) -> None:
    """As one draw that is nothing but they, beside the draws and in none of their figures."""
    job = make_job(end=f'weather = "{STATION.name}"\n')
    trip = sim.simulate(job).trips[0]
    assert (trip.draws, trip.years) == (6, ())
    assert trip.file_days_soc is not None
    assert trip.file_days_soc.shape == (len(trip.timeline) + 1,)
    assert trip.file_days_soc[0] == job.trips[0].start_soc
    track = track_of(trip.timeline)
    sun = position(track)
    weather = file_weather(job, job.trips[0], trip.timeline, track, sun)
    expected = file_days(read_weather(STATION), track, sun)
    assert weather is not None
    assert expected is not None
    np.testing.assert_array_equal(weather.ghi, expected.ghi)
    # The bright desert of the job takes the file's Carolina: the line lies among the draws.
    low, high = trip.soc.min(axis=1), trip.soc.max(axis=1)
    inside = (trip.file_days_soc >= low - 0.1) & (trip.file_days_soc <= high + 0.1)
    assert inside.mean() > 0.9


def test_a_lean_result_under_a_file_says_what_a_whole_one_says(make_job: MakeJob) -> None:
    """Each draw by itself, not their mean."""
    job = make_job(end=f'weather = "{STATION.name}"\n')
    poor = with_values(job, {"battery": with_values(job.battery, {"health_pct": 10})})
    whole, less = sim.simulate(poor), sim.simulate(poor, lean=True)
    assert less.trips[0].dark_hours.tolist() == whole.trips[0].dark_hours.tolist()
    assert answer_of(less.trips[0]) == answer_of(whole.trips[0])
    assert json_text(trip_json(less)) == json_text(trip_json(whole))


def test_no_own_days_where_a_stop_has_none(make_job: MakeJob) -> None:
    mixed = make_job((SECOND_STOP, f'{SECOND_STOP}\nweather = "{STATION.name}"'))
    assert sim.simulate(mixed).trips[0].file_days_soc is None
    assert sim.simulate(make_job()).trips[0].file_days_soc is None
