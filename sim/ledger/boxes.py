"""What dark hours do to food: how warm each refrigerator gets while it is switched off."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.job.appliance_model import ColdBox
from sim.job.living_model import Priority
from sim.job.model import Job
from sim.ledger.demand import Demand
from sim.sky.track import Floats
from sim.van.cold_box import inside_hours

# Food is no longer as cold as it was put away when the box is this much above its setting
# (common practice, no source; food-safety rules start from 4 deg C and count hours).
WARMED_BY_K = 4.0


@dataclass(frozen=True)
class BoxWarmth:
    """One cold box over a trip. Arrays of shape (D,).

    Attributes
    ----------
    name : str
    warmest_c : ndarray
        [deg C]
    warm_hours : ndarray
        With the inside 4 K or more above its setting. [h]
    """

    name: str
    warmest_c: Floats
    warm_hours: Floats


def boxes_of(
    job: Job, wants: Demand, served_share: dict[Priority, Floats], step_hours: float
) -> tuple[BoxWarmth, ...]:
    """How warm each cold box got.

    Parameters
    ----------
    job : Job
    wants : Demand
    served_share : dict
        Share of each priority's loads that was served, by priority. shape (H, D)
    step_hours : float
    """
    made = []
    for item, line in zip((x for x in job.appliances if x.count > 0), wants.lines, strict=False):
        if not isinstance(item, ColdBox) or item.runs != "always":
            continue
        fed = served_share[item.priority]
        if item.supply == "ac":
            fed = fed + (1.0 - fed) * wants.on_plug
        inside = inside_hours(
            wants.cabin_c,
            fed,
            line.watts / item.count,
            inside_c=item.inside_c,
            holds_hours=item.holds_hours,
            max_watts=item.max_watts,
            step_hours=step_hours,
        )
        warm = (inside > item.inside_c + WARMED_BY_K).sum(axis=0) * step_hours
        made.append(BoxWarmth(item.name, inside.max(axis=0), np.asarray(warm)))
    return tuple(made)
