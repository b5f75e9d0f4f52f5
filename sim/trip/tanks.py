"""Water, grey water and propane over a trip: what each draw leaves in the tanks, and when none."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np

from sim.arrays import Bools, Floats, first_hours, quantiles, with_answers
from sim.job.model.job import Job, Service, Trip
from sim.job.model.tanks import Drain
from sim.trip.demand import Demand
from sim.trip.household import Uses, up_share
from sim.trip.timeline import Timeline
from sim.van import tanks
from sim.van.bank.running import Fuel

StoreKind = Literal["fresh", "grey", "propane", "fuel"]
# What is missed by less than this is a rounding: a drop, a milligram.
MISSED_TOLERANCE = 1e-6
# What is asked of all draws, where only their means are kept.
_OF_ALL_DRAWS = ("out_at_h", "use_per_day", "nights_until", "short_h", "missed_per_day")


@dataclass(frozen=True)
class StoreLine:
    """One tank over a trip.

    Attributes
    ----------
    name : str
    kind : str
        "fresh", "propane" and "fuel" run out, "grey" fills up.
    unit : str
        "L" or "kg".
    capacity : float
        What it holds when full.
    levels : Levels
        D draws, or one column where all are alike.
    by_use : dict
        What each use would take, mean over draws. [unit/day]
    step_hours : float
    carries : float
        Fillings by hand, each of the job's `carry_l`, over the trip.
    """

    name: str
    kind: StoreKind
    unit: Literal["L", "kg"]
    capacity: float
    levels: tanks.Levels
    by_use: dict[str, float]
    step_hours: float
    carries: float = 0.0

    @cached_property
    def out_at_h(self) -> Floats:
        """Hours from departure to the first step in which it was empty, or full, and something
        was missed; infinite where that never happens. shape (D,) or (1,)"""
        return first_hours(self.levels.missed > MISSED_TOLERANCE, self.step_hours)

    @property
    def out_share(self) -> float:
        """Share of draws in which it ran out, or filled up."""
        return float(np.isfinite(self.out_at_h).mean())

    @cached_property
    def use_per_day(self) -> Floats:
        """What was wanted of it, or run into it. [unit/day], shape (D,) or (1,)"""
        wanted = (self.levels.moved + self.levels.missed).mean(axis=0)
        return np.asarray(wanted * 24.0 / self.step_hours)

    @cached_property
    def nights_until(self) -> Floats:
        """Nights from departure until it is empty, or full: within the trip as it went, after
        it at the trip's mean use without another service. shape (D,) or (1,)"""
        long_h = len(self.levels.moved) * self.step_hours
        end = self.levels.level[-1]
        left = self.capacity - end if self.kind == "grey" else end
        use = self.use_per_day
        drawn = use > MISSED_TOLERANCE
        more = np.divide(left, use, out=np.full(np.shape(use), np.inf), where=drawn)
        out_at = self.out_at_h
        return np.where(np.isfinite(out_at), out_at / 24.0, long_h / 24.0 + more)

    @cached_property
    def short_h(self) -> Floats:
        """Hours in which something was wanted of it and missed. [h], shape (D,) or (1,)"""
        missed = self.levels.missed > MISSED_TOLERANCE
        return np.asarray(missed.sum(axis=0) * self.step_hours)

    @cached_property
    def level_over_draws(self) -> Floats:
        """Quantiles 10 %, median, 90 % of the level. shape (3, H + 1)"""
        return quantiles(self.levels.level, (0.1, 0.5, 0.9), axis=1)

    @cached_property
    def worst_share(self) -> float:
        """The lowest it was filled in any draw; the fullest for one that fills. Of its capacity"""
        level = self.levels.level
        return float(level.max() if self.kind == "grey" else level.min()) / self.capacity

    @cached_property
    def missed_per_day(self) -> float:
        """What was wanted when it was empty, or found no room, mean over draws. [unit/day]"""
        return float(self.levels.missed.mean() * 24.0 / self.step_hours)

    def lean(self) -> StoreLine:
        """The same without what each draw took in each step: the means, and what was asked of
        all draws."""
        levels = self.levels
        if levels.level.shape[1] == 1:
            return self
        kept = replace(
            levels,
            moved=levels.moved.mean(axis=1, keepdims=True),
            missed=levels.missed.mean(axis=1, keepdims=True),
            renewed=levels.renewed.mean(axis=1, keepdims=True),
        )
        return with_answers(replace(self, levels=kept), self, _OF_ALL_DRAWS)

    def brief(self) -> StoreLine:
        """A lean one with the median level alone, and its quantiles."""
        level = self.levels.level
        if level.shape[1] == 1:
            return self
        brief = replace(
            self, levels=replace(self.levels, level=self.level_over_draws[1][:, None].copy())
        )
        return with_answers(brief, self, (*_OF_ALL_DRAWS, "level_over_draws", "worst_share"))

    def balance_error(self) -> float:
        """Largest of any draw between what came, went and is left, relative to what moved."""
        sign = 1.0 if self.kind == "grey" else -1.0
        change = np.diff(self.levels.level, axis=0)
        # What is renewed at the start of a step is in that step's level already.
        renewed = np.append(self.levels.renewed[1:], np.zeros_like(self.levels.renewed[:1]), axis=0)
        residual = np.abs(change - sign * (self.levels.moved - renewed))
        return float(residual.max() / self.capacity)


