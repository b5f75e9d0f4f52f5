"""The chart of a trip is made of tracks over one another on one clock; what they share is here.

Figures are drawn in the colours of paper: every colour of a figure is one of `palette.LIGHT`, and
the page swaps them where the reader's screen is dark.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from math import floor, log10
from typing import Any

import numpy as np

from sim.arrays import Floats
from sim.report.charts.chart_data import Span
from sim.report.charts.palette import FONT, LIGHT
from sim.report.words.numbers import Manner

DAY_MS = 24 * 3600 * 1000
# The right edge of the chart is kept for the lows of all draws.
CLOCK_SHARE, EDGE_FROM = 0.965, 0.975
# Above the first track the stops are named, below the last one the days. [px]
TOP, FOOT, LEFT, RIGHT = 26, 40, 44, 2
# Labels of lines keep to this part of the clock, away from its ends.
_LABEL_FROM, _LABEL_TO = 0.04, 0.9
# A name centred nearer to an end than this share of the clock would stick out on a phone.
_NEAR_END = 0.25
# Names nearer to one another than this share of the clock would meet on a phone.
_APART = 0.3


@dataclass(frozen=True)
class Track:
    """One of the curves over one another.

    Attributes
    ----------
    key : str
        "charge", "rows", "sources", "tanks" or "warmth".
    title : str
        Written over it, with its unit; may be empty.
    height : int
        [px]
    gap : int
        Kept free above it. [px]
    marks : tuple of str
        Kinds of mark that are named beside the title.
    """

    key: str
    title: str
    height: int
    gap: int = 0
    marks: tuple[str, ...] = ()


@dataclass(frozen=True)
class Stack:
    """Tracks laid out from top to bottom."""

    tracks: tuple[Track, ...]

    @property
    def inside(self) -> int:
        """Height of all of them with their gaps. [px]"""
        return sum(track.gap + track.height for track in self.tracks)

    def top(self, key: str) -> int:
        """Where a track begins, from the top of the first. [px]"""
        index = [track.key for track in self.tracks].index(key)
        above = sum(track.gap + track.height for track in self.tracks[:index])
        return above + self.tracks[index].gap

    def axis(self, key: str) -> str:
        """Name of the vertical axis of a track: ``y``, ``y2``."""
        index = [track.key for track in self.tracks].index(key)
        return f"y{index + 1}" if index else "y"

    def domain(self, key: str) -> list[float]:
        """Where a track lies, as shares from the bottom."""
        height = next(track.height for track in self.tracks if track.key == key)
        top = self.top(key)
        return [1.0 - (top + height) / self.inside, 1.0 - top / self.inside]


def stamp(time: dt.datetime) -> str:
    """Local time as Plotly and the page's script read it, without a zone."""
    return time.strftime("%Y-%m-%d %H:%M")


