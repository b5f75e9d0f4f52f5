"""A Plotly figure as an SVG that fits any width without a script.

The figure is the only description of a chart: this draws its lines, bands, bars, markers, shapes
and labels, so far as the project's figures use them. Places are percent of the drawing, so that
the chart follows its column; colours are classes, so that the page's styles set them for paper,
screen and night. What does not fit a narrow chart has a class that a container query shows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import Any

import numpy as np
from markupsafe import Markup, escape

from sim.report.charts import svg_marks
from sim.report.charts.palette import LIGHT
from sim.report.charts.svg_scale import Scale, Tick, scale_of

# Font sizes and the drawing's own size are in rem, so that they grow with the reader's text.
PX_PER_REM = 16.0
# Widths of a chart from which a label may show, in rem.
WIDTHS = (16, 20, 24, 28, 32, 38, 44, 52, 60, 72)
# Room for a letter of a label, and beside it. [rem]
_LETTER, _AROUND = 0.44, 0.5
_NAMES = {getattr(LIGHT, f.name): f.name.replace("_", "-") for f in fields(LIGHT)}


def color_class(color: str) -> str:
    """The class of a colour of the palette: ``s`` or ``f``, for stroke or fill, and the colour.

    Raises
    ------
    KeyError
        The colour is not of the palette.
    """
    return f"{color[0]}-{_NAMES[color[1:]]}"


def drawn(
    figure: dict[str, Any],
    stops: Sequence[dict[str, Any]] = (),
    notes: Sequence[dict[str, Any]] = (),
) -> Markup:
    """A figure with its axes.

    Parameters
    ----------
    figure : dict
        As `plotly.graph_objects.Figure.to_plotly_json` gives it; every axis has its range.
    stops : sequence of dict
        Places to name above the chart where there is room, as `trip_chart.Chart` holds them.
    notes : sequence of dict
        Words beside points, longer where there is room, from the same.

    Raises
    ------
    KeyError
        The figure has a colour that the palette has not.
    """
    body = [
        _shapes(figure, "below"),
        _grid(figure),
        _traces(figure),
        _shapes(figure, "above"),
        _axes(figure),
        _annotations(figure),
        _stop_names(figure, stops),
        _notes(figure, notes),
        # Over all words, whose rims would hide them.
        _markers(figure),
    ]
    return Markup('<svg class="drawn" aria-hidden="true" focusable="false">{}</svg>').format(
        Markup("".join(body))
    )


def frame_style(figure: dict[str, Any]) -> str:
    """Margins and height of a drawing, for the style of what holds it."""
    layout = figure["layout"]
    margin = layout["margin"]
    inside = layout["height"] - margin["t"] - margin["b"]
    sides = {"t": margin["t"], "r": margin["r"], "b": margin["b"], "l": margin["l"], "h": inside}
    if layout["yaxis"].get("scaleanchor"):
        # To scale: the height follows the width.
        x, y = (abs(float(np.ptp(layout[name]["range"]))) for name in ("xaxis", "yaxis"))
        del sides["h"]
        return f"--ratio:{x / y:.4f};" + _style(sides)
    return _style(sides)


def _style(sides: dict[str, float]) -> str:
    return ";".join(f"--{name}:{value / PX_PER_REM:g}rem" for name, value in sides.items())


def curve(figure: dict[str, Any]) -> Markup:
    """The lines and levels of a figure's first track and nothing else, for a small sketch."""
    x, y = (figure["layout"][name] | {"domain": (0.0, 1.0)} for name in ("xaxis", "yaxis"))
    axes = "x", "y"
    marks = [
        trace
        for trace in figure["data"]
        if (trace.get("xaxis", "x"), trace.get("yaxis", "y")) == axes
        and trace.get("mode") == "lines"
    ]
    levels = [
        shape
        for shape in figure["layout"].get("shapes") or ()
        if shape["type"] == "line" and shape.get("yref", "y") == "y"
    ]
    small = {
        "data": marks,
        "layout": {"xaxis": x, "yaxis": y, "shapes": levels},
    }
    body = _shapes(small, "above") + _traces(small)
    return Markup('<svg class="curve" aria-hidden="true" focusable="false">{}</svg>').format(
        Markup(body)
    )


def _axes_of(figure: dict[str, Any], item: dict[str, Any]) -> tuple[Scale, Scale]:
    names = item.get("xaxis") or "x", item.get("yaxis") or "y"
    x, y = (scale_of(figure, axis_key(name)) for name in names)
    return x, y


def axis_key(ref: str) -> str:
    """``yaxis2`` of ``y2``."""
    return f"{ref[0]}axis{ref[1:]}"