def stores_of(job: Job, trip: Trip, timeline: Timeline, wants: Demand) -> tuple[StoreLine, ...]:
    """The levels of every tank of a job over a trip.

    Parameters
    ----------
    job : Job
    trip : Trip
        One of the job's.
    timeline : Timeline
        H steps.
    wants : Demand
        What is used and burnt in each step.

    Returns
    -------
    tuple of StoreLine
        Fresh water, the grey tanks in the order of the job, propane; those that the job has.

    Notes
    -----
    Where a stop offers a service, the tank is kept full, or empty, during the whole stay. At a
    stop that is only passed it is filled, or emptied, on arrival. Cans are carried in evenly
    over the waking hours spent in the parked van, as far as there is room. What is wanted of an
    empty tank is missed: no water runs down the drains then. Loads are worked out before the
    tanks, so pump and cabin do not know of an empty tank: what a heater wants of it counts as
    hours short, and the cabin stays as warm as if the heater had run.
    """
    made: list[StoreLine] = []
    if job.water is not None:
        fresh = _fresh(job, trip, timeline, wants.uses)
        made += [fresh, *_grey(job, trip, timeline, wants.uses, _given_share(fresh.levels))]
    if job.propane is not None:
        made.append(_propane(job, trip, timeline, wants))
    return tuple(made)


def served_at(trip: Trip, timeline: Timeline, service: Service) -> Bools:
    """Steps at whose start a service is at hand: during the stay at a stop that offers it, and on
    arrival, so that a stop without nights counts too. shape (H,)"""
    offers = np.array([service in stop.services for stop in trip.stops])
    served = offers[timeline.stop] & (timeline.driving < 0.5)
    arrives = np.array([x.arrives.timestamp() for x in timeline.stays])
    first = np.searchsorted(timeline.start_utc.astype(np.int64), arrives[offers])
    served[first[first < len(timeline)]] = True
    return np.asarray(served)


def _fresh(job: Job, trip: Trip, timeline: Timeline, uses: Uses) -> StoreLine:
    assert job.water is not None
    water = job.water
    served = served_at(trip, timeline, "water")
    brought = up_share(job.living, timeline) * water.carries_day * water.carry_l
    levels = tanks.emptying(
        uses.water_l[:, None],
        brought[:, None],
        served,
        capacity=water.fresh_l,
        start=water.fresh_l * water.start_pct / 100.0,
    )
    by_hand = float(levels.renewed[~served].sum())
    by_use = {
        "kitchen": uses.kitchen_l,
        "basin": uses.basin_l,
        "shower": uses.shower_l,
        "outdoor shower": uses.outdoor_l,
    }
    return StoreLine(
        name="Fresh water",
        kind="fresh",
        unit="L",
        capacity=water.fresh_l,
        levels=levels,
        by_use=_per_day(by_use, timeline),
        step_hours=timeline.step_hours,
        carries=by_hand / water.carry_l if water.carry_l > 0.0 else 0.0,
    )


def _given_share(fresh: tanks.Levels) -> Floats:
    """Share of the water wanted in each step that the fresh tank had. shape (H,)"""
    moved, wanted = fresh.moved[:, 0], fresh.moved[:, 0] + fresh.missed[:, 0]
    return np.asarray(np.divide(moved, wanted, out=np.ones_like(moved), where=wanted > 0.0))


