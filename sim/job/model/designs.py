"""Whole alternatives for one job, and what a quote charges for: parts of the job."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import Field

from sim.job.model.fields import JobSection, Name

Money = Annotated[float, Field(ge=0, le=1_000_000)]
MOST_DESIGNS = 4


class PriceItem(JobSection):
    """One more line of a quote: work, an appliance, a permit."""

    # What it is called on the quote.
    name: Name
    # What one costs, fitted.
    price: Money
    # How many.
    count: Annotated[int, Field(ge=1, le=1000)] = 1
    # What one weighs; left out: not known.
    weight_kg: Annotated[float, Field(ge=0, le=2000)] | None = None


PriceItems = Annotated[tuple[PriceItem, ...], Field(max_length=12)]


class DesignEntry(JobSection):
    """A whole alternative that the customer may choose: two to four of them."""

    # What the design is called.
    name: Name
    # The keys in which it differs from the job, as those of a lever: { "battery.count" = 2 }.
    # Left out: the job as it is.
    set: Annotated[dict[str, Any], Field(max_length=50, default_factory=dict)]
    # What all of it costs, fitted; left out: the sum of [prices] and of its items.
    price: Money | None = None
    # What a quote charges for in this design alone.
    items: PriceItems = ()