def _traces(figure: dict[str, Any]) -> str:
    """Lines in their order, and over them the bars."""
    lines, bars = [], ""
    data = figure["data"]
    stacked = [trace for trace in data if trace["type"] == "bar"]
    if stacked:
        axes = [_axes_of(figure, trace) for trace in stacked]
        ys = [y for _, y in axes]
        bars = svg_marks.bars(stacked, axes[0][0], ys, color_class)
    for number, trace in enumerate(data):
        if trace["type"] != "scatter" or trace.get("visible") is False:
            continue
        x, y = _axes_of(figure, trace)
        mode = trace.get("mode") or "lines"
        if "lines" in mode:
            if trace.get("fill") == "tonexty":
                lines.append(svg_marks.band(trace, data[number - 1], number, x, y, color_class))
            if (trace.get("line") or {}).get("width") != 0:
                lines.append(svg_marks.line(trace, number, x, y, color_class))
    field = svg_marks.FIELD
    stretched = (
        f'<svg class="lines" width="100%" height="100%" viewBox="0 0 {field} {field}" '
        f'preserveAspectRatio="none">{"".join(lines)}</svg>'
    )
    return stretched + bars


def _markers(figure: dict[str, Any]) -> str:
    return "".join(
        svg_marks.markers(trace, *_axes_of(figure, trace), color_class)
        for trace in figure["data"]
        if trace["type"] == "scatter"
        and trace.get("visible") is not False
        and "markers" in (trace.get("mode") or "lines")
    )


def _place(figure: dict[str, Any], ref: str, value: object) -> float:
    """Where a value of an axis, of its domain or of the whole drawing lies, in percent."""
    if ref == "paper":
        raise ValueError("figures of the project lay nothing out on the paper")
    name, *rest = ref.split(" ")
    scale = scale_of(figure, axis_key(name))
    return scale.share(float(value)) if rest else scale.percent(value)  # type: ignore[arg-type]


def _shapes(figure: dict[str, Any], layer: str) -> str:
    parts = []
    for shape in figure["layout"].get("shapes") or ():
        if shape.get("layer", "above") != layer:
            continue
        xref, yref = shape.get("xref") or "x", shape.get("yref") or "y"
        x0, x1 = (_place(figure, xref, shape[key]) for key in ("x0", "x1"))
        y0, y1 = (_place(figure, yref, shape[key]) for key in ("y0", "y1"))
        edge = shape.get("line") or {}
        width = float(edge.get("width", 0))
        stroke = f'{color_class("s" + edge["color"])}" stroke-width="{width:g}' if width else ""
        if shape["type"] == "line":
            dash = svg_marks.dash_array(edge.get("dash") or "solid", width)
            dashes = f' stroke-dasharray="{dash}"' if dash else ""
            place = f'x1="{x0:.2f}%" x2="{x1:.2f}%" y1="{y0:.2f}%" y2="{y1:.2f}%"'
            parts.append(f'<line class="{stroke}" {place}{dashes}/>')
            continue
        fill = color_class("f" + shape["fillcolor"]) if shape.get("fillcolor") else "f-clear"
        left, top = min(x0, x1), min(y0, y1)
        size = f'width="{abs(x1 - x0):.2f}%" height="{abs(y1 - y0):.2f}%"'
        parts.append(f'<rect class="{fill} {stroke}" x="{left:.2f}%" y="{top:.2f}%" {size}/>')
    return "".join(parts)


def _axis_names(figure: dict[str, Any], letter: str) -> list[str]:
    return [name for name in figure["layout"] if name.startswith(f"{letter}axis")]


def _grid(figure: dict[str, Any]) -> str:
    parts = []
    for name in _axis_names(figure, "y"):
        scale = scale_of(figure, name)
        if scale.layout.get("showgrid"):
            parts += [
                f'<line class="s-rule" x1="0" x2="100%" y1="{t.at:.2f}%" y2="{t.at:.2f}%"/>'
                for t in scale.ticks()
            ]
    return "".join(parts)


def _axes(figure: dict[str, Any]) -> str:
    parts = []
    for name in _axis_names(figure, "y"):
        for tick in scale_of(figure, name).ticks():
            parts.append(_text("end", ("0", tick.at), tick.lines, dx="-.45em", dy=".32em"))
    for name in _axis_names(figure, "x"):
        scale = scale_of(figure, name)
        if scale.layout.get("visible") is False:
            continue
        foot = scale_of(figure, axis_key(scale.layout.get("anchor") or "y")).share(0.0)
        if scale.layout.get("showline"):
            ends = f'x1="{scale.share(0.0):.2f}%" x2="{scale.share(1.0):.2f}%"'
            parts.append(f'<line class="s-ink" {ends} y1="{foot:.2f}%" y2="{foot:.2f}%"/>')
        parts += [_foot_mark(tick, foot, scale) for tick in scale.ticks()]
    return "".join(parts)


