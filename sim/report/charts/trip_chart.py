"""The chart of a trip: charge, energy, tanks and warmth over one another, on one clock.

One Plotly figure makes the drawing that comes with the page and the chart that a reader wakes.
Figures carry no words but places, dates and names of lines: what a point says is below the
chart, where it can be read aloud and is never cut.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sim.ledger.results import TripResult
from sim.report.charts import charge_chart, living_chart, sources_chart
from sim.report.charts.chart_data import ChargePoints, Period, Span, first_low
from sim.report.charts.palette import LIGHT
from sim.report.charts.svg import axis_key
from sim.report.charts.tracks import Stack, layout, plain, stamp
from sim.report.words.numbers import Manner

# Above a track: its title, of one line or with marks beside it, and above the first of those below
# the rows the days too. [px]
_TITLE, _WITH_MARKS, _DAYS = 48, 54, 28
# Words nearer to a floor than this meet its name, which takes the room of so many letters. [points]
_NEAR_FLOOR, _FLOOR_LETTERS = 12.0, 12


@dataclass(frozen=True)
class Mark:
    """A point of the bad case worth a word on the chart.

    Attributes
    ----------
    index : int
        Of the point.
    short, long : str
        What is beside it, and what is added where there is room.
    is_dark : bool
        Whether something goes off there.
    """

    index: int
    short: str
    long: str
    is_dark: bool


@dataclass(frozen=True)
class Chart:
    """A figure and what the page needs to make it readable.

    Attributes
    ----------
    figure : dict
        A Plotly figure as plain data: ``data`` and ``layout``. Plotly would check each of its
        keys, which takes longer than all else about a chart; the tests have it do so.
    stack : Stack
        Its tracks, for their titles.
    at : list of str
        Local time of each point a reader can stop at.
    says : list of str
        What each of those points says.
    stops : list of dict
        Places to name above the chart where there is room: x0, x1, number, name, and the
        length of the name as read.
    notes : list of dict
        Words beside points: x, y, short, long, length, side, place and color.
    start : int
        The point read out at first.
    """

    figure: dict[str, Any]
    stack: Stack
    at: list[str]
    says: list[str]
    stops: list[dict[str, Any]]
    notes: list[dict[str, Any]]
    start: int

    def data(self) -> dict[str, Any]:
        """As plain data for the page's script."""
        return {
            "figure": self.figure,
            "at": self.at,
            "says": self.says,
            "stops": self.stops,
            "notes": self.notes,
            "start": self.start,
        }

    @property
    def titles(self) -> tuple[tuple[str, tuple[str, ...], float], ...]:
        """Title of each track, kinds of mark beside it, share of the drawing that lies below it."""
        tracks = [track for track in self.stack.tracks if track.title]
        return tuple(
            (track.title, track.marks, self.stack.domain(track.key)[1]) for track in tracks
        )


@dataclass(frozen=True)
class View:
    """How a trip is shown.

    Attributes
    ----------
    places : tuple of str
        A short name for each stop.
    span : (datetime, datetime)
        Local time shown.
    top_wh : float
        Upper end of the scale of energy, one for all trips. [Wh/day]
    manner : Manner
    """

    places: tuple[str, ...]
    span: Span
    top_wh: float
    manner: Manner


