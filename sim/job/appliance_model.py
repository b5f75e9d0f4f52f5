"""What is switched on in the van, by the way it behaves: parts of the job."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from sim.job.fields import Name, Part, Share, Window
from sim.job.living_model import Priority


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
