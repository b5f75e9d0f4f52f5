"""Traces of a Plotly figure as SVG: lines, bands, bars and markers.

Lines are drawn in a field of 10,000 by 10,000 that is stretched to whatever size the chart has;
their strokes are not stretched with it. Everything else is placed in percent.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from math import sqrt
from typing import Any

from sim.report.charts.svg_scale import Scale

FIELD = 10_000
# Plotly's dashes in widths of the line; other patterns are given in pixels.
_DASHES = {"dot": (1, 1), "dash": (3, 3), "longdash": (5, 5), "dashdot": (3, 1, 1, 1)}
Color = Callable[[str], str]
# Corners of a symbol of size 2, around its middle.
_SYMBOLS = {
    "square": "M-1-1H1V1H-1z",
    "diamond": "M0-1.3L1.3 0L0 1.3L-1.3 0z",
    "triangle-up": "M0-1.15L1.15 1H-1.15z",
    "triangle-down": "M0 1.15L1.15-1H-1.15z",
    "x": "M-1-1L1 1M1-1L-1 1",
    "line-ew": "M-1.4 0H1.4",
    "line-ns": "M0-1.4V1.4",
}


def dash_array(dash: str, width: float) -> str:
    """Plotly's dash as SVG writes it, empty for a solid line."""
    if dash in ("solid", ""):
        return ""
    if dash in _DASHES:
        return ",".join(f"{n * max(width, 3.0):g}" for n in _DASHES[dash])
    return dash.replace("px", "")


def line_path(trace: dict[str, Any], x: Scale, y: Scale) -> list[tuple[int, int] | None]:
    """Points of a line in the field; None where it is broken."""
    return [
        None
        if left is None or value is None
        else (round(FIELD / 100.0 * x.percent(left)), round(FIELD / 100.0 * y.percent(value)))
        for left, value in zip(trace["x"], trace["y"], strict=True)
    ]


def path_data(points: Sequence[tuple[int, int] | None]) -> str:
    """A path through points, as short as SVG can write it."""
    parts: list[str] = []
    before: tuple[int, int] | None = None
    for point in points:
        if point is not None:
            if before is None:
                parts.append(f"M{point[0]} {point[1]}")
            else:
                parts.append(f"l{point[0] - before[0]} {point[1] - before[1]}")
        before = point
    return "".join(parts)


def line(trace: dict[str, Any], number: int, x: Scale, y: Scale, color: Color) -> str:
    """A line of a figure, without its markers."""
    style = trace.get("line") or {}
    width = float(style.get("width", 2))
    dash = dash_array(style.get("dash") or "solid", width)
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    data = path_data(line_path(trace, x, y))
    return (
        f'<path data-trace="{number}" class="{color("s" + style["color"])}" '
        f'stroke-width="{width:g}"{dashes} d="{data}"/>'
    )


def band(
    trace: dict[str, Any], above: dict[str, Any], number: int, x: Scale, y: Scale, color: Color
) -> str:
    """What lies between a line and the one before it."""
    there, back = line_path(above, x, y), line_path(trace, x, y)
    data = path_data([*there, *reversed(back)])
    return f'<path data-band="{number}" class="{color("f" + trace["fillcolor"])}" d="{data}z"/>'


def bars(traces: Sequence[dict[str, Any]], x: Scale, ys: Sequence[Scale], color: Color) -> str:
    """Stacked bars."""
    tops: dict[tuple[float, Any], float] = defaultdict(float)
    parts = []
    for trace, y in zip(traces, ys, strict=True):
        marker = trace["marker"]
        fill = color("f" + marker["color"])
        edge = color("s" + marker["line"]["color"])
        hatch = (marker.get("pattern") or {}).get("shape")
        for left, value, width in zip(trace["x"], trace["y"], trace["width"], strict=True):
            middle = x.number(left)
            place = y.low, left
            begin, tops[place] = tops[place], tops[place] + value
            if value <= 0:
                continue
            high, low = y.percent(tops[place]), y.percent(begin)
            box = (
                f'x="{x.percent(middle - width / 2):.2f}%" y="{high:.2f}%" '
                f'width="{x.width(width):.2f}%" height="{low - high:.2f}%"'
            )
            parts.append(f'<rect class="{fill} {edge}" {box}/>')
            if hatch:
                name = {"/": "rising", "\\": "falling", "x": "crossed"}[hatch]
                parts.append(f'<rect fill="url(#hatch-{name})" {box}/>')
    return "".join(parts)


def markers(trace: dict[str, Any], x: Scale, y: Scale, color: Color) -> str:
    """The markers of a trace."""
    style = trace["marker"]
    edge = style.get("line") or {}
    count = len(trace["x"])
    fills = style["color"] if isinstance(style["color"], list) else [style["color"]] * count
    strokes = edge.get("color") or fills[0]
    half = float(style.get("size", 6)) / 2.0
    parts = []
    for left, value, fill in zip(trace["x"], trace["y"], fills, strict=True):
        if value is None:
            continue
        classes = f"{color('f' + fill)} {color('s' + strokes)}"
        shape = _symbol(style.get("symbol") or "circle", half, float(edge.get("width", 0)))
        parts.append(
            f'<svg x="{x.percent(left):.2f}%" y="{y.percent(value):.2f}%" class="{classes}">'
            f"{shape}</svg>"
        )
    return "".join(parts)


def _symbol(symbol: str, half: float, edge: float) -> str:
    if symbol == "circle":
        return f'<circle r="{half:g}" stroke-width="{edge:g}"/>'
    # A square of the circle's area.
    scale = half if symbol.startswith("line") else half * sqrt(3.14159) / 2.0
    width = max(edge, 2.0 if symbol == "x" else 0.0) / scale
    return (
        f'<path transform="scale({scale:.2f})" stroke-width="{width:.3f}" d="{_SYMBOLS[symbol]}"/>'
    )
