"""The sun: what the panels bring over what was promised, in weather that nobody wrote down.

The promise's draws are the prior. In each of them the same hours of the same days are looked at
as in the log, against a cloudless sky; the yield is the factor that lays the log's days over the
draw's, and the factors of all draws are what the log leaves open. The bright end of the days,
which hangs least on the weather, counts as much as the draws agree on it. With a weather file that
has the log's own days each day is held against itself.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import least_squares

from sim.arrays import Bools, Floats, Ints
from sim.fit.changes import CLEAR_GAIN, LEAST_SIDE, best_split, ceiling_falls
from sim.fit.estimate import Z80, Z_BROKEN, Z_SEARCHED, Estimate, over_days
from sim.fit.expected import Expected
from sim.fit.findings import Finding, Part, date_of, silent

# What clear-sky models, ratings of panels and clean glass leave open, as standard deviations of
# logarithms: of a whole day, and of one part of the day against another (common practice, no
# source: clear skies are known to some 5 %, panels to 3 %).
MODEL, MODEL_PART = 0.06, 0.06
# The same where the sun is worked out from the battery and loads that nobody measured.
MODEL_BLIND, MODEL_PART_BLIND = 0.1, 0.15
# So many spreads between two sides of a day before the one has fallen below the other: a mild month
# after a bright one comes oftener than a weak month.
_Z_FALL = 3.3
# A loss worth a word.
_BROKEN_BELOW, _PART_BELOW = 0.88, 0.8
_QUANTILES = np.linspace(0.25, 0.95, 15)
# Doubt of the draws' cloudy days, as a logarithm for each step down from the brightest.
_SHAPE = 0.3
_LEAST_DAYS = 6
# Bright days: all but so many of the dullest. A fall of a part of the day, as a logarithm.
_BRIGHT, _FALL = 0.4, 0.2
# A fall of the bright days from which it may be one, as a logarithm.
_CEILING = 0.25
# A yield of no more is none: of it a logarithm is taken.
_NOTHING = 0.005
# How a part does beside another, and since when.
Beside = tuple[Estimate, dt.date | None]
# So large a share of the days must be measured for what is said of all.
_MOSTLY = 0.6
# Hours from the sun's noon.
PARTS: dict[Part, tuple[float, float]] = {
    "morning": (-9.0, -1.5),
    "midday": (-1.5, 1.5),
    "afternoon": (1.5, 9.0),
}
# An hour tells nothing with less of the best hour's clear sun; a day or part of it, with less of
# its own.
_DIM, _LEAST_SHARE = 0.12, 0.07
_LEAST_SHARE_BLIND = 0.2


@dataclass(frozen=True)
class SunDays:
    """Days of a log, in the order of time.

    Attributes
    ----------
    day : ndarray of int, shape (N,)
    ratio : ndarray, shape (N,)
        Measured, over what a cloudless sky would have given in the same hours; nan on a day on
        which the battery was too full to take it, which are the brightest.
    drawn : ndarray, shape (N, D)
        The same in the draws; of a day without `ratio` in all its hours.
    filed : ndarray, shape (N,), or None
        The same in the weather of a file.
    least, drawn_all : ndarray, shape (N,) and (N, D)
        As `ratio` and `drawn` over all known hours, those of a full battery too: at least so much
        came.
    """

    day: Ints
    ratio: Floats
    drawn: Floats
    filed: Floats | None
    least: Floats
    drawn_all: Floats

    def at(self, rows: Bools | Ints) -> SunDays:
        """Some of the days."""
        filed = None if self.filed is None else self.filed[rows]
        return SunDays(
            self.day[rows],
            self.ratio[rows],
            self.drawn[rows],
            filed,
            self.least[rows],
            self.drawn_all[rows],
        )

    @property
    def at_least(self) -> SunDays:
        """The same days with what came at least."""
        return replace(self, ratio=self.least, drawn=self.drawn_all)

    @property
    def measured(self) -> SunDays:
        """Those on which the battery took what came."""
        return self.at(np.isfinite(self.ratio))


@dataclass(frozen=True)
class SunHours:
    """Which hours tell something of the sun.

    Attributes
    ----------
    calm : ndarray of bool, shape (H,)
        Those that count at all.
    full : ndarray of bool, shape (H,)
        Those in which the battery may not have taken all.
    is_measured : bool
        Whether the log has the sun, and it need not be worked out from the battery and the loads.
    """

    calm: Bools
    full: Bools
    is_measured: bool

    @property
    def least_share(self) -> float:
        """Of a day's clear sun, what must have been taken to tell anything."""
        return _LEAST_SHARE if self.is_measured else _LEAST_SHARE_BLIND

    @property
    def model(self) -> float:
        """What no number of days takes away; see `MODEL`."""
        return MODEL if self.is_measured else MODEL_BLIND

    @property
    def model_part(self) -> float:
        """The same of one part of the day against another."""
        return MODEL_PART if self.is_measured else MODEL_PART_BLIND


