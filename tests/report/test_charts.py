"""The charts: colours that can be swapped and read, levels of the result, text that stays text."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import fields, replace
from typing import Any

import numpy as np
import plotly.graph_objects as go
import pytest

from sim.job.model.changes import with_values
from sim.ledger.results import Result
from sim.ledger.verdict import bad_draw
from sim.report.charts import charge_chart, chart_data, svg
from sim.report.charts.palette import DARK, LIGHT, Palette, recolouring
from sim.report.charts.trip_chart import Chart
from sim.report.page import try_it

Draw = Callable[..., Chart]
# WCAG 2.2: 1.4.3 text 4.5:1, 1.4.11 graphical objects 3:1
TEXT_CONTRAST, MARK_CONTRAST = 4.5, 3.0


def strings(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        for item in value.values():
            yield from strings(item)
    elif isinstance(value, list | tuple):
        for item in value:
            yield from strings(item)
    elif isinstance(value, str):
        yield value


def luminance(color: str) -> float:
    """Relative luminance; WCAG 2.2, definition."""
    channels = np.array([int(color[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0
    linear = np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_formula_against_its_definition() -> None:
    # WCAG: black on white is 21:1; #767676 on white is the well-known 4.54:1
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_palette_can_be_read(palette: Palette) -> None:
    for ground in (palette.paper, palette.night):
        for name in ("ink", "floor"):
            assert contrast(getattr(palette, name), ground) >= TEXT_CONTRAST, (name, ground)
        for name in ("charge", "bad", "drive", "plug"):
            assert contrast(getattr(palette, name), ground) >= MARK_CONTRAST, (name, ground)
    for name in ("muted", "charge", "bad"):
        assert contrast(getattr(palette, name), palette.paper) >= TEXT_CONTRAST, name
    # the sun's bars stand on paper only, and have an edge
    assert contrast(palette.sun_edge, palette.paper) >= MARK_CONTRAST
    # neighbours in a stack differ in lightness, for eyes that see no hue
    assert contrast(palette.sun, palette.drive) >= 1.4


def test_every_colour_of_a_figure_has_its_dark_one(small_result: Result, draw_trip: Draw) -> None:
    swap = recolouring()
    assert len(swap) == len(fields(Palette))
    assert set(swap.values()) == {getattr(DARK, f.name) for f in fields(Palette)}
    for index in (0, 1):
        used = {
            text
            for text in strings(draw_trip(small_result, index).data()["figure"])
            if re.fullmatch(r"#[0-9a-fA-F]{3,8}|rgba?\(.*\)", text)
        }
        assert used
        assert used <= set(swap), used - set(swap)


def test_the_charge_is_drawn_in_the_middle_and_in_the_bad_case(
    small_result: Result, draw_trip: Draw
) -> None:
    trip = small_result.trips[0]
    traces = go.Figure(draw_trip(small_result).figure).data
    for trace, q in ((traces[0], 0.9), (traces[1], 0.1), (traces[3], 0.5)):
        np.testing.assert_allclose(
            trace.y, 100 * np.quantile(trip.soc, q, axis=1), atol=0.051, err_msg=str(q)
        )
    assert traces[1].fill == "tonexty"
    bad = bad_draw(trip.dark_hours, trip.lowest, trip.ample_share)
    np.testing.assert_allclose(traces[2].y, 100 * trip.soc[:, bad], atol=0.051)
    assert traces[2].line.color == LIGHT.bad


def test_the_bad_case_falls_to_a_floor_unless_the_trip_is_ample(
    small_result: Result, short_result: Result, draw_trip: Draw
) -> None:
    verdicts = set()
    for result in (small_result, short_result):
        for index, trip in enumerate(result.trips):
            figure = go.Figure(draw_trip(result, index).figure)
            lowest = min(figure.data[2].y)
            # an inverter that is too small leaves something off at any charge
            if trip.verdict != "tight":
                assert (lowest <= 100 * max(trip.floors) + 1.0) is (trip.verdict == "short")
            assert ("off" in rows_of(figure).values()) is (trip.verdict != "ample")
            verdicts.add(trip.verdict)
    assert "ample" in verdicts
    assert len(verdicts) > 1


def test_the_lows_of_all_draws_stand_at_the_edge(short_result: Result, draw_trip: Draw) -> None:
    trip = short_result.trips[0]
    edge = [t for t in go.Figure(draw_trip(short_result).figure).data if t.xaxis == "x3"]
    drawn = {t.line.color: sorted(y for y in t.y[::3]) for t in edge}
    for dark, color in ((False, LIGHT.muted), (True, LIGHT.floor)):
        lows = 100 * np.sort(trip.lowest[(trip.dark_hours > 0) == dark])
        np.testing.assert_allclose(drawn[color], lows, atol=0.051)
    assert len(drawn[LIGHT.floor]) > 0


def rows_of(figure: Any) -> dict[int, str]:
    """Names of the rows under the charge by their height."""
    if figure.layout.yaxis2.ticktext is None or "%" in str(figure.layout.yaxis2.ticktext):
        return {}
    return dict(enumerate(figure.layout.yaxis2.ticktext))


def test_nights_road_plug_and_floors_are_marked(small_result: Result, draw_trip: Draw) -> None:
    trip = small_result.trips[0]
    figure = go.Figure(draw_trip(small_result).figure)
    washes = [s for s in figure.layout.shapes if s.type == "rect" and s.yref == "y domain"]
    assert len(washes) == len(chart_data.runs(~trip.sun_up))
    rows = rows_of(figure)
    assert {"road", "plug"} <= set(rows.values())
    strips = {rows[t.y[0]]: t for t in figure.data if t.yaxis == "y2"}
    # 4 hours to the first stop, 2 to the second
    ends = [x for x in strips["road"].x if x is not None]
    assert ends == ["2027-01-04 10:00", "2027-01-04 14:00", "2027-01-07 10:00", "2027-01-07 12:00"]
    words = [label.text for label in figure.layout.annotations]
    assert "all off below 5 %" in words
    levels = [s.y0 for s in figure.layout.shapes if s.xref == "x domain"]
    assert min(levels) == pytest.approx(100 * trip.floors[0])


def test_every_line_is_named_on_the_spot(small_result: Result, draw_trip: Draw) -> None:
    figure = go.Figure(draw_trip(small_result).figure)
    words = {note.text for note in figure.layout.annotations}
    assert {"middle weather", "bad case (1 in 20)", "inside", "outside"} <= words
    assert figure.layout.showlegend is False
    assert figure.layout.hovermode is False


def test_equal_floors_share_a_label_and_no_floor_has_none(small_result: Result) -> None:
    trip = small_result.trips[0]
    assert {load.priority for load in trip.loads} >= {"essential", "extra"}
    level = replace(trip, floors=(0.1, 0.2, 0.2))
    groups = ("comfort", "extra")
    loads = tuple(replace(trip.loads[0], priority=group) for group in groups)
    assert charge_chart.floor_words(replace(level, loads=loads)) == [
        (0.1, "all off"),
        (0.2, "comforts and extras off"),
    ]
    assert charge_chart.floor_words(replace(trip, floors=(0.0, 0.0, 0.0))) == []


def test_polar_summer_has_no_night(small_result: Result, draw_trip: Draw) -> None:
    trip = small_result.trips[0]
    always = replace(trip, sun_up=np.ones(len(trip.timeline), dtype=bool))
    chart = draw_trip(replace(small_result, trips=(always, small_result.trips[1])))
    assert not [s for s in go.Figure(chart.figure).layout.shapes if s.type == "rect"]
    assert "night" not in chart.stack.tracks[0].marks


def test_dark_hours_of_the_bad_case_are_marked(small_result: Result, draw_trip: Draw) -> None:
    trip = small_result.trips[0]
    unserved = np.zeros_like(trip.unserved_w)
    unserved[2, 5] = 40.0
    figure = go.Figure(
        draw_trip(replace(small_result, trips=(replace(trip, unserved_w=unserved),) * 2)).figure
    )
    height = {name: at for at, name in rows_of(figure).items()}["off"]
    strip = next(t for t in figure.data if t.yaxis == "y2" and t.y[0] == height)
    assert list(strip.x) == ["2027-01-04 15:00", "2027-01-04 16:00", None]
    calm = replace(trip, unserved_w=np.zeros_like(unserved))
    without = go.Figure(draw_trip(replace(small_result, trips=(calm, calm))).figure)
    assert "off" not in rows_of(without).values()


def test_stop_names_are_text_for_the_chart_library(small_result: Result, draw_trip: Draw) -> None:
    job = small_result.job
    stops = tuple(
        stop.model_copy(update={"place": replace(stop.place, name="<b>A</b> & <a href='x'>")})
        for stop in job.trips[0].stops
    )
    trips = (with_values(job.trips[0], {"stops": stops}), job.trips[1])
    chart = draw_trip(replace(small_result, job=with_values(job, {"trips": trips})))
    assert chart.stops[0]["name"] == "&lt;b&gt;A&lt;/b&gt; &amp; &lt;a href='x'&gt;"
    assert chart.stops[0]["length"] == len("1 <b>A</b> & <a href='x'>")
    assert chart.stops[0]["x0"] == "2027-01-04 14:00"
    assert chart.stops[0]["x1"] == chart.stops[1]["x0"] == "2027-01-07 12:00"
    assert "<a href" not in svg.drawn(chart.figure, chart.stops, chart.notes)


def test_energy_is_stacked_as_it_was_taken(small_result: Result, draw_trip: Draw) -> None:
    figure = go.Figure(draw_trip(small_result).figure)
    frame = small_result.trips[0].days()
    bars = {bar.marker.color: bar for bar in figure.data if bar.type == "bar"}
    np.testing.assert_allclose(bars[LIGHT.sun].y, frame["sun_wh"], atol=0.5)
    np.testing.assert_allclose(bars[LIGHT.drive].y, frame["drive_wh"], atol=0.5)
    used = next(t for t in figure.data if t.type == "scatter" and t.marker.symbol == "line-ew")
    np.testing.assert_allclose(used.y, frame["served_wh"], atol=0.5)
    assert figure.layout.barmode == "stack"
    # summer never sees a plug: no bar and no word for it
    marks = [
        {mark for track in draw_trip(small_result, i).stack.tracks for mark in track.marks}
        for i in (0, 1)
    ]
    assert "shore" in marks[0]
    assert "shore" not in marks[1]


def test_trips_share_the_scale_of_energy(small_result: Result, draw_trip: Draw) -> None:
    tops = {
        next(
            axis["range"][1]
            for name, axis in draw_trip(small_result, i).figure["layout"].items()
            if name.startswith("yaxis") and axis["ticktext"][0] == "0"
        )
        for i in (0, 1)
    }
    assert len(tops) == 1
    tallest = max(
        (frame["sun_wh"] + frame["drive_wh"] + frame["shore_wh"] + frame["unharvested_wh"]).max()
        for frame in (trip.days() for trip in small_result.trips)
    )
    assert tops.pop() >= tallest


def test_a_trip_by_the_day_says_so(small_result: Result, draw_trip: Draw) -> None:
    titles = [title for title, _, _ in draw_trip(small_result, 0, "day").titles]
    assert titles[0] == "Charge of the battery, lowest of each day"
    assert titles[-1].endswith("mean of each day")
    assert draw_trip(small_result).titles[0][0] == "Charge of the battery"


def test_plotly_accepts_the_chart_of_what_may_be_tried(small_result: Result) -> None:
    """It refuses keys and values that it does not know."""
    figure = go.Figure(try_it._empty_chart(small_result.trips[0]))
    assert [trace.fill for trace in figure.data] == [None, "tonexty", None]
    assert figure.layout.yaxis.range == (0, 100)
    begin, end = figure.layout.xaxis.range
    assert begin < end
    assert figure.data[0].x == (begin, end)
