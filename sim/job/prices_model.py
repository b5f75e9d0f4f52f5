"""Prices a builder may put beside a job: what one of each costs, as far as it is known."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from sim.job.fields import Name, Part

Price = Annotated[float, Field(ge=0, le=1_000_000)] | None


class Prices(Part):
    """What things cost, fitted, in one currency. What is left out is not known."""

    currency: Annotated[Name, Field(max_length=8)] = "USD"
    panel: Price = None  # one
    battery: Price = None  # one unit more
    dcdc: Price = None  # the next size of DC-DC charger
    plug_night: Price = None  # one night on a plug
    propane: Price = None  # a propane appliance in place of an electric one
    fridge: Price = None  # a 12 V refrigerator in place of an AC one
    insulation: Price = None
    white_roof: Price = None
    tilt_mount: Price = None  # for all panels
