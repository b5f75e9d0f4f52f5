"""What dark hours do to food: how warm each refrigerator gets while it is switched off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from sim.arrays import Floats
from sim.job.model.appliances import ColdBox
from sim.sky.sun import Sun
from sim.trip.availability import may_run
from sim.trip.demand import Demand
from sim.trip.kinds.by_cabin import cold_box_watts
from sim.trip.timeline import Timeline
from sim.van.appliances import inside_hours

# Food is no longer as cold as it was put away when the box is this much above its setting: 8 to
# 9 deg C in a refrigerator (common practice, no source). Food-safety rules are stricter: they
# count hours above 40 deg F, 4.4 deg C, and throw perishable food away after four of them in a
# shut refrigerator without power (USDA FSIS, from memory).
WARMED_BY_K = 4.0


@dataclass(frozen=True)
class BoxWarmth:
    """One cold box over a trip. Arrays of shape (D,).

    Attributes
    ----------
    name : str
    limit_c : float
        4 K above its setting. [deg C]
    warmest_c : ndarray
        [deg C]
    warm_hours : ndarray
        With the inside above `limit_c`. [h]
    """

    name: str
    limit_c: float
    warmest_c: Floats
    warm_hours: Floats


def boxes_of(
    timeline: Timeline, sun: Sun, wants: Demand, served_share: Sequence[Floats]
) -> tuple[BoxWarmth, ...]:
    """How warm each cold box got.

    Parameters
    ----------
    timeline : Timeline
    sun : Sun
        H steps.
    wants : Demand
    served_share : sequence of ndarray, shape (H, D) or (1, 1)
        Share of each group's loads that was served, in the order of `Line.group`.
    """
    made = []
    for line in wants.lines:
        item = line.appliance
        if not isinstance(item, ColdBox):
            continue
        runs = may_run(item, timeline, sun)[:, None]
        inside = inside_hours(
            wants.cabin_c,
            line.served_share(served_share[line.group]) * runs,
            partial(cold_box_watts, item),
            inside_c=item.inside_c,
            holds_hours=item.holds_hours,
            max_watts=item.max_watts,
            step_hours=timeline.step_hours,
        )
        limit_c = item.inside_c + WARMED_BY_K
        warm = (inside > limit_c).sum(axis=0) * timeline.step_hours
        made.append(BoxWarmth(item.name, limit_c, inside.max(axis=0), np.asarray(warm)))
    return tuple(made)
