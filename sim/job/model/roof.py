"""The roof of a job: how much of it is free for panels, and what is fitted on it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Literal

from pydantic import Field

from sim.job.model.fields import JobSection, Name

if TYPE_CHECKING:
    pass

Clearance = Annotated[float, Field(ge=0, le=1)]


class Obstacle(JobSection):
    """A fan, vent, rack or antenna: a box on the roof that no panel may touch."""

    # What it is.
    name: Name
    # From the front edge of the roof, and from its left edge looking ahead, to the nearest corner.
    x_m: Annotated[float, Field(ge=0, le=15)]
    # From the roof's left edge, looking ahead.
    y_m: Annotated[float, Field(ge=0, le=3)]
    # Along the van.
    length_m: Annotated[float, Field(ge=0.01, le=15)]
    # Across the van.
    width_m: Annotated[float, Field(ge=0.01, le=3)]


class Roof(JobSection):
    """The flat rectangle of the roof on which panels may lie."""

    # Along the van.
    length_m: Annotated[float, Field(ge=0.2, le=15)]
    # Across the van.
    width_m: Annotated[float, Field(ge=0.2, le=3)]
    # Clearance to the edge (this and the next two: common practice, no source).
    edge_m: Clearance = 0.03
    # Clearance between panels.
    gap_m: Clearance = 0.02
    # Clearance around fans, vents and other obstacles.
    clear_m: Clearance = 0.05
    # A strip along one side that stays free for walking; 0 when nobody walks there.
    walkway_m: Annotated[float, Field(ge=0, le=2)] = 0.0
    # Where the strip is; "best" takes the side that leaves most panels.
    walkway_side: Literal["best", "left", "right"] = "best"
    # What the roof and its rails may carry; left out: not checked.
    carries_kg: Annotated[float, Field(ge=1, le=1000)] | None = None
    obstacles: Annotated[tuple[Obstacle, ...], Field(max_length=60)] = ()
