"""The loads: what draws day and night, and what people use, against the promise."""

from __future__ import annotations

import datetime as dt

import numpy as np
from scipy.optimize import least_squares

from sim.arrays import Bools, Floats, Ints
from sim.fit.changes import CLEAR_GAIN, best_split
from sim.fit.estimate import Z_BROKEN, Estimate, over_days, robust_mean
from sim.fit.expected import Expected
from sim.fit.findings import Finding, date_of, silent
from sim.fit.measured import Measured
from sim.job.model.fields import DAY_MINUTES
from sim.job.model.living import Living

# What nobody knows of a refrigerator and small things that never sleep, as a share of the night's
# promise, and beside it (common practice, no source).
_NIGHT_SHARE, _NIGHT_W = 0.25, 2.5
_LOADS_MODEL = 0.11
# A draw worth a word: so many watts, and so much of what was promised.
_LEAST_W, _LEAST_OF_NIGHT = 10.0, 0.3
_LOADS_ABOVE = 1.3
_LEAST_HOURS, _LEAST_NIGHTS, _LEAST_DAYS = 2, 5, 6
_LEAST_OF_DAY = 0.7
# A rise with the temperature worth a word, in W/K and over the promised one; the temperatures
# that show it; and the doubt of it (common practice, no source).
_LEAST_W_K, _LEAST_OF_SLOPE, _LEAST_RANGE_K = 0.8, 0.6, 5.0
_WARMTH_W_K, _WARMTH_SHARE = 0.15, 0.25


def load_watts(seen: Measured, promised: Expected, calm: Bools) -> Floats:
    """What the loads took, nan where the log does not tell. [W], shape (H,)

    Without a column of loads: what came from the panels and did not go into the battery, where
    neither engine nor plug was on; without one of the panels, at night.
    """
    if np.isfinite(seen.load_w).any():
        return np.where(calm, seen.load_w, np.nan)
    if seen.has_solar:
        return np.where(calm, seen.solar_w - seen.battery_w, np.nan)
    dark = promised.clear_w < 0.5
    return np.where(calm & dark, -seen.battery_w, np.nan)


def load_findings(
    load_w: Floats, promised: Expected, living: Living, temp_c: Floats
) -> tuple[Finding, Finding, Finding]:
    """Standing load, use, and what the temperature does to them; see `warmth_finding`."""
    standing = standing_finding(load_w, promised, living)
    if standing.broken:
        # Nights that grow warmer look like a load that came in between.
        warmth = warmth_finding(load_w, promised, silent("standing_load", ""), temp_c)
        if warmth.broken and warmth.estimate is not None:
            mild = float(np.nanquantile(temp_c, 0.1))
            cool_w = load_w - warmth.estimate.value * (temp_c - mild)
            without = standing_finding(cool_w, promised, living)
            if without.broken is False:
                return without, loads_finding(load_w, promised, without), warmth
    loads = loads_finding(load_w, promised, standing)
    return standing, loads, warmth_finding(load_w, promised, standing, temp_c)


def asleep(promised: Expected, living: Living) -> Bools:
    """Hours in the depth of the night, when nobody switches anything. shape (H,)"""
    utc_min = promised.start_utc.astype("datetime64[m]").astype(np.int64)
    clock = (utc_min + promised.offset_min + 30) % DAY_MINUTES
    begin, end = (living.sleep_at + 60) % DAY_MINUTES, (living.wake_at - 45) % DAY_MINUTES
    if begin < end:
        return np.asarray((clock >= begin) & (clock < end))
    return np.asarray((clock >= begin) | (clock < end))


def standing_finding(load_w: Floats, promised: Expected, living: Living) -> Finding:
    """What draws at night beyond the promise."""
    use = asleep(promised, living) & np.isfinite(load_w)
    days, watts, due = _nightly(load_w, promised, use)
    if len(days) < _LEAST_NIGHTS:
        return silent("standing_load", "few_nights")
    more = watts - due
    model = float(np.hypot(_NIGHT_SHARE * due.mean(), _NIGHT_W))
    index, gain = best_split(more)
    since, rows = None, np.arange(len(days))
    is_step = gain > CLEAR_GAIN and np.median(more[index:]) - np.median(more[:index]) > _LEAST_W
    if not is_step:
        index = _last_nights(more)
    if is_step or index:
        since, rows = date_of(days[index]), np.arange(index, len(days))
    estimate = Estimate(
        robust_mean(more[rows]),
        over_days(lambda drawn: robust_mean(more[rows[drawn]]), len(rows), model),
        is_factor=False,
    )
    least = max(_LEAST_W, _LEAST_OF_NIGHT * float(due.mean()))
    broken = estimate.value > least and estimate.z > Z_BROKEN
    promised_w = float(due[rows].mean())
    return Finding(
        "standing_load", broken, estimate, since if broken else None, promised_w=promised_w
    )


def _last_nights(more: Floats) -> int:
    """The first of a few nights at the end that stand clear of all before; 0 where none do.

    A load that empties the battery leaves no more of them.
    """
    for index in range(_LEAST_NIGHTS, len(more) - 1):
        if more[index:].min() - more[:index].max() > _LEAST_W:
            return index
    return 0


