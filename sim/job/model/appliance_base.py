"""What all appliances of a job have, whatever their kind."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from sim.job.model.fields import JobSection, Name
from sim.job.model.living import Living, Priority, Windows

# What heat is made from. Diesel and petrol come from the vehicle's own tank.
Fuel = Literal["propane", "diesel", "petrol", "electricity"]
HeatFrom = Fuel | Literal["engine"]
# A thermostat's setting against frost, for when nobody is aboard (common practice, no source).
AWAY_C = 8.0
# Day and night, or only in its hours and on the days that call for it.
Waits = Literal["always", "at times"]


class ApplianceBase(JobSection):
    """What all appliances have."""

    # A profile of the shelf; keys beside it override what it says.
    use: str | None = None
    # What the appliance is called.
    name: Name
    # How many of them.
    count: Annotated[int, Field(ge=0, le=100)] = 1
    # "ac": fed by the inverter, or by the plug where there is one.
    supply: Literal["dc", "ac"] = "dc"
    # Extras are switched off first when the charge falls, then comfort.
    priority: Priority = "comfort"
    # Held to the plug, to the road, or to the sun: only while it is high for its day.
    runs: Literal["always", "plugged", "driving", "sun"] = "always"
    # Only in these parts of the day, by the local clock; left out: at any time.
    at: Windows = ()
    # Held to the battery: it runs only while the charge is above this, from 0 to 1, and waiting
    # for it is no failure.
    above_soc: Annotated[float, Field(gt=0.0, le=0.9)] | None = None
    # Someone's health depends on it: named first, for any watt-hour missed in any weather.
    medical: bool = False

    # Whether it is of no use in a job without [water].
    needs_water: ClassVar[bool] = False

    @property
    def waits(self) -> Waits | None:
        """When it may start without anybody switching it on, by a thermostat, a tap or a battery
        that wants charge: on AC, it then needs an inverter that is on. None: it never does."""
        return None

    @property
    def on_inverter(self) -> bool:
        """Whether it runs on AC off the plug."""
        return self.supply == "ac" and self.runs != "plugged" and self.count > 0

    @property
    def most_watts(self) -> float:
        """The most electricity one unit draws while it runs. [W]"""
        return float(getattr(self, "watts", 0.0))

    @property
    def compressor_watts(self) -> float | None:
        """What the compressor of one unit draws, which starts with more; None without one. [W]"""
        return None

    @property
    def clock_watts(self) -> float | None:
        """What one unit draws evenly in its parts of the day, `windows`; None where something
        else than the clock decides. [W]"""
        return None

    @property
    def heat_from(self) -> HeatFrom | None:
        """What it makes heat from, if heat is what it is for."""
        return None

    @property
    def may_wait(self) -> bool:
        """Whether people can do without it for a while, and nothing else is the worse for it: not
        so warmth, water and what burns gas."""
        return True

    def windows(self, living: Living) -> Windows | None:
        """Parts of the day in which it may run; None at any time."""
        return self.at or None
