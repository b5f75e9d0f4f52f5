"""Charts of a log against the promise: the charge over its band, the days, the hours of the day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import plotly.graph_objects as go

from sim.arrays import Floats, Ints
from sim.fit.fit import Fit
from sim.report.charts.palette import AXIS, LIGHT, frame, source_look
from sim.report.charts.tracks import DAY_MS, label, round_steps, stamp
from sim.report.words.numbers import Manner

HEIGHT = 280
# Points of a line that a page still carries with ease.
_MOST_POINTS = 1500
# A day with fewer known hours has no bar.
_LEAST_HOURS = 18
# A name in the middle of its line, this far from another name, does not touch it on a phone.
_NAME_HOURS = (2, 21)
_APART_HOURS = 5
_NOON = dt.time(12)


@dataclass(frozen=True)
class Days:
    """A log day by day, in local days; nan where a day is not known well enough.

    Attributes
    ----------
    dates : list of date
    came_wh, due_wh : ndarray
        What the panels gave, or went into the battery where the log has no panels; and what the
        panels were to give. [Wh]
    taken_wh : ndarray
        What the loads took, or came out of the battery. [Wh]
    low, due_low : ndarray
        Lowest charge shown, and that of the bad case of the promise. 0 to 1
    is_sun : bool
        Whether `came_wh` is the panels'.
    """

    dates: list[dt.date]
    came_wh: Floats
    due_wh: Floats
    taken_wh: Floats
    low: Floats
    due_low: Floats
    is_sun: bool


def days_of(found: Fit) -> Days:
    """The days of a log."""
    promised, seen = found.promised, found.seen
    days, which = np.unique(promised.day, return_inverse=True)
    is_sun = seen.has_solar
    came = seen.solar_w if is_sun else np.maximum(seen.battery_w, 0.0)
    loads = found.load_w if is_sun else np.maximum(-seen.battery_w, 0.0)
    low = np.where(np.isfinite(seen.soc_at), seen.soc_at, np.inf).min(axis=1)
    lowest, due_low = np.full(len(days), np.inf), np.full(len(days), np.inf)
    np.minimum.at(lowest, which, low)
    np.minimum.at(due_low, which, np.quantile(promised.soc, 0.1, axis=1))
    return Days(
        [dt.date(1970, 1, 1) + dt.timedelta(days=int(day)) for day in days],
        _daily(came, which),
        _daily(promised.sun_w.mean(axis=1), which),
        _daily(loads, which),
        np.where(np.isfinite(lowest), lowest, np.nan),
        due_low,
        is_sun,
    )


def _daily(watts: Floats, which: Ints) -> Floats:
    """Sums of days of which most hours are known, filled up to the whole day. [Wh]"""
    known = np.isfinite(watts)
    hours = np.bincount(which, weights=known)
    total = np.bincount(which, weights=np.where(known, watts, 0.0))
    return np.where(hours >= _LEAST_HOURS, total * 24.0 / np.maximum(hours, 1.0), np.nan)


def charge_chart(found: Fit) -> go.Figure:
    """The measured charge over the band of the promise."""
    promised, seen = found.promised, found.seen
    step = -(-len(promised) // _MOST_POINTS)
    rows = np.arange(0, len(promised), step)
    local = promised.start_utc + (60 * promised.offset_min).astype("timedelta64[s]")
    times = [stamp(time.astype(object)) for time in local[rows]]
    low, middle, high = 100.0 * np.quantile(promised.soc[rows], [0.1, 0.5, 0.9], axis=1)
    shown = 100.0 * seen.soc_at[rows].mean(axis=1)
    figure = go.Figure()
    nothing = {"width": 0}
    figure.add_scatter(x=times, y=_plain(high), mode="lines", line=nothing)
    band = {"fill": "tonexty", "fillcolor": LIGHT.band}
    figure.add_scatter(x=times, y=_plain(low), mode="lines", line=nothing, **band)
    charge = {"color": LIGHT.charge, "width": 1.4, "dash": "dot"}
    figure.add_scatter(x=times, y=_plain(middle), mode="lines", line=charge)
    ink = {"color": LIGHT.ink, "width": 1.6}
    figure.add_scatter(x=times, y=_plain(shown), mode="lines", line=ink)
    levels = [0, 25, 50, 75, 100]
    figure.update_layout(frame(HEIGHT))
    figure.update_xaxes(**_clock([times[0], times[-1]], found.job.settings.units))
    figure.update_yaxes(**_values(0.0, 104.0, levels, " %"))
    return figure


def days_chart(days: Days, units: str) -> go.Figure:
    """Bars of what came each day, a dash at what was taken, a line at what was to come."""
    middles = [stamp(dt.datetime.combine(date, _NOON)) for date in days.dates]
    look = source_look("sun") if days.is_sun else source_look("other")
    figure = go.Figure()
    figure.add_bar(
        x=middles,
        y=[0 if value is None else value for value in _plain(days.came_wh)],
        width=[0.72 * DAY_MS] * len(middles),
        marker={
            "color": look.color,
            "line": {"width": 1, "color": look.edge},
            "pattern": {"shape": look.hatch},
        },
    )
    if days.is_sun:
        line = {"color": LIGHT.charge, "width": 1.8, "dash": "dash"}
        figure.add_scatter(x=middles, y=_plain(days.due_wh), mode="lines", line=line)
    figure.add_scatter(
        x=middles,
        y=_plain(days.taken_wh),
        mode="markers",
        marker={
            "symbol": "line-ew",
            "size": 8,
            "color": LIGHT.ink,
            "line": {"color": LIGHT.ink, "width": 2.4},
        },
    )
    most = np.nanmax(np.concatenate([days.came_wh, days.due_wh, days.taken_wh, [100.0]]))
    top = 1.08 * float(most)
    ends = [
        stamp(dt.datetime.combine(days.dates[0], dt.time())),
        stamp(dt.datetime.combine(days.dates[-1] + dt.timedelta(days=1), dt.time())),
    ]
    figure.update_layout(frame(HEIGHT))
    figure.update_xaxes(**_clock(ends, units))
    figure.update_yaxes(**_values(0.0, top, round_steps(0.0, top), ""))
    return figure


@dataclass(frozen=True)
class Hours:
    """By how much the log lies above the promise, by the hour of the local day. [W], (24,)

    nan in hours of which too little is known.
    """

    sun_w: Floats
    loads_w: Floats


def hours_of(found: Fit) -> Hours:
    """Measured less promised, by the hour of the day, where neither engine nor plug was on."""
    promised = found.promised
    minutes = promised.start_utc.astype("datetime64[m]").astype(np.int64) + promised.offset_min
    hour = (minutes + 30) // 60 % 24
    sun = np.where(found.open_hours, found.sun_w - promised.sun_w.mean(axis=1), np.nan)
    loads = found.load_w - promised.loads_w.mean(axis=1)
    return Hours(_hourly(sun, hour), _hourly(loads, hour))


def _hourly(watts: Floats, hour: Ints) -> Floats:
    known = np.isfinite(watts)
    count = np.bincount(hour[known], minlength=24)
    total = np.bincount(hour[known], weights=watts[known], minlength=24)
    return np.where(count >= 4, total / np.maximum(count, 1), np.nan)


def hours_chart(hours: Hours) -> go.Figure:
    """Two lines over the hours of the day: sun and loads, above and below the promise."""
    figure = go.Figure()
    middles = (np.arange(24) + 0.5).tolist()
    both = np.concatenate([hours.sun_w, hours.loads_w, [-10.0, 10.0]])
    top = 1.35 * float(np.nanmax(np.abs(both)))
    named: list[tuple[int, float]] = []
    for values, name, color, dash, above in (
        (hours.sun_w, "Sun", LIGHT.sun_edge, "solid", True),
        (hours.loads_w, "Loads", LIGHT.ink, "dash", False),
    ):
        if not np.isfinite(values).any():
            continue
        figure.add_scatter(
            x=middles,
            y=_plain(values),
            mode="lines+markers",
            line={"color": color, "width": 2.0, "dash": dash},
            marker={"color": color, "size": 5, "symbol": "circle" if above else "square"},
        )
        at = _name_hour(values, named, 2.0 * top)
        named.append((at, float(values[at])))
        spot = middles[at], float(values[at])
        figure.add_annotation(label(name, spot, ("x", "y"), color, above=spot[1] > 0.0))
    figure.update_layout(
        frame(HEIGHT),
        shapes=[
            {
                "type": "line",
                "x0": 0,
                "x1": 24,
                "y0": 0,
                "y1": 0,
                "line": {"color": LIGHT.charge, "width": 1.4},
            }
        ],
    )
    clock = list(range(0, 25, 6))
    texts = [f"{hour:02d}:00" for hour in clock]
    figure.update_xaxes(
        **AXIS, showline=True, linecolor=LIGHT.ink, range=[0, 24], tickvals=clock, ticktext=texts
    )
    figure.update_yaxes(**_values(-top, top, round_steps(-top, top), " W"))
    return figure


def _name_hour(watts: Floats, named: Sequence[tuple[int, float]], height: float) -> int:
    """The hour at which a line has its name: the farthest from the promise that has room."""
    hour = np.arange(24)
    far = np.where(np.isfinite(watts), np.abs(watts), -2.0)
    inside = np.where((hour >= _NAME_HOURS[0]) & (hour <= _NAME_HOURS[1]), far, -2.0)
    for at, level in named:
        near = (np.abs(hour - at) < _APART_HOURS) & (np.abs(watts - level) < 0.25 * height)
        inside = np.where(near & (inside >= 0.0), -1.0, inside)
    return int(np.argmax(inside if inside.max() > -2.0 else far))


def _clock(ends: list[str], units: str) -> dict[str, Any]:
    day = "%b %-d" if units == "us" else "%-d %b"
    return {
        **AXIS,
        "type": "date",
        "range": ends,
        "showline": True,
        "linecolor": LIGHT.ink,
        "ticks": "outside",
        "tickformatstops": [
            {"dtickrange": [None, "M1"], "value": day},
            {"dtickrange": ["M1", None], "value": "%b %Y"},
        ],
    }


def _values(low: float, high: float, levels: list[Any], unit: str) -> dict[str, Any]:
    texts = [f"{value:,g}{unit}".replace("-", "\N{MINUS SIGN}") for value in levels]
    grid = {"showgrid": True, "gridcolor": LIGHT.rule}
    return {**AXIS, "range": [low, high], "tickvals": levels, "ticktext": texts, **grid}


def _plain(values: Floats) -> list[float | None]:
    return [round(float(x), 1) if np.isfinite(x) else None for x in values]


def date_text(date: dt.date, units: str) -> str:
    """A day for a table."""
    return Manner("us" if units == "us" else "metric").dated(date)
