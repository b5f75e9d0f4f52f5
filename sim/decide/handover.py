"""What whoever lives in the van must know: facts for the sheet that stays in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sim.arrays import Floats, Ints
from sim.decide.habits import Habit, habits_of
from sim.decide.living_rules import (
    HELD_SHARE,
    NIGHTS,
    DullDay,
    driving_hours_of,
    dull_day,
    longest_stop,
    night_steps,
    stays_at,
)
from sim.decide.winter_list import WinterStep, winter_steps
from sim.decide.wiring.ticks import burns_fuel
from sim.job.model.changes import with_values
from sim.job.model.fields import bounds
from sim.job.model.job import Job, Trip
from sim.job.model.living import PRIORITIES, Priority
from sim.job.model.tanks import Water
from sim.ledger.lines import LoadLine
from sim.ledger.results import Result, TripResult
from sim.ledger.simulate import simulate
from sim.ledger.stretches import Stretch, missed_in
from sim.threads import Progress, run_tasks
from sim.trip.lines import OWN_DRAW
from sim.trip.prepare import PreparedTrip, Skies, prepare_trip
from sim.trip.tanks import StoreLine, stores_of
from sim.van.bank.totals import UNSERVED_TOLERANCE_W

SeasonName = Literal["winter", "summer"]
# Charge at sunset, as a monitor shows it.
LEVELS = tuple(level / 100 for level in range(100, 0, -10))
MOST_HABITS = 5
# Charge is given in steps of 5 %, as a monitor is read.
_STEPS = 20
# A tank is said to last what it lasts in nine simulated trips of ten.
_HEAVY_USE = 0.9
_MOST_NIGHTS = 200.0
_MIDWINTER, _MIDSUMMER = 1, 7


@dataclass(frozen=True)
class Season:
    """A night parked without a plug, in winter or in summer.

    Attributes
    ----------
    name : str
    trip, place : str
        The trip nearest to the season, and where it stays longest.
    month : int
        Of the trip if it is in that half of the year, else the middle of the season.
    draws : int
    years : bool
        Whether the draws are the years of a weather file.
    lasting, essentials : tuple of int
        For each of `LEVELS` at sunset, draws in which nothing, and in which nothing essential,
        goes dark until the next noon.
    nights : tuple of float or None
        For each of `NIGHTS`: charge at sunset from which nothing goes dark until the noon after
        so many nights, in nine draws of ten, in steps of 5 %; None when a full battery is not
        enough. 0 to 1
    dull : DullDay
    tanks : tuple of float or None
        Nights that each tank of the trip lasts from full, or from empty for one that fills; None
        where nothing uses it.
    """

    name: SeasonName
    trip: str
    place: str
    month: int
    draws: int
    years: bool
    lasting: tuple[int, ...]
    essentials: tuple[int, ...]
    nights: tuple[float | None, ...]
    dull: DullDay
    tanks: tuple[float | None, ...]


@dataclass(frozen=True)
class ShedGroup:
    """What is switched off together.

    Attributes
    ----------
    priority : str
        "held" of what waits for a charge of its own.
    floor_soc, back_soc : float
        Charge below which it is off, and at which it comes back. 0 to 1
    names : tuple of str
        Its appliances that take electricity, medical devices first, then the hungriest.
    cold_soc : float
        What the floor rises to where the battery is coldest, in nine draws of ten of each trip;
        0 to 1.
    """

    priority: Priority | Literal["held"]
    floor_soc: float
    back_soc: float
    names: tuple[str, ...]
    cold_soc: float


@dataclass(frozen=True)
class HandoverSheet:
    """Everything the sheet says.

    Attributes
    ----------
    job : Job
    seasons : (Season, Season)
        Winter and summer.
    shed : tuple of ShedGroup
        In the order in which they go off.
    habits : tuple of Habit
    tanks : tuple of StoreLine
        The tanks, in the order of `Season.tanks`.
    winter : tuple of WinterStep
    frozen : tuple of (trip, place)
        Stays on which water inside freezes in more than one simulated trip in ten.
    alarms : tuple of str
        "smoke", "carbon monoxide", "propane": those that must be, or are, aboard.
    burns : bool
        Whether anything aboard burns fuel.
    """

    job: Job
    seasons: tuple[Season, Season]
    shed: tuple[ShedGroup, ...]
    habits: tuple[Habit, ...]
    tanks: tuple[StoreLine, ...]
    winter: tuple[WinterStep, ...]
    frozen: tuple[tuple[str, str], ...]
    alarms: tuple[str, ...]
    burns: bool


def handover(job: Job, *, jobs: int = 1, progress: Progress | None = None) -> HandoverSheet:
    """Work out the sheet that stays in the van.

    Parameters
    ----------
    job : Job
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
    skies = Skies()
    result = simulate(job, lean=True, skies=skies, progress=lambda done: tell(0.5 * done))
    names: tuple[SeasonName, SeasonName] = ("winter", "summer")
    winter, summer = run_tasks(
        lambda name, _: _season(job, result, name, skies),
        names,
        jobs=jobs,
        progress=lambda done: tell(0.5 + 0.4 * done),
    )
    sheet = HandoverSheet(
        job=job,
        seasons=(winter, summer),
        shed=tuple(_shed(job, result)),
        habits=habits_of(job, MOST_HABITS, skies),
        tanks=result.trips[0].stores,
        winter=tuple(winter_steps(job)),
        frozen=tuple(
            dict.fromkeys(
                (trip.name, trip.timeline.stays[stop].label)
                for trip in result.trips
                for stop in trip.frost.winterise
            )
        ),
        alarms=_alarms(job),
        burns=burns_fuel(job),
    )
    tell(1.0)
    return sheet


