"""The job: one customer, one van, the trips it must carry. Frozen, validated, SI inside.

The keys are the keys of the job file. Each section may take a profile from the shelf with
``use``; what stands beside it overrides the profile. Times of day are minutes after local
midnight. Defaults that are a habit of the trade and not a measured figure are marked
'common practice, no source'.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, model_validator

from sim.job.fields import Clock, Date, Name, Part, Window, parse_place
from sim.job.levers_model import LeverEntry
from sim.job.places import Place
from sim.job.prices_model import Prices
from sim.job.roof_model import Roof
from sim.job.wiring_model import WiringPlan

FileName = Annotated[str, Field(min_length=1, max_length=1000)]
Share = Annotated[float, Field(ge=0.0, le=1.0)]
Percent = Annotated[float, Field(ge=0.0, le=100.0)]
Where = Annotated[Place, BeforeValidator(parse_place)]
Priority = Literal["essential", "comfort", "extra"]
PRIORITIES: tuple[Priority, ...] = ("essential", "comfort", "extra")


class Van(Part):
    """The shell: what heat it loses and gains, and where the battery stands."""

    use: str | None = None
    length_m: Annotated[float, Field(ge=1.5, le=15)]
    width_m: Annotated[float, Field(ge=1.0, le=3)]
    height_m: Annotated[float, Field(ge=1.0, le=4)]
    # Overall heat transfer of the shell, windows, doors and metal bridges included.
    shell_u_w_m2k: Annotated[float, Field(ge=0.2, le=8)]
    # Share of sunlight the skin absorbs: about 0.3 white, 0.6 silver, 0.9 black (common
    # practice, no source).
    skin_absorptance: Share
    glass_m2: Annotated[float, Field(ge=0, le=20)]
    thermal_mass_kj_k: Annotated[float, Field(ge=20, le=5000)]
    # Heat carried out per kelvin with windows or vents wide open, when it is too warm inside.
    vent_w_k: Annotated[float, Field(ge=0, le=2000)] = 120.0
    vent_above_c: Annotated[float, Field(ge=10, le=40)] = 24.0
    battery_place: Literal["cabin", "outside"] = "cabin"


class PanelGroup(Part):
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
    # Lost to the shadows of what else stands on the roof, mean over the day.
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
    weight_kg: Annotated[float, Field(gt=0, le=200)] | None = None

    @property
    def array_watts(self) -> float:
        """Rated power of the group. [W]"""
        return self.count * self.watts


class Battery(Part):
    """A bank of equal units in parallel."""

    use: str | None = None
    chemistry: Literal["lifepo4", "agm", "flooded"]
    count: Annotated[int, Field(ge=1, le=40)] = 1
    capacity_ah: Annotated[float, Field(ge=5, le=5000)]
    nominal_v: Annotated[float, Field(ge=6, le=60)]
    # Mean voltage at the terminals while charging; turns charger amps into watts.
    charging_v: Annotated[float, Field(ge=6, le=70)]
    health_pct: Annotated[float, Field(ge=10, le=100)] = 100.0
    max_charge_c: Annotated[float, Field(gt=0, le=5)]
    max_discharge_c: Annotated[float, Field(gt=0, le=10)]
    taper_from_soc: Annotated[float, Field(ge=0.3, le=0.99)]
    tail_c: Annotated[float, Field(gt=0, le=1)]
    coulombic_efficiency: Annotated[float, Field(ge=0.5, le=1.0)]
    resistance_mohm: Annotated[float, Field(ge=0, le=200)]
    self_discharge_pct_month: Annotated[float, Field(ge=0, le=50)]
    charge_above_c: Annotated[float, Field(ge=-40, le=20)]
    # Below cool_below_c at most this charge rate, where the data sheet says so.
    cool_max_charge_c: Annotated[float, Field(gt=0, le=5)] | None = None
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
    weight_kg: Annotated[float, Field(gt=0, le=2000)] | None = None  # of one unit

    @property
    def capacity_wh(self) -> float:
        """Energy from full to empty at nominal voltage, at the present health. [Wh]"""
        return self.count * self.capacity_ah * self.nominal_v * self.health_pct / 100.0


class Alternator(Part):
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


class Shore(Part):
    """The plug: inlet and charger."""

    charger_amps: Annotated[float, Field(ge=1, le=500)]
    charger_efficiency: Annotated[float, Field(ge=0.5, le=1.0)] = 0.88
    inlet_volts: Annotated[float, Field(ge=90, le=260)]
    inlet_amps: Annotated[float, Field(ge=1, le=100)]


class Inverter(Part):
    """From the battery to AC appliances."""

    watts: Annotated[float, Field(ge=50, le=20_000)]
    idle_watts: Annotated[float, Field(ge=0, le=200)]
    efficiency: Annotated[float, Field(ge=0.5, le=1.0)] = 0.9
    runs: Literal["always", "when needed"] = "when needed"


class Living(Part):
    """Who is aboard, and when."""

    use: str | None = None
    people: Annotated[int, Field(ge=1, le=12)]
    wake_at: Clock = "07:00"  # type: ignore[assignment]
    sleep_at: Clock = "22:30"  # type: ignore[assignment]
    # Parts of the day in which nobody is in the parked van.
    out: Annotated[tuple[Window, ...], Field(max_length=48)] = ()


class _Appliance(Part):
    use: str | None = None
    name: Name
    count: Annotated[int, Field(ge=0, le=100)] = 1
    supply: Literal["dc", "ac"] = "dc"
    priority: Priority = "comfort"
    # "plugged": only while the van is on the plug.
    runs: Literal["always", "plugged"] = "always"


Watts = Annotated[float, Field(ge=0, le=20_000)]


class Steady(_Appliance):
    """Draws the same day and night: detectors, monitors, standby."""

    kind: Literal["steady"]
    watts: Watts


class Timed(_Appliance):
    """Draws its watts in certain parts of the day, by the local clock."""

    kind: Literal["timed"]
    watts: Watts
    at: Annotated[tuple[Window, ...], Field(min_length=1, max_length=48)]
    # Share of the time it really draws its watts within those parts.
    duty: Share = 1.0


class Lights(_Appliance):
    """On while it is dark outside and somebody is awake aboard."""

    kind: Literal["lights"]
    watts: Watts


class ColdBox(_Appliance):
    """A refrigerator or freezer: the warmer the cabin, the longer its compressor runs."""

    kind: Literal["cold box"]
    rated_wh_day: Annotated[float, Field(gt=0, le=20_000)]
    rated_ambient_c: Annotated[float, Field(ge=10, le=45)]
    inside_c: Annotated[float, Field(ge=-30, le=15)]
    max_watts: Annotated[float, Field(gt=0, le=3000)]


class Heater(_Appliance):
    """Burns fuel to hold the cabin's set point; its blower and controls need electricity."""

    kind: Literal["heater"]
    heat_watts: Annotated[float, Field(ge=200, le=20_000)]
    blower_watts: Watts
    day_c: Annotated[float, Field(ge=0, le=30)]
    night_c: Annotated[float, Field(ge=0, le=30)]
    # Held when nobody is aboard; left out: the heater is off then.
    away_c: Annotated[float, Field(ge=-10, le=30)] | None = None


