"""Many designs over one trip: sky and loads once per draw, then designs as lanes in blocks.

All designs meet the same draws (common random numbers), so that what differs between them is
the design and not the luck of the draw. Every lane is stepped by itself: the numbers do not
depend on the size of the blocks nor on how many threads work.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import ceil

import numpy as np

from sim.arrays import Bools, Floats, Ints
from sim.job.model.job import Job
from sim.job.model.living import PRIORITIES
from sim.job.model.power import PanelGroup
from sim.ledger.answer import History
from sim.threads import Progress
from sim.trip.bank import bank_of
from sim.trip.prepare import PreparedTrip
from sim.van import chargers
from sim.van.bank.lanes import Bank
from sim.van.bank.loop import UNSERVED_TOLERANCE_W, Offers, run_bank, total_bank

# Rows of a few thousand lanes keep the processor's cache; blocks of so many lane-steps keep
# the memory of a study to some hundred megabytes.
BLOCK_LANES = 4096
BLOCK_LANE_STEPS = 2_000_000
# The same where every step is kept.
CHARGE_LANE_STEPS = 1_000_000
# Controllers are sold in about such steps (common practice, no source).
_CONTROLLER_STEP_A = 10.0


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
    def passed(self) -> Bools:
        """Whether a design had no dark hour in a draw. shape (K, D)"""
        return np.equal(self.dark_hours, 0.0)


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


def run_steps(prepared: PreparedTrip, designs: Sequence[Design]) -> Iterator[History]:
    """Carry designs through all draws of a trip and keep every step.

    Parameters
    ----------
    prepared : PreparedTrip
        H steps, D draws.
    designs : sequence of Design

    Yields
    ------
    History
        Of one design after the other.
    """
    draws, steps = prepared.draws, len(prepared.timeline)
    at_once = max(CHARGE_LANE_STEPS // (draws * steps), 1)
    for first in range(0, len(designs), at_once):
        block = designs[first : first + at_once]
        hours = run_bank(
            _bank(prepared.job, block, np.repeat(np.arange(len(block)), draws)),
            offers_of(prepared, block),
            start_soc=prepared.trip.start_soc,
            step_hours=prepared.timeline.step_hours,
        )
        for lane in range(0, len(block) * draws, draws):
            own = slice(lane, lane + draws)
            yield History(
                hours.soc[:, own],
                hours.unserved_w[:, :, own],
                hours.lowest_soc[own],
                hours.cut_off_h[own],
            )


def _bank(job: Job, designs: Sequence[Design], design: Ints) -> Bank:
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


def dark_steps(prepared: PreparedTrip, start_soc: float, first: int, last: int) -> Bools:
    """Whether something wanted is not served, in each of some steps of a trip.

    Parameters
    ----------
    prepared : PreparedTrip
        D draws.
    start_soc : float
        Charge at the start of the first of these steps, 0 to 1.
    first, last : int
        From this step to before that one.

    Returns
    -------
    ndarray of bool, shape (last - first, D)
    """
    offers = offers_of(prepared, [design_of(prepared.job)])

    def part(values: Floats) -> Floats:
        return values[first:last]

    hours = run_bank(
        bank_of(prepared.job.battery),
        Offers(
            wanted_w=offers.wanted_w[:, first:last],
            sun_w=part(offers.sun_w),
            drive_w=part(offers.drive_w),
            shore_w=part(offers.shore_w),
            charge_allowed=part(offers.charge_allowed),
            usable=None if offers.usable is None else part(offers.usable),
            pace=None if offers.pace is None else part(offers.pace),
            beyond_w=None if offers.beyond_w is None else offers.beyond_w[:, first:last],
            parts={
                step - first: parts for step, parts in offers.parts.items() if first <= step < last
            },
        ),
        start_soc=start_soc,
        step_hours=prepared.timeline.step_hours,
    )
    missing_w: Floats = hours.unserved_w.sum(axis=0)
    return missing_w > UNSERVED_TOLERANCE_W


def offers_of(prepared: PreparedTrip, designs: Sequence[Design]) -> Offers:
    """What is wanted and offered with each design in each draw, lane by lane: K times D of them."""
    design, draw = np.divmod(np.arange(len(designs) * prepared.draws), prepared.draws)
    return _offers(prepared, designs, design, draw)


def sun_of(prepared: PreparedTrip, design: Design) -> tuple[Floats, Floats]:
    """What the panels of a design offer to the battery, and what their controllers' current
    limit loses. [W], shape (H, D)"""
    return _sun(prepared, [design], np.zeros(prepared.draws, dtype=np.int64), slice(None))


def _sun(
    prepared: PreparedTrip,
    designs: Sequence[Design],
    design: Ints,
    draw: Ints | slice,
) -> tuple[Floats, Floats]:
    """Offered by the sun and lost to the controllers, lane by lane. [W], shape (H, L)"""
    volts = prepared.job.battery.charging_v
    shape = len(prepared.timeline), len(design)
    offered, clipped = np.zeros(shape), np.zeros(shape)
    for index, (group, unit) in enumerate(zip(prepared.job.panels, prepared.unit_w, strict=True)):
        counts = np.array([item.panels[index] for item in designs])
        if not counts.any():
            continue
        amps = np.array([controller_amps(group, count, volts) for count in counts.tolist()])
        given, lost = chargers.solar_controller_watts(
            unit[:, draw] * counts[design],
            efficiency=group.controller_efficiency,
            amps=amps[design],
            charging_v=volts,
            standby_watts=group.controller_standby_watts,
        )
        offered += given
        clipped += lost
    return offered, clipped


def _offers(
    prepared: PreparedTrip,
    designs: Sequence[Design],
    design: Ints,
    draw: Ints,
) -> Offers:
    sun_w, _ = _sun(prepared, designs, design, draw)
    wanted, beyond = prepared.wants.wanted_w[:, :, draw], prepared.wants.beyond_w
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
        beyond_w=None if beyond is None else beyond[:, :, draw],
        parts=prepared.parts,
    )


def _spread(values: Floats, draw: Ints) -> Floats:
    """Values of each draw on its lanes; what is the same for all draws stays one column."""
    return values if values.shape[1] == 1 else values[:, draw]


def _potential_wh(prepared: PreparedTrip, designs: Sequence[Design]) -> Floats:
    """What the sun could have given at the terminals. [Wh], shape (K, D)"""
    total = np.zeros((len(designs), prepared.draws))
    for index, (group, unit) in enumerate(zip(prepared.job.panels, prepared.unit_w, strict=True)):
        hours = group.controller_efficiency * prepared.timeline.step_hours
        one = unit.sum(axis=0) * hours
        standby = group.controller_standby_watts / group.controller_efficiency
        for k, design in enumerate(designs):
            count = design.panels[index]
            if count and standby > 0.0:
                total[k] += np.maximum(count * unit - standby, 0.0).sum(axis=0) * hours
            else:
                total[k] += count * one
    return total
