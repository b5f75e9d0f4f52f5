"""The track of the charge: middle weather and bad case, floors, nights, and the rows below it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

import numpy as np

from sim.ledger.results import TripResult
from sim.report.charts.chart_data import (
    ChargePoints,
    Span,
    local_clock,
    runs,
    share_spans,
    spans,
)
from sim.report.charts.palette import LIGHT
from sim.report.charts.tracks import Stack, Track, apart, label, line, plain, stamp
from sim.report.words.numbers import shortened

CHARGE_HEIGHT = 220
_ROW_HEIGHT = 17
# Above this a name over its line would meet the names of the stops. [%]
_TOO_HIGH = 90.0
# Lines nearer than this, most of the time and always, cannot be told from one another. [points]
_ALIKE = 1.5, 12.0
Row = tuple[str, str, list[Span]]


def charge_tracks(trip: TripResult, points: ChargePoints) -> list[Track]:
    """The track of the charge, and the rows under it where there are any."""
    marks = ["night"] if points.grain == "hour" and not trip.sun_up.all() else []
    marks += ["band", "lows"] if trip.draws > 1 else []
    often = "" if points.grain == "hour" else ", lowest of each day"
    found = [Track("charge", f"Charge of the battery{often}", CHARGE_HEIGHT, 0, tuple(marks))]
    rows = strip_rows(trip, points)
    if rows:
        found.append(Track("rows", "", _ROW_HEIGHT * len(rows), 6))
    return found


def charge_traces(trip: TripResult, points: ChargePoints) -> list[dict[str, Any]]:
    """Band, bad case and middle weather, and at the right edge the low of every draw."""
    times = [stamp(time) for time in points.times]
    p10, p50, p90, bad = (100.0 * x for x in (points.p10, points.p50, points.p90, points.bad))
    traces = []
    if trip.draws > 1:
        traces += [
            line(times, p90, LIGHT.clear, 0),
            line(times, p10, LIGHT.clear, 0, fill=LIGHT.band),
            line(times, bad, LIGHT.bad, 1.5),
        ]
    if points.file_days is not None:
        traces.append(line(times, 100.0 * points.file_days, LIGHT.ink, 1.2, dash="dashdot"))
    traces.append(line(times, p50, LIGHT.charge, 2.4))
    return traces + (_lows(trip) if trip.draws > 1 else [])


def _lows(trip: TripResult) -> list[dict[str, Any]]:
    """A fine dash for each draw's lowest charge: those with a dark hour apart."""
    traces = []
    for dark, color in ((False, LIGHT.muted), (True, LIGHT.floor)):
        levels = np.round(100.0 * trip.lowest[(trip.dark_hours > 0) == dark], 1).tolist()
        xs: list[float | None] = [x for _ in levels for x in (0.0, 1.0, None)]
        ys = [y for level in levels for y in (level, level, None)]
        traces.append(
            {
                "type": "scatter",
                "mode": "lines",
                "x": xs,
                "y": ys,
                "xaxis": "x3",
                "yaxis": "y",
                "line": {"color": color, "width": 0.8, "dash": "solid"},
            }
        )
    return traces


def charge_labels(
    trip: TripResult, points: ChargePoints, bad_name: str, marked: Sequence[int]
) -> list[dict[str, Any]]:
    """Names of the lines, on the spot, and of the floors."""
    times, middle, bad = points.times, 100.0 * points.p50, 100.0 * points.bad
    # The floors are named at the end away from the marks.
    early = 2 * sum(marked) < len(marked) * len(times)
    found = floor_labels(trip, right=early)
    if trip.draws > 1:
        found += _line_names(trip, points, bad_name, marked)
    if points.file_days is not None:
        own = 100.0 * points.file_days
        words = [(index, float(bad[index])) for index in marked]
        at = apart(own, [middle, bad], words, 100.0)
        found.append(label("the file's own days", (stamp(times[at]), own[at]), ("x", "y"),
                           LIGHT.ink, above=bool(own[at] > middle[at]),
                           along=at / len(times)))  # fmt: skip
    return found


