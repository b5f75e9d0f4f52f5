"""What runs out or fills up besides the battery: water, grey water, propane. Parts of the job."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from sim.job.model.fields import JobSection, Name, Percent

Drain = Literal["kitchen", "basin", "shower"]
DRAINS: tuple[Drain, ...] = ("kitchen", "basin", "shower")
TankPlace = Literal["inside", "under the floor", "outside"]
TankLitres = Annotated[float, Field(ge=1, le=2000)]
WarmerWatts = Annotated[float, Field(ge=0, le=500)]


class GreyTank(JobSection):
    """A tank that takes what runs down certain drains."""

    # What the tank is called.
    name: Name
    # What it holds.
    capacity_l: TankLitres
    # The drains that run into it.
    takes: Annotated[tuple[Drain, ...], Field(min_length=1, max_length=3)]
    # Filled to this share at departure.
    start_pct: Percent = 0.0
    # Where it is.
    place: TankPlace = "under the floor"
    # A pad that keeps it from freezing; drawn from the battery while it is near freezing.
    warmer_watts: WarmerWatts = 0.0


class Water(JobSection):
    """The fresh tank, the grey tanks, and how they are filled by hand."""

    # What the fresh tank holds.
    fresh_l: TankLitres
    # Part of it that is full at departure.
    start_pct: Percent = 100.0
    # Where the fresh tank is; outside and under the floor it may freeze.
    place: TankPlace = "inside"
    # A pad that keeps the fresh tank from freezing.
    warmer_watts: WarmerWatts = 0.0
    grey: Annotated[tuple[GreyTank, ...], Field(max_length=10)] = ()
    # Drains that run into no tank: a bucket, or the ground where that is allowed.
    open_drains: Annotated[tuple[Drain, ...], Field(max_length=3)] = ()
    # Brought by hand where the stop has no tap: litres in one trip to the tap.
    carry_l: Annotated[float, Field(ge=0, le=200)] = 20.0
    # How often a day somebody carries water.
    carries_day: Annotated[float, Field(ge=0, le=50)] = 0.0


class Propane(JobSection):
    """The propane tank; several cylinders count as one tank."""

    # Volume of the tank, full to the brim; several cylinders are added up.
    tank_l: Annotated[float, Field(ge=0.1, le=500)]
    # Liquid needs room to expand: tanks are filled to 80 % of their volume (NFPA 58).
    fill_pct: Annotated[float, Field(ge=1, le=85)] = 80.0
    # How full it is at departure; 100 is the 80 % that it may be filled to.
    start_pct: Percent = 100.0
