"""Engine and plug: what came into the battery while they were to charge it."""

from __future__ import annotations

from typing import Literal

import numpy as np

from sim.arrays import Bools, Floats, Ints
from sim.fit.changes import CLEAR_GAIN, best_split
from sim.fit.estimate import Z_BROKEN, Estimate, over_days
from sim.fit.expected import Expected
from sim.fit.findings import Finding, date_of, silent
from sim.fit.measured import Measured, absorbing, accepts_w
from sim.job.model.power import Battery

# What clocks and loads on the road leave open, and the sun where the log does not show it.
_MODEL, _MODEL_BLIND = 0.06, 0.13
_BROKEN_BELOW = 0.75
# A drive or a night on the plug tells something if so much was to come of it. [Wh]
_LEAST_WH = 80.0
_LEAST_TIMES = 2
# Of what a source offers, the sun that does not hide it.
_DARK_ENOUGH = 0.4
# From here on a battery takes what it will.
_NEARLY_FULL = 0.98


def charging_finding(
    what: Literal["engine", "plug"],
    seen: Measured,
    promised: Expected,
    bank: Battery,
    others_w: Floats,
) -> Finding:
    """What a source brought over what it was to bring, as long as the battery had room.

    Parameters
    ----------
    what : str
    seen, promised : Measured, Expected
    bank : Battery
    others_w : ndarray, shape (H,)
        What the loads take less what the panels bring at the same time. [W]
    """
    offer_w = promised.engine_w if what == "engine" else promised.plug_w
    running = offer_w > 1.0
    if not running.any():
        return silent(what, f"no_{what}")
    # Nobody leaves to the minute: the hours beside count too.
    near = running.copy()
    near[1:] |= running[:-1]
    near[:-1] |= running[1:]
    into_w = seen.battery_w + others_w
    due_w, is_open = _due(seen, bank, offer_w, others_w)
    if not seen.has_solar:
        # Where the sun may bring as much nobody knows what came from where.
        due_w = np.where(promised.clear_w < _DARK_ENOUGH * offer_w, due_w, 0.0)
        into_w = np.where(due_w > 0.0, into_w, np.nan)
    came_w = np.where(is_open, into_w, np.minimum(into_w, due_w))
    times, due, came = [], [], []
    for rows in _runs(near):
        # Beside a full battery the hours next to the drive say nothing either.
        known = rows[np.isfinite(into_w[rows]) & (is_open[rows] | running[rows])]
        due_wh = due_w[known].sum()
        if due_wh > _LEAST_WH:
            times.append(int(promised.day[rows[0]]))
            due.append(float(due_wh))
            came.append(float(came_w[known].sum()))
    if len(times) < _LEAST_TIMES:
        return silent(what, f"little_{what}")
    model = _MODEL if seen.has_solar else _MODEL_BLIND
    return _judged(what, np.array(times), np.array(due), np.array(came), model)


def _due(seen: Measured, bank: Battery, offer_w: Floats, others_w: Floats) -> tuple[Floats, Bools]:
    """What must have come in each hour, and whether the battery had room for all of it. [W]

    In an hour at whose end the battery is full only so much is sure as had room at its start.
    """
    begin, end = seen.soc_at.T
    is_open = (end < _NEARLY_FULL) & ~absorbing(seen, bank) & np.isfinite(begin)
    room_w = np.nan_to_num(_NEARLY_FULL - begin, nan=0.0) * bank.capacity_wh + others_w
    sure_w = np.where(
        is_open, np.minimum(offer_w, accepts_w(end, bank)), np.clip(room_w, 0.0, offer_w)
    )
    return np.nan_to_num(sure_w, nan=0.0), is_open


def _judged(
    what: Literal["engine", "plug"], days: Ints, due: Floats, came: Floats, model: float
) -> Finding:
    ratio = came / due
    since, rows = None, np.arange(len(days))
    index, gain = best_split(ratio)
    if not gain and len(days) >= 2 * _LEAST_TIMES:
        index, gain = _few_split(ratio)
    if gain > CLEAR_GAIN and np.median(ratio[index:]) < 0.7 * np.median(ratio[:index]):
        since, rows = date_of(days[index]), np.arange(index, len(days))

    def factor(drawn: Ints) -> float:
        return float(came[rows[drawn]].sum() / due[rows[drawn]].sum())

    value = max(factor(np.arange(len(rows))), 0.0)
    spread = over_days(factor, len(rows), model)
    # Around nothing a factor has no logarithm: the spread is that of the factor itself.
    estimate = Estimate(value, spread, is_factor=False)
    broken = value < _BROKEN_BELOW and (value - 1.0) / max(spread, 1e-9) < -Z_BROKEN
    return Finding(what, broken, estimate, since if broken else None)


def _few_split(ratio: Floats) -> tuple[int, float]:
    """As `best_split` for a handful of drives: from one on they bring little, before it enough."""
    low = ratio < 0.5
    for index in range(1, len(ratio) - 1):
        if low[index:].all() and not low[:index].any():
            return index, np.inf
    return 0, 0.0


def _runs(on: Bools) -> list[Ints]:
    """Rows of each unbroken run."""
    rows = np.flatnonzero(on)
    if not len(rows):
        return []
    return np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1)
