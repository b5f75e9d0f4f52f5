"""What is aboard, as people say it: names, beginnings of names and numbers become profiles."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache

from sim.errors import JobError
from sim.interview.draft import Refused, Which
from sim.interview.replies import NONE, counted
from sim.job import shelf

_MOST = 100
# The kinds of an appliance that a heading gathers; every kind has one.
_GROUPS = (
    ("Cold", ("cold box",)),
    ("Warmth and air", ("heater", "fan", "air conditioner")),
    ("Kitchen", ("cooking",)),
    ("Water", ("pump", "hot water")),
    ("Light, devices", ("lights", "device charging")),
    ("At times", ("timed",)),
    ("Day and night", ("steady",)),
)
# What people say for a thing on the shelf that goes by a longer name, or by several.
_USUAL = {
    "ac": "air-conditioner",
    "aircon": "air-conditioner",
    "blanket": "electric-blanket",
    "cooktop": "induction-hob",
    "fan": "roof-fan",
    "freezer": "freezer-dc",
    "fridge": "fridge-dc",
    "furnace": "furnace-propane",
    "heater": "air-heater-fuel",
    "hob": "induction-hob",
    "hot-water": "hot-water-propane-instant",
    "internet": "mobile-internet",
    "lights": "lights-led",
    "oven": "propane-oven",
    "pump": "water-pump",
    "refrigerator": "fridge-dc",
    "router": "mobile-internet",
    "stove": "propane-stove",
    "tv": "television",
    "wifi": "mobile-internet",
}


@cache
def groups() -> tuple[tuple[str, tuple[str, ...]], ...]:
    """The appliances of the shelf by what they are for: headings and names."""
    names = shelf.names("appliances")
    kinds = {name: shelf.profile("appliances", name).values["kind"] for name in names}
    return tuple(
        (heading, tuple(name for name in names if kinds[name] in of)) for heading, of in _GROUPS
    )


def in_order() -> tuple[str, ...]:
    """The appliances as they are numbered, from 1."""
    return tuple(name for _, names in groups() for name in names)


def aboard(text: str, people: int) -> dict[str, int]:
    """How many of each profile: ``"fridge, 12, laptops, kettle x2"``; ``"none"`` is none.

    Parameters
    ----------
    text : str
        Parted by commas: names, beginnings of names, numbers of `in_order`.
    people : int
        A plural without a count is one for each of them.

    Raises
    ------
    Which
        A word that may be several things; one can be picked by its number.
    Refused
        A word that names nothing on the shelf.
    """
    found: dict[str, int] = {}
    parts = [part.strip() for part in text.lower().split(",")]
    for index, part in enumerate(parts):
        if part in ("", NONE):
            continue
        word, count = counted(part)
        try:
            name, is_plural = _on_shelf(word)
        except Which as which:
            raise _in_its_place(which, parts, index, part.removeprefix(word)) from None
        found[name] = found.get(name, 0) + (count or (people if is_plural else 1))
        if count == 0 or found[name] > _MOST:
            raise Refused(f"give 1 to {_MOST} of {name}")
    return found


def written(items: Mapping[str, int]) -> str:
    """What is aboard as a reply that `aboard` reads."""
    return ", ".join(f"{name} x{n}" if n > 1 else name for name, n in items.items()) or NONE


def _in_its_place(which: Which, parts: list[str], index: int, rest: str) -> Which:
    """The same choices, each as the whole reply with the word replaced."""
    before, after = parts[:index], parts[index + 1 :]
    whole = tuple(", ".join([*before, f"{name}{rest}", *after]) for name in which.replies)
    return Which(which.says, which.choices, whole)


def _on_shelf(said: str) -> tuple[str, bool]:
    """The profile that a word means, and whether the word was a plural."""
    names = shelf.names("appliances")
    word = re.sub(r"[\s_]+", "-", said.strip())
    if word in names:
        return word, False
    if word.isascii() and word.isdigit():
        if 1 <= int(word[:6]) <= len(names):
            return in_order()[int(word[:6]) - 1], False
        raise Refused(f"{said[:30]!r} is not a number of the list, which has 1 to {len(names)}")
    single = word.removesuffix("s")
    for each, is_plural in ((word, False), (single, single != word)):
        if each in _USUAL or each in names:
            return _USUAL.get(each, each), is_plural
    starts = tuple(name for name in names if single and name.startswith(single))
    if len(starts) == 1:
        return starts[0], single != word
    if starts:
        raise Which(f"{said[:30]!r} may be several things", starts, starts)
    try:
        shelf.profile("appliances", word)
    except JobError as error:
        hint = error.faults[0].rule.partition("; ")[2]
        raise Refused(f"{said[:30]!r} is not an appliance on the shelf; {hint}") from None
    raise AssertionError("a profile that is not among the names")
