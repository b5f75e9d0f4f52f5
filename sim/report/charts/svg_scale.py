"""Where values of a Plotly figure lie on a drawing, in percent, and what is on its axes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

DAY_MS = 24 * 3600 * 1000
_EPOCH = dt.datetime(1970, 1, 1)
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
# Steps of a date axis: hours, then days, then months.
_HOUR_STEPS, _DAY_STEPS, _MONTH_STEPS = (1, 2, 3, 6, 12), (1, 2, 3, 7, 14), (1, 2, 3, 6, 12)
# So many labels at most stand under a wide chart; a narrow one keeps every second or third.
_MOST_TICKS, _NARROW_TICKS = 10, 4


@dataclass(frozen=True)
class Tick:
    """A label of an axis.

    Attributes
    ----------
    at : float
        In percent of the drawing, from the left or the top.
    lines : tuple of str
    is_spare : bool
        Left out where the chart is narrow.
    """

    at: float
    lines: tuple[str, ...]
    is_spare: bool = False


@dataclass(frozen=True)
class Scale:
    """One axis of a figure.

    Attributes
    ----------
    layout : dict
        The axis as in the figure's layout.
    begin, end : float
        Its range; dates in milliseconds.
    low, high : float
        Its domain, 0 to 1.
    names : tuple of str
        Categories in order; empty where the axis has numbers or dates.
    upwards : bool
        Whether values grow from bottom to top.
    """

    layout: dict[str, Any]
    begin: float
    end: float
    low: float
    high: float
    names: tuple[str, ...]
    upwards: bool

    def number(self, value: object) -> float:
        """A value of the axis as a number."""
        if isinstance(value, str):
            if value in self.names:
                return float(self.names.index(value))
            return date_ms(value)
        return float(value)  # type: ignore[arg-type]

    def percent(self, value: object) -> float:
        """Where a value lies, in percent of the drawing."""
        return self.share((self.number(value) - self.begin) / (self.end - self.begin))

    def share(self, share: float) -> float:
        """Where a share of the axis lies, in percent of the drawing."""
        along = self.low + share * (self.high - self.low)
        return 100.0 * (1.0 - along if self.upwards else along)

    def width(self, length: float) -> float:
        """How long a stretch of the axis is, in percent of the drawing."""
        return 100.0 * length / (self.end - self.begin) * (self.high - self.low)

    def ticks(self) -> list[Tick]:
        """The labels of the axis."""
        if self.layout.get("showticklabels") is False:
            return []
        if self.layout.get("type") == "date":
            return self._date_ticks()
        values: Sequence[Any] = self.layout.get("tickvals") or range(len(self.names))
        texts: Sequence[Any] = self.layout.get("ticktext") or self.names or values
        after = self.layout.get("ticksuffix") or ""
        return [
            Tick(self.percent(value), tuple(f"{text}{after}".split("<br>")))
            for value, text in zip(values, texts, strict=True)
        ]

    def _date_ticks(self) -> list[Tick]:
        begin, end = (_EPOCH + dt.timedelta(milliseconds=x) for x in (self.begin, self.end))
        times, form = _date_steps(begin, end, self.layout.get("tickformatstops") or ())
        every = -(-len(times) // _NARROW_TICKS)
        return [
            Tick(
                self.percent((time - _EPOCH) / dt.timedelta(milliseconds=1)),
                tuple(formatted(time, form).split("<br>")),
                is_spare=index % every != every // 2,
            )
            for index, time in enumerate(times)
        ]


def scale_of(figure: dict[str, Any], name: str) -> Scale:
    """The axis of that name, ``xaxis2`` or ``yaxis``, of a figure as plain data."""
    axis = figure["layout"][name]
    low, high = axis.get("domain") or (0.0, 1.0)
    names = tuple(axis.get("categoryarray") or ())
    begin, end = (date_ms(x) if isinstance(x, str) else float(x) for x in axis["range"])
    return Scale(axis, begin, end, low, high, names, upwards=name.startswith("y"))


def date_ms(text: str) -> float:
    """``2027-01-09 10:00`` in milliseconds since 1970, by whatever clock it was written."""
    return (dt.datetime.fromisoformat(text) - _EPOCH) / dt.timedelta(milliseconds=1)


def formatted(time: dt.datetime, form: str) -> str:
    """A time in the few signs of d3's formats that the figures use."""
    parts = {
        "%-d": str(time.day),
        "%b": _MONTHS[time.month - 1],
        "%Y": str(time.year),
        "%H": f"{time.hour:02d}",
        "%M": f"{time.minute:02d}",
        "%-I": str((time.hour - 1) % 12 + 1),
        "%p": "am" if time.hour < 12 else "pm",
    }
    for sign, text in parts.items():
        form = form.replace(sign, text)
    return form


def _date_steps(
    begin: dt.datetime, end: dt.datetime, stops: Sequence[dict[str, Any]]
) -> tuple[list[dt.datetime], str]:
    """Round times of a stretch, no more than fit, and the format for steps of that length."""
    midnight = dt.datetime.combine(begin.date(), dt.time())
    for hours in (*_HOUR_STEPS, *(24 * days for days in _DAY_STEPS)):
        step = dt.timedelta(hours=hours)
        if (end - begin) / step <= _MOST_TICKS:
            count = int((end - midnight) / step) + 1
            times = [midnight + index * step for index in range(count)]
            return [x for x in times if begin <= x <= end], _form(stops, hours * 3_600_000)
    first = begin.year * 12 + begin.month - 1
    last = end.year * 12 + end.month - 1
    step_months = next((n for n in _MONTH_STEPS if (last - first) / n <= _MOST_TICKS), 12)
    months = [n for n in range(first, last + 1) if n % step_months == 0]
    times = [dt.datetime(n // 12, n % 12 + 1, 1) for n in months]
    return [x for x in times if begin <= x <= end], _form(stops, None)


def _form(stops: Sequence[dict[str, Any]], step_ms: float | None) -> str:
    """The format that a figure asks for at a step; None for months."""
    for stop in stops:
        least, most = stop["dtickrange"]
        if step_ms is None:
            if least == "M1":
                return str(stop["value"])
        elif isinstance(least, str):
            continue
        elif (least or 0) <= step_ms and (isinstance(most, str) or most is None or step_ms <= most):
            return str(stop["value"])
    return "%b %-d"
