"""What the people aboard use, by the clock: water at each drain, heat in hot water, meals."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.arrays import Floats
from sim.job.model.fields import DAY_MINUTES
from sim.job.model.job import Job
from sim.job.model.living import Living
from sim.trip.timeline import Timeline, within
from sim.van.hot_water import heat_to_warm_wh

# Water as it comes from the tank, and as hands and dishes want it (common practice, no source).
COLD_WATER_C = 12.0
TAP_HOT_C = 42.0


@dataclass(frozen=True)
class Uses:
    """Use of the people aboard in each step. Arrays of shape (H,).

    Attributes
    ----------
    kitchen_l, basin_l, shower_l, outdoor_l : ndarray
        Water drawn, by where it drains; an outdoor shower drains into no tank. [L]
    drunk_l : ndarray
        What of the water of the kitchen is drunk or cooked away, and does not drain. [L]
    hot_w : ndarray
        Heat in the water that is drawn hot, mean over the step. [W]
    meals : ndarray
        Meals cooked, one for each person. [person-meals]
    """

    kitchen_l: Floats
    basin_l: Floats
    shower_l: Floats
    outdoor_l: Floats
    drunk_l: Floats
    hot_w: Floats
    meals: Floats

    @property
    def water_l(self) -> Floats:
        """All water drawn. [L]"""
        return self.kitchen_l + self.basin_l + self.shower_l + self.outdoor_l


def uses_of(job: Job, timeline: Timeline) -> Uses:
    """Water, hot water and meals in every step of a trip.

    Parameters
    ----------
    job : Job
    timeline : Timeline
        H steps.

    Returns
    -------
    Uses

    Notes
    -----
    Taps run at an even rate while people are up in the parked van, so that a whole day in it
    uses the litres of a day. A meal or a shower falls out when nobody is there at its time.
    """
    living = job.living
    there = timeline.people * (1.0 - timeline.driving)
    tap_share = up_share(living, timeline) * timeline.people
    kitchen = living.kitchen_l_person_day * tap_share
    basin = living.basin_l_person_day * tap_share
    drunk = min(living.drunk_l_person_day, living.kitchen_l_person_day) * tap_share
    shower = _events(timeline, living.shower_at, there) / len(living.shower_at)
    shower = shower * living.shower_l * living.showers_person_week / 7.0
    inside = shower if living.shower_place == "inside" else np.zeros_like(shower)
    taps_hot = (kitchen + basin) * living.hot_pct / 100.0
    hot_wh = heat_to_warm_wh(shower, COLD_WATER_C, living.shower_c)
    hot_wh = hot_wh + heat_to_warm_wh(taps_hot, COLD_WATER_C, TAP_HOT_C)
    return Uses(
        kitchen_l=kitchen,
        basin_l=basin,
        shower_l=inside,
        outdoor_l=shower - inside,
        drunk_l=drunk,
        hot_w=hot_wh / timeline.step_hours,
        meals=_events(timeline, living.meals_at, there),
    )


def up_share(living: Living, timeline: Timeline) -> Floats:
    """Share that each step has of a day's waking hours in the parked van. shape (H,)

    A day spent in the van adds up to one.
    """
    clock = np.arange(DAY_MINUTES, dtype=np.int16)
    up = within(clock, [(living.wake_at, living.sleep_at)]) & ~within(clock, living.out)
    hours_up = max(float(up.sum()) / 60.0, 1.0)
    aboard = timeline.awake + timeline.asleep
    awake = np.divide(timeline.awake, aboard, out=np.zeros_like(aboard), where=aboard > 0.0)
    parked = awake * (1.0 - timeline.driving)
    return np.asarray(parked * timeline.step_hours / hours_up)


def _events(timeline: Timeline, windows: tuple[tuple[int, int], ...], there: Floats) -> Floats:
    """How often each person did in each step what is done once in each window. shape (H,)"""
    times = np.zeros(len(timeline))
    for start, end in windows:
        minutes = (end - start) % DAY_MINUTES or DAY_MINUTES
        times += timeline.share_within([(start, end)]) * timeline.step_minutes / minutes
    return np.asarray(times * there)
