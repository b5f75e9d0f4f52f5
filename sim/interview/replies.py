"""How replies of the interview are read: choices, numbers within a key's bounds, dates, places."""

from __future__ import annotations

import datetime as dt
import math
import re
from dataclasses import dataclass
from functools import partial
from typing import Any

from pydantic_core import PydanticCustomError

from sim.errors import PlaceError
from sim.interview.draft import Question, Refused
from sim.job import shelf
from sim.job.model.appliances import Cooking, appliance_of
from sim.job.model.fields import JobSection, bounds, parse_date
from sim.job.model.job import Stop
from sim.job.model.living import Living
from sim.job.rules.tanks import meals_watts
from sim.job.rules.trips import FASTEST_KM_H
from sim.places.lookup import Place, distance_km, find_place

DONE, UNKNOWN = "done", "unknown"
_LONGEST_TEXT = 150
_COUNTED = re.compile(r"(.+?)(?:\s*[x*×]\s*([0-9]{1,3}))?")


def choice(
    key: str, text: str, reason: str, options: tuple[tuple[str, str], ...], default: str
) -> Question:
    """One of a few, by its number or by its word."""
    words = tuple(word for word, _ in options)
    shown = tuple(what for _, what in options)
    return Question(
        key, text, reason, f"{words.index(default) + 1}", partial(_pick, words=words), shown
    )


def from_shelf(key: str, section: str, text: str, reason: str, default: str) -> Question:
    """One profile of a section of the shelf."""
    names = shelf.names(section)
    number = names.index(default) + 1 if default in names else 1
    shown = tuple(f"{name}: {shelf.profile(section, name).title}" for name in names)
    return Question(key, text, reason, f"{number}", partial(_pick, words=names), shown)


def _pick(reply: str, words: tuple[str, ...]) -> str:
    if reply.lower() in words:
        return reply.lower()
    if reply.isascii() and reply.isdigit() and 1 <= int(reply[:6]) <= len(words):
        return words[int(reply[:6]) - 1]
    raise Refused(f"give a number from 1 to {len(words)}")


@dataclass(frozen=True)
class Within:
    """What a number may be: the bounds of a key of the job file, and what narrows or widens them.

    Attributes
    ----------
    part : type of JobSection
    field : str
        The key.
    whole, or_zero, or_unknown : bool
        No fractions; 0 too; the word for not known too.
    per_unit : float
        Units of the key in one of those asked for.
    at_least, at_most : float
        `at_least` in the key's unit, `at_most` in the one asked for.
    """

    part: type[JobSection]
    field: str
    whole: bool = False
    or_zero: bool = False
    or_unknown: bool = False
    per_unit: float = 1.0
    at_least: float = 0.0
    at_most: float = math.inf

    def read(self, reply: str) -> float | int | None:
        """The number of a reply."""
        if self.or_unknown and reply.lower() == UNKNOWN:
            return None
        try:
            value: float | int = int(reply) if self.whole else float(reply)
        except ValueError:
            value = float("nan")
        if self.or_zero and value == 0:
            return 0
        low, high = bounds(self.part, self.field)
        low, high = max(low, self.at_least) / self.per_unit, high / self.per_unit
        high = min(high, self.at_most)
        if not low <= value <= high:
            zero = "0, or " if self.or_zero else ""
            what = "a whole number" if self.whole else "a number"
            # Rounded inwards: what the sentence allows is allowed.
            least, most = math.ceil(low * 10 - 1e-6) / 10, math.floor(high * 10 + 1e-6) / 10
            raise Refused(f"give {zero}{what} from {least:.10g} to {most:.10g}, without a unit")
        return int(value) if value == int(value) else value


def number(key: str, text: str, reason: str, default: str, within: Within) -> Question:
    """A number within the bounds of a key of the job file."""
    return Question(key, text, reason, default, within.read)


def short_text(reply: str, longest: int = _LONGEST_TEXT) -> str:
    """Words that fit on a line."""
    if len(reply) > longest:
        raise Refused(f"give at most {longest} characters")
    return reply


def new_name(reply: str, used: list[Any]) -> str:
    """A name that no other trip has."""
    if reply in used:
        raise Refused("another trip has this name; tell them apart")
    return short_text(reply)


def day(reply: str) -> dt.date:
    """A date of the calendar."""
    try:
        return parse_date(reply)
    except PydanticCustomError as error:
        raise Refused(error.message()) from None


def place(reply: str) -> Place:
    """A town or a coordinate."""
    try:
        return find_place(reply)
    except PlaceError as error:
        raise Refused("; ".join(fault.rule for fault in error.faults)) from None


def next_place(reply: str, before: Place, stop: int) -> Place | None:
    """The next stop, or None when the trip is over; the first one must be."""
    if stop > 1 and reply.lower() == DONE:
        return None
    here = place(reply)
    km = distance_km(before, here)
    if km > FASTEST_KM_H * bounds(Stop, "drive_hours")[1]:
        raise Refused(f"{here.label} is {km:.0f} km away, too far for one leg; put a stop between")
    return here


def counted_appliances(reply: str, has_plug: bool, living: Living) -> dict[str, int]:
    """Count of each appliance: ``"1, 4 x2"``; ``"none"`` is none."""
    names = shelf.names("appliances")
    chosen: dict[str, int] = {}
    for part in filter(None, (part.strip() for part in reply.split(","))):
        if reply.strip().lower() == "none":
            break
        match = _COUNTED.fullmatch(part)
        assert match is not None  # any text without a comma matches
        word, count = (match[1], int(match[2] or 1)) if part not in names else (part, 1)
        try:
            name = _pick(word.strip(), names)
        except Refused:
            raise Refused(
                f"{part[:30]!r} is no number of the list; write numbers from 1 to {len(names)} "
                "with commas, such as 2, 5 x2"
            ) from None
        chosen[name] = chosen.get(name, 0) + count
        if not 1 <= chosen[name] <= 100:
            raise Refused(f"give 1 to 100 of {name}")
        if not has_plug and shelf.profile("appliances", name).values.get("runs") == "plugged":
            raise Refused(f"{name} runs only on a plug, and the van has none")
    for name, count in chosen.items():
        _cooks_for_all(name, count, living)
    return chosen


def _cooks_for_all(name: str, count: int, living: Living) -> None:
    """Refuse what cooks with electricity and is too weak for the meals of all."""
    item = appliance_of(shelf.profile("appliances", name).values)
    if isinstance(item, Cooking) and item.fuel == "electricity":
        needed = math.ceil(meals_watts(item, living) / item.watts)
        if needed > count:
            raise Refused(
                f"{name} is too weak to cook for {living.people}; write {name} x{needed}, or leave "
                "it out"
            )
