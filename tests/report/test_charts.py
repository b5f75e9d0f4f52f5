"""The charts: colours that can be swapped and read, levels of the result, text that stays text."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest

from sim.job.model.changes import with_values
from sim.ledger.results import Result
from sim.report.charts import charge_chart, chart_data, sources_chart
from sim.report.charts.charge_chart import Chart
from sim.report.charts.palette import DARK, LIGHT, Palette, recolouring
from sim.report.words import numbers, sentences

MANNER = numbers.Manner("us")
# WCAG 2.2: 1.4.3 text 4.5:1, 1.4.11 graphical objects 3:1
TEXT_CONTRAST, MARK_CONTRAST = 4.5, 3.0


def charge(result: Result, index: int = 0, grain: chart_data.Grain = "hour") -> Chart:
    trip = result.trips[index]
    points = chart_data.charge_points(trip, grain)
    places = [stop.place.name for stop in result.job.trips[index].stops]
    return charge_chart.charge_chart(
        trip,
        points,
        places=places,
        says=sentences.hour_sentences(trip, points, places, MANNER),
        span=chart_data.time_ranges(result.trips)[index],
        manner=MANNER,
    )


def sources(result: Result, index: int = 0) -> Chart:
    periods = [chart_data.periods(trip) for trip in result.trips]
    return sources_chart.sources_chart(
        periods[index],
        says=sentences.period_sentences(periods[index], MANNER),
        span=chart_data.time_ranges(result.trips)[index],
        top_wh=sources_chart.scale_top(periods),
        manner=MANNER,
    )


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
        for name in ("charge", "typical", "drive", "plug"):
            assert contrast(getattr(palette, name), ground) >= MARK_CONTRAST, (name, ground)
    for name in ("muted", "charge", "typical"):
        assert contrast(getattr(palette, name), palette.paper) >= TEXT_CONTRAST, name
    # the sun's bars stand on paper only, and have an edge
    assert contrast(palette.sun_edge, palette.paper) >= MARK_CONTRAST
    # neighbours in a stack differ in lightness, for eyes that see no hue
    assert contrast(palette.sun, palette.drive) >= 1.4


def test_every_colour_of_a_figure_has_its_dark_one(small_result: Result) -> None:
    swap = recolouring()
    assert len(swap) == len(fields(Palette))
    assert set(swap.values()) == {getattr(DARK, f.name) for f in fields(Palette)}
    for chart in (charge(small_result), charge(small_result, 1), sources(small_result)):
        used = {
            text
            for text in strings(chart.data()["figure"])
            if re.fullmatch(r"#[0-9a-fA-F]{3,8}|rgba?\(.*\)", text)
        }
        assert used
        assert used <= set(swap), used - set(swap)


def test_charge_chart_draws_the_quantiles(small_result: Result) -> None:
    trip = small_result.trips[0]
    chart = charge(small_result)
    traces = chart.figure.data
    for trace, q in ((traces[0], 0.9), (traces[1], 0.1), (traces[3], 0.5)):
        np.testing.assert_allclose(
            trace.y, 100 * np.quantile(trip.soc, q, axis=1), atol=0.051, err_msg=str(q)
        )
    assert traces[1].fill == "tonexty"
    assert chart.typical == 2
    assert traces[2].visible is False
    assert min(traces[2].y) == pytest.approx(
        100 * trip.soc[:, chart_data.typical_draw(trip)].min(), abs=0.051
    )
    assert tuple(chart.figure.layout.yaxis.range) == (0, 100)


def test_charge_chart_marks_nights_road_plug_and_floors(small_result: Result) -> None:
    trip = small_result.trips[0]
    chart = charge(small_result)
    washes = [s for s in chart.figure.layout.shapes if s.type == "rect"]
    assert len(washes) == len(chart_data.runs(~trip.sun_up))
    rows = dict(enumerate(chart.figure.layout.yaxis2.ticktext))
    assert {"road", "plug"} <= set(rows.values())
    strips = {rows[t.y[0]]: t for t in chart.figure.data if t.yaxis == "y2"}
    # 4 hours to the first stop, 2 to the second
    ends = [x for x in strips["road"].x if x is not None]
    assert ends == ["2027-01-04 10:00", "2027-01-04 14:00", "2027-01-07 10:00", "2027-01-07 12:00"]
    floors = [label.text for label in chart.figure.layout.annotations]
    assert "all off below 5 %" in floors
    levels = [s.y0 for s in chart.figure.layout.shapes if s.xref == "x domain"]
    assert min(levels) == pytest.approx(100 * trip.floors[0])


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


def test_polar_summer_has_no_night(small_result: Result) -> None:
    trip = small_result.trips[0]
    always = replace(trip, sun_up=np.ones(len(trip.timeline), dtype=bool))
    chart = charge(replace(small_result, trips=(always, small_result.trips[1])))
    assert not [s for s in chart.figure.layout.shapes if s.type == "rect"]
    assert "night" not in chart.marks


def test_dark_hours_are_marked(small_result: Result) -> None:
    trip = small_result.trips[0]
    unserved = np.zeros_like(trip.unserved_w)
    unserved[2, 5] = 40.0
    chart = charge(replace(small_result, trips=(replace(trip, unserved_w=unserved),) * 2))
    assert "dark" in chart.marks
    height = chart.figure.layout.yaxis2.ticktext.index("dark")
    strip = next(t for t in chart.figure.data if t.yaxis == "y2" and t.y[0] == height)
    assert list(strip.x) == ["2027-01-04 15:00", "2027-01-04 16:00", None]
    calm = replace(trip, unserved_w=np.zeros_like(unserved))
    assert "dark" not in charge(replace(small_result, trips=(calm, calm))).marks


def test_stop_names_are_text_for_the_chart_library(small_result: Result) -> None:
    job = small_result.job
    stops = tuple(
        with_values(stop, {"place": replace(stop.place, name="<b>A</b> & <a href='x'>")})
        for stop in job.trips[0].stops
    )
    trips = (with_values(job.trips[0], {"stops": stops}), job.trips[1])
    chart = charge(replace(small_result, job=with_values(job, {"trips": trips})))
    assert chart.stops[0]["name"] == "&lt;b&gt;A&lt;/b&gt; &amp; &lt;a href='x'&gt;"
    assert chart.stops[0]["length"] == len("1 <b>A</b> & <a href='x'>")
    assert chart.stops[0]["x0"] == "2027-01-04 14:00"
    assert chart.stops[0]["x1"] == chart.stops[1]["x0"] == "2027-01-07 12:00"


def test_sources_chart_stacks_what_was_taken(small_result: Result) -> None:
    trip = small_result.trips[0]
    chart = sources(small_result)
    frame = trip.days()
    bars = {color: bar for bar in chart.figure.data if (color := bar.marker.color)}
    np.testing.assert_allclose(bars[LIGHT.sun].y, frame["sun_wh"], atol=0.5)
    np.testing.assert_allclose(bars[LIGHT.drive].y, frame["drive_wh"], atol=0.5)
    np.testing.assert_allclose(bars[LIGHT.ink].y, frame["served_wh"], atol=0.5)
    assert chart.figure.layout.barmode == "stack"
    # summer never sees a plug: no bar and no word for it
    assert "shore" in chart.marks
    assert "shore" not in sources(small_result, 1).marks


def test_trips_share_the_scale_of_energy(small_result: Result) -> None:
    tops = {sources(small_result, i).figure.layout.yaxis.range for i in (0, 1)}
    assert len(tops) == 1
    tallest = max(
        (frame["sun_wh"] + frame["drive_wh"] + frame["shore_wh"] + frame["unharvested_wh"]).max()
        for frame in (trip.days() for trip in small_result.trips)
    )
    assert tops.pop()[1] >= tallest
