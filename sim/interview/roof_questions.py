"""What a builder is asked about the roof: its flat part, and what is fitted on it.

Sizes of fittings are common practice, no source: measure the thing itself.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial

from sim.interview.draft import Answers, Question, Refused, Which
from sim.interview.load_questions import all_aboard
from sim.interview.replies import NONE, Within, counted, pick
from sim.job import shelf
from sim.job.model.roof import Roof
from sim.units import METRES_PER_FOOT

# Along and across the van. [m]
_SIZES_M = {
    "fan": (0.42, 0.42),
    "air conditioner": (1.0, 0.7),
    "skylight": (0.7, 0.5),
    "vent": (0.2, 0.2),
    "antenna": (0.25, 0.25),
    "dish": (0.6, 0.4),
    "box": (1.2, 0.8),
}
# Appliances that have a part on the roof.
_ON_ROOF = {
    "roof-fan": "fan",
    "roof-fan-by-hand": "fan",
    "air-conditioner": "air conditioner",
    "satellite-internet": "dish",
    "toilet-vent": "vent",
}
# The roof is flat for less than the van is wide inside.
_CURVE_M = 0.3
_FROM_EDGE_M = 0.1
_SIDES = re.compile(r"(\S+)\s*(?:[x*×]|by)\s*(\S+)", re.IGNORECASE)
# A comma before a digit is a decimal comma.
_BETWEEN = re.compile(r";|,(?!\d)")
_AT = re.compile(r"(.+?)\s+(?:at\s+)?([0-9][0-9.,]*)", re.IGNORECASE)


@dataclass(frozen=True)
class OnRoof:
    """A thing on the roof, in metres.

    Attributes
    ----------
    name : str
    x_m, y_m : float
        From the front edge, and from the left edge looking ahead, to its nearest corner.
    length_m, width_m : float
        Along and across the van.
    """

    name: str
    x_m: float
    y_m: float
    length_m: float
    width_m: float


def roof(answers: Answers) -> Iterator[Question]:
    """The flat part of the roof, and what is fitted on it."""
    unit, unit_m = ("feet", METRES_PER_FOOT) if answers["units"] == "us" else ("metres", 1.0)
    van = shelf.profile("vans", answers["van"]).values
    wide = _written((van["width_m"] - _CURVE_M) / unit_m)
    yield Question(
        "roof", f"How long and wide is the flat part of the roof, in {unit}?",
        f"Where panels may lie: length x width; {NONE} when it is not known.",
        f"{answers['length']} x {wide}", partial(_sides, unit_m=unit_m),
    )  # fmt: skip
    size = answers["roof"]
    if size is not None:
        yield Question(
            "on roof", "What is fitted on the roof?",
            f"{', '.join(_SIZES_M)}; how far from the front in {unit}, as in: fan at 3, vent at 8.",
            _usual(answers, size, unit_m), partial(on_roof, size=size, unit_m=unit_m),
        )  # fmt: skip


def _sides(reply: str, unit_m: float) -> tuple[float, float] | None:
    """Length and width of the roof. [m]"""
    if reply.lower() == NONE:
        return None
    match = _SIDES.fullmatch(reply)
    if match is None:
        raise Refused("write length x width, such as 11 x 5")
    sides = []
    for text, key in ((match[1], "length_m"), (match[2], "width_m")):
        value = Within(Roof, key, per_unit=unit_m, at_least=2 * _FROM_EDGE_M).read(text)
        assert value is not None
        sides.append(value * unit_m)
    return sides[0], sides[1]


def _usual(answers: Answers, size: tuple[float, float], unit_m: float) -> str:
    """What the appliances bring onto the roof, at its ends by turns and then between."""
    names = [_ON_ROOF[name] for name in all_aboard(answers) if name in _ON_ROOF]
    found, front, rear = [], _FROM_EDGE_M, size[0] - _FROM_EDGE_M
    for index, name in enumerate(names):
        long, wide = _SIZES_M[name]
        if rear - front < long or wide > size[1]:
            break
        x = rear - long if index % 2 == 0 else front
        rear, front = (x, front) if index % 2 == 0 else (rear, x + long)
        found.append(f"{name} at {_written(x / unit_m)}")
    return ", ".join(found) or NONE


def _written(value: float) -> str:
    """Rounded down to a tenth, so that what fits still fits."""
    return f"{math.floor(value * 10.0 + 1e-9) / 10.0:g}"


def on_roof(reply: str, size: tuple[float, float], unit_m: float) -> tuple[OnRoof, ...]:
    """Things on the roof from ``"fan at 3, antenna at 10"``; ``"none"`` is none.

    Parameters
    ----------
    reply : str
    size : tuple of 2 floats
        Length and width of the roof. [m]
    unit_m : float
        Metres in the unit of the reply.

    Raises
    ------
    Which, Refused
        No such thing, no place for it, or one that lies beyond the roof.
    """
    parts = [part.strip() for part in _BETWEEN.split(reply) if part.strip()]
    found: list[OnRoof] = []
    for index, part in enumerate(parts):
        if part.lower() == NONE:
            continue
        match = _AT.fullmatch(part)
        if match is None:
            raise Refused(f"say how far from the front {part[:30]!r} is, as in: fan at 3")
        name = _named(match[1], match[2], parts, index)
        copies = sum(item.name.partition(" no ")[0] == name for item in found)
        label = f"{name} no {copies + 1}" if copies else name
        found.append(_placed(label, _SIZES_M[name], match[2], size, unit_m))
    return tuple(found)


def _named(word: str, at: str, parts: list[str], index: int) -> str:
    """The thing that a word means."""
    word, _ = counted(re.sub(r"^roof[\s-]+", "", word, flags=re.IGNORECASE))
    try:
        return pick(word, tuple(_SIZES_M))
    except Which as which:
        replies = tuple(
            ", ".join([*parts[:index], f"{name} at {at}", *parts[index + 1 :]])
            for name in which.replies
        )
        raise Which(which.says, which.choices, replies) from None
    except Refused:
        raise Refused(f"{word[:30]!r} is none of {', '.join(_SIZES_M)}") from None


def _placed(
    name: str, lies: tuple[float, float], at: str, size: tuple[float, float], unit_m: float
) -> OnRoof:
    long, wide = lies
    last = (size[0] - long) / unit_m
    if wide > size[1] or last < 0.0:
        raise Refused(f"the roof is too small for this: {name}")
    try:
        x = float(at.rstrip(",.").replace(",", "."))
    except ValueError:
        raise Refused(f"{at[:20]!r} is not a number") from None
    if x > last:
        raise Refused(f"{name} would reach beyond the roof; it can be at most at {_written(last)}")
    return OnRoof(name, x * unit_m, (size[1] - wide) / 2.0, long, wide)


def roof_text(answers: Answers) -> Iterator[str]:
    """The sections of the roof."""
    size = answers.get("roof")
    if size is None:
        return
    unit, unit_m = ("ft", METRES_PER_FOOT) if answers["units"] == "us" else ("m", 1.0)
    yield (
        "[roof]  # its flat part; nightledger panels packs it\n"
        f"length_{unit} = {size[0] / unit_m:.10g}\nwidth_{unit} = {size[1] / unit_m:.10g}\n"
    )
    for item in answers["on roof"]:
        lines = ["[[roof.obstacles]]  # x from the front edge, y from the left: measure them"]
        lines.append(f'name = "{item.name.capitalize()}"')
        for key, value in (("x", item.x_m), ("y", item.y_m)):
            lines.append(f"{key}_{unit} = {math.floor(value / unit_m * 100 + 1e-6) / 100:g}")
        for key, value in (("length", item.length_m), ("width", item.width_m)):
            lines.append(f"{key}_{unit} = {math.floor(value / unit_m * 100 + 1e-6) / 100:g}")
        yield "\n".join(lines) + "\n"