def sun_days(solar_w: Floats, promised: Expected, hours: SunHours) -> SunDays:
    """The days of a log against a cloudless sky.

    Parameters
    ----------
    solar_w : ndarray, shape (H,)
        [W]
    promised : Expected
    hours : SunHours
    """
    known = hours.calm & np.isfinite(solar_w) & (promised.clear_w > _DIM * promised.clear_w.max())
    days, which = np.unique(promised.day, return_inverse=True)

    def summed(values: Floats, use: Bools) -> Floats:
        if values.ndim == 1:
            weights = np.where(use, values, 0.0)
            return np.asarray(np.bincount(which, weights=weights, minlength=len(days)))
        found = np.zeros((len(days), values.shape[1]))
        np.add.at(found, which[use], values[use])
        return found

    taken = known & ~hours.full
    whole = np.bincount(which, weights=promised.clear_w, minlength=len(days))
    clear, clear_known = summed(promised.clear_w, taken), summed(promised.clear_w, known)
    enough = clear > hours.least_share * np.maximum(whole, 1e-9)
    kept = enough | (clear_known > 0.5 * np.maximum(whole, 1e-9))
    clear, clear_known = np.maximum(clear, 1e-9), np.maximum(clear_known, 1e-9)
    ratio = np.where(enough, summed(np.nan_to_num(solar_w), taken) / clear, np.nan)
    own = summed(promised.sun_w, taken) / clear[:, None]
    all_hours = summed(promised.sun_w, known) / clear_known[:, None]
    least = summed(np.nan_to_num(solar_w), known) / clear_known
    filed = None if promised.file_w is None else (summed(promised.file_w, taken) / clear)[kept]
    drawn = np.where(enough[:, None], own, all_hours)
    return SunDays(days[kept], ratio[kept], drawn[kept], filed, least[kept], all_hours[kept])


def yield_of(days: SunDays, model: float) -> Estimate | None:
    """The factor over the promise; None for too few days."""
    if len(days.measured.day) < _LEAST_DAYS:
        return None
    if days.filed is not None:
        return _against_file(days.measured, model)
    # Days that were held back are the brightest: they lie at the top, and what lies there is
    # not looked at.
    own = np.sort(np.where(np.isfinite(days.ratio), days.ratio, np.inf))
    place = _QUANTILES * (len(own) - 1)
    seen = np.flatnonzero(np.isfinite(own[np.ceil(place).astype(int)]))
    if not len(seen):
        return None
    own = np.interp(place[seen], np.arange(len(own)), np.where(np.isfinite(own), own, 0.0))
    drawn = np.quantile(days.drawn, _QUANTILES[seen], axis=0)
    gaps = np.log(np.maximum(own, 1e-4))[:, None] - np.log(np.maximum(drawn, 1e-4))
    # What the draws agree on counts most, and the bright days, whose sun hangs least on the shape
    # that the draws give to cloudy weather.
    shape = _SHAPE * (_QUANTILES[-1] - _QUANTILES[seen])
    weight = 1.0 / (gaps.var(axis=1) + shape**2 + 0.02**2)
    weight /= weight.sum()
    factors = weight @ gaps
    spread = float(np.sqrt(_spread(factors) ** 2 + (weight @ shape) ** 2 + model**2))
    return Estimate(float(np.exp(np.median(factors))), spread)


