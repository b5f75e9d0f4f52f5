"""The charge charts as Plotly figures, and what all charts of a trip share.

They are drawn in the colours of paper, ready to be recoloured: every colour of a figure is one
of `palette.LIGHT`; the page swaps them for those of the dark palette where the reader's screen is
dark. Figures carry no words but places, dates and axis labels: what a point says stands below the
chart, where it can be read aloud and is never cut.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import plotly.graph_objects as go

from sim.arrays import Floats
from sim.ledger.results import TripResult
from sim.report.charts.chart_data import (
    ChargePoints,
    Grain,
    Span,
    local_clock,
    runs,
    share_spans,
    spans,
)
from sim.report.charts.palette import FONT, LIGHT
from sim.report.words.numbers import Manner, shortened

CHARGE_HEIGHT = 350
# An hour is marked dark when so many of the draws lack something: one in twenty.
DARK_MARK_SHARE = 0.05
DAY_MS = 24 * 3600 * 1000


def plain(text: str) -> str:
    """Text that Plotly shows as it is: it would take tags such as ``<b>`` for its own."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


@dataclass(frozen=True)
class Chart:
    """A figure and what the page needs to make it readable.

    Attributes
    ----------
    figure : plotly.graph_objects.Figure
    at : list of str
        Local time of each point a reader can stop at.
    says : list of str
        What each of those points says.
    stops : list of dict
        Places to name above the chart where there is room: x0, x1, number, name, and the
        length of the name as read.
    start : int
        The point read out at first.
    marks : tuple of str
        Kinds of mark in the figure, for the key.
    typical : int or None
        Index of the trace that is shown on request.
    """

    figure: go.Figure
    at: list[str]
    says: list[str]
    stops: list[dict[str, Any]]
    start: int
    marks: tuple[str, ...]
    typical: int | None = None

    def data(self) -> dict[str, Any]:
        """As plain data for the page's script."""
        return {
            "figure": self.figure.to_plotly_json(),
            "at": self.at,
            "says": self.says,
            "stops": self.stops,
            "start": self.start,
            "typical": self.typical,
        }


def charge_chart(
    trip: TripResult,
    points: ChargePoints,
    *,
    places: Sequence[str],
    says: list[str],
    span: Span,
    manner: Manner,
) -> Chart:
    """The charge over local time: median, band, nights, road, plug, stops and floors.

    Parameters
    ----------
    trip : TripResult
    points : ChargePoints
        Of that trip.
    places : sequence of str
        A short name for each stop.
    says : list of str
        A sentence for each point.
    span : (datetime, datetime)
        Local time shown.
    manner : Manner
    """
    times = [stamp(time) for time in points.times]
    figure = go.Figure()
    typical = None
    if trip.draws > 1:
        _add_line(figure, times, points.p90, color=LIGHT.clear, width=0)
        _add_line(figure, times, points.p10, color=LIGHT.clear, width=0, fill=LIGHT.band)
        _add_line(figure, times, points.typical, color=LIGHT.typical, width=1.4, dash="dot")
        typical = len(figure.data) - 1
        figure.data[typical].visible = False
    if points.file_days is not None:
        _add_line(figure, times, points.file_days, color=LIGHT.typical, width=1.2, dash="dashdot")
    _add_line(figure, times, points.p50, color=LIGHT.charge, width=2.4)
    rows = _strip_rows(trip, points)
    for height, (name, color, marks) in enumerate(reversed(rows)):
        _add_strip(figure, height, name, color, marks)
    figure.update_layout(_charge_layout(rows, span, points.grain, manner))
    figure.update_layout(shapes=_shapes(trip, points.grain), annotations=floor_labels(trip))
    shown = [name for name, _, _ in rows]
    shown += ["night"] if points.grain == "hour" and not trip.sun_up.all() else []
    shown += ["band", "typical"] if typical is not None else []
    shown += ["file days"] if points.file_days is not None else []
    stops = _stop_labels(trip, places)
    start = int(np.argmin(points.p50[: len(says)]))
    return Chart(figure, times[: len(says)], says, stops, start, tuple(shown), typical)


def stamp(time: dt.datetime) -> str:
    """Local time as Plotly and the page's script read it, without a zone."""
    return time.strftime("%Y-%m-%d %H:%M")


