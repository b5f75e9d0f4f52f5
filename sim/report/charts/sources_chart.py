"""The track of energy a day: what each source brought, what the sun could not, what was used."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from sim.report.charts.chart_data import Period
from sim.report.charts.palette import LEFT_OVER, LIGHT, Look, source_look
from sim.report.charts.tracks import DAY_MS, Stack, Track, round_steps, stamp, value_axis

HEIGHT = 120
_NOON = dt.time(12)


def sources_bars(days: Sequence[Period]) -> list[tuple[str, Look, list[float]]]:
    """Kind, look and values of what is stacked; what never comes is left out."""
    bars = [(kind, source_look(kind), [p.taken[kind] for p in days]) for kind in days[0].taken]
    bars.append(("left", LEFT_OVER, [p.unharvested for p in days]))
    return [bar for bar in bars if max(bar[2]) >= 0.5]


def sources_track(days: Sequence[Period], gap: int) -> Track:
    """The track and its marks."""
    long = days[0].first != days[0].last
    title = "In and out, Wh a day" + (", each bar a week" if long else "")
    marks = tuple(kind for kind, _, _ in sources_bars(days))
    return Track("sources", title, HEIGHT, gap, (*marks, "used"))


def sources_traces(days: Sequence[Period], stack: Stack) -> list[dict[str, Any]]:
    """Bars of what was brought, and a short bold dash at the height of what was used."""
    middles = [stamp(dt.datetime.combine(p.first, _NOON) + (p.last - p.first) / 2) for p in days]
    widths = [0.72 * ((p.last - p.first).days + 1) * DAY_MS for p in days]
    axes = {"xaxis": "x2", "yaxis": stack.axis("sources")}
    traces: list[dict[str, Any]] = []
    for _, look, values in sources_bars(days):
        fill = {"bgcolor": look.color, "fgcolor": LIGHT.paper}
        pattern = {"shape": look.hatch, "size": 6, "solidity": 0.2, **fill}
        edge = {"width": 1, "color": look.edge}
        traces.append(
            {
                "type": "bar",
                "x": middles,
                "y": [round(value) for value in values],
                "width": widths,
                "marker": {"color": look.color, "line": edge, "pattern": pattern},
                **axes,
            }
        )
    used = {
        "symbol": "line-ew",
        "size": 8,
        "color": LIGHT.ink,
        "line": {"color": LIGHT.ink, "width": 2.4},
    }
    served = [round(p.served) for p in days]
    traces.append(
        {"type": "scatter", "mode": "markers", "x": middles, "y": served, "marker": used, **axes}
    )
    return traces


def sources_axis(stack: Stack, top_wh: float) -> dict[str, Any]:
    """The scale of energy a day."""
    values = round_steps(0.0, top_wh)
    texts = [f"{value:,.0f}" for value in values]
    axis = value_axis(stack, "sources")
    return axis | {"range": [0, top_wh], "tickvals": values, "ticktext": texts}


def scale_top(all_periods: Sequence[Sequence[Period]]) -> float:
    """Upper end of the common scale of energy a day. [Wh/day]"""
    tallest = max(
        max(sum(p.taken.values()) + p.unharvested, p.served) for days in all_periods for p in days
    )
    return max(1.06 * tallest, 10.0)