def _against_file(days: SunDays, model: float) -> Estimate:
    """The factor against the days' own weather: robust, for a file's place is not the van's."""
    assert days.filed is not None
    known, seen = np.maximum(days.filed, 0.02), days.ratio

    def fitted(rows: Ints) -> float:
        found = least_squares(
            lambda f: f[0] * known[rows] - seen[rows], [1.0], loss="soft_l1", f_scale=0.1
        )
        return float(np.log(max(found.x[0], 1e-4)))

    count = len(seen)
    return Estimate(float(np.exp(fitted(np.arange(count)))), over_days(fitted, count, model))


def _spread(values: Floats) -> float:
    low, high = np.quantile(values, [0.1, 0.9])
    return float(high - low) / (2.0 * Z80)


def change_of(days: SunDays) -> int | None:
    """The first day of another yield, None where the weather alone may look so."""
    all_days, days = days.day, days.measured
    if len(days.day) < max(2 * LEAST_SIDE + 2, _MOSTLY * len(all_days)):
        return None
    base = days.drawn.mean(axis=1) if days.filed is None else np.maximum(days.filed, 0.02)
    own = np.log(np.maximum(days.ratio, 0.01) / base)
    drawn = np.log(np.maximum(days.drawn, 0.01) / days.drawn.mean(axis=1, keepdims=True))
    by_chance = [best_split(drawn[:, n])[1] for n in _each(drawn)]
    limit = CLEAR_GAIN if days.filed is not None else max(np.quantile(by_chance, 0.97), CLEAR_GAIN)
    index, gain = best_split(own)
    if gain <= limit:
        falls, places = ceiling_falls(np.column_stack([own, drawn]))
        if falls[0] <= max(np.quantile(falls[1:], 0.97), _CEILING):
            return None
        index = int(places[0])
    return int(np.searchsorted(all_days, days.day[index]))


def sun_finding(days: SunDays, model: float) -> Finding:
    """What the panels bring, all hours together."""
    whole = yield_of(days, model)
    if whole is None:
        return silent("sun", "few_sunny_hours")
    estimate, least, since, fell = whole, Z_BROKEN, None, False
    change = change_of(days)
    if change is not None:
        rows = np.arange(len(days.day))
        sides = days.at(rows < change), days.at(rows >= change)
        before, after = (yield_of(side, model) for side in sides)
        if before is not None and after is not None and after.value < 0.88 * before.value:
            # A day that was looked for is found by chance more easily than a given one.
            estimate, least, since = after, Z_SEARCHED, date_of(days.day[change])
            fell = _has_fallen(*(yield_of(side, 0.0) for side in sides))
    # Panels that brought what was promised are their own measure: the model's doubts are in both.
    broken = estimate.value < _BROKEN_BELOW and (estimate.z < -least or fell)
    return Finding(
        "sun",
        broken,
        estimate,
        since if broken else None,
        months=_by_month(days, model),
    )


def _has_fallen(before: Estimate | None, after: Estimate | None) -> bool:
    """Whether a yield is surely below an earlier one, by their spreads without the model's."""
    assert before is not None
    assert after is not None
    spread = float(np.hypot(before.spread, after.spread))
    return float(np.log(after.value / before.value)) < -_Z_FALL * spread


def _by_month(days: SunDays, model: float) -> tuple[tuple[int, Estimate], ...]:
    month = np.array([date_of(day).month for day in days.day])
    found = []
    for number in dict.fromkeys(month.tolist()):
        estimate = yield_of(days.at(month == number), model)
        if estimate is not None:
            found.append((int(number), estimate))
    return tuple(found)


