"""Living rules for the handover: what the charge at sunset means, what a dull day costs, which
habits save most."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sim.arrays import Floats
from sim.decide.habits import Habit, habits_of
from sim.job.model.changes import with_values
from sim.job.model.job import Job, Stop, Trip
from sim.job.model.living import PRIORITIES
from sim.job.model.power import Generator
from sim.ledger.stretches import Stretch, missed_in
from sim.threads import Progress, run_tasks
from sim.trip.designs import design_of, offers_of
from sim.trip.prepare import PreparedTrip, Skies, prepare_trips
from sim.van import chargers
from sim.van.bank.sources import DRIVE, SUN, of_kind
from sim.van.generator import generator_watts

NIGHTS = (1, 2, 3)
# A rule must hold in such a share of the draws.
HELD_SHARE = 0.9
DULL_SHARE = 0.1
# Charge goes in steps of 5 %, as a battery monitor is read.
_STEPS = 20
_QUARTERS = (5, 10, 15, 20)
# Driving that a rule "with driving" means where the trip plans none at its stops.
DRIVING_HOURS = 1.0
_NOON = "12:00"
_MONTHS = range(1, 13)
# The hours about noon in which the sun is worth waiting for.
_MIDDAY_HOURS = 4.0


@dataclass(frozen=True)
class NightRule:
    """The charge at sunset from which some more nights hold, in one month.

    Attributes
    ----------
    month : int
        1 to 12.
    parked, driving : tuple of float or None
        For each of `NIGHTS`: charge from which nothing goes dark until the sunrise after that
        night, in nine draws of ten; without driving, and with `driving_hours` a day. None
        when a full battery is not enough. 0 to 1
    """

    month: int
    parked: tuple[float | None, ...]
    driving: tuple[float | None, ...]


@dataclass(frozen=True)
class DullDay:
    """What a dull day costs in one month: nine days of ten are brighter.

    Attributes
    ----------
    month : int
    missing_wh : float
        Wanted on a mean day beyond what the sun gives on a dull one. [Wh]
    drive_hours, plug_hours : float or None
        That bring it back; None without such a charger. [h]
    sun_hours : float or None
        Of the midday sun of a bright day, which one day in ten betters; None without panels. [h]
    generator_hours : float or None
        None without a generator. [h]
    """

    month: int
    missing_wh: float
    drive_hours: float | None
    plug_hours: float | None
    sun_hours: float | None = None
    generator_hours: float | None = None


@dataclass(frozen=True)
class StayRules:
    """Rules for a van that stays at one place.

    Attributes
    ----------
    trip, place : str
        The place is where the trip stays longest.
    month : int
        In which the trip starts.
    driving_hours : float
        What "with driving" means. [h/day]
    nights : tuple of NightRule
        Twelve months.
    dull_days : tuple of DullDay
        Twelve months.
    """

    trip: str
    place: str
    month: int
    driving_hours: float
    nights: tuple[NightRule, ...]
    dull_days: tuple[DullDay, ...]


@dataclass(frozen=True)
class LivingRules:
    """What the customer should know.

    Attributes
    ----------
    title : str
    units : str
        In which the customer reads.
    stays : tuple of StayRules
        One for each trip.
    habits : tuple of Habit
        The three that save most.
    """

    title: str
    units: Literal["us", "metric"]
    stays: tuple[StayRules, ...]
    habits: tuple[Habit, ...]


def living_rules(
    job: Job, *, skies: Skies | None = None, jobs: int = 1, progress: Progress | None = None
) -> LivingRules:
    """Work out the rules to live by.

    Parameters
    ----------
    job : Job
    skies : Skies, optional
        Where sky and loads of its trips may be found that were worked out before.
    jobs : int
        Threads; the numbers do not depend on it.
    progress : callable, optional
        Called with the share of the work done, 0 to 1.

    Raises
    ------
    WeatherError
        A weather file cannot be used, or a place has no climate.
    """
    tell = progress or (lambda done: None)
    found = run_tasks(
        lambda trip, tell: _year(job, trip),
        job.trips,
        jobs=jobs,
        progress=lambda done: tell(0.9 * done),
    )
    stays = []
    for trip, year in zip(job.trips, found, strict=True):
        stop = longest_stop(trip)
        stays.append(
            StayRules(
                trip=trip.name,
                place=stop.place.name,
                month=trip.depart.month,
                driving_hours=driving_hours_of(stop),
                nights=tuple(night for night, _ in year),
                dull_days=tuple(dull for _, dull in year),
            )
        )
    habits = habits_of(job, skies=skies)
    tell(1.0)
    return LivingRules(job.title, job.settings.units, tuple(stays), habits)


def longest_stop(trip: Trip) -> Stop:
    """Where a trip stays longest."""
    return max(trip.stops, key=lambda stop: stop.nights)


def driving_hours_of(stop: Stop) -> float:
    """What "with driving" means at a stop. [h/day]"""
    return stop.local_drive_hours or DRIVING_HOURS


def _year(job: Job, trip: Trip) -> list[tuple[NightRule, DullDay]]:
    """The rules of twelve months."""
    stop = longest_stop(trip)
    hours = 0.0, driving_hours_of(stop)
    stays = stays_at(job, trip, stop, [(month, x) for month in _MONTHS for x in hours], Skies())
    nights, parked, driven = _needed(stays), stays[::2], stays[1::2]
    return [
        (
            NightRule(month, nights[2 * k], nights[2 * k + 1]),
            dull_day(parked[k], driven[k], month, job.generator),
        )
        for k, month in enumerate(_MONTHS)
    ]


def stays_at(
    job: Job, trip: Trip, stop: Stop, ways: Sequence[tuple[int, float]], skies: Skies
) -> list[PreparedTrip]:
    """A van that stays at a stop from noon in the middle of a month, for some days; of each way
    the month, and the hours that it drives a day.

    Its generator is off: one that starts at a low charge makes that last longer than a high one.
    """
    job = with_values(job, {"generator": None})
    update = {
        "nights": NIGHTS[-1] + 1,
        "drive_hours": 0.0,
        "leave_at": None,
        "plug_in": "never",
    }
    stay = with_values(trip, {"start": None, "leave_at": _NOON})
    stays = [
        with_values(
            stay,
            {
                "depart": dt.date(trip.depart.year, month, 15),
                "stops": (with_values(stop, update | {"local_drive_hours": hours}),),
            },
        )
        for month, hours in ways
    ]
    return prepare_trips([(job, one) for one in stays], skies=skies)


def _needed(stays: Sequence[PreparedTrip]) -> list[tuple[float | None, ...]]:
    """For each stay and each of `NIGHTS`, the lowest charge at sunset that holds it."""
    nights = [night_steps(stay) for stay in stays]
    # Stays of one length may lie side by side.
    longest = max(sunrises[-1] - sunset for sunset, sunrises in nights)
    shares: list[dict[int, Floats]] = [{} for _ in stays]

    def find(levels: Sequence[Iterable[int]]) -> None:
        """Find out in which share of the draws each night of each stay holds, at some levels."""
        stretches = [
            Stretch(stay, sunset, min(sunset + longest, len(stay.timeline)), _charges(own))
            for stay, (sunset, _), own in zip(stays, nights, levels, strict=True)
        ]
        for missed in missed_in(stretches):
            sunset, sunrises = nights[missed.stretch]
            dark = missed.is_dark
            shares[missed.stretch][round(missed.start_soc * _STEPS)] = np.array(
                [1.0 - dark[: end - sunset].any(axis=0).mean() for end in sunrises]
            )

    # All charges side by side would take longer than the quarters, and then those between two.
    find([_QUARTERS] * len(stays))
    between = [[_between(share, n, _QUARTERS[0]) for n in range(len(NIGHTS))] for share in shares]
    find([{x for ends in own if ends for x in range(ends[0] + 1, ends[1])} for own in between])
    found = []
    for share in shares:
        ends = [_between(share, night, 1) for night in range(len(NIGHTS))]
        found.append(tuple(None if one is None else one[1] / _STEPS for one in ends))
    return found


def _charges(levels: Iterable[int]) -> tuple[float, ...]:
    return tuple(level / _STEPS for level in sorted(levels))


def _between(share: Mapping[int, Floats], night: int, apart: int) -> tuple[int, int] | None:
    """Two levels so far apart, of which the upper holds a night and the lower does not; None where
    a full battery does not hold it. `share` is the draws' by level, for each of `NIGHTS`."""

    def holds(level: int) -> bool:
        return bool(share[level][night] >= HELD_SHARE)

    if not holds(_STEPS):
        return None
    # More charge never holds less: halve the range.
    low, high = 0, _STEPS
    while high - low > apart:
        middle = (low + high) // 2
        low, high = (low, middle) if holds(middle) else (middle, high)
    return low, high


