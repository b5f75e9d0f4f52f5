"""Charts of the decisions: the roof to scale, the nights a charge holds.

Colours are those of `palette.LIGHT`, which the page swaps on a dark screen. What differs by
colour differs by symbol, dash or fill too.
"""

from __future__ import annotations

import calendar
from typing import Any

import numpy as np
import plotly.graph_objects as go

from sim.decide.living_rules import NIGHTS, StayRules
from sim.decide.panels.roof_space import Layout, Rect
from sim.report.charts.palette import AXIS, LIGHT, frame
from sim.report.charts.tracks import apart, label, plain, round_steps
from sim.report.words.numbers import counted, shortened
from sim.units import METRES_PER_FOOT

# [px]
HEIGHT = 320
# Dash and symbol of one, two and three nights.
_LOOKS = (("solid", "circle"), ("dash", "square"), ("dot", "diamond"))
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
    span, depth = space.length_m / unit, space.width_m / unit
    margin = 0.03 * span
    figure.update_layout(
        frame(HEIGHT),
        shapes=shapes,
        annotations=[_name_on_roof(rect, space.length_m, unit) for rect in named],
    )
    unit_name = "ft" if us_units else "m"
    along, across = (_marks(size, most, unit_name) for size, most in ((span, 6), (depth, 3)))
    figure.update_xaxes(**AXIS, range=[-margin, span + margin], **along)
    figure.update_yaxes(**AXIS, range=[depth + margin, -margin], scaleanchor="x", **across)
    return figure


def nights_chart(stay: StayRules) -> go.Figure:
    """The charge at sunset that holds one, two and three more nights, month by month."""
    months = list(calendar.month_abbr)[1:]
    figure = go.Figure()
    parked = [[rule.parked[k] for rule in stay.nights] for k in range(len(NIGHTS))]
    lines = [np.array([np.nan if x is None else 100.0 * x for x in each]) for each in parked]
    words: list[tuple[int, float]] = []
    for night, values, (dash, symbol) in zip(NIGHTS, lines, _LOOKS, strict=True):
        figure.add_scatter(
            x=months,
            y=[None if np.isnan(value) else round(value) for value in values.tolist()],
            mode="lines+markers",
            line={"color": LIGHT.charge, "width": 2.0, "dash": dash},
            marker={"color": LIGHT.charge, "size": 7, "symbol": symbol},
            connectgaps=False,
        )
        if np.isnan(values).all():
            continue
        others = [np.nan_to_num(other, nan=200.0) for other in lines if other is not values]
        at = apart(np.nan_to_num(values, nan=-200.0), others, words, 100.0)
        at = at if not np.isnan(values[at]) else int(np.flatnonzero(~np.isnan(values))[0])
        words.append((at, float(values[at])))
        spot = months[at], float(values[at])
        figure.add_annotation(
            label(counted(night, "night"), spot, ("x", "y"), LIGHT.charge, above=True)
        )
    levels = [0, 25, 50, 75, 100]
    figure.update_layout(frame(HEIGHT))
    figure.update_xaxes(
        **AXIS, showline=True, linecolor=LIGHT.ink, categoryarray=months, range=[-0.3, 11.3]
    )
    figure.update_yaxes(
        **AXIS, range=[0, 104], tickvals=levels, ticktext=[f"{x} %" for x in levels]
    )
    figure.update_yaxes(showgrid=True, gridcolor=LIGHT.rule)
    return figure


def _marks(size: float, most: int, unit: str) -> dict[str, Any]:
    values = round_steps(0.0, size, most)
    return {"tickvals": values, "ticktext": [f"{value:g} {unit}" for value in values]}


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
