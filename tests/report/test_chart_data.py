"""What the charts draw: hours, days and weeks that say the same as the results."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

import sim
from sim.ledger.results import Result, TripResult
from sim.report.charts import chart_data


@pytest.fixture(scope="module")
def winter(small_result: Result) -> TripResult:
    return small_result.trips[0]


def test_hourly_points_are_the_result_itself(winter: TripResult) -> None:
    points = chart_data.charge_points(winter, "hour", 0)
    assert len(points.times) == len(winter.timeline) + 1
    assert len(points.stop) == len(winter.timeline)
    np.testing.assert_allclose(points.p50, np.quantile(winter.soc, 0.5, axis=1))
    np.testing.assert_allclose(points.taken_w["sun"], winter.taken_w()["sun"].mean(axis=1))
    assert points.times[0] == dt.datetime(2027, 1, 4, 10)


def test_a_day_that_a_zone_left_out_is_no_period(winter: TripResult) -> None:
    """As in Samoa, where 30 December 2011 never was: days and weeks keep their own dates."""
    offset = np.where(winter.day_index < 2, 0, 24 * 60) - 480
    line = replace(winter.timeline, utc_offset_minutes=offset)
    skipped = replace(winter, timeline=line)
    dates = [str(period.first) for period in chart_data.periods(skipped)]
    assert dates[:3] == ["2027-01-04", "2027-01-05", "2027-01-07"]
    assert len(dates) == len(chart_data.periods(winter))
    points = chart_data.charge_points(skipped, "day", 0)
    assert len(points.dark) == len(dates)
    assert np.isfinite(points.p10).all()


def test_shorter_steps_are_gathered_into_hours(
    small_job: str, write_job: Callable[[str], Path]
) -> None:
    text = small_job + "\n[settings]\ndraws = 3\nstep_minutes = 10\n"
    trip = sim.simulate(sim.load_job(write_job(text))).trips[0]
    points = chart_data.charge_points(trip, "hour", 0)
    assert len(points.stop) == 48
    np.testing.assert_allclose(points.p10, np.quantile(trip.soc[::6], 0.1, axis=1))
    energy = float((points.taken_w["sun"] * 1.0).sum())
    assert energy == pytest.approx(float(trip.taken_w()["sun"].mean(axis=1).sum() / 6.0))


def test_daily_points_are_each_days_lowest(winter: TripResult) -> None:
    points = chart_data.charge_points(winter, "day", 0)
    frame = winter.days()
    np.testing.assert_allclose(points.p10, frame["lowest_soc_p10"])
    np.testing.assert_allclose(points.p50, frame["lowest_soc_p50"])
    assert [time.date() for time in points.times] == list(frame["date"])
    by_hours = winter.dark
    assert points.dark.max() <= by_hours.any(axis=0).mean()
    # nothing lost: a draw is dark on some day if and only if it is dark in some hour
    one = replace(
        winter,
        soc=winter.soc[:, :1],
        lowest=winter.lowest[:1],
        unserved_w=winter.unserved_w[:, :, :1],
        sources=tuple(replace(line, taken_w=line.taken_w[:, :1]) for line in winter.sources),
        **{name: getattr(winter, name)[:, :1] for name in ("served_w", "temp_air", "cabin_c")},
    )
    assert chart_data.charge_points(one, "day", 0).dark.any() == one.dark.any()


def test_the_bad_case_is_the_draw_asked_for(winter: TripResult) -> None:
    for draw in (0, 5):
        points = chart_data.charge_points(winter, "hour", draw)
        np.testing.assert_array_equal(points.bad, winter.soc[:, draw])
        np.testing.assert_array_equal(points.bad_dark, winter.dark[:, draw])
    days = chart_data.charge_points(winter, "day", 5)
    assert days.bad.min() == winter.soc[1:, 5].min()
    assert days.bad_dark.any() == winter.dark[:, 5].any()


def test_periods_are_the_days_of_the_result(winter: TripResult) -> None:
    found = chart_data.periods(winter)
    frame = winter.days()
    assert [p.first for p in found] == [p.last for p in found] == list(frame["date"])
    for kind in ("sun", "drive", "shore"):
        np.testing.assert_allclose([p.taken[kind] for p in found], frame[f"{kind}_wh"])
    for name in ("served", "unserved", "losses", "unharvested"):
        np.testing.assert_allclose([getattr(p, name) for p in found], frame[f"{name}_wh"])


def test_weeks_hold_the_energy_of_their_days(
    small_job: str, write_job: Callable[[str], Path]
) -> None:
    text = small_job.replace("nights = 2", "nights = 80") + "\n[settings]\ndraws = 2\n"
    trip = sim.simulate(sim.load_job(write_job(text))).trips[0]
    weeks = chart_data.periods(trip)
    assert [(p.last - p.first).days for p in weeks] == [6] * 11 + [3]
    total = sum(p.taken["sun"] * ((p.last - p.first).days + 1) for p in weeks)
    assert total == pytest.approx(trip.energy.taken["sun"] * trip.days_long)
    assert min(p.low_p50 for p in weeks) >= float(np.median(trip.soc.min(axis=0)))


def test_long_trips_and_many_trips_are_drawn_by_the_day(winter: TripResult) -> None:
    class Several:
        def __init__(self, count: int) -> None:
            self.trips = (winter,) * count

    assert chart_data.grain_of(Several(2)) == ["hour", "hour"]  # type: ignore[arg-type]
    many = int(chart_data.HOURLY_POINTS / winter.hours_long) + 1
    assert set(chart_data.grain_of(Several(many))) == {"day"}  # type: ignore[arg-type]


def test_runs_and_spans() -> None:
    assert chart_data.runs(np.array([True, True, False, True])) == [(0, 2), (3, 4)]
    assert chart_data.runs(np.array([False, False])) == []
    clock = [dt.datetime(2027, 1, 1, hour) for hour in range(5)]
    assert chart_data.spans(np.array([False, True, True, False]), clock) == [(clock[1], clock[3])]
    # half an hour of driving in an hour's step is drawn as half an hour
    share = np.array([0.0, 1.0, 0.5, 0.0])
    assert chart_data.share_spans(share, clock, 1.0) == [(clock[1], dt.datetime(2027, 1, 1, 2, 30))]


def test_trips_of_like_length_share_a_scale_of_time(small_result: Result) -> None:
    first, second = small_result.trips
    lengths = [end - begin for begin, end in chart_data.time_ranges((first, second))]
    assert lengths[0] == lengths[1] == dt.timedelta(hours=first.hours_long)
    clock = chart_data.local_clock(second)
    alone = chart_data.time_ranges((second,))[0]
    assert alone == (clock[0], clock[-1])


def test_a_drive_eastward_over_the_date_line_has_a_scale_of_time() -> None:
    """Its clock ends a day earlier, before it began."""
    west, east = (dt.timezone(dt.timedelta(hours=hours)) for hours in (12, -12))
    begin = dt.datetime(2027, 3, 27, 11, tzinfo=west)
    hours = [begin + dt.timedelta(hours=number) for number in range(10)]
    times = (*hours[:-1], hours[-1].astimezone(east))
    assert times[-1].replace(tzinfo=None) < begin.replace(tzinfo=None)
    trip = SimpleNamespace(local_times=lambda: times)
    ((first, last),) = chart_data.time_ranges([trip])  # type: ignore[list-item]
    assert first < last
    clock = chart_data.local_clock(trip)  # type: ignore[arg-type]
    assert all(first <= time <= last for time in clock)


def test_trips_of_unlike_length_keep_their_own_scale(
    small_result: Result, small_job: str, write_job: Callable[[str], Path]
) -> None:
    text = small_job.replace("nights = 2", "nights = 1") + "\n[settings]\ndraws = 1\n"
    short = sim.simulate(sim.load_job(write_job(text))).trips[0]
    ranges = chart_data.time_ranges((small_result.trips[0], short))
    assert ranges[1][1] - ranges[1][0] == dt.timedelta(hours=short.hours_long)