def night_steps(prepared: PreparedTrip) -> tuple[int, list[int]]:
    """First step after the first sunset, and after each of the sunrises that follow."""
    is_up = prepared.sky.sun.apparent_zenith < 90.0
    change = np.diff(is_up.astype(np.int8))
    sunsets = np.flatnonzero(change < 0) + 1
    per_hour = round(1.0 / prepared.timeline.step_hours)
    # Under a sun that does not set, or does not rise, nights are those of the clock.
    sunset = int(sunsets[0]) if sunsets.size else 6 * per_hour
    risen = [int(step) + 1 for step in np.flatnonzero(change > 0) if step >= sunset]
    if len(risen) < len(NIGHTS):
        risen = [sunset + (14 + 24 * night) * per_hour for night in range(len(NIGHTS))]
    return sunset, risen[: len(NIGHTS)]


def dull_day(
    parked: PreparedTrip, driven: PreparedTrip, month: int, generator: Generator | None
) -> DullDay:
    """What a dull day costs, from a stay without driving and the same with it."""
    job, hours = parked.job, parked.timeline.step_hours
    offers = offers_of(parked, [design_of(job)])
    day = slice(0, round(24.0 / hours))
    wanted_w = offers.wanted_w[: len(PRIORITIES), day].sum(axis=0)
    offered_w = of_kind(offers.sources, SUN)[day]
    # A battery that is too cold to be charged leaves the sun to what runs just then.
    is_cold = offers.charge_allowed[day] <= 0.0
    offered_w = np.where(is_cold, np.minimum(offered_w, wanted_w), offered_w)
    sun = np.quantile(offered_w.sum(axis=0) * hours, DULL_SHARE)
    wanted = wanted_w.sum(axis=0).mean() * hours
    missing = max(float(wanted - sun), 0.0)
    on_road = driven.timeline.driving > 0.0
    engine_w = of_kind(driven.others, DRIVE)[on_road].mean(axis=1)
    engine = float((engine_w / driven.timeline.driving[on_road]).mean())
    return DullDay(
        month=month,
        missing_wh=missing,
        drive_hours=_hours(missing, engine, job),
        plug_hours=_hours(missing, _plug_watts(job), job),
        sun_hours=_hours(missing, _midday_watts(offered_w, hours), job),
        generator_hours=_hours(missing, _generator_watts(generator, parked), job),
    )


