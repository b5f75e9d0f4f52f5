"""A kind of source that nobody has heard of reaches every table, chart and sentence by itself."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import plotly.graph_objects as go
import pytest
from rich.console import Console

from sim.ledger.lines import SourceLine
from sim.ledger.results import Result
from sim.report.charts import chart_data, palette
from sim.report.charts.trip_chart import Chart
from sim.report.data.export import csv_files, trip_json
from sim.report.page import trip_text
from sim.report.page.client import render_page
from sim.report.terminal.answer import print_result
from sim.report.words import chart_words
from sim.report.words.numbers import Manner

WATTS = 17.0
WRITTEN = dt.date(2026, 7, 27)


@pytest.fixture
def windy(small_result: Result) -> Result:
    """The small job with a wind wheel of a steady 17 W on each trip, half of it used."""
    trips = []
    for trip in small_result.trips:
        wheel = SourceLine("Wind wheel", "wind", 2 * 24 * WATTS, np.full_like(trip.served_w, WATTS))
        trips.append(replace(trip, sources=(*trip.sources, wheel)))
    return Result(small_result.job, tuple(trips))


def test_its_numbers_are_in_frames_and_json(windy: Result) -> None:
    for trip, told in zip(windy.trips, trip_json(windy)["trips"], strict=True):
        np.testing.assert_allclose(trip.hours()["wind_w"], WATTS)
        assert trip.days()["wind_wh"].sum() == pytest.approx(WATTS * trip.hours_long)
        assert told["energy_wh_per_day"]["wind"] == pytest.approx(24 * WATTS)
        assert told["sources"][-1] == {
            "name": "Wind wheel",
            "kind": "wind",
            "offered_wh_per_day": pytest.approx(2 * 24 * WATTS),
            "used_wh_per_day": pytest.approx(24 * WATTS),
        }
    assert all("wind_w" in text for name, text in csv_files(windy, "x").items() if "hours" in name)


def test_it_is_told_on_terminal_and_page(windy: Result) -> None:
    console = Console(width=100)
    with console.capture() as shown:
        print_result(windy, console)
    row = next(line for line in shown.get().splitlines() if line.startswith("In: wind"))
    assert "408 Wh a day" in row
    assert "the wind 408" in chart_words.sources_caption(windy.trips[0]).replace("\u00a0", " ")
    html = render_page(windy, written=WRITTEN, version="1")
    assert 'fill="url(#hatch-falling)"/></svg>wind' in html
    assert palette.LIGHT.other in html
    names = [row.name for _, row in trip_text.account(windy.trips)]
    assert names.index("Wind") == names.index("Plug") + 1
    periods = chart_data.periods(windy.trips[0])
    table = trip_text.sources_table(periods, Manner("us"))
    assert "Wind" in table.head
    assert len({len(row) for row in table.rows} | {len(table.head)}) == 1


def test_the_chart_stacks_it_in_a_colour_of_its_own(
    windy: Result, draw_trip: Callable[..., Chart]
) -> None:
    chart = draw_trip(windy)
    bars = {bar.marker.color: bar for bar in go.Figure(chart.figure).data if bar.type == "bar"}
    np.testing.assert_allclose(
        bars[palette.LIGHT.other].y, windy.trips[0].days()["wind_wh"], atol=0.5
    )
    assert any("wind" in track.marks for track in chart.stack.tracks)


def test_two_sources_of_a_kind_are_added_up(small_result: Result) -> None:
    trip = small_result.trips[0]
    twice = replace(trip, sources=(*trip.sources, trip.sources[1]))
    np.testing.assert_allclose(twice.taken_w()["drive"], 2.0 * trip.taken_w()["drive"])
    assert list(twice.energy.taken) == list(trip.energy.taken)
    assert twice.energy.taken["drive"] == pytest.approx(2.0 * trip.energy.taken["drive"])


def test_a_source_is_used_and_offered_within_reason(small_result: Result) -> None:
    for trip in small_result.trips:
        for line in trip.sources:
            assert line.used_wh_day <= line.offered_wh_day + 1e-9, line.name
        sun = trip.sources[0]
        left = sun.offered_wh_day - sun.used_wh_day
        assert left == pytest.approx(trip.energy.unharvested, rel=1e-9)