def trip_of(job: Job, name: SeasonName) -> tuple[int, int]:
    """The trip nearest to a season, by its number, and the month to look at."""
    found = []
    for index, trip in enumerate(job.trips):
        south = longest_stop(trip).place.latitude < 0.0
        middle = _MIDWINTER if (name == "winter") != south else _MIDSUMMER
        apart = _months_apart(trip.depart.month, middle)
        found.append((apart, index, middle))
    apart, index, middle = min(found)
    # A trip of the other half of the year says nothing of this season but where it goes.
    return index, job.trips[index].depart.month if apart < 3 else middle


def _months_apart(one: int, other: int) -> int:
    apart = abs(one - other)
    return min(apart, 12 - apart)


def _season(job: Job, result: Result, name: SeasonName, skies: Skies) -> Season:
    index, month = trip_of(job, name)
    trip, done = job.trips[index], result.trips[index]
    stop = longest_stop(trip)
    ways = (month, 0.0), (month, driving_hours_of(stop))
    parked, driven = stays_at(job, trip, stop, ways, skies)
    lasting, essentials = _lasting(parked)
    return Season(
        name=name,
        trip=trip.name,
        place=stop.place.name,
        month=month,
        draws=parked.draws,
        years=bool(parked.sky.weather.years),
        lasting=tuple(int(lasting[round(level * _STEPS)][0]) for level in LEVELS),
        essentials=tuple(int(essentials[round(level * _STEPS)][0]) for level in LEVELS),
        nights=tuple(_needed(lasting[:, night] / parked.draws) for night in range(len(NIGHTS))),
        dull=dull_day(parked, driven, month, job.generator),
        tanks=_tanks(job, trip, done.stores, skies),
    )


def _tanks(
    job: Job, trip: Trip, lines: Sequence[StoreLine], skies: Skies
) -> tuple[float | None, ...]:
    """Nights that each tank lasts from full, or from empty for one that fills."""
    use = {line.name: _use(line) for line in lines}
    if job.water is not None:
        # Grey water comes of a fresh tank that somebody fills again in time.
        most = bounds(Water, "fresh_l")[1]
        plenty = with_values(job, {"water": with_values(job.water, {"fresh_l": most})})
        prepared = prepare_trip(job, trip, skies=skies)
        filled = stores_of(plenty, trip, prepared.timeline, prepared.wants)
        use |= {line.name: _use(line) for line in filled if line.kind == "grey"}
    return tuple(_nights(line.capacity, use[line.name]) for line in lines)


