"""Charts of the decisions: the roof to scale, panels, levers, the year, the nights a charge holds.

Colours are those of `palette.LIGHT`, which the page swaps on a dark screen. What differs by
colour differs by symbol, dash or fill too.
"""

from __future__ import annotations

import calendar
import datetime as dt
from math import floor
from textwrap import wrap
from typing import Any

import plotly.graph_objects as go

from sim.decide.calendar import Calendar
from sim.decide.levers.effects import LeverDecision, LeverEffect
from sim.decide.living_rules import NIGHTS, StayRules
from sim.decide.panels.counts import PanelDecision
from sim.decide.panels.roof_space import Layout, Rect
from sim.report.charts.charge_chart import plain
from sim.report.charts.palette import AXIS, LIGHT, LINES, frame
from sim.report.page.sections import unbroken
from sim.report.words.numbers import counted_share, shortened
from sim.units import METRES_PER_FOOT

# Height of a chart, and of one line of a chart with names at its side. [px]
HEIGHT = 320
LINE = 34
_NAME_LETTERS = 31
# A letter of a name on the roof, and the roof on a phone. [px]
_LETTER = 5.5
_PHONE_ROOF = 270.0


def roof_chart(layout: Layout, others: tuple[Rect, ...], *, us_units: bool) -> go.Figure:
    """The roof from above, front to the left, to scale.

    Parameters
    ----------
    layout : Layout
        Panels that fit.
    others : tuple of Rect
        Panels of other groups.
    us_units : bool
        Scale in feet.
    """
    unit = METRES_PER_FOOT if us_units else 1.0
    space = layout.space
    figure = go.Figure()
    shapes: list[dict[str, Any]] = [
        _box(Rect(0.0, 0.0, space.length_m, space.width_m), unit, LIGHT.clear, LIGHT.ink, 2.0)
    ]
    if layout.walkway is not None:
        shapes.append(_box(layout.walkway, unit, LIGHT.night, LIGHT.rule, 1.0))
    for rects, fill, line in (
        (space.obstacles, LIGHT.rule, LIGHT.muted),
        (others, LIGHT.clear, LIGHT.charge),
        (layout.panels, LIGHT.band, LIGHT.charge),
    ):
        shapes += [_box(rect, unit, fill, line, 1.4) for rect in rects]
    named = [*layout.panels, *others, *space.obstacles]
    named += [layout.walkway] if layout.walkway else []
    # Without a trace there are no axes.
    figure.add_scatter(x=[None], y=[None], hoverinfo="skip")
    ticks = {"ticksuffix": " ft" if us_units else " m", "dtick": 2 if us_units else 0.5}
    span, depth = space.length_m / unit, space.width_m / unit
    margin = 0.03 * span
    figure.update_layout(
        frame(HEIGHT),
        shapes=shapes,
        annotations=[_name_on_roof(rect, space.length_m, unit) for rect in named],
    )
    figure.update_xaxes(**AXIS, range=[-margin, span + margin], constrain="domain", **ticks)
    figure.update_yaxes(
        **AXIS,
        range=[depth + margin, -margin],
        scaleanchor="x",
        scaleratio=1,
        constrain="domain",
        **ticks,
    )
    return figure


