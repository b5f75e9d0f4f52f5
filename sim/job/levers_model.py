"""Changes a builder wants to see weighed, beside those the program tries by itself."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import Field

from sim.job.fields import Name, Part


class LeverEntry(Part):
    """One change: a name, the keys it sets, and what it costs and weighs if that is known."""

    name: Name
    # Keys of the job as `overrides` takes them, nested or dotted: ``battery.count = 2``.
    set: Annotated[dict[str, Any], Field(min_length=1, max_length=50)]
    price: Annotated[float, Field(ge=0, le=1_000_000)] | None = None
    weight_kg: Annotated[float, Field(ge=-1000, le=1000)] | None = None
