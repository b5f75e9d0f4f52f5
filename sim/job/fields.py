"""Kinds of value a job file holds: dates, clock times, windows of the day, lengths.

Each accepts what a builder would write and says what would be right when it cannot.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict
from pydantic_core import PydanticCustomError

from sim import units

DAY_MINUTES = 24 * 60
_CLOCK = re.compile(r"([0-9]{1,2}):([0-9]{2})(?::00)?")


class Part(BaseModel):
    """Base of every section of a job: frozen, no unknown keys, no text for numbers."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", strict=True, allow_inf_nan=False, validate_default=True
    )


def _wrong(rule: str) -> PydanticCustomError:
    # The text goes in through the context: braces in it are not placeholders.
    return PydanticCustomError("nightledger", "{rule}", {"rule": rule})


def parse_date(value: Any) -> dt.date:
    """A calendar date from a TOML date or an ISO text such as ``2027-01-09``."""
    if isinstance(value, dt.datetime):
        raise _wrong("give the date alone, such as 2027-01-09; the time goes into leave_at")
    if isinstance(value, dt.date):
        return value
    if isinstance(value, str):
        try:
            return dt.date.fromisoformat(value.strip())
        except ValueError:
            pass
    raise _wrong("this is no date of the calendar; write year-month-day, such as 2027-01-09")


def parse_clock(value: Any) -> int:
    """Minutes after midnight from ``"07:30"`` or a TOML time; ``"24:00"`` is midnight."""
    if isinstance(value, dt.time):
        return value.hour * 60 + value.minute
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= DAY_MINUTES:
        raise _wrong(f'write the time of day in quotes, such as "{value % 24:02d}:00"')
    if isinstance(value, str) and (match := _CLOCK.fullmatch(value.strip())):
        hour, minute = int(match[1]), int(match[2])
        if minute < 60 and hour * 60 + minute <= DAY_MINUTES:
            return hour * 60 + minute
    raise _wrong('write a local time of day from "00:00" to "24:00", such as "07:30"')


def parse_window(value: Any) -> tuple[int, int]:
    """Start and end minute of ``"18:00-22:30"``; an end before the start is past midnight."""
    if isinstance(value, tuple) and len(value) == 2:
        return parse_clock(value[0]), parse_clock(value[1])
    if isinstance(value, str) and value.count("-") == 1:
        start, end = (parse_clock(part) for part in value.split("-"))
        if start != end:
            return start, end
    raise _wrong('write a part of the day as "18:00-22:30"')


def parse_place(value: Any) -> Any:
    """A `Place` from a town or a coordinate."""
    from sim.errors import PlaceError
    from sim.job.places import Place, find_place

    if isinstance(value, Place):
        return value
    if not isinstance(value, str):
        raise _wrong('write a town such as "Moab, UT" or a coordinate such as "38.57, -109.55"')
    try:
        return find_place(value)
    except PlaceError as error:
        raise _wrong("; ".join(fault.rule for fault in error.faults)) from error


Date = Annotated[dt.date, BeforeValidator(parse_date)]
Clock = Annotated[int, BeforeValidator(parse_clock)]
Window = Annotated[tuple[int, int], BeforeValidator(parse_window)]


class Unit:
    """One way to enter a length, temperature, mass or volume, and its SI counterpart."""

    def __init__(
        self,
        suffix: str,
        si_suffix: str,
        to_si: Callable[[float], float],
        from_si: Callable[[float], float],
    ) -> None:
        self.suffix, self.si_suffix = suffix, si_suffix
        self.to_si, self.from_si = to_si, from_si


def _scaled(suffix: str, si_suffix: str, factor: float) -> Unit:
    return Unit(suffix, si_suffix, lambda x: x * factor, lambda x: x / factor)


ENTRY_UNITS = (
    _scaled("_ft", "_m", units.METRES_PER_FOOT),
    _scaled("_in", "_m", units.METRES_PER_INCH),
    _scaled("_cm", "_m", 0.01),
    _scaled("_mm", "_m", 0.001),
    _scaled("_ft2", "_m2", units.METRES_PER_FOOT**2),
    Unit("_f", "_c", units.fahrenheit_to_celsius, units.celsius_to_fahrenheit),
)
