"""The wiring section of a job: how long each run is, what is fitted, and what is ticked.

All of it is optional. What is left out is chosen by the wiring sheet, or asked for there.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from sim.job.model.fields import JobSection

Tick = bool | None
Volts = Annotated[float, Field(ge=6, le=1000)]
Gauge = Literal[
    "18", "16", "14", "12", "10", "8", "6", "4", "2", "1", "1/0", "2/0", "3/0", "4/0"
]  # fmt: skip


class CableEntry(JobSection):
    """One run of cable."""

    # One way, from end to end along the run.
    length_m: Annotated[float, Field(ge=0.05, le=30)]
    # What is fitted or meant to be; left out: the sheet chooses.
    cable_awg: Gauge | None = None
    # The same in square millimetres.
    cable_mm2: Annotated[float, Field(ge=0.5, le=400)] | None = None
    # How many cables side by side.
    parallel: Annotated[int, Field(ge=1, le=3)] = 1
    # The fuse that is fitted; left out: the sheet chooses.
    fuse_amps: Annotated[float, Field(ge=1, le=1000)] | None = None
    # Where the warmest part of it lies.
    place: Literal["inside", "engine"] = "inside"


class LoadCable(CableEntry):
    """The run of one appliance."""

    # The appliance's name.
    name: Annotated[str, Field(min_length=1, max_length=20_000)]


class WiringPlan(JobSection):
    """What the wiring sheet needs beyond the rest of the job."""

    # Rating of the cables' insulation: 75 or 90 as in buildings, 105 for boat cable.
    insulation_c: Literal[75, 90, 105] = 90
    # Hottest air beside cables inside the van (common practice, no source).
    ambient_c: Annotated[float, Field(ge=-20, le=60)] = 40.0
    # Coldest dawn on the roof (common practice, no source): write that of the customer's winters.
    coldest_c: Annotated[float, Field(ge=-60, le=25)] = -20.0
    # Voltage that the runs of charging, feeders and essential loads may lose.
    drop_pct: Annotated[float, Field(ge=0.5, le=10)] = 3.0
    # Voltage that the runs of other loads may lose.
    loads_drop_pct: Annotated[float, Field(ge=0.5, le=10)] = 10.0
    # Lowest voltage of the bank while it still feeds the inverter, where loads draw most current.
    lowest_v: Volts | None = None
    # Fuse in each of three or more strings side by side, apart from that of the run they share.
    string_fuse_amps: Annotated[float, Field(ge=1, le=100)] | None = None
    # What the inverter draws for a moment when motors start.
    inverter_surge_watts: Annotated[float, Field(ge=50, le=60_000)] | None = None
    # Rating of the alternator.
    alternator_amps: Annotated[float, Field(ge=10, le=1000)] | None = None
    # What the fuse at the bank can cut off, from its data sheet.
    bank_fuse_interrupts_amps: Annotated[float, Field(ge=100, le=500_000)] | None = None

    roof: CableEntry | None = None
    controller: CableEntry | None = None
    alternator: CableEntry | None = None
    dcdc: CableEntry | None = None
    converter: CableEntry | None = None
    inverter: CableEntry | None = None
    dc_panel: CableEntry | None = None
    shore: CableEntry | None = None
    charger: CableEntry | None = None
    loads: tuple[LoadCable, ...] = ()

    # Ticks: true when it is there, false when it is missing, left out when nobody has looked. A
    # switch that cuts off the battery.
    main_switch: Tick = None
    # The main fuse sits at the battery.
    fuse_at_battery: Tick = None
    # AC and DC protection sit in separate compartments.
    ac_dc_apart: Tick = None
    # A fire extinguisher.
    extinguisher: Tick = None
    # A smoke alarm.
    smoke_alarm: Tick = None
    # A carbon monoxide alarm.
    co_alarm: Tick = None
    # A propane alarm.
    propane_alarm: Tick = None
    # Propane is stored outside the living space.
    propane_outside: Tick = None