def _midday_watts(offered_w: Floats, step_hours: float) -> float:
    """Sun offered in the brightest hours of a bright day, which one in ten betters. [W]"""
    steps = max(round(_MIDDAY_HOURS / step_hours), 1)
    brightest = np.sort(offered_w, axis=0)[-steps:].mean(axis=0)
    return float(np.quantile(brightest, HELD_SHARE))


def _hours(missing_wh: float, watts: float, job: Job) -> float | None:
    return missing_wh / (watts * job.battery.charge_efficiency) if watts > 0.0 else None


def _generator_watts(generator: Generator | None, parked: PreparedTrip) -> float:
    """What a generator's charger gives to the battery at the stop. [W]"""
    if generator is None:
        return 0.0
    return float(
        generator_watts(
            parked.sky.track.altitude_m[:1],
            rated_watts=generator.watts,
            charger_amps=generator.charger_amps,
            charging_v=parked.job.battery.charging_v,
            charger_efficiency=generator.charger_efficiency,
        )[0]
    )


def _plug_watts(job: Job) -> float:
    """What the chargers on the plug offer to the battery while nothing else draws. [W]"""
    total = 0.0
    for plug in job.shore:
        _, offered = chargers.plug_watts(
            np.zeros(1),
            np.ones(1),
            inlet_watts=plug.inlet_volts * plug.inlet_amps,
            charger_watts=plug.charger_amps * job.battery.charging_v,
            charger_efficiency=plug.charger_efficiency,
        )
        total += float(offered[0])
    return total