def _add_line(
    figure: go.Figure,
    times: list[str],
    soc: Floats,
    *,
    color: str,
    width: float,
    fill: str | None = None,
    dash: str = "solid",
) -> None:
    figure.add_scatter(
        x=times,
        y=np.round(100.0 * soc, 1).tolist(),
        mode="lines",
        line={"color": color, "width": width, "dash": dash},
        fill="tonexty" if fill else None,
        fillcolor=fill,
    )


Row = tuple[str, str, list[Span]]


def _strip_rows(trip: TripResult, points: ChargePoints) -> list[Row]:
    """What is marked below the charge, from top to bottom; a row without a mark is left out."""
    clock = local_clock(trip)
    line = trip.timeline
    rows: list[Row] = [
        ("road", LIGHT.drive, share_spans(line.driving, clock, line.step_hours)),
        ("idle", LIGHT.drive, share_spans(line.idling, clock, line.step_hours)),
        ("plug", LIGHT.plug, share_spans(line.plugged, clock, line.step_hours)),
        ("dark", LIGHT.floor, _dark_spans(points)),
    ]
    return [row for row in rows if row[2]]


def _dark_spans(points: ChargePoints) -> list[Span]:
    """When enough of the draws lack something; by the day, a dark day is marked whole."""
    found = runs(points.dark >= DARK_MARK_SHARE)
    if points.grain == "hour":
        return [(points.times[first], points.times[last]) for first, last in found]
    midnight, day = dt.time(), dt.timedelta(days=1)
    dates = [time.date() for time in points.times]
    return [
        (
            dt.datetime.combine(dates[first], midnight),
            dt.datetime.combine(dates[last - 1] + day, midnight),
        )
        for first, last in found
    ]


def _add_strip(figure: go.Figure, height: int, name: str, color: str, marks: list[Span]) -> None:
    xs: list[str | None] = []
    for begin, end in marks:
        xs += [stamp(begin), stamp(end), None]
    # The rows differ in shape too: a full bar, a ladder, a thin bar.
    dash = {"road": "solid", "idle": "1.5px,3px", "plug": "3px,1.5px", "dark": "solid"}[name]
    figure.add_scatter(
        x=xs,
        y=[None if x is None else height for x in xs],
        yaxis="y2",
        mode="lines",
        line={"color": color, "width": 7 if name != "dark" else 4, "dash": dash},
        connectgaps=False,
    )


def layout(height: int, span: Span, manner: Manner) -> dict[str, Any]:
    """What all charts share."""
    day = "%b %-d" if manner.units == "us" else "%-d %b"
    clock = "%-I %p" if manner.units == "us" else "%H:%M"
    axis = {
        "showgrid": False,
        "zeroline": False,
        "tickfont": {"color": LIGHT.muted, "size": 12},
        "fixedrange": True,
    }
    x = {
        **axis,
        "type": "date",
        "range": [stamp(time) for time in span],
        "fixedrange": False,
        "showline": True,
        "linecolor": LIGHT.ink,
        "linewidth": 1,
        "ticks": "outside",
        "ticklen": 4,
        "tickcolor": LIGHT.ink,
        "tickangle": 0,
        "tickformatstops": [
            {"dtickrange": [None, DAY_MS - 1], "value": f"{clock}<br>{day}"},
            {"dtickrange": [DAY_MS, "M1"], "value": day},
            {"dtickrange": ["M1", None], "value": "%b %Y"},
        ],
    }
    y = {**axis, "showgrid": True, "gridcolor": LIGHT.rule, "gridwidth": 1}
    return {
        "template": "none",
        "height": height,
        "margin": {"l": 44, "r": 6, "t": 26, "b": 40, "pad": 0},
        "paper_bgcolor": LIGHT.clear,
        "plot_bgcolor": LIGHT.clear,
        "font": {"family": FONT, "size": 12, "color": LIGHT.ink},
        "showlegend": False,
        "hovermode": "x",
        "xaxis": x,
        "yaxis": y,
    }