def plain(text: str) -> str:
    """Text that Plotly shows as it is: it would take tags such as ``<b>`` for its own."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def layout(stack: Stack, span: Span, manner: Manner) -> dict[str, Any]:
    """Frame, clock and edge of a stack; its vertical axes come with the tracks."""
    upper = "rows" if any(track.key == "rows" for track in stack.tracks) else "charge"
    last = stack.tracks[-1].key
    clock = _clock(span, manner)
    found = {
        "height": TOP + stack.inside + FOOT,
        "margin": {"l": LEFT, "r": RIGHT, "t": TOP, "b": FOOT, "pad": 0},
        "paper_bgcolor": LIGHT.clear,
        "plot_bgcolor": LIGHT.clear,
        "font": {"family": FONT, "size": 12, "color": LIGHT.ink},
        "showlegend": False,
        "hovermode": False,
        "dragmode": "zoom",
        "xaxis": {**clock, "anchor": stack.axis(upper)},
        "xaxis3": {
            "domain": [EDGE_FROM, 1.0],
            "range": [0, 1],
            "anchor": "y",
            "visible": False,
            "fixedrange": True,
        },
    }
    if last != upper:
        found["xaxis2"] = {**clock, "anchor": stack.axis(last), "matches": "x"}
    return found


def value_axis(stack: Stack, key: str) -> dict[str, Any]:
    """The vertical axis of a track, without its range and labels."""
    return {
        "domain": stack.domain(key),
        "showgrid": True,
        "gridcolor": LIGHT.rule,
        "gridwidth": 1,
        "zeroline": False,
        "fixedrange": True,
        "tickfont": {"color": LIGHT.muted, "size": 12},
    }


def _clock(span: Span, manner: Manner) -> dict[str, Any]:
    day = "%b %-d" if manner.units == "us" else "%-d %b"
    hour = "%-I %p" if manner.units == "us" else "%H:%M"
    return {
        "type": "date",
        "domain": [0.0, CLOCK_SHARE],
        "range": [stamp(time) for time in whole_days(span)],
        "showgrid": False,
        "zeroline": False,
        "showline": True,
        "linecolor": LIGHT.ink,
        "linewidth": 1,
        "ticks": "outside",
        "ticklen": 4,
        "tickcolor": LIGHT.ink,
        "tickangle": 0,
        "tickfont": {"color": LIGHT.muted, "size": 12},
        "tickformatstops": [
            {"dtickrange": [None, DAY_MS - 1], "value": f"{hour}<br>{day}"},
            {"dtickrange": [DAY_MS, "M1"], "value": day},
            {"dtickrange": ["M1", None], "value": "%b %Y"},
        ],
    }


def whole_days(span: Span) -> Span:
    """From the midnight before a span to the one after it, so that bars of days fit."""
    first, last = (dt.datetime.combine(time.date(), dt.time()) for time in span)
    return first, last if last == span[1] else last + dt.timedelta(days=1)


def line(
    xs: Sequence[str] | Sequence[float], ys: Floats, color: str, width: float,
    axes: tuple[str, str] = ("x", "y"), *, dash: str = "solid", fill: str | None = None,
) -> dict[str, Any]:  # fmt: skip
    """A line of a figure, drawn to a tenth."""
    found: dict[str, Any] = {
        "type": "scatter",
        "mode": "lines",
        "x": list(xs),
        "y": np.round(ys, 1).tolist(),
        "xaxis": axes[0],
        "yaxis": axes[1],
        "line": {"color": color, "width": width, "dash": dash},
    }
    return found | {"fill": "tonexty", "fillcolor": fill} if fill else found


def label(text: str, at: tuple[str | float, float], axes: tuple[str, str], color: str, *,
          above: bool, along: float = 0.5) -> dict[str, Any]:  # fmt: skip
    """The name of a line, over or under one of its points, which lies `along` the clock, 0 to 1.

    Near an end the name runs away from it, so that it stays on the chart of a phone.
    """
    side = "left" if along < _NEAR_END else "right" if along > 1.0 - _NEAR_END else "center"
    return {
        "text": plain(text),
        "x": at[0],
        "y": round(at[1], 1),
        "xref": axes[0],
        "yref": axes[1],
        "xanchor": side,
        "yanchor": "bottom" if above else "top",
        "showarrow": False,
        "font": {"color": color, "size": 12},
        "borderpad": 0,
    }


def apart(
    value: Floats, others: Sequence[Floats], words: Sequence[tuple[int, float]], height: float
) -> int:
    """The point of a line that lies farthest from other lines, for its name.

    Parameters
    ----------
    value : ndarray, shape (N,)
    others : sequence of ndarray, each of shape (N,)
    words : sequence of (int, float)
        Points of the track that have words beside them already.
    height : float
        What the track shows from bottom to top.
    """
    count = len(value)
    room = np.full(count, height)
    for other in others:
        room = np.minimum(room, np.abs(value - other))
    share = np.arange(count) / max(count - 1, 1)
    for index, level in words:
        near = (np.abs(share - share[index]) < _APART) & (np.abs(value - level) < 0.25 * height)
        room = np.where(near, -1.0, room)
    inside = (share >= _LABEL_FROM) & (share <= _LABEL_TO)
    return int(np.argmax(np.where(inside, room, -2.0)))


def round_steps(low: float, high: float, most: int = 4) -> list[float]:
    """Round numbers from low to high, no more than `most` steps of 1, 2 or 5."""
    rough = max(high - low, 1e-9) / most
    size = 10.0 ** floor(log10(rough))
    step = next(size * n for n in (1, 2, 5, 10) if size * n >= rough)
    first = int(np.ceil(low / step - 1e-9))
    return [n * step for n in range(first, int(np.floor(high / step + 1e-9)) + 1)]
