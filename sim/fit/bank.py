"""The battery: what it holds, what it loses, and whether the counter keeps to it.

Over some hours the shown charge changes by ``(efficiency * in - out) / capacity + drift * time``.
The three are fitted together, robustly; the promise says a little of the efficiency, the log the
rest.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import least_squares

from sim.arrays import Bools, Floats, Ints
from sim.fit.changes import CLEAR_GAIN, best_split
from sim.fit.estimate import Z_BROKEN, Z_SEARCHED, Estimate, over_days, robust_mean
from sim.fit.expected import Expected
from sim.fit.findings import Finding, date_of, silent
from sim.fit.measured import Measured
from sim.job.model.power import Battery

# Charge shown near its ends says nothing of what flows.
_TOP, _BOTTOM = 0.985, 0.02
_MOST_HOURS, _LEAST_HOURS = 10, 3
_LEAST_WINDOWS = 12
# Ampere-hours through the battery, in capacities, before its size can be known.
_LEAST_TURNS = 1.0
# Doubt of an efficiency before the log, of a window's charge, and of shunts (common practice, no
# source: shunts are good to 1 %).
_PRIOR, _NOISE, _MODEL = 0.04, 0.008, 0.009
_SMALL_BELOW, _LARGE_ABOVE, _LOSSES_BELOW = 0.92, 1.12, 0.94
# And of a drift in a day, and of one that is there: full batteries and resets cut it short.
_MODEL_DRIFT, _MODEL_RUN = 0.0014, 0.08
# The charge may run away by this in a day and nobody minds.
_DRIFT_DAY = 0.01
# The same from a day on that was searched for.
_LATE_DRIFT = 0.015
_JUMP = 0.03
# Only a battery that was used as deep as this shows how large it is; the charge is shown in whole
# percents.
_LEAST_DEPTH, _ROUNDED = 0.045, 0.003


@dataclass(frozen=True)
class Windows:
    """Stretches of hours: change of charge, charge in and out [Ah], length [days], their day."""

    change: Floats
    in_ah: Floats
    out_ah: Floats
    long: Floats
    day: Ints

    def __len__(self) -> int:
        return len(self.day)


def windows_of(seen: Measured, promised: Expected, bank: Battery) -> Windows:
    """Stretches of known hours between the ends of the charge."""
    soc = seen.soc_at
    known = np.isfinite(soc).all(axis=1) & np.isfinite(seen.in_ah)
    known &= (soc < _TOP).all(axis=1) & (soc > _BOTTOM).all(axis=1)
    known &= ~resets(seen, bank)
    rows = np.flatnonzero(known)
    found: list[tuple[float, float, float, float, int]] = []
    hours = (promised.start_utc.astype(np.int64) // 3600).astype(np.int64)
    begin = 0
    for n in range(1, len(rows) + 1):
        ends = n == len(rows) or hours[rows[n]] - hours[rows[n - 1]] != 1
        if not ends and n - begin < _MOST_HOURS:
            continue
        own = rows[begin:n]
        begin = n
        if len(own) < _LEAST_HOURS:
            continue
        change = float(soc[own[-1], 1] - soc[own[0], 0])
        flows = float(seen.in_ah[own].sum()), float(seen.out_ah[own].sum())
        found.append((change, *flows, len(own) / 24.0, int(promised.day[own[0]])))
    table = np.array(found).reshape(-1, 5)
    return Windows(table[:, 0], table[:, 1], table[:, 2], table[:, 3], table[:, 4].astype(np.int64))


def resets(seen: Measured, bank: Battery) -> Bools:
    """Hours in which the counter jumps to full without a current that would do it."""
    size = bank.capacity_wh / bank.nominal_v
    due = (bank.coulombic_efficiency * seen.in_ah - seen.out_ah) / size
    odd = seen.soc_at[:, 1] - seen.soc_at[:, 0] - due
    return np.asarray(np.nan_to_num(odd, nan=0.0) > _JUMP)


def bank_findings(seen: Measured, promised: Expected, bank: Battery) -> list[Finding]:
    """Capacity, losses and counter."""
    names = ("capacity", "losses", "counter")
    if not (seen.has_soc and seen.has_current):
        return [silent(name, "no_soc_and_current") for name in names]  # type: ignore[arg-type]
    windows = windows_of(seen, promised, bank)
    size = bank.capacity_wh / bank.nominal_v
    moved = windows.in_ah.sum() + windows.out_ah.sum()
    few = len(windows) < _LEAST_WINDOWS or moved < _LEAST_TURNS * size
    if few:
        return [silent(name, "few_turns") for name in names]  # type: ignore[arg-type]
    days, which = np.unique(windows.day, return_inverse=True)
    by_day = [np.flatnonzero(which == n) for n in range(len(days))]
    promise = bank.coulombic_efficiency

    def rows_of(drawn: Ints) -> Ints:
        return np.concatenate([by_day[n] for n in drawn])

    every = np.arange(len(windows))
    whole = _fitted(windows, every, size, promise)
    chance = np.random.default_rng(18)
    drawn = np.array(
        [
            _fitted(windows, rows_of(chance.integers(len(days), size=len(days))), size, promise)
            for _ in range(60)
        ]
    )
    low, high = np.quantile(drawn, [0.1, 0.9], axis=0)
    spread = (high - low) / 2.5631
    capacity = Estimate(float(whole[0]), float(np.hypot(spread[0] / whole[0], _MODEL)))
    losses = Estimate(float(whole[1] / promise), float(np.hypot(spread[1] / promise, _MODEL)))
    counter = _counter(windows, whole, spread[2], size)
    # A charge that hardly moves, shown in whole percents, tells a runaway but no size.
    depth = 1.0 - float(np.nanquantile(seen.soc_at, 0.03))
    if depth < _LEAST_DEPTH:
        sizes = [silent("capacity", "never_deep"), silent("losses", "never_deep")]
    else:
        sizes = _sizes(_doubted(capacity, depth), losses)
    return [*sizes, counter]


def _counter(windows: Windows, whole: Floats, spread: float, size_ah: float) -> Finding:
    """Whether the shown charge runs away, all along or from a day on."""
    value, since, least = float(whole[2]), None, Z_BROKEN
    moved = (whole[1] * windows.in_ah - windows.out_ah) / (size_ah * whole[0])
    days, which = np.unique(windows.day, return_inverse=True)
    long = np.bincount(which, weights=windows.long)
    # What the flows leave open of each day's change, in a whole day.
    runs = np.bincount(which, weights=windows.change - moved) / long
    index, gain = best_split(runs)
    if gain > CLEAR_GAIN:
        before, after = (robust_mean(x) for x in (runs[:index], runs[index:]))
        if abs(after) > _LATE_DRIFT and abs(after) > abs(before) + _DRIFT_DAY:
            since, least, value = date_of(days[index]), Z_SEARCHED, after
            rows = runs[index:]
            spread = over_days(lambda drawn: robust_mean(rows[drawn]), len(rows), 0.0)
    model = np.hypot(_MODEL_DRIFT, _MODEL_RUN * value)
    drift = Estimate(value, float(np.hypot(spread, model)), is_factor=False)
    is_off = abs(drift.value) > _DRIFT_DAY and abs(drift.z) > least
    return Finding("counter", is_off, drift, since if is_off else None)


def _doubted(capacity: Estimate, depth: float) -> Estimate:
    """The same, less sure the less of the battery was ever used."""
    return replace(capacity, spread=float(np.hypot(capacity.spread, _ROUNDED / depth)))


def _sizes(capacity: Estimate, losses: Estimate) -> list[Finding]:
    is_off = not _SMALL_BELOW < capacity.value < _LARGE_ABOVE
    return [
        Finding("capacity", is_off and abs(capacity.z) > Z_BROKEN, capacity),
        Finding("losses", losses.value < _LOSSES_BELOW and losses.z < -Z_BROKEN, losses),
    ]


def _fitted(windows: Windows, rows: Ints, size_ah: float, promise: float) -> Floats:
    """Capacity over its label, efficiency, and drift in a day."""
    change, into = windows.change[rows], windows.in_ah[rows] / size_ah
    out, long = windows.out_ah[rows] / size_ah, windows.long[rows]

    def off(x: Floats) -> Floats:
        own = (change - x[0] * (x[1] * into - out) - x[2] * long) / _NOISE
        return np.append(own, (x[1] - promise) / _PRIOR)

    found = least_squares(
        off,
        [1.0, promise, 0.0],
        bounds=([0.3, 0.4, -0.5], [4.0, 1.05, 0.5]),
        loss="soft_l1",
    )
    return np.array([1.0 / found.x[0], found.x[1], found.x[2]])
