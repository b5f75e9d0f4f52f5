"""What is switched on in the van, by the way it behaves: parts of the job."""

from __future__ import annotations

from collections.abc import Mapping
from math import inf
from typing import Annotated, Any, ClassVar, Literal, get_args

from pydantic import Field

from sim.job.model.appliance_base import AWAY_C, ApplianceBase, Fuel, HeatFrom, Waits
from sim.job.model.fields import Percent, Share, Window
from sim.job.model.living import Living, Windows

Watts = Annotated[float, Field(ge=0, le=20_000)]


class Steady(ApplianceBase):
    """Draws the same all the time: detectors, monitors, standby."""

    # How it behaves.
    kind: Literal["steady"]
    # What it draws.
    watts: Watts

    @property
    def clock_watts(self) -> float | None:
        """Its watts, where it is held to parts of the day. [W]"""
        return self.watts if self.at else None


class Timed(ApplianceBase):
    """Draws its watts in certain parts of the day, by the local clock."""

    # How it behaves.
    kind: Literal["timed"]
    # What it draws while it runs.
    watts: Watts
    at: Annotated[tuple[Window, ...], Field(min_length=1, max_length=48)]
    # Share of that time in which it really draws its watts.
    duty: Share = 1.0

    @property
    def clock_watts(self) -> float:
        """Its watts, for the share of the time that it draws them. [W]"""
        return self.watts * self.duty


class Lights(ApplianceBase):
    """On while it is dark outside and somebody is awake aboard."""

    # How it behaves.
    kind: Literal["lights"]
    # What they draw while they are on.
    watts: Watts


class ColdBox(ApplianceBase):
    """A refrigerator or freezer: the warmer the cabin, the longer its compressor runs."""

    # How it behaves.
    kind: Literal["cold box"]
    # What it takes in a day at rated_ambient_c.
    rated_wh_day: Annotated[float, Field(ge=1, le=20_000)]
    # Temperature around it for which rated_wh_day is given.
    rated_ambient_c: Annotated[float, Field(ge=10, le=45)]
    # How cold it is inside.
    inside_c: Annotated[float, Field(ge=-30, le=15)]
    # What its compressor draws.
    max_watts: Annotated[float, Field(ge=1, le=3000)]
    # Once switched off, it has warmed 63 % of the way to the cabin's temperature in this time
    # (common practice, no source: a full box with its door kept shut).
    holds_hours: Annotated[float, Field(ge=0.5, le=200)] = 14.0

    @property
    def most_watts(self) -> float:
        """What its compressor draws when it runs. [W]"""
        return self.max_watts

    @property
    def compressor_watts(self) -> float:
        """The same."""
        return self.max_watts

    @property
    def waits(self) -> Waits:
        """By its thermostat."""
        return "always"


class Heater(ApplianceBase):
    """Holds the cabin's set point from fuel or electricity; its blower needs electricity."""

    # How it behaves.
    kind: Literal["heater"]
    # What it makes heat from.
    fuel: Fuel
    # Most heat that it gives to the cabin.
    heat_watts: Annotated[float, Field(ge=200, le=20_000)]
    # What blower and controls draw at full heat.
    blower_watts: Watts
    # Heat into the cabin for the heat in the fuel; above 100 for a heat pump.
    efficiency_pct: Annotated[float, Field(ge=20, le=500)] = 80.0
    # Held while somebody is awake aboard.
    day_c: Annotated[float, Field(ge=0, le=30)]
    # Held while people sleep.
    night_c: Annotated[float, Field(ge=0, le=30)]
    # Held when nobody is aboard, or "off"; left out: 8 degrees, or night_c if that is lower.
    away_c: Annotated[float, Field(ge=-10, le=30)] | Literal["off"] | None = None

    @property
    def most_watts(self) -> float:
        """Blower and, of an electric heater, the heat it makes. [W]"""
        electric = self.heat_watts / (self.efficiency_pct / 100.0)
        return self.blower_watts + (electric if self.fuel == "electricity" else 0.0)

    @property
    def waits(self) -> Waits:
        """By its thermostat, on the days that call for it."""
        return "at times"

    @property
    def heat_from(self) -> HeatFrom:
        """Its fuel."""
        return self.fuel

    @property
    def may_wait(self) -> bool:
        """Warmth is counted on."""
        return False

    @property
    def away_set_c(self) -> float:
        """What it holds when nobody is aboard, -inf where it is off then. [deg C]"""
        if self.away_c == "off":
            return -inf
        if self.away_c is None:
            return min(AWAY_C, self.night_c, self.day_c)
        return self.away_c


class Fan(ApplianceBase):
    """A roof fan: on a thermostat while somebody is aboard, by hand, or both."""

    # How it behaves.
    kind: Literal["fan"]
    # What it draws at full power.
    watts: Watts
    # Starts when the cabin is this warm and somebody is aboard, day or night.
    on_above_c: Annotated[float, Field(ge=10, le=45)] | None = None
    # Switched on by hand in these parts of the day, while somebody is aboard; a thermostat may
    # start it at any other time too.
    at: Windows = ()
    # Air it moves at full power; together with a second fan pushing in, the larger counts.
    air_m3_h: Annotated[float, Field(ge=0, le=5000)] = 800.0

    @property
    def waits(self) -> Waits | None:
        """By its thermostat, if it has one, while somebody is aboard."""
        return None if self.on_above_c is None else "at times"

    def windows(self, living: Living) -> Windows | None:
        """Its times by hand, if it has no thermostat."""
        return self.at if self.on_above_c is None else None


