"""Numbers, dates and names as a reader meets them, the same on the page and in the terminal.

Everything here returns plain text: whoever shows it escapes it for its place.
"""

from __future__ import annotations

import calendar
import datetime as dt
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor
from typing import TYPE_CHECKING

from sim.units import KG_PER_POUND, LITRES_PER_GALLON, celsius_to_fahrenheit

if TYPE_CHECKING:
    from sim.ledger.sampling import Interval
    from sim.trip.tanks import StoreLine

GAP = "\N{NO-BREAK SPACE}"
# The gap between a number and its unit.
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=(?:%|k?Wh?|Ah?|V|C|h|kg|lb|gal|°[CF])(?!\w))")
# Marks that turn the direction of writing, and letters that bring their own.
_TURNS = frozenset(("R", "AL", "RLE", "RLO", "LRE", "LRO", "RLI", "LRI", "FSI", "PDF", "PDI"))
# With what the names of levers begin, where that is no name of the customer's.
_LEVERS_BEGIN = {
    "A", "Battery", "Fresh", "Grey", "Half", "Insulation", "Inverter", "Left", "One", "Panels",
    "Propane", "Snow", "The", "Twice",
}  # fmt: skip
# Fewer draws, above all years of a weather file, are counted: a share in percent would say more
# than they know.
FEWEST_FOR_A_SHARE = 20


@dataclass(frozen=True)
class Manner:
    """Dates, clocks and temperatures the way the customer reads them.

    Attributes
    ----------
    units : str
        "us" or "metric".
    """

    units: str

    def day(self, date: dt.date) -> str:
        """``Sat, Jan 9`` or ``Sat 9 Jan``."""
        weekday, month = calendar.day_abbr[date.weekday()], calendar.month_abbr[date.month]
        if self.units == "us":
            return f"{weekday}, {month}{GAP}{date.day}"
        return f"{weekday} {date.day}{GAP}{month}"

    def dated(self, date: dt.date) -> str:
        """``Sat, Jan 9, 2027`` or ``Sat 9 Jan 2027``."""
        return f"{self.day(date)}{', ' if self.units == 'us' else ' '}{date.year}"

    def full_date(self, date: dt.date) -> str:
        """``Jan 9, 2027`` or ``9 Jan 2027``."""
        month = calendar.month_abbr[date.month]
        if self.units == "us":
            return f"{month}{GAP}{date.day}, {date.year}"
        return f"{date.day}{GAP}{month} {date.year}"

    def clock(self, time: dt.datetime) -> str:
        """``4:30 pm`` or ``16:30``."""
        if self.units == "us":
            half = "am" if time.hour < 12 else "pm"
            return f"{(time.hour - 1) % 12 + 1}:{time.minute:02d}{GAP}{half}"
        return f"{time.hour:02d}:{time.minute:02d}"

    def moment(self, time: dt.datetime) -> str:
        """Day and clock."""
        return f"{self.day(time.date())}, {self.clock(time)}"

    def temperature(self, celsius: float) -> str:
        """``45 °F`` or ``7 °C``."""
        if self.units == "us":
            return f"{whole(celsius_to_fahrenheit(celsius))}{GAP}°F"
        return f"{whole(celsius)}{GAP}°C"


def percent(share: float) -> str:
    """A share of 1 as ``44 %``."""
    return f"{100.0 * share:.0f}{GAP}%"


def watts(value: float) -> str:
    """``1,240 W``."""
    return f"{whole(value)}{GAP}W"


def whole(value: float) -> str:
    """``1,240`` or ``−12``, and no minus before nothing."""
    return f"{round(value):,d}".replace("-", "\N{MINUS SIGN}")


def watt_hours(value: float) -> str:
    """``1,240 Wh``."""
    return f"{whole(value)}{GAP}Wh"


def kilowatt_hours(value_wh: float) -> str:
    """``2.6 kWh`` from watt-hours."""
    return f"{value_wh / 1000.0:,.1f}{GAP}kWh"


def hours(value: float) -> str:
    """``1 hour``, ``2.4 hours``, ``214 hours``, ``none``."""
    if value < 0.05:
        return "none" if value == 0.0 else f"under 0.1{GAP}hours"
    text = f"{value:,.0f}" if value >= 100 else f"{value:,.1f}".removesuffix(".0")
    return f"{text}{GAP}hour{'s' if text != '1' else ''}"


def amps(value: float) -> str:
    """``40 A``."""
    return f"{value:,.6g}{GAP}A"


