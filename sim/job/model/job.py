"""The job: one customer, one van, the trips it must carry. Frozen, validated, SI inside.

The keys are the keys of the job file. Each section may take a profile from the shelf with
``use``; keys beside it override the profile. Times of day are minutes after local
midnight. Defaults that are a habit of the trade and not a measured figure are marked
'common practice, no source'.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, ConfigDict, Field, WithJsonSchema, model_validator

from sim.job.model.appliances import Appliance
from sim.job.model.designs import MOST_DESIGNS, DesignEntry, Money, PriceItems
from sim.job.model.fields import (
    Clock,
    Date,
    JobSection,
    Name,
    Percent,
    Share,
    one_or_several,
    parse_locale,
    parse_place,
    wrong,
)
from sim.job.model.handover import Handover
from sim.job.model.living import Living
from sim.job.model.power import (
    Alternator,
    Battery,
    Converter,
    Generator,
    Inverter,
    PanelGroup,
    Shore,
)
from sim.job.model.roof import Roof
from sim.job.model.tanks import Propane, Water
from sim.job.model.wiring import WiringPlan
from sim.places.lookup import Place

Price = Money | None


class Prices(JobSection):
    """What things cost, fitted, in one currency. What is left out is not known."""

    # Written before the prices, such as EUR.
    currency: Annotated[Name, Field(max_length=8)] = "USD"
    panel: Price = None  # one panel more
    battery: Price = None  # one unit more
    dcdc: Price = None  # one DC-DC charger; as a lever, the next size of it
    plug_night: Price = None  # one night on a plug
    propane: Price = None  # a propane appliance in place of an electric one
    fridge: Price = None  # a 12 V refrigerator in place of an AC one
    # To insulate the van better.
    insulation: Price = None
    # To paint the roof white.
    white_roof: Price = None
    tilt_mount: Price = None  # a tilting mount for all panels
    controller: Price = None  # the solar controller of one group of panels
    shore: Price = None  # one plug: inlet, breaker and charger
    inverter: Price = None  # the inverter with its outlets
    converter: Price = None  # from a bank of 24 or 48 V to 12 V
    generator: Price = None  # with its charger
    water: Price = None  # tanks, pump and pipes
    propane_system: Price = None  # tank, regulator and lines
    # What a quote charges for beside these, in every design: work, appliances.
    items: PriceItems = ()
    # Tax that a quote adds to the sum, in percent; left out: it names none.
    tax_pct: Annotated[float, Field(ge=0, le=50)] | None = None


class LeverEntry(JobSection):
    """One change: a name, the keys it sets, and what it costs and weighs if that is known."""

    # What the change is called.
    name: Name
    # The keys it changes, with their new values: { "battery.count" = 2 }.
    set: Annotated[dict[str, Any], Field(min_length=1, max_length=50)]
    # What it costs.
    price: Price = None
    # What it weighs; less than nothing if it takes weight away.
    weight_kg: Annotated[float, Field(ge=-1000, le=1000)] | None = None


Wind = Annotated[float, Field(ge=0, le=25)]
FileName = Annotated[str, Field(min_length=1, max_length=1000)]
_AS_PLACE = {"type": "string", "examples": ["Moab, UT", "38.57, -109.55, 4026 ft"]}
Where = Annotated[Place, BeforeValidator(parse_place), WithJsonSchema(_AS_PLACE)]


Service = Literal["water", "dump", "propane", "fuel"]
_AS_LOCALE = {"type": "string", "examples": ["en_US", "de_AT"]}
Locale = Annotated[str, BeforeValidator(parse_locale), WithJsonSchema(_AS_LOCALE)]


class Van(JobSection):
    """The shell: what heat it loses and gains, and where the battery is."""

    # A profile of the shelf; keys beside it override what it says.
    use: str | None = None
    # The living space inside, behind the seats.
    length_m: Annotated[float, Field(ge=1.5, le=15)]
    # Inside, from skin to skin.
    width_m: Annotated[float, Field(ge=1.0, le=3)]
    # Inside, from floor to roof.
    height_m: Annotated[float, Field(ge=1.0, le=4)]
    # Overall heat transfer of the shell with doors and metal bridges, without the windows.
    shell_u_w_m2k: Annotated[float, Field(ge=0.2, le=8)]
    # Thickness of foam or wool between bare ribs; takes the place of shell_u_w_m2k.
    insulation_m: Annotated[float, Field(ge=0, le=0.3)] | None = None
    # Share of sunlight the skin absorbs: about 0.3 white, 0.6 silver, 0.9 black (common
    # practice, no source).
    skin_absorptance: Share
    # All windows of the living space; 0 for none.
    glass_m2: Annotated[float, Field(ge=0, le=20)]
    # Heat transfer of the windows: about 5.5 single, 3 double acrylic or single behind an
    # insulated blind, 1.5 double behind one (common practice, no source).
    glass_u_w_m2k: Annotated[float, Field(ge=0.5, le=8)] = 3.0
    # Heat that warms everything inside, furniture and all, by one kelvin.
    thermal_mass_kj_k: Annotated[float, Field(ge=20, le=5000)]
    # Heat carried out per kelvin with windows or vents wide open, when it is too warm inside.
    vent_w_k: Annotated[float, Field(ge=0, le=2000)] = 120.0
    # People open windows or vents when it is warmer inside than this.
    vent_above_c: Annotated[float, Field(ge=10, le=40)] = 24.0
    # Effective area of the leaks with doors, lids and windows shut; fixed vents, which a build with
    # gas must have, add their own (common practice, no source).
    leak_cm2: Annotated[float, Field(ge=5, le=1000)] = 40.0
    # Where the battery is: in the air of the cabin, or outside.
    battery_place: Literal["cabin", "outside"] = "cabin"
    # What the vehicle's own tank holds, for heaters that burn it.
    engine_fuel: Literal["diesel", "petrol", "none"] = "diesel"
    # What it may carry beside its own weight before panels, battery and full tanks are in it: the
    # permitted weight less the weight on the scales, furniture and driver as they were then.
    payload_kg: Annotated[float, Field(ge=0, le=5000)] | None = None


# Shade and skyline by parking spot (common practice, no source): share of the beam taken
# over the day, height of the skyline.
SURROUNDINGS = {
    "open": {"shade_pct": 0.0, "horizon_deg": 0.0},
    "some trees": {"shade_pct": 25.0, "horizon_deg": 5.0},
    "forest": {"shade_pct": 70.0, "horizon_deg": 15.0},
    "canyon": {"shade_pct": 0.0, "horizon_deg": 25.0},
}


def surrounded(values: Any) -> Any:
    """Keys of a stop with the shade and the skyline of where one parks."""
    if not isinstance(values, dict) or not isinstance(values.get("surroundings"), str):
        return values
    return {**SURROUNDINGS.get(values["surroundings"], {}), **values}


class Stop(JobSection):
    """A place where the van is parked."""

    # A town or a coordinate, which may be followed by an altitude.
    place: Where
    # What the parking spot is like; sets shade_pct and horizon_deg where they are left out.
    surroundings: Literal["open", "some trees", "forest", "canyon"] = "open"
    # Compass direction the front of the parked van points; left out: any.
    heading_deg: Annotated[float, Field(ge=0, le=360)] | None = None
    # Nights that the van stays; 0 for the arrival at home.
    nights: Annotated[int, Field(ge=0, le=366)]
    # Driving to this stop, without pauses; left out: estimated from the places.
    drive_hours: Annotated[float, Field(ge=0, le=48)] | None = None
    # A rest halfway, by which the van arrives later.
    pause_hours: Annotated[float, Field(ge=0, le=24)] = 0.0
    # Local time of leaving; left out: that of the trip.
    leave_at: Clock | None = None
    # Driving from camp and back on each day of the stay, in hours.
    local_drive_hours: Annotated[float, Field(ge=0, le=16)] = 0.0
    # Into how many drives those hours are split.
    local_drives: Annotated[int, Field(ge=1, le=8)] = 1
    # Hours a day in which the parked engine runs to charge the battery.
    idle_hours: Annotated[float, Field(ge=0, le=12)] = 0.0
    # When that idling starts, local time.
    idle_at: Clock = "17:00"  # type: ignore[assignment]
    # Whether the van is plugged in here.
    plug_in: Literal["never", "nights", "always"] = "never"
    # Part of the direct sun that trees and houses take, as a mean over the day.
    shade_pct: Percent = 0.0
    # Height of the skyline all round; below it the direct sun is hidden.
    horizon_deg: Annotated[float, Field(ge=0, le=80)] = 0.0
    # What is filled up, emptied or swapped here, as often as it takes.
    services: Annotated[tuple[Service, ...], Field(max_length=4)] = ()
    # A weather file, "climate" or "clear" for this stop alone.
    weather: FileName | None = None
    # Mean wind as a weather station has it, 10 m above open ground; left out: that of [settings].
    wind_m_s: Wind | None = None

    @model_validator(mode="before")
    @classmethod
    def _surrounded(cls, values: Any) -> Any:
        return surrounded(values)


class Trip(JobSection):
    """One trip: leaves on a date, passes its stops in order, ends when the last is over."""

    # What the trip is called.
    name: Name
    # The day of leaving.
    depart: Date
    # Local time of leaving, on every morning of a move.
    leave_at: Clock = "10:00"  # type: ignore[assignment]
    # Where it leaves from; left out: the first stop is where it begins.
    start: Where | None = None
    # Charge of the battery at the start, from 0 to 1.
    start_soc: Share = 1.0
    stops: Annotated[tuple[Stop, ...], Field(min_length=1, max_length=400)]


class LogStay(JobSection):
    """Where the van stood while its monitor wrote a log."""

    # A town or a coordinate, which may be followed by an altitude.
    place: Where
    # The day of arriving; the van stays until it arrives at the next.
    arrives: Date
    # Where one parks; sets shade_pct and horizon_deg where they are left out.
    surroundings: Literal["open", "some trees", "forest", "canyon"] = "open"
    # Part of the direct sun that trees and houses take, as a mean over the day.
    shade_pct: Percent = 0.0
    # Height of the skyline all round; below it the direct sun is hidden.
    horizon_deg: Annotated[float, Field(ge=0, le=80)] = 0.0
    # Driving to this place; left out: estimated from the places.
    drive_hours: Annotated[float, Field(ge=0, le=48)] | None = None
    # Driving from camp and back on each day of the stay, in hours.
    local_drive_hours: Annotated[float, Field(ge=0, le=16)] = 0.0
    # Whether the van hung on a plug here.
    plug_in: Literal["never", "nights", "always"] = "never"

    @model_validator(mode="before")
    @classmethod
    def _surrounded(cls, values: Any) -> Any:
        return surrounded(values)


class Log(JobSection):
    """Where the van stood while its monitor wrote a log, for fit; left out: as in the trips."""

    stays: Annotated[tuple[LogStay, ...], Field(min_length=1, max_length=400)]
    # Local time of setting off to the next place.
    leave_at: Clock = "10:00"  # type: ignore[assignment]

    @model_validator(mode="after")
    def _in_order(self) -> Log:
        days = [stay.arrives for stay in self.stays]
        if any(later <= day for day, later in pairwise(days)):
            raise wrong("each stay of the log arrives on a later day than the one before")
        return self


# Draws of a trip where the job says nothing, and where these leave the answer open. Over 60 seeds
# the share of the demo's January in which everything holds moves by 1.8 points from seed to seed
# with 200, by 1.5 with 500, by 1.1 with 1,000.
FIRST_DRAWS, MOST_DRAWS = 200, 1000


class Settings(JobSection):
    """How the job is computed and shown."""

    # How many trips are simulated, each in weather of its own; left out: 200, and 1,000 where
    # these leave the answer open.
    draws: Annotated[int, Field(ge=1, le=5000)] | None = None
    # Starts the random numbers; the same seed gives the same answer.
    seed: Annotated[int, Field(ge=0, le=2**31 - 1)] = 1
    # Length of a step of the simulation.
    step_minutes: Literal[5, 6, 10, 12, 15, 20, 30, 60] = 60
    # Share of simulated trips in which everything must hold for ample.
    ample_share: Share = 0.95
    # Share of simulated trips in which the essentials must hold for a trip that is not short.
    tight_share: Share = 0.95
    # "climate", "clear" or the path of a weather file, seen from the job file's folder.
    weather: FileName = "climate"
    # Mean wind 10 m above open ground; left out: that of the weather stations around, month by
    # month, or 3.3 m/s where there are none (on a windy coast it may be twice that).
    wind_m_s: Wind | None = None
    # Widens the spread between bright and dark days by a tenth, for a promise on the safe side.
    prudent: bool = False
    # Units of the report.
    units: Literal["us", "metric"] = "us"
    # How the quote and the sheet for the van write dates, numbers and money, such as en_GB or
    # de_AT; left out: as units and currency suggest.
    locale: Locale | None = None

    @property
    def bounds(self) -> tuple[float, float]:
        """Shares of draws from which a trip is ample, and tight."""
        return self.ample_share, self.tight_share

    @property
    def first_draws(self) -> int:
        """Draws in which a trip is simulated first, and every change of it is tried."""
        return FIRST_DRAWS if self.draws is None else self.draws


# Sections that may be given once or several times.
SEVERAL = ("alternator", "shore")


class Job(JobSection):
    """A customer's job."""

    model_config = ConfigDict(defer_build=False)

    # What the job is called, on the report too.
    title: Name
    # Who the van is for; names the report where the file is called job.toml.
    customer: Name | None = None
    van: Van
    living: Living
    panels: Annotated[tuple[PanelGroup, ...], Field(max_length=50)] = ()
    battery: Battery
    # Each with its charger; [alternator] once, or [[alternator]] for each of several.
    alternator: Annotated[
        tuple[Alternator, ...], BeforeValidator(one_or_several), Field(max_length=4)
    ] = ()
    # Likewise; the first feeds the AC appliances, each further one its charger alone.
    shore: Annotated[tuple[Shore, ...], BeforeValidator(one_or_several), Field(max_length=4)] = ()
    generator: Generator | None = None
    converter: Converter | None = None
    inverter: Inverter | None = None
    water: Water | None = None
    propane: Propane | None = None
    appliances: Annotated[tuple[Appliance, ...], Field(max_length=200)] = ()
    trips: Annotated[tuple[Trip, ...], Field(min_length=1, max_length=100)]
    settings: Settings = Settings()
    wiring: WiringPlan | None = None
    roof: Roof | None = None
    prices: Prices | None = None
    levers: Annotated[tuple[LeverEntry, ...], Field(max_length=50)] = ()
    designs: Annotated[tuple[DesignEntry, ...], Field(max_length=MOST_DESIGNS)] = ()
    handover: Handover | None = None
    log: Log | None = None

    @property
    def held_socs(self) -> tuple[float, ...]:
        """Charges that appliances are held to, the lowest first."""
        held = {x.above_soc for x in self.appliances if x.above_soc is not None and x.count > 0}
        return tuple(sorted(held))

    @property
    def plug(self) -> Shore | None:
        """The plug that feeds the AC appliances."""
        return next(iter(self.shore), None)

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