def _grey(job: Job, trip: Trip, timeline: Timeline, uses: Uses, given: Floats) -> list[StoreLine]:
    assert job.water is not None
    drains: dict[Drain, Floats] = {
        "kitchen": tanks.drained_l(uses.kitchen_l, uses.drunk_l) * given,
        "basin": uses.basin_l * given,
        "shower": uses.shower_l * given,
    }
    served = served_at(trip, timeline, "dump")
    made = []
    for tank in job.water.grey:
        by_use = {drain: drains[drain] for drain in tank.takes}
        made.append(
            StoreLine(
                name=tank.name,
                kind="grey",
                unit="L",
                capacity=tank.capacity_l,
                levels=tanks.filling(
                    sum(by_use.values(), np.zeros(len(timeline)))[:, None],
                    served,
                    capacity=tank.capacity_l,
                    start=tank.capacity_l * tank.start_pct / 100.0,
                ),
                by_use=_per_day({str(k): v for k, v in by_use.items()}, timeline),
                step_hours=timeline.step_hours,
            )
        )
    return made


def _propane(job: Job, trip: Trip, timeline: Timeline, wants: Demand) -> StoreLine:
    assert job.propane is not None
    tank = job.propane
    capacity = tanks.full_kg(tank.tank_l, tank.fill_pct)
    burns = [burn for burn in wants.burns if burn.fuel == "propane"]
    by_use = {burn.name: tanks.burnt_kg(burn.watts, timeline.step_hours) for burn in burns}
    burnt = sum(by_use.values(), np.zeros((len(timeline), 1)))
    return StoreLine(
        name="Propane",
        kind="propane",
        unit="kg",
        capacity=capacity,
        levels=tanks.emptying(
            burnt,
            np.zeros((len(timeline), 1)),
            served_at(trip, timeline, "propane"),
            capacity=capacity,
            start=capacity * tank.start_pct / 100.0,
        ),
        by_use=_per_day(by_use, timeline),
        step_hours=timeline.step_hours,
    )


def fuel_store(name: str, fuel: Fuel, levels: tanks.Levels, step_hours: float) -> StoreLine:
    """The tank of a source that burns fuel, as the battery's run left it.

    Parameters
    ----------
    name : str
        Of the source.
    fuel : Fuel
    levels : Levels
        [L]
    step_hours : float
    """
    wanted = float((levels.moved + levels.missed).mean() * 24.0 / step_hours)
    return StoreLine(
        name=f"{name} fuel",
        kind="fuel",
        unit="L",
        capacity=fuel.tank_l,
        levels=levels,
        by_use={fuel.name: wanted},
        step_hours=step_hours,
    )


def _per_day(by_use: dict[str, Floats], timeline: Timeline) -> dict[str, float]:
    """Mean over steps and draws. [unit/day]"""
    return {name: float(use.mean() * 24.0 / timeline.step_hours) for name, use in by_use.items()}


def engine_fuel_l_day(wants: Demand) -> dict[str, float]:
    """Fuel that heaters take from the vehicle's own tank, mean over draws. [L/day]"""
    return {
        burn.name: float(burn.watts.mean() * 24.0 / tanks.ENGINE_FUEL_WH_L[burn.fuel])
        for burn in wants.burns
        if burn.fuel != "propane"
    }


@dataclass(frozen=True)
class FirstOut:
    """What runs out, or fills up, first in most draws.

    Attributes
    ----------
    store : str or None
        "battery", "fresh", "grey", "propane" or "fuel"; None when nothing runs out in any draw.
    name : str or None
        Of the tank.
    share : float
        Share of draws in which it is the first.
    at_h : float or None
        Hours from departure, median of those draws.
    """

    store: Literal["battery"] | StoreKind | None
    name: str | None
    share: float
    at_h: float | None


def first_out_of(battery_out_h: Floats, lines: tuple[StoreLine, ...]) -> FirstOut:
    """Which store is the first to run out in most draws.

    Parameters
    ----------
    battery_out_h : ndarray, shape (D,)
        Hours from departure until the battery fell to its cut-off, infinite if never.
    lines : tuple of StoreLine
    """
    draws = len(battery_out_h)
    out_at = np.array(
        [battery_out_h, *(np.broadcast_to(line.out_at_h, (draws,)) for line in lines)]
    )
    winner = np.where(np.isfinite(out_at.min(axis=0)), out_at.argmin(axis=0), -1)
    counts = np.bincount(winner[winner >= 0], minlength=len(out_at))
    if not counts.any():
        return FirstOut(None, None, 0.0, None)
    most = int(counts.argmax())
    at_h = float(np.median(out_at[most, winner == most]))
    share = float(counts[most] / draws)
    if most == 0:
        return FirstOut("battery", "Battery", share, at_h)
    return FirstOut(lines[most - 1].kind, lines[most - 1].name, share, at_h)
