"""The roof of a job: which group of panels is counted, and how many of it fit."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from sim.decide.panels.roof_packing import lay_out
from sim.decide.panels.roof_space import Layout, Rect, Side, Space
from sim.errors import Fault, JobError
from sim.job.model.fields import bounds
from sim.job.model.job import Job
from sim.job.model.power import PanelGroup

# So many of a panel may a job hold.
MOST_PANELS = int(bounds(PanelGroup, "count")[1])
# Why it is not known how many fit: portable panels, no roof or no size of the panels in the job.
# Or what limits them: the other groups do not fit, no panel does, the roof carries no more.
RoofNote = Literal["portable", "no roof", "no size", "others", "none fits", "weight"]


@dataclass(frozen=True)
class RoofFit:
    """What the roof allows.

    Attributes
    ----------
    most : int or None
        Panels of the counted group that fit and that the roof carries; None when unknown.
    layout : Layout or None
        All that fit.
    others : tuple of Rect
        Panels of the other groups, laid out first.
    note : str or None
        Why it is not known, or what limits it where that is not the room; see `RoofNote`.
    carries_kg : float or None
        What the roof may carry, as in the job. [kg]
    """

    most: int | None
    layout: Layout | None
    others: tuple[Rect, ...]
    note: RoofNote | None
    carries_kg: float | None = None


def counted_group(job: Job) -> int:
    """Index of the group of panels whose number is decided: the one with most watts on the roof,
    or where all are portable of those.

    Raises
    ------
    JobError
        The job has no panels.
    """
    if not job.panels:
        rule = (
            'the job has no panels to count; add [[panels]] with use = "rigid-170", or another of '
            "the shelf, controller_amps = 20, and count = 0 if none is planned"
        )
        raise JobError(Fault(rule, key="panels"))
    return max(range(len(job.panels)), key=lambda i: _size(job.panels[i]))


def _size(group: PanelGroup) -> tuple[bool, float]:
    return group.mount != "portable", max(group.count, 1) * group.watts


def panel_name(group: PanelGroup) -> str:
    """``170 W``: what one panel of a group is called."""
    return f"{group.watts:g} W"


def roof_fit(job: Job) -> RoofFit:
    """Lay the panels of a job out on its roof.

    Parameters
    ----------
    job : Job
        Panels of other groups than the counted one keep their number and are laid first.

    Raises
    ------
    JobError
        The job has no panels.
    """
    group = job.panels[counted_group(job)]
    if group.mount == "portable":
        return RoofFit(None, None, (), "portable")
    if job.roof is None:
        return RoofFit(None, None, (), "no roof")
    if group.length_m is None or group.width_m is None:
        return RoofFit(None, None, (), "no size")
    space = _space(job)
    sides: tuple[Side, ...] = (space.walkway_side,)
    if space.walkway_m > 0.0 and space.walkway_side == "best":
        sides = ("left", "right")
    tried = [_laid(job, replace(space, walkway_side=side)) for side in sides]
    found = [both for both in tried if both is not None]
    if not found:
        return RoofFit(0, None, (), "others")
    layout, others = max(found, key=lambda both: both[0].count)
    most = layout.count
    note: RoofNote | None = "none fits" if most == 0 else None
    carried = _carried(job, group)
    if carried is not None and carried < most:
        most, note = carried, "weight"
    return RoofFit(most, layout.first(most), others, note, job.roof.carries_kg)


def panels_weight_kg(job: Job, count: int) -> float | None:
    """Weight on the roof with so many panels of the counted group; None when unknown. [kg]"""
    index = counted_group(job)
    total = 0.0
    for number, group in enumerate(job.panels):
        panels = count if number == index else group.count
        if group.mount == "portable" and number != index:
            continue
        if panels and group.weight_kg is None:
            return None
        total += panels * (group.weight_kg or 0.0)
    return total


def _space(job: Job) -> Space:
    roof = job.roof
    assert roof is not None
    return Space(
        length_m=roof.length_m,
        width_m=roof.width_m,
        edge_m=roof.edge_m,
        gap_m=roof.gap_m,
        clear_m=roof.clear_m,
        walkway_m=roof.walkway_m,
        walkway_side=roof.walkway_side,
        obstacles=tuple(
            Rect(item.x_m, item.y_m, item.length_m, item.width_m, item.name)
            for item in roof.obstacles
        ),
    )


def _laid(job: Job, space: Space) -> tuple[Layout, tuple[Rect, ...]] | None:
    """All that fit of the counted group beside the panels of the others; None when those do
    not fit."""
    counted = counted_group(job)
    others: tuple[Rect, ...] = ()
    for index, group in enumerate(job.panels):
        if index == counted or not group.count or group.mount == "portable":
            continue
        if group.length_m is None or group.width_m is None:
            continue
        free = replace(space, obstacles=space.obstacles + others)
        layout = lay_out(free, group.length_m, group.width_m, name=panel_name(group))
        if layout.count < group.count:
            return None
        others += layout.first(group.count).panels
    group = job.panels[counted]
    assert group.length_m is not None
    assert group.width_m is not None
    free = replace(space, obstacles=space.obstacles + others)
    return replace(lay_out(free, group.length_m, group.width_m), space=space), others


def _carried(job: Job, group: PanelGroup) -> int | None:
    assert job.roof is not None
    empty = panels_weight_kg(job, 0)
    if job.roof.carries_kg is None or group.weight_kg is None or empty is None:
        return None
    return max(int((job.roof.carries_kg - empty) / group.weight_kg + 1e-9), 0)