def _nightly(load_w: Floats, promised: Expected, use: Bools) -> tuple[Ints, Floats, Floats]:
    """Nights, and their mean draw as measured and as promised. [W]"""
    # A night belongs to the day on which it ends.
    days, which = np.unique(promised.day[use], return_inverse=True)
    count = np.bincount(which)
    seen = np.bincount(which, weights=load_w[use])
    due = np.bincount(which, weights=promised.loads_w.mean(axis=1)[use])
    kept = count >= _LEAST_HOURS
    return days[kept], seen[kept] / count[kept], due[kept] / count[kept]


def standing_watts(promised: Expected, standing: Finding) -> Floats:
    """A standing load that was found, on the days on which it was there. [W], shape (H,)"""
    if not standing.broken or standing.estimate is None:
        return np.zeros(len(promised))
    since = standing.since
    first = -1 if since is None else (since - dt.date(1970, 1, 1)).days
    return np.where(promised.day >= first, standing.estimate.value, 0.0)


def loads_finding(load_w: Floats, promised: Expected, standing: Finding) -> Finding:
    """What people use, a standing load apart, over the promise."""
    standing_w = standing_watts(promised, standing)
    due_w = promised.loads_w.mean(axis=1)
    use = np.isfinite(load_w)
    _days, which = np.unique(promised.day, return_inverse=True)
    share = np.bincount(which, weights=use * due_w) / np.bincount(which, weights=due_w + 1e-9)
    kept = share > _LEAST_OF_DAY
    if kept.sum() < _LEAST_DAYS:
        return silent("loads", "no_day_loads")
    own = np.bincount(which, weights=np.where(use, load_w - standing_w, 0.0))[kept]
    due = np.bincount(which, weights=np.where(use, due_w, 0.0))[kept]

    def factor(rows: Ints) -> float:
        return float(np.log(max(own[rows].sum() / due[rows].sum(), 1e-3)))

    count = len(own)
    estimate = Estimate(
        float(np.exp(factor(np.arange(count)))), over_days(factor, count, _LOADS_MODEL)
    )
    broken = estimate.value > _LOADS_ABOVE and estimate.z > Z_BROKEN
    return Finding("loads", broken, estimate)


def warmth_finding(
    load_w: Floats, promised: Expected, standing: Finding, temp_c: Floats
) -> Finding:
    """How the loads rise with the outside temperature, beyond the promise.

    Parameters
    ----------
    load_w : ndarray, shape (H,)
        nan where nothing is known. [W]
    promised : Expected
    standing : Finding
        Which is left out.
    temp_c : ndarray, shape (H,)
        Outside, as it was; nan where nothing is known. [deg C]
    """
    if not np.isfinite(temp_c).any():
        return silent("loads_by_temperature", "no_temperature")
    use = np.isfinite(load_w) & np.isfinite(temp_c)
    _days, which = np.unique(promised.day, return_inverse=True)
    count = np.bincount(which, weights=use)
    kept = count >= _LEAST_OF_DAY * 24.0
    if kept.sum() < _LEAST_DAYS:
        return silent("loads_by_temperature", "no_day_loads")

    def daily(values: Floats) -> Floats:
        return np.asarray(
            np.bincount(which, weights=np.where(use, values, 0.0))[kept] / count[kept]
        )

    watts, temp = daily(load_w - standing_watts(promised, standing)), daily(temp_c)
    if np.ptp(temp) < _LEAST_RANGE_K:
        return silent("loads_by_temperature", "steady_temperature")
    due = _slope_in_draws(promised, which, kept)

    def more(rows: Ints) -> float:
        return _slope(temp[rows], watts[rows]) - due

    model = float(np.hypot(_WARMTH_W_K, _WARMTH_SHARE * due))
    spread = over_days(more, len(temp), model)
    estimate = Estimate(more(np.arange(len(temp))), spread, is_factor=False)
    least = max(_LEAST_W_K, _LEAST_OF_SLOPE * due)
    broken = estimate.value > least and estimate.z > Z_BROKEN
    return Finding("loads_by_temperature", broken, estimate, promised_w=due)


def _slope(temp: Floats, watts: Floats) -> float:
    """Rise with temperature, robustly. [W/K]"""
    if np.ptp(temp) < 1.0:
        return float("nan")
    scale = max(1.4826 * float(np.median(np.abs(watts - np.median(watts)))), 1.0)
    found = least_squares(
        lambda x: x[0] + x[1] * (temp - temp.mean()) - watts,
        [float(np.median(watts)), 0.0],
        loss="soft_l1",
        f_scale=scale,
    )
    return float(found.x[1])


def _slope_in_draws(promised: Expected, which: Ints, kept: Bools) -> float:
    """The same of the promise, over all its days and draws. [W/K]"""
    count = np.bincount(which)[kept]

    def daily(values: Floats) -> Floats:
        found = np.zeros((len(kept), values.shape[1]))
        np.add.at(found, which, values)
        return np.asarray(found[kept] / count[:, None])

    temp, watts = daily(promised.temp_c), daily(promised.loads_w)
    apart = temp - temp.mean()
    return float((apart * watts).sum() / max((apart**2).sum(), 1e-9))
