"""Who lives in the van, and how: parts of the job."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from sim.job.fields import Clock, Part, Window

Priority = Literal["essential", "comfort", "extra"]
PRIORITIES: tuple[Priority, ...] = ("essential", "comfort", "extra")


class Living(Part):
    """Who is aboard, and when."""

    use: str | None = None
    people: Annotated[int, Field(ge=1, le=12)]
    wake_at: Clock = "07:00"  # type: ignore[assignment]
    sleep_at: Clock = "22:30"  # type: ignore[assignment]
    # Parts of the day in which nobody is in the parked van.
    out: Annotated[tuple[Window, ...], Field(max_length=48)] = ()
