"""Many designs over one trip: sky and loads once per draw, then designs as lanes in blocks.

All designs meet the same draws (common random numbers), so that what differs between them is
the design and not the luck of the draw. Every lane is stepped by itself: the numbers do not
depend on the size of the blocks nor on how many threads work.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from itertools import pairwise
from math import ceil, inf
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from sim.job.model import PRIORITIES, Job, PanelGroup, Trip
from sim.job.timeline import Timeline, build_timeline
from sim.ledger.bank import BankWeather, bank_of, bank_weather
from sim.ledger.demand import Demand, demand
from sim.ledger.simulate import Progress
from sim.ledger.skies import track_of, trip_weather
from sim.ledger.supply import Supply, supply
from sim.sky import sun as sky
from sim.sky.sun import Sun
from sim.sky.track import Floats, Track, Weather
from sim.van.bank_step import Bank
from sim.van.battery import Offers, run_bank, total_bank

# Rows of a few thousand lanes keep the processor's cache; blocks of so many lane-steps keep
# the memory of a study to some hundred megabytes.
BLOCK_LANES = 4096
BLOCK_LANE_STEPS = 2_000_000
# The same where every step is kept.
CHARGE_LANE_STEPS = 1_000_000
# Controllers are sold in about such steps (common practice, no source).
_CONTROLLER_STEP_A = 10.0

_T = TypeVar("_T")
_R = TypeVar("_R")


@dataclass(frozen=True)
class Design:
    """What differs between the lanes of a study.

    Attributes
    ----------
    panels : tuple of int
        Panels of each group, in the order of the job.
    batteries : int
        Units of the bank.
    """

    panels: tuple[int, ...]
    batteries: int


@dataclass(frozen=True)
class TripSky:
    """Sun and weather over a track: what no design changes."""

    track: Track
    sun: Sun
    weather: Weather


@dataclass(frozen=True)
class PreparedTrip:
    """A trip with all that its designs share.

    Attributes
    ----------
    job : Job
    trip : Trip
    timeline : Timeline
        H steps.
    sky : TripSky
        D draws.
    wants : Demand
    unit_w : tuple of ndarray, shape (H, D)
        Power of one panel of each group, before its controller. [W]
    drive_w : ndarray, shape (H, 1)
        Offered by the engine. [W]
    bank : BankWeather
        What its temperature does to the bank; the heating is that of one unit.
    """

    job: Job
    trip: Trip
    timeline: Timeline
    sky: TripSky
    wants: Demand
    unit_w: tuple[Floats, ...]
    drive_w: Floats
    bank: BankWeather

    @property
    def draws(self) -> int:
        """Number of draws, D."""
        return self.sky.weather.draws

    @property
    def days_long(self) -> float:
        """Length of the trip. [days]"""
        return len(self.timeline) * self.timeline.step_hours / 24.0


@dataclass(frozen=True)
class Outcomes:
    """What K designs did in D draws of a trip. Arrays of shape (K, D).

    Attributes
    ----------
    designs : tuple of Design
    lowest_soc : ndarray
        0 to 1.
    dark_hours : ndarray
        [h]
    unharvested_wh : ndarray
        Sun the panels could have given and nothing took. [Wh]
    unserved_wh : ndarray
        Wanted and not given. [Wh]
    days_long : float
    """

    designs: tuple[Design, ...]
    lowest_soc: Floats
    dark_hours: Floats
    unharvested_wh: Floats
    unserved_wh: Floats
    days_long: float

    @property
    def passed(self) -> NDArray[np.bool_]:
        """Whether a design had no dark hour in a draw. shape (K, D)"""
        return np.equal(self.dark_hours, 0.0)


class Skies:
    """Skies that were computed already: changes of a job that leave the way alone share one."""

    def __init__(self) -> None:
        self._known: dict[tuple[object, ...], TripSky] = {}
        self._lock = threading.Lock()

    def over(self, job: Job, trip: Trip, timeline: Timeline) -> TripSky:
        """Sun and weather of a trip."""
        track = track_of(timeline)
        settings = job.settings
        names = [stop.weather or settings.weather for stop in trip.stops]
        sources = list(dict.fromkeys(names))
        source = np.array([sources.index(name) for name in names])[timeline.stop]
        key = (
            (settings.draws, settings.seed, settings.prudent, track.step_minutes),
            tuple(sources),
            *(a.tobytes() for a in (source, track.start_utc, track.latitude, track.longitude)),
        )
        with self._lock:
            if key not in self._known:
                sun = sky.position(track)
                weather = trip_weather(job, trip, timeline, track, sun)
                self._known[key] = TripSky(track, sun, weather)
            return self._known[key]


def prepare_trip(job: Job, trip: Trip, *, skies: Skies | None = None) -> PreparedTrip:
    """Work out once what all designs of a trip share.

    Parameters
    ----------
    job : Job
    trip : Trip
        One of the job's, or like one.
    skies : Skies, optional
        Where the sky may be found, or kept for the next.

    Raises
    ------
    WeatherError
        A weather file cannot be used, or a place has no climate.
    """
    timeline = build_timeline(job, trip)
    above = (skies or Skies()).over(job, trip, timeline)
    weather, sun = above.weather, above.sun
    wants = demand(job, timeline, weather, sun)

    def offered(*groups: PanelGroup) -> Supply:
        return supply(job.model_copy(update={"panels": groups}), timeline, weather, sun)

    one_unit = job.model_copy(update={"battery": job.battery.model_copy(update={"count": 1})})
    return PreparedTrip(
        job=job,
        trip=trip,
        timeline=timeline,
        sky=above,
        wants=wants,
        unit_w=tuple(offered(_one_panel(group)).sun_w for group in job.panels),
        drive_w=offered().drive_w,
        bank=bank_weather(one_unit, timeline, weather.temp_air, sun, wants.cabin_c),
    )


def _one_panel(group: PanelGroup) -> PanelGroup:
    """A single panel of a group, before any controller."""
    ideal = {"count": 1, "controller_efficiency": 1.0, "controller_amps": inf}
    return group.model_copy(update=ideal)


def design_of(job: Job) -> Design:
    """The design a job describes."""
    return Design(tuple(group.count for group in job.panels), job.battery.count)


def controller_amps(group: PanelGroup, count: int, charging_v: float) -> float:
    """Rating of a group's controller: the job's, or one large enough for more panels. [A]"""
    if count <= group.count:
        return group.controller_amps
    full = ceil(count * group.watts / charging_v / _CONTROLLER_STEP_A) * _CONTROLLER_STEP_A
    return max(group.controller_amps, full)


def run_designs(
    prepared: PreparedTrip,
    designs: Sequence[Design],
    *,
    block_lane_steps: int = BLOCK_LANE_STEPS,
    progress: Progress | None = None,
) -> Outcomes:
    """Carry all designs through all draws of a trip.

    Parameters
    ----------
    prepared : PreparedTrip
    designs : sequence of Design
        K of them.
    block_lane_steps : int
        Largest number of lanes times steps done at once; bounds the memory.
    progress : callable, optional
        Called with the share of the lanes done, 0 to 1.

    Returns
    -------
    Outcomes
    """
    draws, steps = prepared.draws, len(prepared.timeline)
    lanes = len(designs) * draws
    blocks = ceil(lanes / max(min(BLOCK_LANES, block_lane_steps // steps), 1))
    edges = np.linspace(0, lanes, blocks + 1).round().astype(np.int64)
    lowest, dark, sun, unserved = (np.empty(lanes) for _ in range(4))
    for first, last in pairwise(edges.tolist()):
        design, draw = np.divmod(np.arange(first, last), draws)
        done = total_bank(
            _bank(prepared.job, designs, design),
            _offers(prepared, designs, design, draw),
            start_soc=prepared.trip.start_soc,
            step_hours=prepared.timeline.step_hours,
        )
        lowest[first:last], dark[first:last] = done.lowest_soc, done.dark_hours
        sun[first:last] = done.sun_wh
        unserved[first:last] = done.unserved_wh[0] + done.unserved_wh[1] + done.unserved_wh[2]
        if progress is not None:
            progress(last / lanes)
    shape = (len(designs), draws)
    return Outcomes(
        designs=tuple(designs),
        lowest_soc=lowest.reshape(shape),
        dark_hours=dark.reshape(shape),
        unharvested_wh=np.maximum(_potential_wh(prepared, designs) - sun.reshape(shape), 0.0),
        unserved_wh=unserved.reshape(shape),
        days_long=prepared.days_long,
    )


def charge_quantiles(
    prepared: PreparedTrip, designs: Sequence[Design], quantiles: Sequence[float]
) -> Floats:
    """Quantiles over the draws of the charge, step by step.

    Parameters
    ----------
    prepared : PreparedTrip
        H steps, D draws.
    designs : sequence of Design
        K of them.
    quantiles : sequence of float
        Q of them, 0 to 1.

    Returns
    -------
    ndarray, shape (K, Q, H + 1)
        At the start of each step and at the end of the last, 0 to 1.
    """
    draws, steps = prepared.draws, len(prepared.timeline)
    found = np.empty((len(designs), len(quantiles), steps + 1))
    at_once = max(CHARGE_LANE_STEPS // (draws * steps), 1)
    for first in range(0, len(designs), at_once):
        block = designs[first : first + at_once]
        design, draw = np.divmod(np.arange(len(block) * draws), draws)
        hours = run_bank(
            _bank(prepared.job, block, design),
            _offers(prepared, block, design, draw),
            start_soc=prepared.trip.start_soc,
            step_hours=prepared.timeline.step_hours,
        )
        soc = hours.soc.reshape(steps + 1, len(block), draws)
        spread = np.quantile(soc, quantiles, axis=2)
        found[first : first + at_once] = spread.transpose(2, 0, 1)
    return found


def _bank(job: Job, designs: Sequence[Design], design: NDArray[np.int64]) -> Bank:
    counts = np.array([item.batteries for item in designs])[design]
    kinds, which = np.unique(counts, return_inverse=True)
    banks = [
        bank_of(job.battery.model_copy(update={"count": int(count)})) for count in kinds.tolist()
    ]

    def spread(name: str) -> Floats:
        return np.array([getattr(bank, name) for bank in banks])[which]

    return replace(
        banks[0],
        capacity_wh=spread("capacity_wh"),
        charge_limit_w=spread("charge_limit_w"),
        discharge_limit_w=spread("discharge_limit_w"),
        resistance_per_w=spread("resistance_per_w"),
    )


def _offers(
    prepared: PreparedTrip,
    designs: Sequence[Design],
    design: NDArray[np.int64],
    draw: NDArray[np.int64],
) -> Offers:
    job = prepared.job
    sun_w = np.zeros((len(prepared.timeline), len(draw)))
    for index, (group, unit) in enumerate(zip(job.panels, prepared.unit_w, strict=True)):
        counts = [item.panels[index] for item in designs]
        volts = job.battery.charging_v
        limits = np.array([controller_amps(group, count, volts) * volts for count in counts])
        watts = unit[:, draw]
        watts *= group.controller_efficiency * np.array(counts, dtype=np.float64)[design]
        sun_w += np.minimum(watts, limits[design], out=watts)
    wanted = prepared.wants.wanted_w[:, :, draw]
    if prepared.bank.heating_w is not None:
        units = np.array([item.batteries for item in designs], dtype=np.float64)
        wanted[PRIORITIES.index("essential")] += prepared.bank.heating_w[:, draw] * units[design]
    return Offers(
        wanted_w=wanted,
        sun_w=sun_w,
        drive_w=prepared.drive_w,
        shore_w=_spread(prepared.wants.plug_offer_w, draw),
        charge_allowed=_spread(prepared.bank.charge_allowed, draw),
        usable=None if prepared.bank.usable is None else _spread(prepared.bank.usable, draw),
        pace=None if prepared.bank.pace is None else _spread(prepared.bank.pace, draw),
    )


def _spread(values: Floats, draw: NDArray[np.int64]) -> Floats:
    """Values of each draw on its lanes; what is the same for all draws stays one column."""
    return values if values.shape[1] == 1 else values[:, draw]


def _potential_wh(prepared: PreparedTrip, designs: Sequence[Design]) -> Floats:
    """What the sun could have given at the terminals. [Wh], shape (K, D)"""
    total = np.zeros((len(designs), prepared.draws))
    for index, (group, unit) in enumerate(zip(prepared.job.panels, prepared.unit_w, strict=True)):
        counts = np.array([item.panels[index] for item in designs], dtype=np.float64)
        one = unit.sum(axis=0) * (group.controller_efficiency * prepared.timeline.step_hours)
        total += counts[:, None] * one
    return total


def run_tasks(
    work: Callable[[_T, Progress], _R],
    tasks: Sequence[_T],
    *,
    jobs: int,
    progress: Progress | None = None,
) -> list[_R]:
    """Do independent tasks side by side; results in the order of the tasks.

    Parameters
    ----------
    work : callable
        Takes a task and a function to be told the share of it that is done.
    tasks : sequence
    jobs : int
        Threads, at least 1. The array library lets go of Python's lock while it computes.
    progress : callable, optional
        Called with the share of all tasks done, 0 to 1.
    """
    done = [0.0] * len(tasks)
    lock = threading.Lock()

    def one(index: int) -> _R:
        def tell(share: float) -> None:
            with lock:
                done[index] = share
                if progress is not None:
                    progress(sum(done) / len(done))

        result = work(tasks[index], tell)
        tell(1.0)
        return result

    if jobs == 1 or len(tasks) == 1:
        return [one(index) for index in range(len(tasks))]
    pool = ThreadPoolExecutor(min(jobs, len(tasks)))
    try:
        return list(pool.map(one, range(len(tasks))))
    finally:
        pool.shutdown(cancel_futures=True)
