"""Where electricity comes from, is kept and is turned into AC: parts of the job.

Defaults that are a habit of the trade and not a measured figure are marked 'common practice,
no source'.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from sim.job.model.fields import JobSection, Percent, Share


class PanelGroup(JobSection):
    """Panels that share a mount and a solar controller."""

    use: str | None = None
    count: Annotated[int, Field(ge=0, le=60)]
    watts: Annotated[float, Field(ge=1, le=1000)]
    temp_coeff_pct_c: Annotated[float, Field(ge=-1.0, le=0.0)]
    # Portable panels are set out while the van is parked and people are up.
    mount: Literal["flat", "tilted", "portable"] = "flat"
    tilt_deg: Annotated[float, Field(ge=0, le=90)] | None = None
    # Compass direction a tilted panel faces when parked; left out: towards the noon sun.
    facing_deg: Annotated[float, Field(ge=0, le=360)] | None = None
    # Or the side of the van it faces, wherever the van's front points (a stop's heading_deg).
    side: Literal["front", "right", "rear", "left"] | None = None
    controller: Literal["mppt", "pwm"] = "mppt"
    controller_amps: Annotated[float, Field(ge=1, le=500)]
    controller_efficiency: Annotated[float, Field(ge=0.5, le=1.0)] = 0.96
    # What the controller keeps for itself of what its panels give.
    controller_standby_watts: Annotated[float, Field(ge=0, le=50)] = 0.0
    # Losses between clean panel and controller (common practice, no source).
    soiling_pct: Percent = 3.0
    wiring_pct: Percent = 2.0
    mismatch_pct: Percent = 2.0
    ageing_pct: Percent = 2.0
    # Area in the shadow of what else stands on the roof, mean over the day; what that costs
    # hangs on how the panels are wired (series).
    obstructed_pct: Percent = 0.0
    # From the panel's data sheet, for the wiring sheet: open-circuit voltage with its
    # temperature coefficient, short-circuit current, panels in series.
    voc_v: Annotated[float, Field(ge=1, le=200)] | None = None
    voc_temp_coeff_pct_c: Annotated[float, Field(ge=-1.0, le=0.0)] = -0.3
    isc_a: Annotated[float, Field(ge=0.1, le=50)] | None = None
    # Voltage at the maximum power point: what a PWM controller throws away hangs on it.
    vmp_v: Annotated[float, Field(ge=1, le=200)] | None = None
    series: Annotated[int, Field(ge=1, le=60)] = 1
    # Size and weight of one panel, frame included, for the layout of the roof.
    length_m: Annotated[float, Field(ge=0.1, le=5)] | None = None
    width_m: Annotated[float, Field(ge=0.1, le=3)] | None = None
    weight_kg: Annotated[float, Field(ge=0.1, le=200)] | None = None

    @property
    def array_watts(self) -> float:
        """Rated power of the group. [W]"""
        return self.count * self.watts


class Battery(JobSection):
    """A bank of equal units in parallel."""

    use: str | None = None
    chemistry: Literal["lifepo4", "agm", "flooded"]
    count: Annotated[int, Field(ge=1, le=40)] = 1
    capacity_ah: Annotated[float, Field(ge=5, le=5000)]
    nominal_v: Annotated[float, Field(ge=6, le=60)]
    # Mean voltage at the terminals while charging; turns charger amps into watts.
    charging_v: Annotated[float, Field(ge=6, le=70)]
    health_pct: Annotated[float, Field(ge=10, le=100)] = 100.0
    max_charge_c: Annotated[float, Field(ge=0.01, le=5)]
    max_discharge_c: Annotated[float, Field(ge=0.01, le=10)]
    taper_from_soc: Annotated[float, Field(ge=0.3, le=0.99)]
    tail_c: Annotated[float, Field(ge=0.001, le=1)]
    coulombic_efficiency: Annotated[float, Field(ge=0.5, le=1.0)]
    resistance_mohm: Annotated[float, Field(ge=0, le=200)]
    self_discharge_pct_month: Annotated[float, Field(ge=0, le=50)]
    charge_above_c: Annotated[float, Field(ge=-40, le=20)]
    # Below cool_below_c at most this charge rate, where the data sheet says so.
    cool_max_charge_c: Annotated[float, Field(ge=0.01, le=5)] | None = None
    cool_below_c: Annotated[float, Field(ge=0, le=30)] = 15.0
    # Pad of one unit that keeps the cells warm while sun, engine or plug are there.
    heating_watts: Annotated[float, Field(ge=0, le=500)] = 0.0
    heat_to_c: Annotated[float, Field(ge=0, le=30)] = 5.0
    # Peukert's exponent, and the discharge time for which capacity_ah is given.
    peukert: Annotated[float, Field(ge=1.0, le=1.6)] = 1.0
    peukert_hours: Annotated[float, Field(ge=1, le=120)] = 20.0
    # Floors of the charge (common practice, no source): below extras_soc the extras are
    # switched off, below reserve_soc the comfort loads, below cutoff_soc everything.
    cutoff_soc: Share = 0.05
    reserve_soc: Share = 0.15
    extras_soc: Share = 0.25
    reconnect_above_soc: Annotated[float, Field(ge=0, le=0.5)] = 0.05
    weight_kg: Annotated[float, Field(ge=0.1, le=2000)] | None = None  # of one unit

    @property
    def capacity_wh(self) -> float:
        """Energy from full to empty at nominal voltage, at the present health. [Wh]"""
        return self.count * self.capacity_ah * self.nominal_v * self.health_pct / 100.0


class Alternator(JobSection):
    """Charging from the engine through a DC-DC charger."""

    dcdc_amps: Annotated[float, Field(ge=1, le=500)]
    efficiency: Annotated[float, Field(ge=0.5, le=1.0)] = 0.9
    # What the alternator can spare for the house at road speed; left out: the rating rules.
    spare_amps: Annotated[float, Field(ge=1, le=1000)] | None = None
    alternator_v: Annotated[float, Field(ge=6, le=70)] = 13.5
    # Part of the spare current that a hot alternator does not give (from memory, fairly sure).
    hot_loss_pct: Percent = 20.0
    # Part of the driving spent idling, in traffic or at the roadside, and what is left of the
    # spare current then (a third to a half; from memory, medium sure).
    idle_share: Share = 0.0
    idle_output_pct: Percent = 40.0
    # After each start the engine's own battery is filled up before the charger is given
    # anything (common practice, no source: a start and a night of standby take under 1 Ah).
    start_minutes: Annotated[int, Field(ge=0, le=30)] = 2


class Shore(JobSection):
    """The plug: inlet and charger."""

    charger_amps: Annotated[float, Field(ge=1, le=500)]
    charger_efficiency: Annotated[float, Field(ge=0.5, le=1.0)] = 0.88
    inlet_volts: Annotated[float, Field(ge=90, le=260)]
    inlet_amps: Annotated[float, Field(ge=1, le=100)]


class Inverter(JobSection):
    """From the battery to AC appliances."""

    watts: Annotated[float, Field(ge=50, le=20_000)]
    idle_watts: Annotated[float, Field(ge=0, le=200)]
    efficiency: Annotated[float, Field(ge=0.5, le=1.0)] = 0.9
    runs: Literal["always", "when needed"] = "when needed"