def _foot_mark(tick: Tick, foot: float, scale: Scale) -> str:
    spare = " spare" if tick.is_spare else ""
    mark = ""
    if scale.layout.get("ticks") == "outside":
        at = f'x="{tick.at:.2f}%" y="{foot:.2f}%"'
        mark = f'<svg {at} class="s-ink{spare}"><path d="M0 0V4"/></svg>'
    text = _text(
        "middle", (f"{tick.at:.2f}%", foot), tick.lines, dy="1.5em", look=f"f-muted{spare}"
    )
    return mark + text


def _text(
    anchor: str,
    at: tuple[str, float],
    lines: Sequence[str],
    *,
    dx: str = "0",
    dy: str = "0",
    size: float = 12,
    look: str = "f-muted",
) -> str:
    """Words at a place; `look` is the classes of their colour and kind."""
    left, top = at
    # Figures escape tags for Plotly, which reads some; here all text is escaped once.
    spans = [escape(Markup(text).unescape()) for text in lines]
    body = spans[0] + Markup("").join(
        Markup('<tspan x="{}" dx="{}" dy="1.15em">{}</tspan>').format(left, dx, span)
        for span in spans[1:]
    )
    return (
        f'<text class="{look}" text-anchor="{anchor}" font-size="{size / PX_PER_REM:g}rem" '
        f'x="{left}" y="{top:.2f}%" dx="{dx}" dy="{dy}">{body}</text>'
    )


def _annotations(figure: dict[str, Any]) -> str:
    """Words on the chart, with a rim of paper where lines cross them."""
    parts = []
    anchors = {"left": "start", "center": "middle", "right": "end"}
    drops = {"bottom": "-.3em", "middle": ".32em", "top": "1em"}
    for note in figure["layout"].get("annotations") or ():
        left = _place(figure, note.get("xref") or "x", note["x"])
        top = _place(figure, note.get("yref") or "y", note["y"])
        font = note.get("font") or {}
        lines = note["text"].split("<br>")
        text = _text(
            anchors[note.get("xanchor") or "center"],
            (f"{left:.2f}%" if not note.get("textangle") else "0", top),
            lines,
            dx=f"{(note.get('xshift') or 0) / PX_PER_REM:g}rem",
            dy=drops[note.get("yanchor") or "middle"],
            size=font.get("size", 12),
            look=color_class("f" + font.get("color", LIGHT.ink)) + " rim",
        )
        if note.get("textangle"):
            turned = text.replace(f'y="{top:.2f}%"', 'y="0"')
            text = (
                f'<svg x="{left:.2f}%" y="{top:.2f}%"><g transform="rotate({note["textangle"]})">'
                f"{turned}</g></svg>"
            )
        parts.append(text)
    return "".join(parts)


def _stop_names(figure: dict[str, Any], stops: Sequence[dict[str, Any]]) -> str:
    """The number of each stop, and its name where the chart is wide enough for it."""
    if not stops:
        return ""
    scale = scale_of(figure, "xaxis")
    parts = []
    for stop in stops:
        begin, end = scale.percent(stop["x0"]), min(scale.percent(stop["x1"]), 100.0)
        share = max(end - begin, 0.01) / 100.0
        number, name = (
            _wide_enough((letters * _LETTER + _AROUND) / share)
            for letters in (len(stop["number"]), stop["length"])
        )
        text = escape(Markup(stop["name"]).unescape())
        body = Markup('{}<tspan class="{}"> {}</tspan>').format(stop["number"], name, text)
        parts.append(
            f'<text class="f-ink {number}" font-size=".75rem" x="{begin:.2f}%" y="0" dx=".2em" '
            f'dy="-.4em">{body}</text>'
        )
    return "".join(parts)


def _notes(figure: dict[str, Any], notes: Sequence[dict[str, Any]]) -> str:
    """Words beside points: short, and long where the chart is wide enough."""
    parts = []
    for note in notes:
        x, y = (_place(figure, ref, note[ref]) for ref in ("x", "y"))
        side = note["side"]
        room = (100.0 - x if side == "left" else x) / 100.0
        wide = _wide_enough((note["length"] * _LETTER + _AROUND) / max(room, 0.01))
        short, long = (Markup(note[key]).unescape() for key in ("short", "long"))
        body = Markup('{}<tspan class="more {}">{}</tspan>').format(short, wide, long[len(short) :])
        anchor, dx = ("start", ".6em") if side == "left" else ("end", "-.6em")
        dy = "1.25em" if note["below"] else "-.6em"
        parts.append(
            f'<text class="{color_class("f" + note["color"])} rim" font-size=".75rem" '
            f'text-anchor="{anchor}" x="{x:.2f}%" y="{y:.2f}%" dx="{dx}" dy="{dy}">{body}</text>'
        )
    return "".join(parts)


def _wide_enough(width: float) -> str:
    """The class of what shows from a width of the chart on. [rem]"""
    return next((f"from-{step}" for step in WIDTHS if step >= width), "never")
