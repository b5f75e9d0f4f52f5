"""What a report makes of weather files: their own days as a line, their years as a count."""

from __future__ import annotations

import datetime as dt
import io
import json
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import plotly.graph_objects as go
import pytest
from rich.console import Console

from sim.ledger.answer import answer_of
from sim.ledger.results import Result, TripResult
from sim.report.charts import chart_data
from sim.report.charts.trip_chart import Chart
from sim.report.data.export import json_text, trip_json
from sim.report.page.client import render_page
from sim.report.page.trip_sections import runs_out_first
from sim.report.terminal.answer import print_result
from sim.report.words.answer_words import held_words
from sim.report.words.file_days import file_days_words
from sim.report.words.numbers import GAP, Manner


@pytest.fixture
def with_days(small_result: Result) -> Result:
    """The small result as if its weather were a file of one year: its days lie 7 points higher."""
    trips = tuple(
        replace(trip, file_days_soc=np.minimum(trip.soc[:, 3] + 0.07, 1.0))
        for trip in small_result.trips
    )
    return replace(small_result, trips=trips)


@pytest.fixture
def of_years(small_result: Result) -> Result:
    """The small result as if its twelve draws were the years of a file."""
    trips = tuple(replace(trip, years=tuple(range(2001, 2013))) for trip in small_result.trips)
    return replace(small_result, trips=trips)


def page(result: Result) -> str:
    return render_page(result, version="0", written=dt.date(2026, 11, 1))


def winter(result: Result) -> TripResult:
    return result.trips[0]


def test_points_by_the_hour_and_by_the_day(with_days: Result) -> None:
    trip = winter(with_days)
    assert trip.file_days_soc is not None
    hourly = chart_data.charge_points(trip, "hour", 0).file_days
    np.testing.assert_array_equal(hourly, trip.file_days_soc)
    daily = chart_data.charge_points(trip, "day", 0).file_days
    assert daily is not None
    assert daily.shape == (6,)
    assert daily[0] == trip.file_days_soc[1 : int((trip.day_index == 0).sum()) + 1].min()


def test_the_chart_has_one_line_more(
    with_days: Result, small_result: Result, draw_trip: Callable[..., Chart]
) -> None:
    plain, more = (go.Figure(draw_trip(result).figure) for result in (small_result, with_days))
    trip = winter(with_days)
    assert trip.file_days_soc is not None
    lines = [t for t in more.data if t.type == "scatter" and t.line.dash == "dashdot"]
    np.testing.assert_allclose(lines[0].y, 100.0 * trip.file_days_soc, atol=0.051)
    words = [[note.text for note in figure.layout.annotations] for figure in (plain, more)]
    assert "the file's own days" in words[1]
    assert "the file's own days" not in words[0]


def test_page_and_json_carry_it(with_days: Result, small_result: Result) -> None:
    assert "the weather file's own days" in page(with_days).replace("&#39;", "'")
    assert "the weather file's own days" not in page(small_result).replace("&#39;", "'")
    trip = winter(with_days)
    points = chart_data.charge_points(trip, "hour", 0)
    (told,) = file_days_words(points, Manner("us"))
    assert points.file_days is not None
    assert f"falls to {100 * points.file_days.min():.0f}{GAP}%" in told
    data = json.loads(json_text(trip_json(with_days)))["trips"][0]
    assert len(data["series"]["soc_file_days"]) == len(data["series"]["time"])
    plain = json.loads(json_text(trip_json(small_result)))["trips"][0]
    assert plain["series"]["soc_file_days"] is None
    assert plain["weather_years"] == []


def test_few_years_are_counted(of_years: Result) -> None:
    trip = winter(of_years)
    answer = answer_of(trip)
    said = held_words(answer)
    assert f"{answer.essentials_held} of 12 years of the weather file" in said
    console = Console(width=200, record=True, file=io.StringIO())
    print_result(of_years, console)
    text = console.export_text()
    assert "of 12 years without a dark hour" in text
    data = json.loads(json_text(trip_json(of_years)))["trips"][0]
    assert data["weather_years"] == list(range(2001, 2013))
    assert data["ample_share"] == answer.ample_share
    first = trip.first_out
    if first.name is not None:
        _, when = runs_out_first(trip, Manner("us"))
        assert "of 12 years" in when
        assert "%" not in when