def panels_chart(found: PanelDecision, bounds: tuple[float, float]) -> go.Figure:
    """Share of weathers without a dark hour by number of panels, with its sampling error.

    Parameters
    ----------
    found : PanelDecision
    bounds : (float, float)
        Of ample and tight.
    """
    counts = [option.count for option in found.options]
    figure = go.Figure()
    for index, trip in enumerate(found.options[0].trips):
        color, dash, symbol = LINES[index % len(LINES)]
        cells = [option.trips[index] for option in found.options]
        shares = [100.0 * cell.ample_share for cell in cells]
        figure.add_scatter(
            name=_short(trip.trip),
            x=counts,
            y=_rounded(shares),
            mode="lines+markers",
            line={"color": color, "width": 2.2, "dash": dash},
            marker={"color": color, "size": 8, "symbol": symbol},
            error_y={
                "type": "data",
                "symmetric": False,
                "array": _rounded(
                    [100.0 * c.interval.high - s for c, s in zip(cells, shares, strict=True)]
                ),
                "arrayminus": _rounded(
                    [s - 100.0 * c.interval.low for c, s in zip(cells, shares, strict=True)]
                ),
                "color": color,
                "thickness": 1,
                "width": 3,
            },
            hovertemplate=f"{_short(trip.trip)}, %{{x}} panels: %{{y:.1f}} %<extra></extra>",
        )
    shapes = [_level(100.0 * bound) for bound in bounds]
    if found.recommended is not None:
        chosen = found.recommended
        shapes.append(
            {
                "type": "rect",
                "x0": chosen - 0.35,
                "x1": chosen + 0.35,
                "y0": 0,
                "y1": 1,
                "yref": "y domain",
                "fillcolor": LIGHT.night,
                "line": {"width": 0},
                "layer": "below",
            }
        )
    figure.update_layout(frame(HEIGHT, legend=True), shapes=shapes)
    figure.update_layout(margin={"b": 44})
    figure.update_xaxes(**AXIS, showline=True, linecolor=LIGHT.ink, dtick=1, title="panels")
    figure.update_yaxes(**AXIS, range=[-3, 103], ticksuffix=" %")
    figure.update_yaxes(showgrid=True, gridcolor=LIGHT.rule)
    return figure


def levers_chart(found: LeverDecision, most: int = 14) -> go.Figure:
    """What the worst trip gains with each lever, the best on top."""
    effects = [x for x in found.effects if x.trips and not x.changes_nothing][:most]
    effects.reverse()
    names = [_in_two_lines(effect.name) for effect in effects]
    before = 100.0 * min(trip.ample_share for trip in found.base)
    after = [100.0 * min(t.answer.ample_share for t in effect.trips) for effect in effects]
    figure = go.Figure()
    xs: list[float | None] = []
    ys: list[int | None] = []
    for row, value in enumerate(after):
        xs += [before, round(value, 2), None]
        ys += [row, row, None]
    stem = {"color": LIGHT.charge, "width": 5}
    figure.add_scatter(x=xs, y=ys, mode="lines", line=stem, hoverinfo="skip")
    figure.add_scatter(
        x=_rounded(after),
        y=list(range(len(effects))),
        mode="markers",
        marker={
            "color": [LIGHT.charge if _is_sure(effect) else LIGHT.clear for effect in effects],
            "size": 11,
            "line": {"color": LIGHT.charge, "width": 2},
        },
        customdata=[_short(effect.name, 2 * _NAME_LETTERS) for effect in effects],
        hovertemplate="%{customdata}: %{x:.1f} %<extra></extra>",
    )
    base = {"type": "line", "x0": before, "x1": before, "y0": 0, "y1": 1, "yref": "y domain"}
    line = {"color": LIGHT.floor, "width": 1.2, "dash": "4px,3px"}
    figure.update_layout(frame(LINE * max(len(effects), 3) + 60), shapes=[{**base, "line": line}])
    figure.update_layout(margin={"l": 10})
    low = 10.0 * floor(min([before, *after]) / 10.0)
    figure.update_xaxes(**AXIS, range=[low - 1, 101], ticksuffix=" %", nticks=5)
    figure.update_xaxes(showgrid=True, gridcolor=LIGHT.rule)
    figure.update_yaxes(**AXIS, tickvals=list(range(len(effects))), ticktext=names, automargin=True)
    return figure


