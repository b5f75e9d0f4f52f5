"""Where electricity comes from, is kept and is turned into AC: parts of the job.

Defaults that are a habit of the trade and not a measured figure are marked 'common practice,
no source'.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from sim.job.model.fields import JobSection, Percent, Share, wrong
from sim.job.model.living import Windows

# The current, over the capacity, for which a bank's charging_v is meant. [1/h]
CHARGING_V_AT_C = 0.2


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
    # Mean voltage at the terminals while charging at a fifth of the capacity an hour; turns charger
    # amps into watts.
    charging_v: Annotated[float, Field(ge=6, le=70)]
    health_pct: Annotated[float, Field(ge=10, le=100)] = 100.0
    max_charge_c: Annotated[float, Field(ge=0.01, le=5)]
    max_discharge_c: Annotated[float, Field(ge=0.01, le=10)]
    taper_from_soc: Annotated[float, Field(ge=0.3, le=0.99)]
    tail_c: Annotated[float, Field(ge=0.001, le=1)]
    # Ampere-hours that come out again, over those that go in.
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

    @property
    def charge_efficiency(self) -> float:
        """Energy stored over energy at the terminals while charging, resistance apart.

        A charger moves ampere-hours: each costs `charging_v` going in and counts `nominal_v`
        inside, less those the cells lose. What of `charging_v` is due to the resistance at the
        current it is meant for is counted there.
        """
        drop_v = CHARGING_V_AT_C * self.capacity_ah * self.resistance_mohm / 1000.0
        inside_v = max(self.charging_v - drop_v, self.nominal_v)
        return self.coulombic_efficiency * self.nominal_v / inside_v


class Alternator(JobSection):
    """Charging from the engine through a DC-DC charger."""

    dcdc_amps: Annotated[float, Field(ge=1, le=500)]
    efficiency: Annotated[float, Field(ge=0.5, le=1.0)] = 0.9
    # What the alternator can spare for the house at road speed; left out: the rating rules. Two
    # chargers on one alternator share it: give each its part.
    spare_amps: Annotated[float, Field(ge=1, le=1000)] | None = None
    # Or its rating when cold, and what the vehicle itself takes of it, at idle as on the road
    # (engine, lights, blower: common practice, no source).
    rated_amps: Annotated[float, Field(ge=10, le=1000)] | None = None
    vehicle_amps: Annotated[float, Field(ge=0, le=500)] = 40.0
    alternator_v: Annotated[float, Field(ge=6, le=70)] = 13.5
    # Part of its current that a hot alternator does not give (from memory, fairly sure).
    hot_loss_pct: Percent = 20.0
    # Part of the driving spent idling, in traffic or at the roadside, and what is left of the
    # current then (a third to a half; from memory, medium sure).
    idle_share: Share = 0.0
    idle_output_pct: Percent = 40.0
    # After each start the engine's own battery is filled up before the charger is given
    # anything (common practice, no source: a start and a night of standby take under 1 Ah).
    start_minutes: Annotated[int, Field(ge=0, le=30)] = 2

    @model_validator(mode="after")
    def _one_way_to_say_it(self) -> Alternator:
        if self.spare_amps is not None and self.rated_amps is not None:
            raise wrong("give spare_amps or rated_amps, not both")
        return self


class Shore(JobSection):
    """The plug: inlet and charger."""

    charger_amps: Annotated[float, Field(ge=1, le=500)]
    charger_efficiency: Annotated[float, Field(ge=0.5, le=1.0)] = 0.88
    inlet_volts: Annotated[float, Field(ge=90, le=260)]
    inlet_amps: Annotated[float, Field(ge=1, le=100)]


class Generator(JobSection):
    """A fuel generator that stands outside the van and charges the battery through a charger."""

    watts: Annotated[float, Field(ge=100, le=20_000)]  # continuous, at sea level
    charger_amps: Annotated[float, Field(ge=1, le=500)]
    charger_efficiency: Annotated[float, Field(ge=0.5, le=1.0)] = 0.88
    # Parts of the day in which it runs while the van is parked off the plug; with
    # start_below_soc those in which it may. None: with start_below_soc, at any time.
    at: Windows = ()
    # Started when the charge falls below this, and stopped when it has risen by rise_soc.
    start_below_soc: Annotated[float, Field(ge=0.0, le=0.9)] | None = None
    rise_soc: Annotated[float, Field(ge=0.05, le=1.0)] = 0.4
    # It never runs then (quiet hours of a campground; common practice, no source).
    quiet: Windows = ("22:00-08:00",)  # type: ignore[assignment]
    fuel: Literal["petrol", "diesel"] = "petrol"
    tank_l: Annotated[float, Field(gt=0, le=500)]
    start_pct: Percent = 100.0
    # Burnt while it runs at all, and on top for each kWh at its outlet. The defaults are those
    # of a petrol set of 1.6 kW whose 3.6 L last 3.2 h at full and 8.1 h at a quarter of its load
    # (data sheets, from memory, fairly sure).
    idle_l_h: Annotated[float, Field(ge=0, le=10)] = 0.22
    l_kwh: Annotated[float, Field(gt=0, le=5)] = 0.57

    @model_validator(mode="after")
    def _runs_at_some_time(self) -> Generator:
        if not self.at and self.start_below_soc is None:
            raise wrong("say when it runs: by the clock (at) or by the charge (start_below_soc)")
        return self


class Inverter(JobSection):
    """From the battery to AC appliances."""

    watts: Annotated[float, Field(ge=50, le=20_000)]
    # Drawn while it is on and feeds nothing.
    idle_watts: Annotated[float, Field(ge=0, le=200)]
    # The highest at any load, as a data sheet names it, and that at full load; left out: six
    # points below the highest (common practice, no source).
    efficiency: Annotated[float, Field(ge=0.5, le=1.0)] = 0.9
    full_load_efficiency: Annotated[float, Field(ge=0.4, le=1.0)] | None = None
    # "when needed": people switch it on for what they use and off after it; what may start by
    # itself keeps it on. "search": it sends a pulse now and then and wakes when a load answers.
    # "by hand": on in the parts of the day of at; outside them nothing runs on AC off the plug.
    runs: Literal["always", "when needed", "search", "by hand"] = "when needed"
    at: Windows = ()
    # Mean draw while it searches; left out: a quarter of idle_watts (common practice, no source).
    search_watts: Annotated[float, Field(ge=0, le=200)] | None = None

    @property
    def least_efficiency(self) -> float:
        """At full load. 0 to 1"""
        if self.full_load_efficiency is None:
            return self.efficiency - 0.06
        return self.full_load_efficiency
