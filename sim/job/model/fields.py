"""Kinds of value a job file holds: dates, clock times, windows of the day, lengths.

Each accepts what a builder would write and says what would be right when it cannot.
"""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, Any, get_args, get_origin

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationInfo,
    WithJsonSchema,
    field_validator,
)
from pydantic_core import PydanticCustomError

from sim import units
from sim.errors import PlaceError
from sim.places.lookup import Place, find_place

DAY_MINUTES = 24 * 60
# Rules of time zones and the sun's tables hold here; a year outside is a slip of the pen.
YEARS = (2000, 2099)
# No key needs a smaller step than this, in its own unit.
SMALLEST = 0.001
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_CLOCK = re.compile(r"([0-9]{1,2}):([0-9]{2})(?::00)?(?: ?([AaPp])\.?[Mm]\.?)?")


class JobSection(BaseModel):
    """Base of every section of a job: frozen, no unknown keys, no text for numbers."""

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        strict=True,
        allow_inf_nan=False,
        validate_default=True,
        # What checks a section is built as a part of the whole job, and alone only if asked for.
        defer_build=True,
    )

    @field_validator("*", mode="after")
    @classmethod
    def _no_dust(cls, value: Any) -> Any:
        """Nothing or something: what is next to nothing is a slip, and divides badly."""
        if isinstance(value, float) and 0.0 < abs(value) < SMALLEST:
            raise wrong(f"is next to nothing; give 0, or at least {SMALLEST:g}")
        return value


def wrong(rule: str) -> PydanticCustomError:
    """What a value breaks, in a builder's words."""
    # The text goes in through the context: braces in it are not placeholders.
    return PydanticCustomError("nightledger", "{rule}", {"rule": rule})


def one_or_several(value: Any) -> Any:
    """A list of one from a section written once; a list stays what it is."""
    return (value,) if isinstance(value, dict) else value


def parse_name(value: Any) -> Any:
    """One line of text without blanks around it; anything but text is left to the model."""
    if not isinstance(value, str):
        return value
    value = value.strip()
    if not value:
        raise wrong("must not be empty")
    if any(unicodedata.category(letter) in ("Cc", "Zl", "Zp") for letter in value):
        raise wrong("must be one line of text, without tabs or control characters")
    return value


def parse_locale(value: Any) -> Any:
    """The name of a locale that Babel knows, such as ``de_AT``; ``de-AT`` is the same."""
    if not isinstance(value, str):
        return value
    from babel import Locale, UnknownLocaleError

    try:
        return str(Locale.parse(value.strip().replace("-", "_")))
    except (UnknownLocaleError, ValueError):
        raise wrong("no such locale; write language and country, such as en_US or de_AT") from None


def parse_date(value: Any) -> dt.date:
    """A calendar date from a TOML date or an ISO text such as ``2027-01-09``."""
    if isinstance(value, dt.datetime):
        raise wrong("give the date alone, such as 2027-01-09; the time of day goes into leave_at")
    if isinstance(value, str) and _DATE.fullmatch(value.strip()):
        with suppress(ValueError):
            value = dt.date.fromisoformat(value.strip())
    if not isinstance(value, dt.date):
        raise wrong("must be a date of the calendar as year-month-day, such as 2027-01-09")
    if not YEARS[0] <= value.year <= YEARS[1]:
        raise wrong(f"must be a date in the years {YEARS[0]} to {YEARS[1]}")
    return value


def parse_clock(value: Any) -> int:
    """Minutes after midnight from ``"07:30"`` or a TOML time; ``"24:00"`` is midnight."""
    if isinstance(value, dt.time) and not (value.second or value.microsecond):
        return value.hour * 60 + value.minute
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= 24:
        raise wrong(f'write the time of day in quotes, such as "{value:02d}:00"')
    if isinstance(value, str) and (match := _CLOCK.fullmatch(value.strip())):
        hour, minute, half = int(match[1]), int(match[2]), match[3]
        if half and 1 <= hour <= 12 and minute < 60:
            hour = hour % 12 + 12 * (half in "Pp")
            raise wrong(f'write the time of day from 0 to 24 hours: "{hour:02d}:{minute:02d}"')
        if not half and minute < 60 and hour * 60 + minute <= DAY_MINUTES:
            return hour * 60 + minute
    raise wrong('write a local time of day from "00:00" to "24:00", such as "07:30"')


def parse_window(value: Any) -> tuple[int, int]:
    """Start and end minute of ``"18:00-22:30"``; an end before the start is past midnight."""
    if not isinstance(value, str) or value.replace("–", "-").count("-") != 1:
        raise wrong('write a part of the day as "18:00-22:30"')
    start, end = (parse_clock(part) for part in value.replace("–", "-").split("-"))
    if start % DAY_MINUTES == end % DAY_MINUTES and (start, end) != (0, DAY_MINUTES):
        raise wrong('starts when it ends; the whole day is "00:00-24:00"')
    return start, end


def minutes_of(windows: Sequence[tuple[int, int]]) -> frozenset[int]:
    """The minutes of the local day that lie in parts of it."""
    return frozenset(
        minute % DAY_MINUTES
        for start, end in windows
        for minute in range(start, end if end > start else end + DAY_MINUTES)
    )


