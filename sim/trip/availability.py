"""When somebody is aboard, and when an appliance may run at all."""

from __future__ import annotations

import numpy as np

from sim.arrays import Floats
from sim.job.model.appliances import ApplianceBase
from sim.trip.timeline import Timeline


def aboard(timeline: Timeline) -> Floats:
    """Share of each step with somebody aboard. shape (H,)"""
    return np.minimum(timeline.awake + timeline.asleep, 1.0)


def may_run(item: ApplianceBase, timeline: Timeline) -> Floats:
    """Share of each step in which an appliance may run at all. shape (H,)"""
    match item.runs:
        case "plugged":
            return timeline.plugged
        case "driving":
            return timeline.driving
        case _:
            return np.ones(len(timeline))
