"""How replies of the interview are read: choices, numbers within a key's bounds, dates, places."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial

from pydantic_core import PydanticCustomError

from sim.errors import PlaceError
from sim.interview.draft import Question, Refused, Which
from sim.job import shelf
from sim.job.model.fields import JobSection, bounds, parse_date
from sim.places.lookup import Place, find_place

DONE, UNKNOWN, NONE = "done", "unknown", "none"
_LONGEST_TEXT = 150
_COUNTED = re.compile(r"(.+?)\s*[x*×]\s*([0-9]{1,3})|(.+)")
# One comma before three digits may part thousands as well as decimals.
_THOUSANDS = re.compile(r"[-+]?[0-9]{1,3}(,[0-9]{3})+(\.[0-9]+)?")
_DECIMAL_COMMA = re.compile(r"[-+]?[0-9]+,[0-9]+")


def choice(
    key: str, text: str, reason: str, options: tuple[tuple[str, str], ...], default: str
) -> Question:
    """One of a few, by its number, its word or the beginning of its word."""
    words = tuple(word for word, _ in options)
    shown = tuple(what for _, what in options)
    return Question(
        key, text, reason, f"{words.index(default) + 1}", partial(pick, words=words), shown
    )


def from_shelf(key: str, section: str, text: str, reason: str, default: str) -> Question:
    """One profile of a section of the shelf."""
    names = shelf.names(section)
    number = names.index(default) + 1 if default in names else 1
    return Question(
        key, text, reason, f"{number}", partial(pick, words=names), profile_titles(section)
    )


def profile_titles(section: str) -> tuple[str, ...]:
    """The profiles of a section, each with what it is."""
    return tuple(f"{name}: {shelf.profile(section, name).title}" for name in shelf.names(section))


def pick(reply: str, words: tuple[str, ...]) -> str:
    """One of the words, by its number, itself, or its beginning."""
    word = re.sub(r"[\s_]+", "-", reply.lower()) if reply.lower() not in words else reply.lower()
    if word in words:
        return word
    if reply.isascii() and reply.isdigit() and 1 <= int(reply[:6]) <= len(words):
        return words[int(reply[:6]) - 1]
    found = tuple(each for each in words if word and each.startswith(word))
    if len(found) == 1:
        return found[0]
    if found:
        raise Which(f"{reply[:30]!r} may be several", found, found)
    raise Refused(f"give a number from 1 to {len(words)}, or a word of the list")


def counted(reply: str) -> tuple[str, int | None]:
    """``"laptop x2"`` as its word and its count; None where no count is given."""
    match = _COUNTED.fullmatch(reply.strip())
    if match is None:
        raise Refused(f"{reply[:30]!r} cannot be read")
    return (match[1] or match[3]).strip(), int(match[2]) if match[2] else None


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
        low, high = bounds(self.part, self.field)
        low, high = max(low, self.at_least) / self.per_unit, high / self.per_unit
        high = min(high, self.at_most)
        values = list(self._readings(reply, low, high))
        if len(values) > 1:
            either = " or ".join(f"{value:.10g}" for value in values)
            raise Refused(f"the comma may be read in two ways; write {either}")
        if not values:
            zero = "0, or " if self.or_zero else ""
            what = "a whole number" if self.whole else "a number"
            # Rounded inwards: what the sentence allows is allowed.
            least, most = math.ceil(low * 10 - 1e-6) / 10, math.floor(high * 10 + 1e-6) / 10
            raise Refused(f"give {zero}{what} from {least:.10g} to {most:.10g}, without a unit")
        return int(values[0]) if values[0] == int(values[0]) else values[0]

    def _readings(self, reply: str, low: float, high: float) -> Iterator[float]:
        """The numbers within the bounds that a reply may mean."""
        for text in _number_texts(reply):
            try:
                value: float = int(text) if self.whole else float(text)
            except ValueError:
                continue
            if low <= value <= high or (self.or_zero and value == 0):
                yield value


def _number_texts(reply: str) -> Iterator[str]:
    """A number as Python writes it: with a decimal point, and without marks for thousands."""
    if _THOUSANDS.fullmatch(reply):
        yield reply.replace(",", "")
    if _DECIMAL_COMMA.fullmatch(reply):
        yield reply.replace(",", ".")
    if "," not in reply:
        yield reply


def number(key: str, text: str, reason: str, default: str, within: Within) -> Question:
    """A number within the bounds of a key of the job file."""
    return Question(key, text, reason, default, within.read)


def short_text(reply: str, longest: int = _LONGEST_TEXT) -> str:
    """Words that fit on a line."""
    if len(reply) > longest:
        raise Refused(f"give at most {longest} characters")
    return reply


def day(reply: str) -> dt.date:
    """A date of the calendar."""
    try:
        return parse_date(reply)
    except PydanticCustomError as error:
        raise Refused(error.message()) from None


def day_or_done(reply: str) -> dt.date | None:
    """A date of the calendar, or None for the end."""
    return None if reply.lower() == DONE else day(reply)


def place(reply: str) -> Place:
    """A town or a coordinate.

    Raises
    ------
    Which
        Several may be meant, or others are spelled alike: one can be picked by its number.
    Refused
        There is no such place, nor one like it.
    """
    try:
        return find_place(reply)
    except PlaceError as error:
        says = "; ".join(fault.rule for fault in error.faults)
        if error.choices:
            replies = tuple(text.partition(" (")[0] for text in error.choices)
            raise Which(says.partition(";")[0], error.choices, replies) from None
        raise Refused(says) from None