def calendar_chart(found: Calendar) -> go.Figure:
    """The year as a field: weeks across, panels upwards, full where the start is ample."""
    short, tight, ample = LIGHT.clear, LIGHT.band, LIGHT.charge
    level = {"short": 0, "tight": 1, "ample": 2}
    weeks, counts = range(len(found.departs)), range(len(found.counts))
    figure = go.Figure()
    figure.add_heatmap(
        x=[day.isoformat() for day in found.departs],
        y=list(found.counts),
        z=[[level[found.verdict(week, k)] for week in weeks] for k in counts],
        zmin=0,
        zmax=2,
        colorscale=[
            [0.0, short],
            [1.0 / 3.0, short],
            [1.0 / 3.0, tight],
            [2.0 / 3.0, tight],
            [2.0 / 3.0, ample],
            [1.0, ample],
        ],
        xgap=1,
        ygap=2,
        showscale=False,
        text=[
            [counted_share(float(found.ample_share[week, k]), found.draws) for week in weeks]
            for k in counts
        ],
        hovertemplate="%{x|%b %-d}, %{y} panels: %{text}<extra></extra>",
    )
    own = found.job_count
    own_row = {
        "type": "rect",
        "x0": 0,
        "x1": 1,
        "xref": "x domain",
        "y0": own - 0.5,
        "y1": own + 0.5,
    }
    line = {"color": LIGHT.floor, "width": 1.6}
    figure.update_layout(frame(LINE * len(found.counts) + 80), shapes=[{**own_row, "line": line}])
    half = dt.timedelta(days=3.5)
    edges = (found.departs[0] - half, found.departs[-1] + half)
    figure.update_xaxes(
        **AXIS,
        type="date",
        range=[day.isoformat() for day in edges],
        dtick="M1",
        tickformat="%b",
        ticklabelmode="period",
    )
    figure.update_yaxes(**AXIS, dtick=1, title="panels")
    return figure


def nights_chart(stay: StayRules) -> go.Figure:
    """The charge at sunset that holds one, two and three more nights, month by month."""
    figure = go.Figure()
    months = list(calendar.month_abbr)[1:]
    for index, night in enumerate(NIGHTS):
        color, dash, symbol = LINES[index]
        values = [rule.parked[index] for rule in stay.nights]
        figure.add_scatter(
            name=f"{night} night{'s' if night > 1 else ''}",
            x=months,
            y=[None if value is None else round(100.0 * value) for value in values],
            mode="lines+markers",
            line={"color": color, "width": 2.2, "dash": dash},
            marker={"color": color, "size": 8, "symbol": symbol},
            connectgaps=False,
            hovertemplate="%{x}: %{y} %<extra></extra>",
        )
    figure.update_layout(frame(HEIGHT, legend=True))
    figure.update_xaxes(**AXIS, showline=True, linecolor=LIGHT.ink, categoryarray=months)
    figure.update_yaxes(**AXIS, range=[0, 103], ticksuffix=" %")
    figure.update_yaxes(showgrid=True, gridcolor=LIGHT.rule)
    return figure


def _box(rect: Rect, unit: float, fill: str, line: str, width: float) -> dict[str, Any]:
    return {
        "type": "rect",
        "x0": rect.x_m / unit,
        "x1": rect.far_x_m / unit,
        "y0": rect.y_m / unit,
        "y1": rect.far_y_m / unit,
        "fillcolor": fill,
        "line": {"color": line, "width": width},
        "layer": "below",
    }


def _name_on_roof(rect: Rect, roof_m: float, unit: float) -> dict[str, Any]:
    """The name on a rectangle, upright where a phone has no room for it across."""
    text = shortened(rect.name, 14)
    upright = len(text) * _LETTER > rect.length_m / roof_m * _PHONE_ROOF
    return {
        "x": (rect.x_m + rect.length_m / 2.0) / unit,
        "y": (rect.y_m + rect.width_m / 2.0) / unit,
        "text": plain(text),
        "textangle": -90 if upright else 0,
        "showarrow": False,
        "font": {"size": 11, "color": LIGHT.ink},
    }


def _in_two_lines(name: str) -> str:
    """A name beside an axis, in two lines where it is long."""
    lines = wrap(unbroken(name), _NAME_LETTERS)
    if len(lines) > 2:
        lines = [lines[0], shortened(" ".join(lines[1:]), _NAME_LETTERS)]
    return "<br>".join(plain(line) for line in lines)


def _level(value: float) -> dict[str, Any]:
    ends = {"x0": 0, "x1": 1, "xref": "x domain", "y0": value, "y1": value}
    return {"type": "line", **ends, "line": {"color": LIGHT.floor, "width": 1, "dash": "4px,3px"}}


def _is_sure(effect: LeverEffect) -> bool:
    """Whether some trip's gain is larger than the draws can hide."""
    return any(abs(trip.share_gain) > trip.gain_error for trip in effect.trips)


def _short(text: str, most: int = 36) -> str:
    return plain(shortened(text, most))


def _rounded(values: list[float]) -> list[float]:
    return [round(value, 2) for value in values]