class AirConditioner(ApplianceBase):
    """Cools the cabin to its set point while somebody is aboard."""

    # How it behaves.
    kind: Literal["air conditioner"]
    # Most heat that it carries out.
    cool_watts: Annotated[float, Field(ge=100, le=10_000)]
    # Heat carried out for the electricity drawn (coefficient of performance).
    cop: Annotated[float, Field(ge=1.0, le=8.0)]
    # It starts when the cabin is warmer than this.
    on_above_c: Annotated[float, Field(ge=16, le=40)]

    @property
    def most_watts(self) -> float:
        """Compressor and fans at full cooling. [W]"""
        return self.cool_watts / self.cop

    @property
    def compressor_watts(self) -> float:
        """The same: its fans are a small part of it."""
        return self.most_watts

    @property
    def waits(self) -> Waits:
        """By its thermostat, on the days that call for it."""
        return "at times"


class Cooking(ApplianceBase):
    """Stove, oven, hob: heat for each meal, spread over the time in which meals are cooked."""

    # How it behaves.
    kind: Literal["cooking"]
    # What it makes heat from.
    fuel: Literal["propane", "electricity"]
    # Heat in the fuel, or electricity, for one meal of one person.
    meal_wh_person: Annotated[float, Field(ge=0, le=5000)]
    # Share of the meals that it is used for; stove and oven may both be used for one.
    meals_pct: Percent = 100.0
    # Electricity while it runs: the element's, or a gas stove's igniter and lamp.
    watts: Watts
    # Part of the heat that stays in the cabin.
    cabin_pct: Percent = 60.0

    @property
    def heat_from(self) -> HeatFrom:
        """Its fuel."""
        return self.fuel

    @property
    def may_wait(self) -> bool:
        """Gas knows no charge."""
        return self.fuel == "electricity"

    def windows(self, living: Living) -> Windows:
        """The times of the meals."""
        return living.meals_at


class HotWater(ApplianceBase):
    """Heats the water that showers and taps draw hot.

    Several warm one tank, the first of the job first; one as it flows gives what the tank has not.
    """

    needs_water: ClassVar[bool] = True

    # How it behaves.
    kind: Literal["hot water"]
    # What it makes heat from.
    source: Literal["propane", "electricity", "engine"]
    # Kept warm in a tank of this size; 0: heated as it flows.
    tank_l: Annotated[float, Field(ge=0, le=300)]
    # How hot the tank is kept.
    hot_c: Annotated[float, Field(ge=35, le=90)] = 60.0
    # Heat lost by the tank per kelvin above the cabin.
    standing_w_k: Annotated[float, Field(ge=0, le=20)] = 0.0
    # Most heat that it gives to the water.
    heat_watts: Annotated[float, Field(ge=100, le=40_000)]
    # Heat into the water, over the heat in the fuel.
    efficiency_pct: Annotated[float, Field(ge=20, le=500)] = 80.0
    # Igniter, valve, circulation pump while it heats; an electric element is counted apart.
    watts: Watts = 0.0

    @property
    def most_watts(self) -> float:
        """Controls and, of an electric one, its element. [W]"""
        electric = self.heat_watts / (self.efficiency_pct / 100.0)
        return self.watts + (electric if self.source == "electricity" else 0.0)

    @property
    def waits(self) -> Waits:
        """By its thermostat, or with the tap."""
        return "always"

    @property
    def heat_from(self) -> HeatFrom:
        """Its source."""
        return self.source

    @property
    def may_wait(self) -> bool:
        """Hot water is counted on."""
        return False


class Pump(ApplianceBase):
    """The water pump: runs for each litre drawn from the fresh tank; several share the litres."""

    needs_water: ClassVar[bool] = True

    # How it behaves.
    kind: Literal["pump"]
    # What it draws while water flows.
    watts: Watts
    # Water that it moves.
    flow_l_min: Annotated[float, Field(ge=0.1, le=60)]

    @property
    def waits(self) -> Waits:
        """With the tap."""
        return "always"

    @property
    def may_wait(self) -> bool:
        """Water is counted on."""
        return False


class Charging(ApplianceBase):
    """Batteries of devices, from phones to bicycles: a day's energy, taken when it suits.

    Held to nothing, and to no part of the day, they charge while somebody is awake aboard.
    """

    # How it behaves.
    kind: Literal["device charging"]
    # What it draws while it charges.
    watts: Watts
    # What one charges in a day; left out: what the people aboard use, by the way of living.
    wh_day: Annotated[float, Field(ge=0, le=20_000)] | None = None

    @property
    def waits(self) -> Waits:
        """Whenever a battery wants charge, in its hours."""
        return "at times"


_Appliance = (
    Steady
    | Timed
    | Lights
    | ColdBox
    | Heater
    | Fan
    | AirConditioner
    | Cooking
    | HotWater
    | Pump
    | Charging
)
Appliance = Annotated[_Appliance, Field(discriminator="kind")]
APPLIANCE_KINDS: dict[str, type[ApplianceBase]] = {
    get_args(kind.model_fields["kind"].annotation)[0]: kind for kind in get_args(_Appliance)
}


def appliance_of(values: Mapping[str, Any]) -> ApplianceBase:
    """An appliance from the values of a profile of the shelf, which names its kind."""
    tuples = {key: tuple(v) if isinstance(v, list) else v for key, v in values.items()}
    return APPLIANCE_KINDS[values["kind"]].model_validate(tuples)