def trip_chart(
    trip: TripResult,
    points: ChargePoints,
    days: Sequence[Period],
    *,
    says: list[str],
    marks: Sequence[Mark],
    bad_name: str,
    view: View,
) -> Chart:
    """The chart of one trip.

    Parameters
    ----------
    trip : TripResult
    points : ChargePoints
    days : sequence of Period
        Both of that trip.
    says : list of str
        A sentence for each point.
    marks : sequence of Mark
        Points of the bad case that have a word on the chart.
    bad_name : str
        What the line of the bad case is called.
    view : View
    """
    stack = _stack(trip, points, days, view.manner)
    rows = charge_chart.strip_rows(trip, points)
    made = layout(stack, view.span, view.manner)
    made["yaxis"] = living_chart.percent_axis(stack, "charge", (0, 25, 50, 75, 100))
    traces = charge_chart.charge_traces(trip, points)
    traces += _mark_traces(points, marks)
    names = charge_chart.charge_labels(trip, points, bad_name, [mark.index for mark in marks])
    if rows:
        traces += charge_chart.rows_traces(rows, stack)
        made[axis_key(stack.axis("rows"))] = charge_chart.rows_axis(rows, stack)
    drawn = {track.key for track in stack.tracks}
    if "sources" in drawn:
        traces += sources_chart.sources_traces(days, stack)
        made[axis_key(stack.axis("sources"))] = sources_chart.sources_axis(stack, view.top_wh)
    if "tanks" in drawn:
        lines, labels = living_chart.tanks_parts(trip, points, stack)
        traces, names = traces + lines, names + labels
        made[axis_key(stack.axis("tanks"))] = living_chart.percent_axis(stack, "tanks")
    lines, labels, axis = living_chart.warmth_parts(points, stack, view.manner)
    traces, names = traces + lines, names + labels
    made[axis_key(stack.axis("warmth"))] = axis
    shapes = charge_chart.clock_shapes(trip, points, stack)
    made |= {"barmode": "stack", "bargap": 0, "shapes": shapes, "annotations": names}
    return Chart(
        figure={"data": traces, "layout": made},
        stack=stack,
        at=[stamp(time) for time in points.times[: len(says)]],
        says=says,
        stops=charge_chart.stop_labels(trip, view.places),
        notes=_notes(points, marks, [100.0 * floor for floor in trip.floors]),
        start=min(first_low(points.bad), len(says) - 1),
    )


def _stack(trip: TripResult, points: ChargePoints, days: Sequence[Period], manner: Manner) -> Stack:
    tracks = charge_chart.charge_tracks(trip, points)
    if max(p.served + sum(p.taken.values()) + p.unharvested for p in days) >= 0.5:
        tracks.append(sources_chart.sources_track(days, _WITH_MARKS + _DAYS))
    gap = _TITLE if tracks[-1].key == "sources" else _TITLE + _DAYS
    tanks = living_chart.tanks_track(points, gap)
    tracks += [tanks] if tanks is not None else []
    gap = _TITLE if tracks[-1].key in ("sources", "tanks") else _TITLE + _DAYS
    return Stack((*tracks, living_chart.warmth_track(points, gap, manner)))


def _mark_traces(points: ChargePoints, marks: Sequence[Mark]) -> list[dict[str, Any]]:
    if not marks:
        return []
    return [
        {
            "type": "scatter",
            "mode": "markers",
            "x": [stamp(points.times[mark.index]) for mark in marks],
            "y": [round(100.0 * float(points.bad[mark.index]), 1) for mark in marks],
            "xaxis": "x",
            "yaxis": "y",
            "marker": {
                "color": [LIGHT.floor if mark.is_dark else LIGHT.paper for mark in marks],
                "size": 9,
                "symbol": "circle",
                "line": {"color": LIGHT.floor, "width": 1.8},
            },
            "cliponaxis": False,
        }
    ]


def _notes(
    points: ChargePoints, marks: Sequence[Mark], floors: Sequence[float]
) -> list[dict[str, Any]]:
    """Words beside the marked points, on the side where the chart has room."""
    found = []
    for mark in marks:
        level = 100.0 * float(points.bad[mark.index])
        late = mark.index > 0.5 * len(points.times)
        long = f"{mark.short}, {mark.long}" if mark.long else mark.short
        crowded = any(abs(level - floor) < _NEAR_FLOOR for floor in floors)
        found.append(
            {
                "x": stamp(points.times[mark.index]),
                "y": round(level, 1),
                "short": plain(mark.short),
                "long": plain(long),
                # A name of a floor may be at the end of its line.
                "length": len(long) + (_FLOOR_LETTERS if crowded else 0),
                "side": "right" if late else "left",
                "below": level > 14.0 and not mark.is_dark,
                "color": LIGHT.floor,
            }
        )
    return found
