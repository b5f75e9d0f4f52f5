"""A log against the promise: read together, held against one another, judged."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

import numpy as np

from sim.arrays import Bools, Floats
from sim.errors import Fault, LogError
from sim.fit.bank import bank_findings
from sim.fit.charging import charging_finding
from sim.fit.clock import Clock, clock_of
from sim.fit.estimate import Estimate
from sim.fit.expected import Expected, expected
from sim.fit.findings import Finding, broken_first, silent
from sim.fit.loads import load_findings, load_watts, standing_watts
from sim.fit.measured import Measured, emptied, held_back, measured, outside_c, quiet
from sim.fit.stood import LEAST_DAYS, trips_of_log, with_start
from sim.fit.sun import SunHours, part_findings, sun_days, sun_finding
from sim.job.model.job import Job
from sim.log.reading import Log
from sim.threads import Progress

# Doubt of a clock that is seen from the light, and from the battery's flows hour by hour. [h]
_CLOCK_H, _FLOW_CLOCK_H = 0.2, 0.4


@dataclass(frozen=True)
class Fit:
    """What a log says of a job.

    Attributes
    ----------
    job : Job
    log : Log
    clock : Clock
    promised : Expected
        H hours: those of the job's trips that the log covers.
    seen : Measured
        The log on the same hours.
    load_w, sun_w : ndarray, shape (H,)
        Loads and sun, measured or worked out, nan where neither. [W]
    open_hours : ndarray of bool, shape (H,)
        Hours in which the battery took all of the sun, without engine and plug.
    findings : tuple of Finding
        Broken promises first.
    """

    job: Job
    log: Log
    clock: Clock
    promised: Expected
    seen: Measured
    load_w: Floats
    sun_w: Floats
    open_hours: Bools
    findings: tuple[Finding, ...]

    @property
    def broken(self) -> tuple[Finding, ...]:
        """Promises that were not kept."""
        return tuple(x for x in self.findings if x.broken)

    @property
    def days(self) -> int:
        """Days of which the log says something."""
        return len(np.unique(self.promised.day[self.seen.known]))


def fit(job: Job, log: Log, progress: Progress | None = None) -> Fit:
    """Hold a log against a job.

    Parameters
    ----------
    job : Job
    log : Log
    progress : callable, optional
        Called with the share of the work done, 0 to 1.

    Raises
    ------
    JobError
        The job does not say where the van stood.
    LogError
        The log and the trips have too little time in common.
    WeatherError
        A weather file cannot be used, or a place has no climate.
    """
    tell = progress or (lambda done: None)
    trips = trips_of_log(job, log.at[0], log.at[-1])
    first_soc = log.values.get("soc", np.array([np.nan]))
    first_soc = first_soc[np.isfinite(first_soc)]
    if job.log is not None and len(first_soc):
        trips = (with_start(trips[0], float(first_soc[0])),)
    promised = expected(job, trips, lambda done: tell(0.6 * done))
    clock = clock_of(log, promised, job.battery)
    seen = measured(log, clock.utc, promised, job.battery)
    known = np.flatnonzero(seen.known)
    if len(known) < 24 * LEAST_DAYS:
        rule = (
            "shares less than two days with the trips of the job; check its dates, or say where "
            "the van stood with [[log.stays]] (place, arrives)"
        )
        raise LogError(Fault(rule, file=log.file))
    span = slice(int(known[0]), int(known[-1]) + 1)
    promised = promised.at(span)
    seen = measured(log, clock.utc, promised, job.battery)
    tell(0.7)
    return _judged(job, log, clock, promised, seen)


def _judged(job: Job, log: Log, clock: Clock, promised: Expected, seen: Measured) -> Fit:
    calm, full = quiet(promised), held_back(seen, job.battery, promised.clear_w)
    on = calm & ~emptied(seen, job.battery)
    load_w = load_watts(seen, promised, on)
    standing, loads, warmth = load_findings(load_w, promised, job.living, outside_c(seen, promised))
    sun_w = _sun_watts(seen, promised, on, standing, loads)
    by_sun = _sun_findings(
        job,
        seen,
        promised,
        sun_w,
        SunHours(calm, full, seen.has_solar or bool(np.isfinite(seen.load_w).any())),
    )
    findings = [*by_sun, standing, loads, warmth]
    others_w = _others_w(promised, load_w, sun_w, seen, standing)
    findings += [
        charging_finding("engine", seen, promised, job.battery, others_w),
        charging_finding("plug", seen, promised, job.battery, others_w),
        *bank_findings(seen, promised, job.battery),
        _clock_finding(clock, _CLOCK_H if seen.has_solar else _FLOW_CLOCK_H),
    ]
    told = calm & ~full, broken_first(findings)
    return Fit(job, log, clock, promised, seen, load_w, sun_w, *told)


def _sun_watts(
    seen: Measured, promised: Expected, on: Bools, standing: Finding, loads: Finding
) -> Floats:
    """What the panels gave: measured, or what came into the battery and what the loads took. [W]

    `on` are the hours without engine and plug in which the loads were on.
    """
    if seen.has_solar:
        return seen.solar_w
    if np.isfinite(seen.load_w).any():
        return np.where(on, seen.battery_w + seen.load_w, np.nan)
    return np.where(on, seen.battery_w + _due_loads_w(promised, standing, loads), np.nan)


def _due_loads_w(promised: Expected, standing: Finding, loads: Finding | None) -> Floats:
    """What the loads take by all that is known of them. [W], shape (H,)"""
    due = promised.loads_w.mean(axis=1)
    if loads is not None and loads.estimate is not None:
        due = due * loads.estimate.value
    return np.asarray(due + standing_watts(promised, standing))


def _others_w(
    promised: Expected, load_w: Floats, sun_w: Floats, seen: Measured, standing: Finding
) -> Floats:
    """What the loads take less what the sun brings, in hours of engine and plug too. [W]"""
    due = _due_loads_w(promised, standing, None)
    loads = np.where(np.isfinite(seen.load_w), seen.load_w, due)
    sun = seen.solar_w
    if not seen.has_solar:
        # As bright as the promise has it: on the road there is no telling.
        sun = promised.sun_w.mean(axis=1)
    return np.asarray(loads - np.nan_to_num(sun, nan=0.0))


def _sun_findings(
    job: Job, seen: Measured, promised: Expected, sun_w: Floats, hours: SunHours
) -> list[Finding]:
    if not job.panels or promised.clear_w.max() <= 0.0:
        return [silent("sun", "no_panels"), silent("sun_by_hour", "no_panels")]
    if not np.isfinite(seen.soc_at).any() and not np.isfinite(seen.volts).any():
        return [silent("sun", "no_charge"), silent("sun_by_hour", "no_charge")]
    days = sun_days(sun_w, promised, hours)
    whole = sun_finding(days, hours.model)
    parts = part_findings(sun_w, promised, hours)
    low = [part for part in parts if part.broken]
    if low:
        worst = min(low, key=lambda x: x.estimate.z if x.estimate else 0.0)
        if worst.since is not None and whole.since is None:
            first_day = (worst.since - dt.date(1970, 1, 1)).days
            whole = sun_finding(days.at(days.day >= first_day), hours.model)
        if worst.since is None and whole.broken:
            worst = replace(worst, since=whole.since)
        return [whole, worst]
    known = [part for part in parts if part.broken is False]
    if not known:
        return [whole, silent("sun_by_hour", "few_sunny_hours")]
    return [whole, min(known, key=lambda x: x.estimate.value if x.estimate else 1.0)]


def _clock_finding(clock: Clock, spread_h: float) -> Finding:
    if clock.shift_h is None:
        return silent("clock", "no_sun_seen")
    wrong = clock.is_off or (clock.is_utc and not clock.said)
    estimate = Estimate(clock.shift_h, spread_h, is_factor=False)
    return Finding("clock", wrong, estimate, in_utc=clock.is_utc)
