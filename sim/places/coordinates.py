"""What a place is written with beside names: pairs of degrees, and an altitude behind it."""

from __future__ import annotations

import re
import unicodedata

from sim.errors import PlaceError, shown
from sim.units import METRES_PER_FOOT

EXAMPLE = "coordinates are decimal degrees, latitude first, such as 38.57, -109.55"

_LONGEST_TEXT = 100
# The shore of the Dead Sea and the highest summit. [m]
_LOWEST_M, _HIGHEST_M = -440.0, 8850.0

_NUMBER = r"([+-]?(?:\d+\.?\d*|\.\d+))\s?°?\s?"
_PAIR = re.compile(rf"{_NUMBER}([NS]?)\s?[,; ]\s?{_NUMBER}([EW]?)", re.IGNORECASE | re.ASCII)
# 38,57, -109,55: commas for decimal points
_COMMAS = re.compile(
    r"([+-]?\d{1,2}),(\d+)(\s?°?\s?[NS]?\s?[,; ]\s?)([+-]?\d{1,3}),(\d+)(\s?°?\s?[EW]?)",
    re.IGNORECASE | re.ASCII,
)
_ALTITUDE = re.compile(
    r"(?:\s?[,;]\s?|\s)([+-]?(?:\d{1,2},\d{3}|\d+(?:\.\d*)?))\s?"
    r"(m|metres?|meters?|ft|foot|feet)\.?(?: high| elevation| a\.?s\.?l\.?)?$",
    re.IGNORECASE | re.ASCII,
)


def tidy(text: str) -> str:
    """Text without odd spaces and marks of direction, or an error if it cannot be a place."""
    if len(text) > _LONGEST_TEXT:
        raise PlaceError(
            f"{shown(text, 30)} is too long for a place: {len(text)} characters, at most "
            f"{_LONGEST_TEXT}"
        )
    # Marks without width, such as those that turn the direction of writing, say nothing here.
    seen = "".join(letter for letter in text if unicodedata.category(letter) != "Cf")
    seen = " ".join(seen.replace("−", "-").split())
    if not seen:
        raise PlaceError(f"a place is missing; write a town, such as Moab, UT; {EXAMPLE}")
    if not seen.isprintable():
        raise PlaceError(f"{shown(text)} holds characters that cannot be printed; retype the place")
    return seen


def split_altitude(text: str) -> tuple[str, float | None]:
    """The text of a place, and the altitude after it, if there is one. [m]

    Parameters
    ----------
    text : str
        Such as ``"La Paz, Bolivia, 3640 m"`` or ``"38.57, -109.55, 4,025 ft"``, tidy.

    Raises
    ------
    PlaceError
        An altitude where no road is, or a third number without a unit.
    """
    found = _ALTITUDE.search(text)
    if found is None:
        pair, _, last = text.rpartition(",")
        if _PAIR.fullmatch(pair.strip()) and re.fullmatch(r"\s*[+-]?\d+(\.\d*)?", last, re.ASCII):
            raise PlaceError(
                f"{shown(text)} has a third number; if it is the altitude, write its unit: "
                f"{pair.strip()}, {last.strip()} m"
            )
        return text, None
    height_m = float(found[1].replace(",", ""))
    if found[2].lower().startswith("f"):
        height_m *= METRES_PER_FOOT
    if not _LOWEST_M <= height_m <= _HIGHEST_M:
        raise PlaceError(
            f"altitude {found[1]} {found[2]} is out of range: it goes from {_LOWEST_M:.0f} to "
            f"{_HIGHEST_M:.0f} m above sea level"
        )
    where = text[: found.start()].strip()
    if not where:
        raise PlaceError(f"{shown(text)} is an altitude without a place")
    return where, height_m


def degrees(text: str) -> tuple[float, float] | None:
    """Latitude and longitude of a pair of numbers, None if the text is no such pair. [degrees]

    Raises
    ------
    PlaceError
        Out of range, decimal commas, or a sign and a compass letter for one number.
    """
    pair = _PAIR.fullmatch(text)
    if pair is None:
        if _COMMAS.fullmatch(text):
            points = _COMMAS.sub(r"\1.\2\3\4.\5\6", text)
            raise PlaceError(f"{shown(text)} has decimal commas; write points: {points}")
        return None
    both = []
    for number, compass in (pair.group(1, 2), pair.group(3, 4)):
        if compass and number[0] in "+-":
            raise PlaceError(
                f"{shown(pair.string)} has a sign and a compass letter for one number; write one "
                "of them"
            )
        both.append(-float(number) if compass.upper() in ("S", "W") else float(number))
    latitude, longitude = both
    if abs(latitude) > 90.0:
        swapped = "; latitude comes first" if abs(longitude) <= 90.0 else ""
        raise PlaceError(
            f"latitude {pair[1][:12]} is out of range: it goes from -90 to 90{swapped}"
        )
    if abs(longitude) > 180.0:
        raise PlaceError(f"longitude {pair[3][:12]} is out of range: it goes from -180 to 180")
    return latitude, longitude
