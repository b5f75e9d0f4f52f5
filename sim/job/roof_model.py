"""The roof of a job: how much of it is free for panels, and what stands on it."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import Field

from sim.job.fields import Name, Part

if TYPE_CHECKING:
    from sim.job.model import Job

Clearance = Annotated[float, Field(ge=0, le=1)]
_EXACT_M = 1e-6
Finding = tuple[tuple[str | int, ...], Any, str]


class Obstacle(Part):
    """A fan, vent, rack or antenna: a box on the roof that no panel may touch."""

    name: Name
    # From the front edge of the roof, and from its left edge looking ahead, to the nearest corner.
    x_m: Annotated[float, Field(ge=0, le=15)]
    y_m: Annotated[float, Field(ge=0, le=3)]
    length_m: Annotated[float, Field(gt=0, le=15)]
    width_m: Annotated[float, Field(gt=0, le=3)]


class Roof(Part):
    """The flat rectangle of the roof on which panels may lie."""

    length_m: Annotated[float, Field(ge=0.2, le=15)]
    width_m: Annotated[float, Field(ge=0.2, le=3)]
    # Clearances to the edge, between panels, around obstacles (common practice, no source).
    edge_m: Clearance = 0.03
    gap_m: Clearance = 0.02
    clear_m: Clearance = 0.05
    # A strip along one side that stays free for walking; 0 when nobody walks there.
    walkway_m: Annotated[float, Field(ge=0, le=2)] = 0.0
    walkway_side: Literal["best", "left", "right"] = "best"
    # What the roof and its rails may carry; left out: not checked.
    carries_kg: Annotated[float, Field(gt=0, le=1000)] | None = None
    obstacles: Annotated[tuple[Obstacle, ...], Field(max_length=60)] = ()


def roof_findings(job: Job) -> Iterator[Finding]:
    """What contradicts itself on a roof: (path, value, rule) as for the rules of a job."""
    for index, group in enumerate(job.panels):
        if (group.length_m is None) != (group.width_m is None):
            key = "width_m" if group.width_m is None else "length_m"
            yield ("panels", index, key), None, "length and width of a panel go together; give both"
    roof = job.roof
    if roof is None:
        return
    for index, item in enumerate(roof.obstacles):
        for at, size, key in (("x_m", "length_m", "length_m"), ("y_m", "width_m", "width_m")):
            end, most = getattr(item, at) + getattr(item, size), getattr(roof, key)
            if end > most + _EXACT_M:
                rule = (
                    f"{item.name} ends {end:.2f} m along, beyond the roof, whose {key} is {most:g}"
                )
                yield ("roof", "obstacles", index, at), getattr(item, at), rule
    names = [item.name for item in roof.obstacles]
    for first, second in combinations(range(len(names)), 2):
        if names[first] == names[second]:
            rule = "another obstacle has this name; tell them apart"
            yield ("roof", "obstacles", second, "name"), names[second], rule
    for key in ("length_m", "width_m"):
        taken = 2.0 * roof.edge_m + (roof.walkway_m if key == "width_m" else 0.0)
        if taken >= getattr(roof, key):
            rule = f"nothing is left between the clearances, which take {taken:.2f} m"
            yield ("roof", key), getattr(roof, key), rule
