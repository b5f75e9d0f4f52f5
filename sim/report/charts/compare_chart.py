"""The charge of one trip before and after a change, on one chart.

Both are laid day on day from their departure, so that a trip whose date changed still compares.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from math import ceil

import numpy as np
import plotly.graph_objects as go

from sim.arrays import Floats
from sim.decide.compare import TripFigures
from sim.report.charts.chart_data import HOURLY_DAYS
from sim.report.charts.palette import AXIS, LIGHT, frame
from sim.report.charts.tracks import apart, label, line
from sim.report.words.numbers import Manner

HEIGHT = 320
_MOST_TICKS = 6
_LEVELS = (0, 25, 50, 75, 100)


@dataclass(frozen=True)
class Curve:
    """The charge of a trip by the local clock.

    Attributes
    ----------
    first : date
        Day of departure.
    days : ndarray, shape (N,)
        Since the midnight before departure.
    soc : ndarray, shape (3, N)
        10 %, median and 90 % of the simulated trips. 0 to 1
    """

    first: dt.date
    days: Floats
    soc: Floats


def curve_of(figures: TripFigures) -> Curve:
    """The charge by the hour, or of a long trip the lowest of each day."""
    clock = [dt.datetime.fromisoformat(text).replace(tzinfo=None) for text in figures.times]
    midnight = dt.datetime.combine(clock[0].date(), dt.time())
    days = np.array([(time - midnight).total_seconds() / 86400.0 for time in clock])
    soc = np.array(figures.soc)
    if days[-1] > HOURLY_DAYS:
        days, soc = lowest_by_day(days, soc)
    return Curve(midnight.date(), days, soc)


def lowest_by_day(days: Floats, soc: Floats) -> tuple[Floats, Floats]:
    """Noon of each day, and the lowest charge of that day. shapes (D,) and (3, D)"""
    day = np.floor(days)
    found = np.unique(day)
    lowest = np.stack([soc[:, day == each].min(axis=1) for each in found], axis=1)
    return found + 0.5, lowest


def compared_chart(old: TripFigures, new: TripFigures, manner: Manner) -> go.Figure:
    """Before as broken lines, now as a full line with its band.

    Parameters
    ----------
    old, new : TripFigures
        Each with at least one point of charge.
    manner : Manner
        How dates are written.
    """
    before, now = curve_of(old), curve_of(new)
    figure = go.Figure()
    for trace in (
        _line(now, 2, LIGHT.clear, 0.0),
        _line(now, 0, LIGHT.clear, 0.0, fill=LIGHT.band),
        _line(before, 0, LIGHT.ink, 1.0, dash="dot"),
        _line(before, 1, LIGHT.ink, 1.8, dash="dash"),
        _line(now, 1, LIGHT.charge, 2.4),
    ):
        figure.add_trace(trace)
    # A name goes where the lines are farthest apart, on the side away from the other.
    words: list[tuple[int, float]] = []
    for curve, other, text, color in (
        (now, before, "now", LIGHT.charge),
        (before, now, "before", LIGHT.ink),
    ):
        middle = 100.0 * curve.soc[1]
        rest, rest_low = (100.0 * np.interp(curve.days, other.days, x) for x in other.soc[1::-1])
        at = apart(middle, [rest, rest_low, 100.0 * curve.soc[0]], words, 100.0)
        # Where the name goes, as the other line counts its points.
        same = int(np.abs(other.days - curve.days[at]).argmin())
        words.append((same, float(middle[at])))
        spot = float(curve.days[at]), float(middle[at])
        above = bool(middle[at] > rest[at]) or (middle[at] == rest[at] and curve is now)
        figure.add_annotation(label(text, spot, ("x", "y"), color, above=above))
    last = max(float(before.days[-1]), float(now.days[-1]))
    first = min(float(before.days[0]), float(now.days[0]))
    figure.update_layout(frame(HEIGHT))
    figure.update_xaxes(**AXIS, showline=True, linecolor=LIGHT.ink, range=[first, last])
    figure.update_xaxes(**_day_ticks(before.first, now.first, first, last, manner))
    figure.update_yaxes(
        **AXIS, range=[0, 104], tickvals=list(_LEVELS), ticktext=[f"{x} %" for x in _LEVELS]
    )
    figure.update_yaxes(showgrid=True, gridcolor=LIGHT.rule)
    return figure


def _line(
    curve: Curve, row: int, color: str, width: float, dash: str = "solid", fill: str | None = None
) -> dict[str, object]:
    return line(curve.days.tolist(), 100.0 * curve.soc[row], color, width, dash=dash, fill=fill)


def _day_ticks(
    before: dt.date, now: dt.date, first: float, last: float, manner: Manner
) -> dict[str, list[object]]:
    """Midnights: as dates where both trips leave on one day, else counted from 1."""
    step = max(ceil((last - first) / _MOST_TICKS), 1)
    days = range(ceil(first), int(last) + 1, step)
    if before == now:
        texts = [manner.day(now + dt.timedelta(days=day)).split(" ", 1)[1] for day in days]
    else:
        texts = [f"day {day + 1}" for day in days]
    return {"tickvals": list(days), "ticktext": list(texts)}