def part_findings(solar_w: Floats, promised: Expected, hours: SunHours) -> list[Finding]:
    """The parts of the day against one another: a shadow takes its hours, a string all of them."""
    by_part = {part: _part_days(part, solar_w, promised, hours) for part in PARTS}
    if not any((days.ratio > _NOTHING).any() for days in by_part.values()):
        # Of panels that gave nothing no hour is weaker than another.
        return [Finding("sun_by_hour", None, because="few_sunny_hours")]
    found = []
    for part, days in by_part.items():
        others = [x for name, x in by_part.items() if name != part]
        rivals = [
            beside
            for other in others
            if (beside := _beside(days, other, hours.model_part)) is not None
        ]
        if not rivals:
            found.append(Finding("sun_by_hour", None, part=part, because="few_sunny_hours"))
            continue
        if part == "midday" and not hours.is_measured:
            # The loads of noon, which nobody measured, look like a shadow.
            continue
        # It is this part that is low only if it is so against all others that are known.
        estimate, since = max(rivals, key=lambda item: item[0].value)
        low = _is_low(estimate)
        found.append(Finding("sun_by_hour", low, estimate, since if low else None, part=part))
    return found


def in_part(promised: Expected, part: Part) -> Bools:
    """Hours of a part of the day."""
    begin, end = PARTS[part]
    return np.asarray((promised.solar_hour >= begin) & (promised.solar_hour < end))


def _part_days(part: Part, solar_w: Floats, promised: Expected, hours: SunHours) -> SunDays:
    inside = in_part(promised, part)
    alone = replace(promised, clear_w=np.where(inside, promised.clear_w, 0.0))
    return sun_days(solar_w, alone, replace(hours, calm=hours.calm & inside))


def _beside(days: SunDays, other: SunDays, model: float) -> Beside | None:
    """How one part of the day does beside another on the same bright days, and since when."""
    shared = np.isin(days.measured.day, other.measured.day).sum()
    if shared >= max(_MOSTLY * len(days.measured.day), _LEAST_DAYS):
        return _compared(days, other.measured, model)
    # Where the battery is mostly full by then, the days that are left are those on which this part
    # was dull: no measure for it. What came at least may still be more than this part gave.
    found = _compared(days, other.at_least, model)
    return found if found is not None and _is_low(found[0]) else None


def _is_low(estimate: Estimate) -> bool:
    return estimate.value < _PART_BELOW and estimate.z < -Z_BROKEN


def _compared(days: SunDays, other: SunDays, model: float) -> Beside | None:
    both, a, b = np.intersect1d(days.day, other.day, return_indices=True)
    if len(both) < _LEAST_DAYS or np.isfinite(days.ratio[a]).sum() < _LEAST_DAYS:
        return None
    days, other = days.at(a), other.at(b)
    drawn = np.log(np.maximum(days.drawn, _NOTHING) / np.maximum(other.drawn, _NOTHING))
    own = np.log(np.maximum(days.ratio, _NOTHING) / np.maximum(other.ratio, _NOTHING))
    # Of a part in which the battery was full nothing is known: as the draws have it.
    own = np.where(np.isfinite(own), own, np.median(drawn, axis=1))
    # On bright days both parts see the sun itself.
    bright = np.flatnonzero(other.ratio >= np.quantile(other.ratio, _BRIGHT))
    drawn_bright = np.array([_on_bright(drawn[:, n], other.drawn[:, n]) for n in _each(drawn)])
    since, rows = None, bright
    change, gain = best_split(own)
    by_chance = [best_split(drawn[:, n])[1] for n in _each(drawn)]
    after, before = bright[bright >= change], bright[bright < change]
    if (
        gain > max(np.quantile(by_chance, 0.97), CLEAR_GAIN)
        and min(len(before), len(after)) >= LEAST_SIDE
        and np.median(own[before]) - np.median(own[after]) > _FALL
    ):
        since, rows = date_of(both[change]), after
    gaps = np.median(own[rows]) - drawn_bright
    scatter = _spread(own[rows]) / np.sqrt(len(rows))
    spread = float(np.sqrt(_spread(gaps) ** 2 + scatter**2 + model**2))
    return Estimate(float(np.exp(np.median(gaps))), spread), since


def _each(drawn: Floats) -> range:
    return range(drawn.shape[1])


def _on_bright(own: Floats, other: Floats) -> float:
    return float(np.median(own[other >= np.quantile(other, _BRIGHT)]))
