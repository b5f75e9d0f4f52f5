"""The chart of energy a day: what each source brought and what was used, as a Plotly figure."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np
import plotly.graph_objects as go

from sim.report.charts.charge_chart import DAY_MS, Chart, layout, stamp
from sim.report.charts.chart_data import Period, Span
from sim.report.charts.palette import LEFT_OVER, LIGHT, source_look
from sim.report.words.numbers import Manner

SOURCES_HEIGHT = 290
_NOON = dt.time(12)


def sources_chart(
    days: Sequence[Period],
    *,
    says: list[str],
    span: Span,
    top_wh: float,
    manner: Manner,
) -> Chart:
    """Energy a day: what each source brought, what the sun could not, and what was used.

    Parameters
    ----------
    days : sequence of Period
        Of one trip.
    says : list of str
        A sentence for each period.
    span : (datetime, datetime)
        Local time shown, filled up to whole days.
    top_wh : float
        Upper end of the scale. [Wh/day]
    manner : Manner
    """
    middles = [stamp(dt.datetime.combine(p.first, _NOON) + (p.last - p.first) / 2) for p in days]
    widths = [0.72 * ((p.last - p.first).days + 1) * DAY_MS for p in days]
    figure = go.Figure()
    bars = [(kind, source_look(kind), [p.taken[kind] for p in days]) for kind in days[0].taken]
    bars.append(("left", LEFT_OVER, [p.unharvested for p in days]))
    marks = ["used"]
    for name, look, values in bars:
        if max(values) < 0.5:
            continue
        marks.append(name)
        pattern = {"shape": look.hatch, "size": 6, "solidity": 0.2} | {
            "bgcolor": look.color,
            "fgcolor": LIGHT.paper,
        }
        figure.add_bar(
            x=middles,
            y=[round(value) for value in values],
            width=widths,
            marker={
                "color": look.color,
                "line": {"width": 1, "color": look.edge},
                "pattern": pattern,
            },
        )
    _add_used(figure, middles, [round(p.served) for p in days])
    begin = dt.datetime.combine(span[0], dt.time())
    end = dt.datetime.combine(span[1] + dt.timedelta(days=1), dt.time())
    made = layout(SOURCES_HEIGHT, (begin, end), manner)
    made["yaxis"] |= {"range": [0, top_wh], "tickformat": ",d", "nticks": 6}
    made["xaxis"]["fixedrange"] = True
    figure.update_layout(made, barmode="stack", bargap=0, dragmode=False)
    start = int(np.argmin([p.low_p50 for p in days]))
    return Chart(figure, middles, says, [], start, tuple(marks))


def _add_used(figure: go.Figure, middles: list[str], used: list[int]) -> None:
    """A short bold bar at the height of what was used."""
    marker = {
        "symbol": "line-ew",
        "size": 11,
        "color": LIGHT.ink,
        "line": {"color": LIGHT.ink, "width": 2.4},
    }
    figure.add_scatter(x=middles, y=used, mode="markers", marker=marker)


def scale_top(all_periods: Sequence[Sequence[Period]]) -> float:
    """Upper end of the common scale of energy a day. [Wh/day]"""
    tallest = max(
        max(sum(p.taken.values()) + p.unharvested, p.served) for days in all_periods for p in days
    )
    return max(1.06 * tallest, 10.0)