def window_text(window: tuple[int, int]) -> str:
    """Start and end minute as a job file writes them, ``"18:00-22:30"``."""
    return "-".join(f"{minute // 60:02d}:{minute % 60:02d}" for minute in window)


class Unknown:
    """How many unknown places of a job are still looked up; near names are slow to find."""

    left = 10


def parse_place(value: Any, info: ValidationInfo) -> Any:
    """A `Place` from a town or a coordinate; an `Unknown` as context limits the search."""
    if isinstance(value, Place):
        return value
    if not isinstance(value, str):
        raise wrong('write a town such as "Moab, UT" or a coordinate such as "38.57, -109.55"')
    unknown = info.context if isinstance(info.context, Unknown) else None
    if unknown is not None and unknown.left == 0:
        raise wrong("not looked up: too many places before it are unknown")
    try:
        return _found(value)
    except PlaceError as error:
        if unknown is not None:
            unknown.left -= 1
        raise wrong("; ".join(fault.rule for fault in error.faults)) from error


@lru_cache(maxsize=1000)
def _found(text: str) -> Place:
    """The place; a job comes back to the same towns, and is read again and again."""
    return find_place(text)


Share = Annotated[float, Field(ge=0.0, le=1.0)]
Percent = Annotated[float, Field(ge=0.0, le=100.0)]
Name = Annotated[str, BeforeValidator(parse_name), Field(max_length=200)]
# For an editor: what each looks like in the file.
_AS_CLOCK = {"type": "string", "pattern": r"^[0-9]{1,2}:[0-9]{2}(:00)?$", "examples": ["07:30"]}
_AS_WINDOW = {
    "type": "string",
    "pattern": r"^ *[0-9]{1,2}:[0-9]{2} *[-–] *[0-9]{1,2}:[0-9]{2} *$",
    "examples": ["18:00-22:30"],
}
_AS_DATE = {"type": "string", "format": "date", "examples": ["2027-01-09"]}
Date = Annotated[dt.date, BeforeValidator(parse_date), WithJsonSchema(_AS_DATE)]
Clock = Annotated[int, BeforeValidator(parse_clock), WithJsonSchema(_AS_CLOCK)]
Window = Annotated[tuple[int, int], BeforeValidator(parse_window), WithJsonSchema(_AS_WINDOW)]


@dataclass(frozen=True)
class Unit:
    """Another way to enter a length, area or temperature than the SI key's.

    Attributes
    ----------
    suffix, si_suffix : str
        Ends of the two keys, such as ``_ft`` and ``_m``.
    to_si, from_si : callable
        Conversions of a value.
    """

    suffix: str
    si_suffix: str
    to_si: Callable[[float], float]
    from_si: Callable[[float], float]


def _scaled(suffix: str, si_suffix: str, factor: float) -> Unit:
    return Unit(suffix, si_suffix, lambda x: x * factor, lambda x: x / factor)


ENTRY_UNITS = (
    _scaled("_ft", "_m", units.METRES_PER_FOOT),
    _scaled("_in", "_m", units.METRES_PER_INCH),
    _scaled("_cm", "_m", 0.01),
    _scaled("_mm", "_m", 0.001),
    _scaled("_ft2", "_m2", units.METRES_PER_FOOT**2),
    _scaled("_lb", "_kg", units.KG_PER_POUND),
    _scaled("_gal", "_l", units.LITRES_PER_GALLON),
    _scaled("_gal_person_day", "_l_person_day", units.LITRES_PER_GALLON),
    _scaled("_gal_min", "_l_min", units.LITRES_PER_GALLON),
    _scaled("_cfm", "_m3_h", units.METRES_PER_FOOT**3 * 60.0),
    _scaled("heat_btu_h", "heat_watts", units.WATTS_PER_BTU_H),
    _scaled("cool_btu_h", "cool_watts", units.WATTS_PER_BTU_H),
    _scaled("_mph", "_m_s", 1000.0 * units.KM_PER_MILE / 3600.0),
    Unit("_f", "_c", units.fahrenheit_to_celsius, units.celsius_to_fahrenheit),
)
# Keys that end like a temperature and are none: C-rates, and changes in percent per degree.
_NO_TEMPERATURES = ("max_charge_c", "max_discharge_c", "tail_c", "_pct_c")


def entry_keys(si_key: str) -> dict[str, Unit]:
    """The other keys under which a value may be entered, each with its unit."""
    if si_key.endswith(_NO_TEMPERATURES):
        return {}
    return {
        si_key.removesuffix(unit.si_suffix) + unit.suffix: unit
        for unit in ENTRY_UNITS
        if si_key.endswith(unit.si_suffix)
    }


def bounds(part: type[JobSection], key: str) -> tuple[float, float]:
    """Least and most that a key of the job file takes, in its own unit."""
    low = high = 0.0
    entry = part.model_fields[key]
    # A key that may be left out keeps its bounds one level further in.
    inner = [x for x in get_args(entry.annotation) if get_origin(x) is Annotated]
    found = [*entry.metadata, *(get_args(inner[0])[1].metadata if inner else ())]
    for item in found:
        low = getattr(item, "ge", getattr(item, "gt", low))
        high = getattr(item, "le", high)
    return float(low), float(high)
