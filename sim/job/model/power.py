"""Where electricity comes from, is kept and is turned into AC: parts of the job.

Defaults that are a habit of the trade and not a measured figure are marked 'common practice,
no source'.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from sim.job.model.fields import JobSection, Percent, Share, wrong
from sim.job.model.living import Windows
from sim.van.conductors import OPEN_OVER_MPP

# The current, over the capacity, for which a bank's charging_v is meant. [1/h]
CHARGING_V_AT_C = 0.2
# What 12 V appliances run on behind a converter, and a bank's least voltage over that at which
# a converter makes sense. [V]
HOUSE_V = 12.5
STEP_DOWN = 1.5


class PanelGroup(JobSection):
    """Panels that share a mount and a solar controller."""

    # A profile of the shelf; keys beside it override what it says.
    use: str | None = None
    # How many panels.
    count: Annotated[int, Field(ge=0, le=60)]
    # Rated power of one panel.
    watts: Annotated[float, Field(ge=1, le=1000)]
    # Power that a panel gains per degree Celsius, in percent; less than 0.
    temp_coeff_pct_c: Annotated[float, Field(ge=-1.0, le=0.0)]
    # Portable panels are set out while the van is parked and people are up.
    mount: Literal["flat", "tilted", "portable"] = "flat"
    # Tilt of a tilted or portable panel while parked.
    tilt_deg: Annotated[float, Field(ge=0, le=90)] | None = None
    # Compass direction a tilted panel faces when parked; left out: towards the noon sun.
    facing_deg: Annotated[float, Field(ge=0, le=360)] | None = None
    # Or the side of the van it faces, wherever the van's front points (a stop's heading_deg).
    side: Literal["front", "right", "rear", "left"] | None = None
    # "mppt" steps the panels' voltage down to the bank's, "boost" steps it up, "pwm" ties them.
    controller: Literal["mppt", "pwm", "boost"] = "mppt"
    # Most current that the controller gives to the battery.
    controller_amps: Annotated[float, Field(ge=1, le=500)]
    # What comes out of the controller, over what goes in.
    controller_efficiency: Annotated[float, Field(ge=0.5, le=1.0)] = 0.96
    # What the controller keeps for itself of what its panels give.
    controller_standby_watts: Annotated[float, Field(ge=0, le=50)] = 0.0
    # What an "mppt" controller needs of a string above the bank's voltage: to start, open, at
    # dawn (data sheets, from memory, fairly sure); and to run (data sheets say 0.5 to 2 V, from
    # memory, fairly sure).
    start_above_v: Annotated[float, Field(ge=0, le=50)] = 5.0
    # And to keep running.
    run_above_v: Annotated[float, Field(ge=0, le=50)] = 0.5
    # The highest open-circuit voltage the controller takes, from its data sheet.
    controller_max_v: Annotated[float, Field(ge=6, le=1000)] | None = None
    # Loss by dirt (this and the next three: common practice, no source).
    soiling_pct: Percent = 3.0
    # Loss in the cables to the controller.
    wiring_pct: Percent = 2.0
    # Loss because no two panels are alike.
    mismatch_pct: Percent = 2.0
    # Loss by age.
    ageing_pct: Percent = 2.0
    # Loss that a log showed beyond all these; fit --save writes it.
    seen_loss_pct: Percent = 0.0
    # Area in the shadow of other things on the roof, mean over the day; what that costs
    # depends on how the panels are wired (series).
    obstructed_pct: Percent = 0.0
    # Open-circuit voltage of one panel, from its data sheet, for the wiring sheet.
    voc_v: Annotated[float, Field(ge=1, le=200)] | None = None
    # Change of voc_v per degree Celsius, in percent.
    voc_temp_coeff_pct_c: Annotated[float, Field(ge=-1.0, le=0.0)] = -0.3
    # Short-circuit current of one panel.
    isc_a: Annotated[float, Field(ge=0.1, le=50)] | None = None
    # Rating of the fuse in series with it that the module's data sheet allows at most.
    series_fuse_a: Annotated[float, Field(ge=1, le=100)] | None = None
    # Voltage at the maximum power point: it decides whether the string reaches the bank's
    # voltage, and what a PWM controller throws away.
    vmp_v: Annotated[float, Field(ge=1, le=200)] | None = None
    # How many panels are wired in series.
    series: Annotated[int, Field(ge=1, le=60)] = 1
    # Length of one panel, frame included, for the layout of the roof.
    length_m: Annotated[float, Field(ge=0.1, le=5)] | None = None
    # Width of one panel.
    width_m: Annotated[float, Field(ge=0.1, le=3)] | None = None
    # Weight of one panel.
    weight_kg: Annotated[float, Field(ge=0.1, le=200)] | None = None

    @property
    def array_watts(self) -> float:
        """Rated power of the group. [W]"""
        return self.count * self.watts

    @property
    def open_v(self) -> float | None:
        """Open-circuit voltage of one panel at 25 deg C; without it a fifth above that at the
        maximum power point (common practice, no source); None where neither is known. [V]"""
        if self.voc_v is not None or self.vmp_v is None:
            return self.voc_v
        return OPEN_OVER_MPP * self.vmp_v


class Battery(JobSection):
    """A bank of equal units in parallel."""

    # A profile of the shelf; keys beside it override what it says.
    use: str | None = None
    # The kind of battery.
    chemistry: Literal["lifepo4", "agm", "flooded"]
    # How many units, in parallel.
    count: Annotated[int, Field(ge=1, le=40)] = 1
    # Rated capacity of one unit.
    capacity_ah: Annotated[float, Field(ge=5, le=5000)]
    # Nominal voltage of the bank.
    nominal_v: Annotated[float, Field(ge=6, le=60)]
    # Mean voltage at the terminals while charging at a fifth of the capacity an hour; turns charger
    # amps into watts.
    charging_v: Annotated[float, Field(ge=6, le=70)]
    # Part of the rated capacity that is left.
    health_pct: Annotated[float, Field(ge=10, le=100)] = 100.0
    # Fastest charge, as a part of the capacity an hour.
    max_charge_c: Annotated[float, Field(ge=0.01, le=5)]
    # Fastest discharge, as a part of the capacity an hour.
    max_discharge_c: Annotated[float, Field(ge=0.01, le=10)]
    # Charge, from 0 to 1, above which it takes less and less current.
    taper_from_soc: Annotated[float, Field(ge=0.3, le=0.99)]
    # Current that it still takes when nearly full, as a part of the capacity an hour.
    tail_c: Annotated[float, Field(ge=0.001, le=1)]
    # Ampere-hours that come out again, over those that go in.
    coulombic_efficiency: Annotated[float, Field(ge=0.5, le=1.0)]
    # Inner resistance of one unit.
    resistance_mohm: Annotated[float, Field(ge=0, le=200)]
    # Charge lost in a month of rest.
    self_discharge_pct_month: Annotated[float, Field(ge=0, le=50)]
    # Colder than this it takes no charge.
    charge_above_c: Annotated[float, Field(ge=-40, le=20)]
    # Below cool_below_c at most this charge rate, where the data sheet says so.
    cool_max_charge_c: Annotated[float, Field(ge=0.01, le=5)] | None = None
    # Below this temperature cool_max_charge_c holds.
    cool_below_c: Annotated[float, Field(ge=0, le=30)] = 15.0
    # Watts of one unit's pad, which keeps the cells warm while there is sun, engine or plug.
    heating_watts: Annotated[float, Field(ge=0, le=500)] = 0.0
    # How warm the pad keeps the cells.
    heat_to_c: Annotated[float, Field(ge=0, le=30)] = 5.0
    # Peukert's exponent; 1 where the capacity is the same at any current.
    peukert: Annotated[float, Field(ge=1.0, le=1.6)] = 1.0
    # Discharge time for which capacity_ah is given.
    peukert_hours: Annotated[float, Field(ge=1, le=120)] = 20.0
    # Charge, from 0 to 1, below which everything is off (this and the next two: common
    # practice, no source).
    cutoff_soc: Share = 0.05
    # Charge, from 0 to 1, below which the comfort loads are off.
    reserve_soc: Share = 0.15
    # Charge, from 0 to 1, below which the extras are off.
    extras_soc: Share = 0.25
    # Loads come back when the charge is this far above their floor.
    reconnect_above_soc: Annotated[float, Field(ge=0, le=0.5)] = 0.05
    weight_kg: Annotated[float, Field(ge=0.1, le=2000)] | None = None  # weight of one unit
    # Short-circuit current of one unit, from its data sheet, for the wiring sheet.
    short_circuit_amps: Annotated[float, Field(ge=100, le=200_000)] | None = None

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

    # Current that the DC-DC charger gives to the battery.
    dcdc_amps: Annotated[float, Field(ge=1, le=500)]
    # What comes out of the DC-DC charger, over what goes in.
    efficiency: Annotated[float, Field(ge=0.5, le=1.0)] = 0.9
    # What the alternator can spare for the house at road speed; left out: the rating rules. Two
    # chargers on one alternator share it: give each its part.
    spare_amps: Annotated[float, Field(ge=1, le=1000)] | None = None
    # Or the alternator's rating when cold.
    rated_amps: Annotated[float, Field(ge=10, le=1000)] | None = None
    # What the vehicle itself takes of rated_amps, at idle as on the road (engine, lights, blower:
    # common practice, no source).
    vehicle_amps: Annotated[float, Field(ge=0, le=500)] = 40.0
    # Voltage of the alternator on the road.
    alternator_v: Annotated[float, Field(ge=6, le=70)] = 13.5
    # Part of its current that a hot alternator does not give while it is 25 degrees C outside
    # (from memory, fairly sure); more in greater heat, less in the cold.
    hot_loss_pct: Percent = 20.0
    # Part of the driving spent idling, in traffic or at the roadside, from 0 to 1.
    idle_share: Share = 0.0
    # What is left of the current when idling (a third to a half; from memory, medium sure).
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

    # Current that the charger gives to the battery.
    charger_amps: Annotated[float, Field(ge=1, le=500)]
    # What comes out of the charger, over what goes in.
    charger_efficiency: Annotated[float, Field(ge=0.5, le=1.0)] = 0.88
    # Voltage of the plug.
    inlet_volts: Annotated[float, Field(ge=90, le=260)]
    # Most current that the inlet carries.
    inlet_amps: Annotated[float, Field(ge=1, le=100)]


class Generator(JobSection):
    """A fuel generator outside the van that charges the battery through a charger."""

    watts: Annotated[float, Field(ge=100, le=20_000)]  # continuous power, at sea level
    # Current that its charger gives to the battery.
    charger_amps: Annotated[float, Field(ge=1, le=500)]
    # What comes out of the charger, over what goes in.
    charger_efficiency: Annotated[float, Field(ge=0.5, le=1.0)] = 0.88
    # Parts of the day in which it runs while the van is parked off the plug; with
    # start_below_soc those in which it may. Left out, with start_below_soc: at any time.
    at: Windows = ()
    # Started when the charge falls below this, and stopped when it has risen by rise_soc.
    start_below_soc: Annotated[float, Field(ge=0.0, le=0.9)] | None = None
    # It stops when the charge has risen by this much, from 0 to 1.
    rise_soc: Annotated[float, Field(ge=0.05, le=1.0)] = 0.4
    # Parts of the day in which it never runs (quiet hours of a campground; common
    # practice, no source).
    quiet: Windows = ("22:00-08:00",)  # type: ignore[assignment]
    # What it burns.
    fuel: Literal["petrol", "diesel"] = "petrol"
    # What its tank holds.
    tank_l: Annotated[float, Field(ge=0.1, le=500)]
    # Part of the tank that is full at departure.
    start_pct: Percent = 100.0
    # Burnt in an hour of running without load. This and l_kwh are by default those of a petrol
    # set of 1.6 kW whose 3.6 L last 3.2 h at full and 8.1 h at a quarter of its load (data
    # sheets, from memory, fairly sure).
    idle_l_h: Annotated[float, Field(ge=0, le=10)] = 0.22
    # Burnt for each kWh at its outlet.
    l_kwh: Annotated[float, Field(ge=0.05, le=5)] = 0.57

    @model_validator(mode="after")
    def _runs_at_some_time(self) -> Generator:
        if not self.at and self.start_below_soc is None:
            raise wrong("say when it runs: by the clock (at) or by the charge (start_below_soc)")
        return self


class Converter(JobSection):
    """From a bank of 24 or 48 V to the DC appliances, which run on 12 V."""

    # What it gives continuously, at its output, in amps.
    amps: Annotated[float, Field(ge=1, le=500)] | None = None
    # The same in watts, where its plate says watts.
    watts: Annotated[float, Field(ge=10, le=10_000)] | None = None
    # What it holds at its output.
    volts: Annotated[float, Field(ge=10, le=30)] = HOUSE_V
    # Of what it takes from the bank, the share that reaches the appliances.
    efficiency: Annotated[float, Field(ge=0.5, le=1.0)] = 0.9
    # Drawn day and night, as it is never switched off (common practice, no source).
    idle_watts: Annotated[float, Field(ge=0, le=100)] = 3.0

    @model_validator(mode="after")
    def _one_rating(self) -> Converter:
        if (self.amps is None) == (self.watts is None):
            raise wrong("say what it gives continuously: amps or watts, one of them")
        return self

    @property
    def rated_watts(self) -> float:
        """What it gives continuously. [W]"""
        return (self.amps or 0.0) * self.volts if self.watts is None else self.watts

    @property
    def rated_amps(self) -> float:
        """The same at its output. [A]"""
        return self.rated_watts / self.volts


class Inverter(JobSection):
    """From the battery to AC appliances."""

    # The most power that it gives continuously.
    watts: Annotated[float, Field(ge=50, le=20_000)]
    # Drawn while it is on and feeds nothing.
    idle_watts: Annotated[float, Field(ge=0, le=200)]
    # Highest efficiency at any load, as a data sheet names it.
    efficiency: Annotated[float, Field(ge=0.5, le=1.0)] = 0.9
    # Efficiency at full load; left out: six points below the highest (common practice, no source).
    full_load_efficiency: Annotated[float, Field(ge=0.4, le=1.0)] | None = None
    # "when needed": people switch it on for what they use and off after it; what may start by
    # itself keeps it on. "search": it sends a pulse now and then and wakes when a load answers.
    # "by hand": on in the parts of the day of at; outside them nothing runs on AC off the plug.
    runs: Literal["always", "when needed", "search", "by hand"] = "when needed"
    # Parts of the day in which it is on, for "by hand".
    at: Windows = ()
    # Mean draw while it searches; left out: a quarter of idle_watts (common practice, no source).
    search_watts: Annotated[float, Field(ge=0, le=200)] | None = None

    @property
    def least_efficiency(self) -> float:
        """At full load. 0 to 1"""
        if self.full_load_efficiency is None:
            return self.efficiency - 0.06
        return self.full_load_efficiency
