"""The tracks of living: the tanks that move, and warmth inside and out."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np

from sim.arrays import Floats
from sim.ledger.results import TripResult
from sim.report.charts.chart_data import ChargePoints, local_clock
from sim.report.charts.palette import LIGHT
from sim.report.charts.tracks import (
    Stack,
    Track,
    apart,
    label,
    line,
    plain,
    round_steps,
    stamp,
    value_axis,
)
from sim.report.words.numbers import Manner, shortened
from sim.units import celsius_to_fahrenheit

TANKS_HEIGHT, WARMTH_HEIGHT = 110, 96
# A tank that never moves by so much is not drawn.
_MOVES = 0.02
# What is filled in or let out at once, as a share of the tank, to be marked.
_SERVICE_SHARE = 0.05
# Tanks differ by dash and width: the colours are kept for energy.
_LINES = (
    (LIGHT.ink, "solid", 2.2),
    (LIGHT.muted, "dash", 2.0),
    (LIGHT.ink, "dot", 2.0),
    (LIGHT.muted, "solid", 1.4),
    (LIGHT.ink, "dashdot", 1.4),
)
_NAME_LETTERS = 18


def moving_tanks(points: ChargePoints) -> list[int]:
    """Which tanks change their level on the trip."""
    return [i for i, level in enumerate(points.stores) if float(np.ptp(level)) >= _MOVES]


def tanks_track(points: ChargePoints, gap: int) -> Track | None:
    """The track of tanks; None where none moves."""
    if not moving_tanks(points):
        return None
    return Track("tanks", "Tanks, share full; triangle: filled or emptied", TANKS_HEIGHT,
                 gap)  # fmt: skip


def tanks_parts(
    trip: TripResult, points: ChargePoints, stack: Stack
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Traces of the tanks that move, and their names."""
    axes = "x2", stack.axis("tanks")
    chosen = moving_tanks(points)
    times = [stamp(time) for time in points.times[: len(points.stop)]]
    levels = {i: 100.0 * points.stores[i] for i in chosen}
    traces, names, taken = [], [], list[tuple[int, float]]()
    for number, index in enumerate(chosen):
        color, dash, width = _LINES[number % len(_LINES)]
        level = levels[index]
        traces.append(line(times, level, color, width, axes, dash=dash))
        traces += _services(trip, index, axes, color)
        others = [levels[i] for i in chosen if i != index]
        at = apart(level, others, taken, 100.0)
        taken.append((at, float(level[at])))
        text = shortened(trip.stores[index].name, _NAME_LETTERS)
        along = at / len(times)
        names.append(label(text, (times[at], level[at]), axes, color, above=level[at] < 75.0,
                           along=along))  # fmt: skip
    return traces, names


def _services(
    trip: TripResult, index: int, axes: tuple[str, str], color: str
) -> list[dict[str, Any]]:
    """A triangle where a tank is filled, or emptied, by more than a trifle.

    What a tank beside a tap takes and gets back within a step does not show in its level.
    """
    store = trip.stores[index]
    level = store.level_over_draws[1] / store.capacity
    jump = -np.diff(level) if store.kind == "grey" else np.diff(level)
    steps = 1 + np.flatnonzero(jump >= _SERVICE_SHARE)
    if not len(steps):
        return []
    clock: list[dt.datetime] = local_clock(trip)
    symbol = "triangle-down" if store.kind == "grey" else "triangle-up"
    return [
        {
            "type": "scatter",
            "mode": "markers",
            "x": [stamp(clock[step]) for step in steps],
            "y": np.round(100.0 * level[steps], 1).tolist(),
            "xaxis": axes[0],
            "yaxis": axes[1],
            "marker": {"color": color, "symbol": symbol, "size": 9},
            "cliponaxis": False,
        }
    ]


def percent_axis(stack: Stack, key: str, values: tuple[int, ...] = (0, 50, 100)) -> dict[str, Any]:
    """An axis from 0 to 100 %."""
    texts = [f"{value} %" for value in values]
    return value_axis(stack, key) | {"range": [0, 100], "tickvals": values, "ticktext": texts}


def warmth_track(points: ChargePoints, gap: int, manner: Manner) -> Track:
    """The track of warmth."""
    often = "" if points.grain == "hour" else ", mean of each day"
    sign = "°F" if manner.units == "us" else "°C"
    return Track("warmth", f"Warmth, {sign}{often}", WARMTH_HEIGHT, gap)


def warmth_parts(
    points: ChargePoints, stack: Stack, manner: Manner
) -> tuple[list[dict[str, Any]], list[dict[str, Any]], dict[str, Any]]:
    """Traces of the cabin and of the air outside, their names, and their axis."""
    axes = "x2", stack.axis("warmth")
    times = [stamp(time) for time in points.times[: len(points.stop)]]
    inside, outside = (_degrees(x, manner) for x in (points.cabin_c, points.outside_c))
    low, high = float(min(inside.min(), outside.min())), float(max(inside.max(), outside.max()))
    room = 0.12 * max(high - low, 10.0)
    # The name of the lower line is below it.
    bounds = low - 1.7 * room, high + room
    height = bounds[1] - bounds[0]
    at = apart(inside, [outside], [], height)
    below = apart(outside, [inside], [(at, float(inside[at]))], height)
    traces = [
        line(times, outside, LIGHT.muted, 1.4, axes, dash="dot"),
        line(times, inside, LIGHT.ink, 1.8, axes),
    ]
    warmer = bool(inside[at] >= outside[at])
    names = [
        label(plain("inside"), (times[at], inside[at]), axes, LIGHT.ink, above=warmer,
              along=at / len(times)),
        label(plain("outside"), (times[below], outside[below]), axes, LIGHT.muted,
              above=bool(outside[below] > inside[below]), along=below / len(times)),
    ]  # fmt: skip
    values = round_steps(*bounds)
    axis = value_axis(stack, "warmth") | {
        "range": list(bounds),
        "tickvals": values,
        "ticktext": [f"{value:.0f}°".replace("-", "\N{MINUS SIGN}") for value in values],
    }
    return traces, names, axis


def _degrees(celsius: Floats, manner: Manner) -> Floats:
    if manner.units != "us":
        return celsius
    return np.array([celsius_to_fahrenheit(value) for value in celsius.tolist()])
