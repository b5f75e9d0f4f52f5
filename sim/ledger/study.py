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

from sim.arrays import Bools, Floats
from sim.job.model.living import PRIORITIES
from sim.ledger.answer import Answer, History, answer_from_totals
from sim.ledger.promise import Lack, cold_lacks, store_lacks
from sim.threads import Progress
from sim.trip.bank import bank_of
from sim.trip.designs import Design, banks_of, design_of, offers_of, potential_wh
from sim.trip.prepare import PreparedTrip
from sim.trip.tanks import stores_of
from sim.van.bank.loop import UNSERVED_TOLERANCE_W, run_bank, total_bank
from sim.van.bank.sources import together

# Rows of a few thousand lanes keep the processor's cache; blocks of so many lane-steps keep
# the memory of a study to some hundred megabytes.
BLOCK_LANES = 4096
BLOCK_LANE_STEPS = 2_000_000
# The same where every step is kept.
CHARGE_LANE_STEPS = 1_000_000


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
    essential_dark_hours : ndarray
        Those in which something essential was off. [h]
    unharvested_wh : ndarray
        Sun the panels could have given and nothing took. [Wh]
    unserved_wh : ndarray
        Wanted and not given. [Wh]
    days_long : float
    lacks : tuple of Lack
        What else may fall behind, whatever the panels and the battery: tanks, hot water, warmth.
    years : bool
        Whether the draws are the years of a weather file.
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

    @property
    def passed(self) -> Bools:
        """Whether a design had no dark hour in a draw. shape (K, D)"""
        return np.equal(self.dark_hours, 0.0)

    def answers(self, trip: str, bounds: tuple[float, float]) -> tuple[Answer, ...]:
        """The answer of each design, in their order; see `answer_from_totals`."""
        return tuple(
            replace(
                answer_from_totals(
                    trip,
                    dark_hours=dark,
                    essential_dark_hours=essential,
                    lacks=self.lacks,
                    lowest=lowest,
                    unharvested_wh_per_day=float(unharvested.mean() / self.days_long),
                    bounds=bounds,
                ),
                years=self.years,
            )
            for dark, essential, lowest, unharvested in zip(
                self.dark_hours,
                self.essential_dark_hours,
                self.lowest_soc,
                self.unharvested_wh,
                strict=True,
            )
        )


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
    lowest, dark, essential, sun, unserved = (np.empty(lanes) for _ in range(5))
    for first, last in pairwise(edges.tolist()):
        design, draw = np.divmod(np.arange(first, last), draws)
        done = total_bank(
            banks_of(prepared.job, designs, design),
            offers_of(prepared, designs, design, draw),
            start_soc=prepared.trip.start_soc,
            step_hours=prepared.timeline.step_hours,
        )
        lowest[first:last], dark[first:last] = done.lowest_soc, done.dark_hours
        essential[first:last] = done.essential_dark_hours
        sun[first:last] = done.sun_wh
        unserved[first:last] = done.unserved_wh[0] + done.unserved_wh[1] + done.unserved_wh[2]
        if progress is not None:
            progress(last / lanes)
    shape = (len(designs), draws)
    return Outcomes(
        designs=tuple(designs),
        lowest_soc=lowest.reshape(shape),
        dark_hours=dark.reshape(shape),
        essential_dark_hours=essential.reshape(shape),
        unharvested_wh=np.maximum(potential_wh(prepared, designs) - sun.reshape(shape), 0.0),
        unserved_wh=unserved.reshape(shape),
        days_long=prepared.days_long,
        lacks=lacks_beside(prepared),
        years=bool(prepared.sky.weather.years),
    )


def lacks_beside(prepared: PreparedTrip) -> tuple[Lack, ...]:
    """What may fall behind on a trip whatever panels and battery do: tanks, hot water, warmth."""
    job, wants, timeline = prepared.job, prepared.wants, prepared.timeline
    stores = stores_of(job, prepared.trip, timeline, wants)
    short_w = wants.hot.short_w if len(wants.hot.heat_w) else np.zeros(len(timeline))
    return (
        *store_lacks(stores, job.appliances, prepared.draws),
        *cold_lacks(wants.chill, short_w, timeline.step_hours),
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
    lacks = lacks_beside(prepared)
    at_once = max(CHARGE_LANE_STEPS // (draws * steps), 1)
    possible_wh = potential_wh(prepared, designs)
    for first in range(0, len(designs), at_once):
        block = designs[first : first + at_once]
        design, draw = np.divmod(np.arange(len(block) * draws), draws)
        offers = offers_of(prepared, block, design, draw)
        hours = run_bank(
            banks_of(prepared.job, block, design),
            offers,
            start_soc=prepared.trip.start_soc,
            step_hours=prepared.timeline.step_hours,
        )
        sun_w = together([hours.taken_w[k] for k in offers.suns])
        sun_wh = sun_w.sum(axis=0) * prepared.timeline.step_hours
        for number in range(len(block)):
            own = slice(number * draws, (number + 1) * draws)
            unharvested_wh = np.maximum(possible_wh[first + number] - sun_wh[own], 0.0)
            yield History(
                hours.soc[:, own],
                hours.unserved_w[: len(PRIORITIES), :, own],
                hours.lowest_soc[own],
                float(unharvested_wh.mean() / prepared.days_long),
                lacks,
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
    hours = run_bank(
        bank_of(prepared.job.battery, prepared.job.held_socs),
        offers_of(prepared, [design_of(prepared.job)]).between(first, last),
        start_soc=start_soc,
        step_hours=prepared.timeline.step_hours,
    )
    missing_w: Floats = hours.unserved_w[: len(PRIORITIES)].sum(axis=0)
    return missing_w > UNSERVED_TOLERANCE_W