def _line_names(
    trip: TripResult, points: ChargePoints, bad_name: str, marked: Sequence[int]
) -> list[dict[str, Any]]:
    """Names of the middle weather and of the bad case, away from marks and from floors; one for
    both where they are as good as one."""
    times, middle, bad = points.times, 100.0 * points.p50, 100.0 * points.bad
    words = [(index, float(bad[index])) for index in marked]
    floors = [np.full(len(times), 100.0 * floor) for floor, _ in floor_words(trip)]
    gap = np.abs(middle - bad)
    alike = float(np.median(gap)) < _ALIKE[0] and float(gap.max()) < _ALIKE[1]
    at = apart(bad, floors if alike else [middle, *floors], words, 100.0)
    along, place = at / len(times), (stamp(times[at]), float(bad[at]))
    if alike:
        both, above = f"middle weather and {bad_name}", bool(bad[at] < _TOO_HIGH)
        return [label(both, place, ("x", "y"), LIGHT.charge, above=above, along=along)]
    other = apart(middle, [bad, *floors], [*words, (at, float(bad[at]))], 100.0)
    return [
        label(bad_name, place, ("x", "y"), LIGHT.bad, above=bool(bad[at] > middle[at]),
              along=along),
        label("middle weather", (stamp(times[other]), float(middle[other])), ("x", "y"),
              LIGHT.charge, above=bool(middle[other] < _TOO_HIGH), along=other / len(times)),
    ]  # fmt: skip


def strip_rows(trip: TripResult, points: ChargePoints) -> list[Row]:
    """What is marked below the charge, from top to bottom; a row without a mark is left out."""
    clock = local_clock(trip)
    steps = trip.timeline
    rows: list[Row] = [
        ("road", LIGHT.drive, share_spans(steps.driving, clock, steps.step_hours)),
        ("idle", LIGHT.drive, share_spans(steps.idling, clock, steps.step_hours)),
        ("plug", LIGHT.plug, share_spans(steps.plugged, clock, steps.step_hours)),
        ("off", LIGHT.floor, _dark_spans(points)),
    ]
    return [row for row in rows if row[2]]


def _dark_spans(points: ChargePoints) -> list[Span]:
    """When something is off in the bad case; by the day, such a day is marked whole."""
    found = runs(points.bad_dark)
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


def rows_traces(rows: Sequence[Row], stack: Stack) -> list[dict[str, Any]]:
    """The rows as broken lines."""
    traces = []
    for height, (name, color, marks) in enumerate(reversed(rows)):
        xs: list[str | None] = []
        for begin, end in marks:
            xs += [stamp(begin), stamp(end), None]
        # The rows differ in shape too: a full bar, a ladder, a thin bar.
        dash = {"road": "solid", "idle": "1.5px,3px", "plug": "3px,1.5px", "off": "solid"}[name]
        traces.append(
            {
                "type": "scatter",
                "mode": "lines",
                "x": xs,
                "y": [None if x is None else height for x in xs],
                "xaxis": "x",
                "yaxis": stack.axis("rows"),
                "line": {"color": color, "width": 7 if name != "off" else 5, "dash": dash},
                "connectgaps": False,
            }
        )
    return traces


def rows_axis(rows: Sequence[Row], stack: Stack) -> dict[str, Any]:
    """The names of the rows."""
    return {
        "domain": stack.domain("rows"),
        "range": [-0.5, len(rows) - 0.5],
        "tickvals": list(range(len(rows))),
        "ticktext": [name for name, _, _ in reversed(rows)],
        "tickfont": {"color": LIGHT.muted, "size": 11},
        "fixedrange": True,
        "showgrid": False,
        "zeroline": False,
    }


def clock_shapes(trip: TripResult, points: ChargePoints, stack: Stack) -> list[dict[str, Any]]:
    """Nights as a wash in every track but that of whole days, arrivals as hairlines through all."""
    clock = local_clock(trip)
    shapes: list[dict[str, Any]] = []
    tracks = [t.key for t in stack.tracks if t.key not in ("rows", "sources")]
    if points.grain == "hour":
        for begin, end in spans(~trip.sun_up, clock):
            for key in tracks:
                wash = {"x0": stamp(begin), "x1": stamp(end), "y0": 0, "y1": 1}
                look = {"fillcolor": LIGHT.night, "line": {"width": 0}, "layer": "below"}
                shapes.append({"type": "rect", **wash, "yref": f"{stack.axis(key)} domain", **look})
    for begin, _ in _stop_spans(trip):
        for key in [t.key for t in stack.tracks if t.key != "rows"]:
            top = 1.07 if key == "charge" else 1.0
            ends = {"x0": stamp(begin), "x1": stamp(begin), "y0": 0, "y1": top}
            edge = {"color": LIGHT.muted, "width": 0.7}
            axis = f"{stack.axis(key)} domain"
            shapes.append({"type": "line", **ends, "yref": axis, "line": edge, "layer": "below"})
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


def floor_labels(trip: TripResult, *, right: bool = True) -> list[dict[str, Any]]:
    """What is off below each floor, at one end of its line."""
    return [
        {
            "text": f"{words} below {100 * floor:.0f} %",
            "x": 1 if right else 0,
            "xref": "x domain",
            "xanchor": "right" if right else "left",
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


def stop_labels(trip: TripResult, places: Sequence[str]) -> list[dict[str, Any]]:
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
