"""Water heaters, which all warm one tank."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sim.arrays import Floats
from sim.job.model.appliances import HotWater
from sim.job.model.job import Job
from sim.sky.sun import Sun
from sim.trip.availability import may_run
from sim.trip.household import COLD_WATER_C, Uses
from sim.trip.kinds.load import NOTHING, ApplianceLoad, ClockInputs
from sim.trip.timeline import Timeline
from sim.van.hot_water import HotHours, hot_hours


def hot_water_of(job: Job, timeline: Timeline, sun: Sun, uses: Uses) -> HotHours:
    """The hot water of a trip: all its heaters, in the order of the job, warm one tank."""
    heaters = [x for x in job.appliances if isinstance(x, HotWater) and x.count > 0]
    most = [x.heat_watts * x.count * _may_heat(x, timeline, sun) for x in heaters]
    return hot_hours(
        uses.hot_w,
        np.array(most).reshape(len(heaters), len(timeline)),
        tank_l=np.array([x.tank_l for x in heaters]),
        hot_c=np.array([x.hot_c for x in heaters]),
        cold_c=COLD_WATER_C,
        standing_w_k=max((x.standing_w_k for x in heaters), default=0.0),
        step_hours=timeline.step_hours,
    )


def _may_heat(item: HotWater, timeline: Timeline, sun: Sun) -> Floats:
    """Share of each step in which a water heater may run. shape (H,)"""
    may = may_run(item, timeline, sun)
    if item.source != "engine":
        return may
    return np.minimum(may, timeline.driving + timeline.idling)


def hot_water(items: Sequence[HotWater], inputs: ClockInputs) -> list[ApplianceLoad]:
    """What each takes for the heat it gives; what leaks from the one tank into the cabin is
    counted with the first."""
    leaked = [inputs.hot.lost_w[:, None] / item.count for item in items[:1]]
    leaked += [NOTHING] * (len(items) - 1)
    every = zip(items, inputs.hot.heat_w, leaked, strict=True)
    return [
        _load(item, heat_w[:, None] / item.count, lost_w, inputs) for item, heat_w, lost_w in every
    ]


def _load(item: HotWater, heat_w: Floats, leaked_w: Floats, inputs: ClockInputs) -> ApplianceLoad:
    ready = _may_heat(item, inputs.timeline, inputs.sun)[:, None]
    share = heat_w / item.heat_watts
    taken_w = heat_w / (item.efficiency_pct / 100.0)
    if item.source == "electricity":
        return ApplianceLoad(taken_w + item.watts * share, share, leaked_w, ready=ready)
    if item.source == "propane":
        return ApplianceLoad(item.watts * share, share, leaked_w, "propane", taken_w, ready=ready)
    return ApplianceLoad(item.watts * share, share, leaked_w, ready=ready)
