"""Many designs over one trip: sky and loads once per draw, then designs as lanes in blocks.

All designs meet the same draws (common random numbers), so that what differs between them is
the design and not the luck of the draw. Every lane is stepped by itself: the numbers do not
depend on the size of the blocks nor on how many threads work.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from itertools import chain, pairwise
from math import ceil
from typing import Any

import numpy as np

from sim.arrays import Bools, Floats
from sim.job.model.job import Job, Trip
from sim.job.model.living import PRIORITIES
from sim.job.rules.trips import trip_days
from sim.ledger.answer import Answer, answers_from_totals
from sim.ledger.behind import Totals
from sim.ledger.promise import MEDICAL_FROM_WH, Lack, cold_lacks, store_lacks
from sim.threads import Progress, run_tasks
from sim.trip.bank import bank_of
from sim.trip.designs import Design, banks_of, design_of, offers_of, potential_wh
from sim.trip.prepare import PreparedTrip, Skies, prepare_trips
from sim.trip.tanks import stores_of
from sim.van.bank.beside import all_beside, beside, lanes_beside
from sim.van.bank.lanes import Bank
from sim.van.bank.offers import Offers
from sim.van.bank.totals import BankTotals, total_bank

# A step costs much before its first lane, so many lanes share it; blocks of so many lane-steps
# keep the memory of a study to some hundred megabytes.
BLOCK_LANES = 16384
BLOCK_LANE_STEPS = 2_000_000
# Fewer lanes take as long as these.
WORTH_A_THREAD = 1000


@dataclass(frozen=True)
class Outcomes:
    """What K designs did in D draws of a trip. Arrays of shape (K, D) unless it says otherwise.

    Attributes
    ----------
    designs : tuple of Design
    lowest_soc : ndarray
        0 to 1.
    dark_hours : ndarray
        [h]
    essential_dark_hours : ndarray
        Those in which something essential was off. [h]
    unharvested_wh : ndarray
        Sun the panels could have given and nothing took. [Wh]
    unserved_wh : ndarray, shape (3, K, D)
        Wanted and not given: essential, comfort, extra. [Wh]
    days_long : float
    lacks : tuple of Lack
        What else may fall behind, whatever the panels and the battery: tanks, hot water, warmth.
    years : bool
        Whether the draws are the years of a weather file.
    medical : tuple of (name, row of unserved_wh)
        Medical devices aboard, each with what its priority goes without.
    """

    designs: tuple[Design, ...]
    lowest_soc: Floats
    dark_hours: Floats
    essential_dark_hours: Floats
    unharvested_wh: Floats
    unserved_wh: Floats
    days_long: float
    lacks: tuple[Lack, ...] = ()
    years: bool = False
    medical: tuple[tuple[str, int], ...] = ()

    @property
    def passed(self) -> Bools:
        """Whether a design had no dark hour in a draw. shape (K, D)"""
        return np.equal(self.dark_hours, 0.0)

    def answers(self, trip: str, bounds: tuple[float, float]) -> tuple[Answer, ...]:
        """The answer of each design, in their order; see `answers_from_totals`."""
        totals = Totals(
            dark_hours=self.dark_hours,
            essential_dark_hours=self.essential_dark_hours,
            lowest=self.lowest_soc,
            unharvested_wh_per_day=self.unharvested_wh.mean(axis=1) / self.days_long,
            lacks=[self.lacks] * len(self.designs),
            unserved_wh=self.unserved_wh,
        )
        return tuple(
            replace(answer, years=self.years, **self._ill(k))
            for k, answer in enumerate(answers_from_totals(trip, totals, bounds))
        )

    def _ill(self, k: int) -> dict[str, Any]:
        """Medical devices that may go without with a design, and in how many draws."""
        counts = {
            name: int((self.unserved_wh[row, k] > MEDICAL_FROM_WH).sum())
            for name, row in self.medical
        }
        dark = tuple(name for name, count in counts.items() if count)
        return {"medical": dark, "medical_dark": max(counts.values(), default=0)}


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
    done = []
    for first, last in pairwise(edges.tolist()):
        design, draw = np.divmod(np.arange(first, last), draws)
        done.append(
            total_bank(
                banks_of(prepared.job, designs, design),
                offers_of(prepared, designs, design, draw),
                start_soc=prepared.trip.start_soc,
                step_hours=prepared.timeline.step_hours,
            )
        )
        if progress is not None:
            progress(last / lanes)
    return _outcomes(prepared, designs, done)


def run_trips(prepared: Sequence[PreparedTrip], designs: Sequence[Design]) -> list[Outcomes]:
    """The same for several trips of a job, in their order; those that are alike are lanes of one
    run of the battery."""
    bank, found = bank_of(prepared[0].job.battery, prepared[0].job.held_socs), {}
    numbers = [np.divmod(np.arange(len(designs) * x.draws), x.draws) for x in prepared]
    offers = [offers_of(x, designs, *lanes) for x, lanes in zip(prepared, numbers, strict=True)]
    for group in alike(prepared, offers, [bank] * len(prepared)):
        design, draws = numbers[group[0]][0], prepared[group[0]].draws
        at_once = max(BLOCK_LANES // len(design), 1)
        for block in (group[k : k + at_once] for k in range(0, len(group), at_once)):
            first = prepared[block[0]]
            done = total_bank(
                banks_of(first.job, designs, np.tile(design, len(block))),
                lanes_beside([offers[k] for k in block], draws),
                start_soc=first.trip.start_soc,
                step_hours=first.timeline.step_hours,
            )
            for k, own in zip(block, done.apart(len(block)), strict=True):
                found[k] = _outcomes(prepared[k], designs, [own])
    return [found[k] for k in range(len(prepared))]


def _outcomes(
    prepared: PreparedTrip, designs: Sequence[Design], done: Sequence[BankTotals]
) -> Outcomes:
    """What came of the lanes of some designs, which lie in the order of designs, then draws."""

    def by_design(name: str) -> Any:
        values = np.concatenate([getattr(block, name) for block in done], axis=-1)
        return values.reshape(*values.shape[:-1], len(designs), prepared.draws)

    potential = potential_wh(prepared, designs)
    return Outcomes(
        designs=tuple(designs),
        lowest_soc=by_design("lowest_soc"),
        dark_hours=by_design("dark_hours"),
        essential_dark_hours=by_design("essential_dark_hours"),
        unharvested_wh=np.maximum(potential - by_design("sun_wh"), 0.0),
        # What is held to a charge waits for it, and goes without nothing.
        unserved_wh=by_design("unserved_wh")[: len(PRIORITIES)],
        days_long=prepared.days_long,
        lacks=lacks_beside(prepared),
        years=bool(prepared.sky.weather.years),
        medical=tuple(
            (item.name, PRIORITIES.index(item.priority))
            for item in prepared.job.appliances
            if item.medical and item.count > 0
        ),
    )


def run_jobs(
    changed: Sequence[Job],
    trip: int,
    *,
    skies: Skies,
    jobs: int = 1,
    progress: Progress | None = None,
) -> list[Outcomes]:
    """Carry one trip of many jobs, each with its own design, through all draws.

    Parameters
    ----------
    changed : sequence of Job
        A job and changes of it.
    trip : int
        Which of their trips, from 0.
    skies : Skies
        Where skies, loads and panels are found, or kept for the next.
    jobs : int
        Threads; the numbers do not depend on it.
    progress : callable, optional
        Called with the share of the work done, 0 to 1.

    Returns
    -------
    list of Outcomes
        Of one design each, in the order of the jobs.

    Notes
    -----
    Jobs that differ in arrays alone are lanes of one run of the battery; what came of a job
    before is not run again.
    """

    def made(places: Sequence[int]) -> list[Outcomes]:
        new = [changed[place] for place in places]
        return _run_jobs(new, trip, skies, jobs, progress)

    return skies.known.get_all([("outcomes", trip, _acting(job)) for job in changed], made)


def _acting(job: Job) -> tuple[Hashable, ...]:
    """All of a job that acts on its trips: what might be changed of it does not."""
    return tuple(part for name, part in job if name not in ("levers", "designs"))


def _run_jobs(
    changed: Sequence[Job], trip: int, skies: Skies, jobs: int, progress: Progress | None
) -> list[Outcomes]:
    found: list[Outcomes] = []
    tell = progress or (lambda done: None)
    while len(found) < len(changed):
        # So many at once: what is prepared for each is large.
        first = changed[len(found)]
        room = max(int(BLOCK_LANE_STEPS // lane_steps(first, first.trips[trip])), 1)
        block = [(job, job.trips[trip]) for job in changed[len(found) : len(found) + room]]
        found += _side_by_side(prepare_trips(block, skies=skies, jobs=jobs), jobs)
        tell(len(found) / len(changed))
    return found


def lane_steps(job: Job, trip: Trip) -> float:
    """How much work a trip of a job is: its steps times its draws."""
    return trip_days(trip) * 24.0 * 60.0 / job.settings.step_minutes * job.settings.first_draws


def _side_by_side(prepared: Sequence[PreparedTrip], jobs: int) -> list[Outcomes]:
    """Trips of jobs, each with its own design, of which those that are alike run together."""
    offers = [offers_of(x, [design_of(x.job)]) for x in prepared]
    banks = [bank_of(x.job.battery, x.job.held_socs) for x in prepared]
    blocks = []
    for group in alike(prepared, offers, banks):
        lanes = len(group) * prepared[group[0]].draws
        parts = max(ceil(lanes / BLOCK_LANES), min(jobs, lanes // WORTH_A_THREAD))
        edges = np.linspace(0, len(group), min(max(parts, 1), len(group)) + 1).round()
        blocks += [group[a:b] for a, b in pairwise(edges.astype(np.int64).tolist())]

    def run(block: Sequence[int], tell: Progress) -> list[Outcomes]:
        first, draws = prepared[block[0]], prepared[block[0]].draws
        done = total_bank(
            beside([banks[k] for k in block], draws),
            all_beside([offers[k] for k in block], draws),
            start_soc=first.trip.start_soc,
            step_hours=first.timeline.step_hours,
        )
        return [
            _outcomes(prepared[k], [design_of(prepared[k].job)], [own])
            for k, own in zip(block, done.apart(len(block)), strict=True)
        ]

    found = run_tasks(run, blocks, jobs=jobs)
    by_number = dict(zip(chain.from_iterable(blocks), chain.from_iterable(found), strict=True))
    return [by_number[number] for number in range(len(prepared))]


def alike(
    prepared: Sequence[PreparedTrip], offers: Sequence[Offers], banks: Sequence[Bank]
) -> list[list[int]]:
    """Numbers of trips whose lanes may lie side by side."""
    groups: dict[Hashable, list[int]] = {}
    for number, (one, offer, bank) in enumerate(zip(prepared, offers, banks, strict=True)):
        ends = one.trip.start_soc, one.timeline.step_hours
        groups.setdefault((ends, one.draws, bank.kind, offer.kind), []).append(number)
    return list(groups.values())


def lacks_beside(prepared: PreparedTrip) -> tuple[Lack, ...]:
    """What may fall behind on a trip whatever panels and battery do: tanks, hot water, warmth."""
    job = prepared.job
    # Levers on tanks change these of a trip whose loads are another job's.
    acting = job.water, job.propane, job.appliances, prepared.trip
    return prepared.once("lacks", acting, lambda: _lacks(prepared))


def _lacks(prepared: PreparedTrip) -> tuple[Lack, ...]:
    job, wants, timeline = prepared.job, prepared.wants, prepared.timeline
    stores = stores_of(job, prepared.trip, timeline, wants)
    short_w = wants.hot.short_w if len(wants.hot.heat_w) else np.zeros(len(timeline))
    return (
        *store_lacks(stores, job.appliances, prepared.draws),
        *cold_lacks(wants.chill, short_w, timeline.step_hours),
    )