class Fan(_Appliance):
    """A roof fan: starts when the cabin is warm and somebody is aboard, day or night."""

    kind: Literal["fan"]
    watts: Watts
    on_above_c: Annotated[float, Field(ge=10, le=45)]


Appliance = Annotated[Steady | Timed | Lights | ColdBox | Heater | Fan, Field(discriminator="kind")]
APPLIANCE_KINDS: dict[str, type[Part]] = {
    "steady": Steady,
    "timed": Timed,
    "lights": Lights,
    "cold box": ColdBox,
    "heater": Heater,
    "fan": Fan,
}


# Shade and skyline by where one parks (common practice, no source): share of the beam taken
# over the day, height of the skyline.
SURROUNDINGS = {
    "open": {"shade_pct": 0.0, "horizon_deg": 0.0},
    "some trees": {"shade_pct": 25.0, "horizon_deg": 5.0},
    "forest": {"shade_pct": 70.0, "horizon_deg": 15.0},
    "canyon": {"shade_pct": 0.0, "horizon_deg": 25.0},
}


class Stop(Part):
    """A place where the van stands."""

    place: Where
    # Sets shade_pct and horizon_deg where they are left out.
    surroundings: Literal["open", "some trees", "forest", "canyon"] = "open"
    # Compass direction the front of the parked van points; left out: any.
    heading_deg: Annotated[float, Field(ge=0, le=360)] | None = None
    nights: Annotated[int, Field(ge=0, le=366)]
    drive_hours: Annotated[float, Field(ge=0, le=48)] = 0.0
    leave_at: Clock | None = None
    local_drive_hours: Annotated[float, Field(ge=0, le=16)] = 0.0
    plug_in: Literal["never", "nights", "always"] = "never"
    shade_pct: Percent = 0.0
    horizon_deg: Annotated[float, Field(ge=0, le=80)] = 0.0
    weather: FileName | None = None

    @model_validator(mode="before")
    @classmethod
    def _surrounded(cls, values: Any) -> Any:
        if not isinstance(values, dict) or not isinstance(values.get("surroundings"), str):
            return values
        return {**SURROUNDINGS.get(values["surroundings"], {}), **values}


class Trip(Part):
    """One trip: leaves on a date, passes its stops in order, ends when the last is over."""

    name: Name
    depart: Date
    leave_at: Clock = "10:00"  # type: ignore[assignment]
    start: Where | None = None
    start_soc: Share = 1.0
    stops: Annotated[tuple[Stop, ...], Field(min_length=1, max_length=400)]


class Settings(Part):
    """How the job is computed and shown."""

    draws: Annotated[int, Field(ge=1, le=5000)] = 200
    seed: Annotated[int, Field(ge=0, le=2**31 - 1)] = 1
    step_minutes: Literal[5, 6, 10, 12, 15, 20, 30, 60] = 60
    ample_share: Share = 0.95
    tight_share: Share = 0.80
    # "climate", "clear" or the path of a weather file, seen from the job file's folder.
    weather: FileName = "climate"
    prudent: bool = False
    units: Literal["us", "metric"] = "us"


class Job(Part):
    """A customer's job."""

    title: Name
    customer: Name | None = None
    van: Van
    living: Living
    panels: Annotated[tuple[PanelGroup, ...], Field(max_length=50)] = ()
    battery: Battery
    alternator: Alternator | None = None
    shore: Shore | None = None
    inverter: Inverter | None = None
    appliances: Annotated[tuple[Appliance, ...], Field(max_length=200)] = ()
    trips: Annotated[tuple[Trip, ...], Field(min_length=1, max_length=100)]
    settings: Settings = Settings()
    wiring: WiringPlan | None = None
    roof: Roof | None = None
    prices: Prices | None = None
    levers: Annotated[tuple[LeverEntry, ...], Field(max_length=50)] = ()

    def trip(self, name: str) -> Trip:
        """The trip of that name.

        Raises
        ------
        KeyError
            No such trip.
        """
        for trip in self.trips:
            if trip.name == name:
                return trip
        raise KeyError(name)