def _lasting(parked: PreparedTrip) -> tuple[Ints, Ints]:
    """For each twentieth of charge at sunset, and until the noon after each of `NIGHTS`, draws in
    which everything, and in which the essentials, last. shape (21, nights)"""
    sunset, _ = night_steps(parked)
    # The stay begins at noon.
    per_day = round(24.0 / parked.timeline.step_hours)
    first = (sunset // per_day + 1) * per_day
    noons = [min(first + night * per_day, len(parked.timeline)) for night in range(len(NIGHTS))]
    everything, essentials = [], []
    ends = [noon - sunset for noon in noons]
    socs = tuple(step / _STEPS for step in range(_STEPS + 1))
    for missed in missed_in([Stretch(parked, sunset, noons[-1], socs)]):
        everything.append([_lit(missed.unserved_w[:, :end].sum(axis=0)) for end in ends])
        essential = missed.unserved_w[PRIORITIES.index("essential")]
        essentials.append([_lit(essential[:end]) for end in ends])
    return np.array(everything), np.array(essentials)


def _needed(share: Floats) -> float | None:
    """The lowest charge from which on a night holds. `share` (21,)"""
    held = share >= HELD_SHARE
    if not held[-1]:
        return None
    # More charge never holds less; below the last that does not, nothing is looked for.
    missed = np.flatnonzero(~held)
    return (int(missed[-1]) + 1 if missed.size else 0) / _STEPS


def _lit(unserved_w: Floats) -> int:
    """Draws in which nothing is missed. `unserved_w` (H, D)"""
    return int((~(unserved_w > UNSERVED_TOLERANCE_W).any(axis=0)).sum())


def _use(line: StoreLine) -> float:
    """What goes out of a tank, or into it, on a day of the heaviest use in ten."""
    return float(np.quantile(line.use_per_day, _HEAVY_USE))


def _nights(capacity: float, use: float) -> float | None:
    return None if use <= 0.0 or capacity / use > _MOST_NIGHTS else capacity / use


def _shed(job: Job, result: Result) -> list[ShedGroup]:
    """The groups in the order in which they go off, each with what it feeds on any trip."""
    bank = job.battery
    levels = bank.cutoff_soc, bank.reserve_soc, bank.extras_soc
    floors = dict(zip(PRIORITIES, levels, strict=True))
    usable = min(float(np.quantile(trip.least_usable, 1.0 - HELD_SHARE)) for trip in result.trips)
    found = []

    def add(what: Priority | Literal["held"], floor: float, names: tuple[str, ...]) -> None:
        # What cold keeps locked up is counted from full.
        cold = 1.0 - (1.0 - floor) * usable
        found.append(ShedGroup(what, floor, floor + bank.reconnect_above_soc, names, cold))

    for soc in sorted(job.held_socs, reverse=True):
        if names := _names(result.trips, soc):
            add("held", soc, names)
    for priority in reversed(PRIORITIES):
        names = _names(result.trips, priority)
        if names or priority == "essential":
            add(priority, floors[priority], names)
    return found


def _group(load: LoadLine) -> Priority | float:
    """With what a load goes off: the charge it is held to, else its priority."""
    held = None if load.appliance is None else load.appliance.above_soc
    return load.priority if held is None else held


def _names(trips: Sequence[TripResult], group: Priority | float) -> tuple[str, ...]:
    """What a group feeds on any trip, medical devices first, then the hungriest."""
    wanted: dict[str, tuple[bool, float]] = {}
    for trip in trips:
        for load in trip.loads:
            a_day = float(load.wanted_wh.mean()) / trip.days_long
            if _group(load) == group and load.supply not in OWN_DRAW and a_day > 0.0:
                is_medical = load.appliance is not None and load.appliance.medical
                most = max((is_medical, a_day), wanted.get(load.name, (False, 0.0)))
                wanted[load.name] = most
    return tuple(sorted(wanted, key=lambda name: wanted[name], reverse=True))


def _alarms(job: Job) -> tuple[str, ...]:
    ticked = job.wiring
    alarms = []
    if ticked is not None and ticked.smoke_alarm:
        alarms.append("smoke")
    if burns_fuel(job) or job.generator is not None or (ticked is not None and ticked.co_alarm):
        alarms.append("carbon monoxide")
    if job.propane is not None:
        alarms.append("propane")
    return tuple(alarms)