def amount(line: StoreLine, value: float, manner: Manner) -> str:
    """``26 gal``, ``98 L``, ``12 lb`` or ``5.6 kg``."""
    us = manner.units == "us"
    if line.unit == "kg":
        return f"{value / KG_PER_POUND:.1f}{GAP}lb" if us else f"{value:.1f}{GAP}kg"
    return f"{value / LITRES_PER_GALLON:.1f}{GAP}gal" if us else f"{value:.0f}{GAP}L"


def night_of(nights: float) -> int:
    """Number of the night, from 1, before which a time falls. [nights from departure]"""
    return int(nights) + 1


def listed(items: Sequence[str]) -> str:
    """``a, b and c`` for a sentence."""
    if len(items) < 2:
        return "".join(items)
    return ", ".join(items[:-1]) + " and " + items[-1]


def either(items: Sequence[str]) -> str:
    """``a, b or c`` for a sentence."""
    if len(items) < 2:
        return "".join(items)
    return ", ".join(items[:-1]) + " or " + items[-1]


def changes(names: Sequence[str]) -> str:
    """Levers in the middle of a sentence: ``one more panel and propane filled at Bend``. What
    begins with a customer's own name, such as an appliance's, keeps its capital."""
    return listed([isolated(_small(name)) for name in names])


def _small(name: str) -> str:
    first = name.split(" ", 1)[0].rstrip(":")
    is_ours = first in _LEVERS_BEGIN and name != first[:1]
    return name[:1].lower() + name[1:] if is_ours else name


def isolated(text: str) -> str:
    """A user's text that cannot turn the direction of the writing around it."""
    if any(unicodedata.bidirectional(letter) in _TURNS for letter in text):
        return f"\N{FIRST STRONG ISOLATE}{text}\N{POP DIRECTIONAL ISOLATE}"
    return text


def unbroken(text: str) -> str:
    """Text whose numbers keep their unit on the line."""
    return _BEFORE_UNIT.sub(GAP, text)


def called(name: str) -> str:
    """A user's name in a sentence: not endless, and it cannot turn the writing around it."""
    return isolated(shortened(name))


def quoted(name: str) -> str:
    """The same where it must read as one name in the middle of a sentence."""
    return f"\N{LEFT DOUBLE QUOTATION MARK}{called(name)}\N{RIGHT DOUBLE QUOTATION MARK}"


def counted(number: int, thing: str) -> str:
    """``1 night``, ``23 nights``."""
    return f"{number:,d} {thing}{'s' if number != 1 else ''}"


def shortened(text: str, most: int = 40) -> str:
    """A name that fits into a sentence, cut behind a word where one ends late enough."""
    if len(text) <= most:
        return text
    # A letter more than is kept: where that is a blank, the last word is whole.
    words = text[:most].rpartition(" ")[0].rstrip(" ,;:")
    return (words if len(words) >= most / 3 else text[: most - 1].rstrip()) + "…"


def month_name(month: int) -> str:
    """``January`` for 1."""
    return calendar.month_name[month]


def drawn_share(share: float, draws: int = 1000) -> str:
    """A share as ``83 %``, with as many digits as the draws can tell apart, one at most."""
    value = round(100.0 * share, 1 if draws > 100 else 0)
    return f"{value:g} %"


def between(interval: Interval) -> str:
    """``91 to 97 %``, rounded outwards."""
    return f"{floor(100.0 * interval.low)} to {ceil(100.0 * interval.high)} %"


def gain_words(gain: float, draws: int) -> str:
    """``+12.5`` points of a share, or ``+1`` where the draws are counted."""
    if draws < FEWEST_FOR_A_SHARE:
        return f"{round(gain * draws):+d}"
    return f"{100.0 * gain:+z.1f}"


def weight(kg: float | None, us_units: bool) -> str:
    """``46 kg`` or ``101 lb``; a dash where it is not known."""
    if kg is None:
        return "–"
    return f"{kg / KG_PER_POUND:.0f} lb" if us_units else f"{kg:.0f} kg"


def cost_words(value: float | None, currency: str) -> str:
    """The price of a change: ``USD 570``, ``free``; a dash where it is not known."""
    return "free" if value == 0.0 else price(value, currency)


def price(value: float | None, currency: str) -> str:
    """``USD 570``; a dash where it is not known."""
    return "–" if value is None else f"{currency} {value:,.0f}".strip()