def _charge_layout(rows: list[Row], span: Span, grain: Grain, manner: Manner) -> dict[str, Any]:
    found = layout(CHARGE_HEIGHT, span, manner)
    foot = 0.065 * len(rows)
    found["yaxis"] |= {
        "range": [0, 100],
        "tickvals": [0, 25, 50, 75, 100],
        "ticktext": ["0 %", "25 %", "50 %", "75 %", "100 %"],
        "domain": [foot + 0.03 if rows else 0.0, 1.0],
    }
    found["dragmode"] = "zoom"
    if rows:
        names = [name for name, _, _ in reversed(rows)]
        found["xaxis"]["anchor"] = "y2"
        found["yaxis2"] = {
            "domain": [0.0, foot],
            "range": [-0.6, len(rows) - 0.4],
            "tickvals": list(range(len(rows))),
            "ticktext": names,
            "tickfont": {"color": LIGHT.muted, "size": 11},
            "fixedrange": True,
            "showgrid": False,
            "zeroline": False,
        }
    return found


def _shapes(trip: TripResult, grain: Grain) -> list[dict[str, Any]]:
    """Nights as a wash, arrivals as hairlines, floors as broken lines."""
    clock = local_clock(trip)
    shapes: list[dict[str, Any]] = []
    if grain == "hour":
        for begin, end in spans(~trip.sun_up, clock):
            wash = {"x0": stamp(begin), "x1": stamp(end), "y0": 0, "y1": 1, "yref": "y domain"}
            fill = {"fillcolor": LIGHT.night, "line": {"width": 0}, "layer": "below"}
            shapes.append({"type": "rect", **wash, **fill})
    for begin, _ in _stop_spans(trip):
        ends = {"x0": stamp(begin), "x1": stamp(begin), "y0": 0, "y1": 1.05, "yref": "y domain"}
        line = {"color": LIGHT.muted, "width": 0.7}
        shapes.append({"type": "line", **ends, "line": line, "layer": "below"})
    return [*shapes, *floor_lines(trip)]


def floor_lines(trip: TripResult) -> list[dict[str, Any]]:
    """A broken line at each floor of the charge."""
    return [
        {
            "type": "line",
            "x0": 0,
            "x1": 1,
            "xref": "x domain",
            "y0": 100 * floor,
            "y1": 100 * floor,
            "line": {"color": LIGHT.floor, "width": 1, "dash": "4px,3px"},
            # Over the grid: a floor may lie on one of its lines.
            "layer": "above",
        }
        for floor, _ in floor_words(trip)
    ]


def floor_words(trip: TripResult) -> list[tuple[float, str]]:
    """Floors of the charge, lowest first, and what is off below each."""
    names = ("all", "comforts", "extras")
    groups = ("essential", "comfort", "extra")
    aboard = {load.priority for load in trip.loads}
    found: dict[float, list[str]] = {}
    for floor, name, group in zip(trip.floors, names, groups, strict=True):
        if floor > 0 and (group == "essential" or group in aboard):
            found.setdefault(floor, []).append(name)
    return [
        (floor, "all off" if "all" in words else f"{' and '.join(words)} off")
        for floor, words in sorted(found.items())
    ]


def floor_labels(trip: TripResult) -> list[dict[str, Any]]:
    """What is off below each floor, beside its line."""
    return [
        {
            "text": f"{words} below {100 * floor:.0f} %",
            "x": 1,
            "xref": "x domain",
            "xanchor": "right",
            "y": 100 * floor,
            "yanchor": "bottom",
            "showarrow": False,
            "font": {"color": LIGHT.floor, "size": 11},
            "borderpad": 0,
        }
        for floor, words in floor_words(trip)
    ]


def _stop_spans(trip: TripResult) -> list[Span]:
    """From each arrival to the next one, or to the end, by the local clock."""
    clock = local_clock(trip)
    stop = trip.timeline.stop
    begins = []
    seconds = trip.timeline.start_utc.astype(np.int64)
    for stay in trip.timeline.stays:
        index = int(np.searchsorted(seconds, round(stay.arrives.timestamp())))
        begins.append(clock[min(index, len(stop))])
    return list(zip(begins, [*begins[1:], clock[-1]], strict=True))


def _stop_labels(trip: TripResult, places: Sequence[str]) -> list[dict[str, Any]]:
    return [
        {
            "x0": stamp(begin),
            "x1": stamp(end),
            "number": str(number),
            "name": plain(shortened(place, 30)),
            "length": len(f"{number} {shortened(place, 30)}"),
        }
        for number, ((begin, end), place) in enumerate(
            zip(_stop_spans(trip), places, strict=True), 1
        )
    ]
