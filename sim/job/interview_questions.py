"""What a builder is asked about a customer, in order, each with its reason and its default.

Defaults are examples and habits (common practice, no source), there to be changed.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from functools import partial
from typing import Any

from pydantic_core import PydanticCustomError

from sim.errors import PlaceError
from sim.job import shelf
from sim.job.fields import Part, parse_date
from sim.job.interview import Answers, Question, Refused
from sim.job.model import Alternator, Battery, Inverter, Living, PanelGroup, Shore, Stop, Van
from sim.job.places import Place, distance_km, find_place
from sim.job.rules import FASTEST_KM_H, MAX_TRIP_DAYS
from sim.units import KM_PER_MILE, METRES_PER_FOOT

MOST_TRIPS, MOST_STOPS = 12, 60
UNITS = (("us", "feet, °F"), ("metric", "metres, °C"))
COLOURS = (("0.3", "white or nearly"), ("0.6", "silver, grey, blue"), ("0.9", "dark"))
PLACES_OF_BATTERY = (("cabin", "inside, where it is warm"), ("outside", "under the floor"))
INLETS = (
    ("none", "no plug"),
    ("120 15", "120 V, 15 A"),
    ("120 30", "120 V, 30 A"),
    ("230 16", "230 V, 16 A"),
)
PLUG_IN = (
    ("never", "no plug there"),
    ("nights", "plugged in at night"),
    ("always", "plugged in day and night"),
)
YES_NO = (("yes", "another trip"), ("no", "that is all"))
DONE = "done"
# Sizes that chargers, controllers and inverters are sold in (common practice, no source).
CONTROLLER_AMPS = (10, 15, 20, 30, 40, 50, 60, 70, 85, 100, 150, 200)
INVERTER_WATTS = (300, 600, 1000, 1500, 2000, 3000, 5000)
# Roads are longer than the straight line, and a van with a house in it is slow (common
# practice, no source).
ROAD_OVER_LINE, VAN_KM_H = 1.3, 75.0
_FIRST_APPLIANCES = (
    "fridge-dc", "lights-led", "phones", "water-pump", "roof-fan", "gas-and-co-alarm",
    "battery-monitor",
)  # fmt: skip
_EXAMPLE_TRIPS = (("Winter", "2027-01-09"), ("Summer", "2027-07-10"))
_EXAMPLE_PLACES = ("Flagstaff, Arizona", "Moab, Utah")
_COUNTED = re.compile(r"(.+?)(?:\s*[x*×]\s*([0-9]{1,3}))?")


def questions(answers: Answers) -> Iterator[Question]:
    """The questions in order, as far as the answers lead.

    Parameters
    ----------
    answers : dict
        Values by question key; the generator must not be asked for the question after one
        that has no answer.
    """
    yield from _people()
    yield from _van(answers)
    yield from _power(answers)
    yield from _loads(answers)
    yield from _trips(answers)


def _people() -> Iterator[Question]:
    yield Question(
        "customer", "Who is the van for?", "Their name heads the report.", "A new customer", _text
    )
    yield _choice(
        "units", "Which units do they think in?", "For lengths and temperatures.", UNITS, "us"
    )


def _van(answers: Answers) -> Iterator[Question]:
    yield _from_shelf(
        "living", "days", "How do they live in it?",
        "It sets when they are up and when they are out; change the hours in the file.",
        "weekend-away",
    )  # fmt: skip
    profile = shelf.profile("days", answers["living"]).values
    yield _number(
        "people", "How many people travel?", "Everybody warms the cabin and charges a phone.",
        f"{profile['people']}", Living, "people", whole=True,
    )  # fmt: skip
    yield _from_shelf(
        "van", "vans", "Which kind of van?", "It sets the cabin's size and what heat it loses.",
        "medium-roof",
    )  # fmt: skip
    per_unit = METRES_PER_FOOT if answers["units"] == "us" else 1.0
    unit = "feet" if answers["units"] == "us" else "metres"
    length = shelf.profile("vans", answers["van"]).values["length_m"]
    yield _number(
        "length", f"How long is the living space, in {unit}?",
        "From behind the seats to the rear door, measured inside.",
        f"{length / per_unit:.3g}", Van, "length_m", per_unit=per_unit,
    )  # fmt: skip
    yield _choice(
        "colour",
        "What colour is the roof?",
        "A dark one heats the cabin in summer.",
        COLOURS,
        "0.3",
    )


def _power(answers: Answers) -> Iterator[Question]:
    yield _from_shelf(
        "battery", "batteries", "Which battery?", "A class of battery, not a product.",
        "lifepo4-200",
    )  # fmt: skip
    yield _number(
        "batteries", "How many of them side by side?", "Equal units in parallel.", "1",
        Battery, "count", whole=True,
    )  # fmt: skip
    yield _choice(
        "battery_place", "Where does it stand?", "In the cold it takes no charge.",
        PLACES_OF_BATTERY, "cabin",
    )  # fmt: skip
    yield _from_shelf(
        "panel", "panels", "Which solar panels?", "Their number is asked next; none is possible.",
        "rigid-170",
    )  # fmt: skip
    yield _number(
        "panels", "How many panels, flat on the roof?", "0 for none.", "2",
        PanelGroup, "count", whole=True,
    )  # fmt: skip
    if answers["panels"]:
        bank = shelf.profile("batteries", answers["battery"]).values
        watts = answers["panels"] * shelf.profile("panels", answers["panel"]).values["watts"]
        wanted = watts / bank["charging_v"]
        yield _number(
            "controller", "How many amps does the solar controller give?",
            f"{watts} W of panels need about {wanted:.0f} A; a smaller one clips.",
            f"{_size(wanted, CONTROLLER_AMPS)}", PanelGroup, "controller_amps",
        )  # fmt: skip
    yield _number(
        "dcdc", "How many amps does the DC-DC charger give while driving?",
        "0 when the engine does not charge the house battery.", "30",
        Alternator, "dcdc_amps", or_zero=True,
    )  # fmt: skip
    yield _choice(
        "inlet", "Which plug has it outside?", "A campground's plug feeds charger and AC loads.",
        INLETS, "120 15" if answers["units"] == "us" else "230 16",
    )  # fmt: skip
    if answers["inlet"] != "none":
        yield _number(
            "charger", "How many amps does the plug's charger give to the battery?",
            "At the battery, not at the plug.", "30", Shore, "charger_amps",
        )  # fmt: skip


def _loads(answers: Answers) -> Iterator[Question]:
    names = shelf.names("appliances")
    first = [name for name in _FIRST_APPLIANCES if name in names]
    yield Question(
        "appliances",
        "What is aboard?",
        "Numbers with commas, x2 behind one for two of them; more can go into the file later.",
        ", ".join(f"{names.index(name) + 1}" for name in first),
        _appliances,
        tuple(f"{name}: {shelf.profile('appliances', name).title}" for name in names),
    )
    on_ac = _ac_watts(answers["appliances"])
    if on_ac:
        yield _number(
            "inverter", "How many watts does the inverter give?",
            f"The AC appliances draw {sum(on_ac):.0f} W if all run at once, the largest "
            f"{max(on_ac):.0f} W.",
            f"{_size(sum(on_ac), INVERTER_WATTS)}", Inverter, "watts", at_least=max(on_ac),
        )  # fmt: skip


def _trips(answers: Answers) -> Iterator[Question]:
    for trip in range(1, MOST_TRIPS + 1):
        key = f"trip {trip}"
        name, depart = _EXAMPLE_TRIPS[(trip - 1) % len(_EXAMPLE_TRIPS)]
        used = [answers.get(f"trip {other} name") for other in range(1, trip)]
        if name in used:
            name = f"Trip {trip}"
        yield Question(
            f"{key} name", f"Trip {trip}: what is it called?",
            "A winter and a summer trip together tell most.", name,
            partial(_new_name, used=used),
        )  # fmt: skip
        yield Question(
            f"{key} depart", "Which day does it leave?", "Year-month-day.", depart, _date
        )
        yield Question(
            f"{key} start", "Where does it start?", "A town with its state, or a coordinate.",
            _EXAMPLE_PLACES[0], _place,
        )  # fmt: skip
        yield from _stops(answers, key)
        if trip < MOST_TRIPS:
            more = "yes" if trip < len(_EXAMPLE_TRIPS) else "no"
            yield _choice(f"{key} more", "Is there another trip?", "", YES_NO, more)
            if answers[f"{key} more"] == "no":
                return


def _stops(answers: Answers, trip: str) -> Iterator[Question]:
    before: Place = answers[f"{trip} start"]
    nights_left = MAX_TRIP_DAYS - 10
    for stop in range(1, MOST_STOPS + 1):
        key = f"{trip} stop {stop}"
        default, reason = (
            (_EXAMPLE_PLACES[1], "A town, or a coordinate where no town is near.")
            if stop == 1
            else (DONE, f"A town or a coordinate; {DONE} when the trip ends at the last stop.")
        )
        yield Question(
            f"{key} place", f"Stop {stop}: where?", reason, default,
            partial(_next_place, before=before, stop=stop),
        )  # fmt: skip
        place = answers[f"{key} place"]
        if place is None:
            return
        yield _number(
            f"{key} nights", "How many nights there?",
            "0 for the arrival home." if stop > 1 else "At least one.",
            "3", Stop, "nights", whole=True, at_least=int(stop == 1), at_most=nights_left,
        )  # fmt: skip
        nights_left -= answers[f"{key} nights"]
        km = distance_km(before, place)
        yield _number(
            f"{key} drive", "How many hours of driving to get there?",
            f"It is {km:.0f} km ({km / KM_PER_MILE:.0f} miles) in a straight line; driving charges "
            "the battery.",
            f"{_driving_hours(km)}", Stop, "drive_hours", at_least=km / FASTEST_KM_H,
        )  # fmt: skip
        if answers[f"{key} nights"]:
            if answers["inlet"] != "none":
                yield _choice(
                    f"{key} plug", "Is there a plug?", "Campground or a friend's house.", PLUG_IN,
                    "never",
                )  # fmt: skip
            yield _number(
                f"{key} shade", "How much of the sun do trees take, in percent?",
                "0 in the open, 30 some trees, 70 a forest.", "0", Stop, "shade_pct",
            )  # fmt: skip
        before = place


def _driving_hours(km: float) -> float:
    hours = ROAD_OVER_LINE * km / VAN_KM_H
    most = _bounds(Stop, "drive_hours")[1]
    return min(max(round(hours * 2) / 2, 0.5), most) if km > 1 else 0.0


def _ac_watts(chosen: dict[str, int]) -> list[float]:
    """What each chosen appliance on AC draws at most, all of its units together. [W]"""
    found = []
    for name, count in chosen.items():
        values = shelf.profile("appliances", name).values
        if values.get("supply") == "ac":
            keys = ("max_watts", "blower_watts", "watts")
            found.append(count * next((float(values[key]) for key in keys if key in values), 0.0))
    return found


def _size(wanted: float, sizes: tuple[int, ...]) -> int:
    return next((size for size in sizes if size >= wanted), sizes[-1])


def _choice(
    key: str, text: str, reason: str, options: tuple[tuple[str, str], ...], default: str
) -> Question:
    """One of a few, by its number or by its word."""
    words = tuple(word for word, _ in options)
    shown = tuple(what for _, what in options)
    return Question(
        key, text, reason, f"{words.index(default) + 1}", partial(_pick, words=words), shown
    )


def _from_shelf(key: str, section: str, text: str, reason: str, default: str) -> Question:
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


def _number(
    key: str, text: str, reason: str, default: str, part: type[Part], field: str, *,
    whole: bool = False, or_zero: bool = False, per_unit: float = 1.0, at_least: float = 0.0,
    at_most: float | None = None,
) -> Question:  # fmt: skip
    """A number within the bounds of a key of the job file."""
    low, high = _bounds(part, field)
    low, high = max(low, at_least) / per_unit, high / per_unit
    if at_most is not None:
        high = min(high, at_most)

    def read(reply: str) -> float | int:
        try:
            value: float | int = int(reply) if whole else float(reply)
        except ValueError:
            value = float("nan")
        if or_zero and value == 0:
            return 0
        if not low <= value <= high:
            zero = "0, or " if or_zero else ""
            what = "a whole number" if whole else "a number"
            raise Refused(f"give {zero}{what} from {_up(low):g} to {high:.4g}, without a unit")
        return int(value) if value == int(value) else value

    return Question(key, text, reason, default, read)


def _up(low: float) -> float:
    """Rounded so that what the sentence allows is allowed."""
    return -(-low * 10 // 1) / 10


def _bounds(part: type[Part], field: str) -> tuple[float, float]:
    low = high = 0.0
    for item in part.model_fields[field].metadata:
        low = getattr(item, "ge", getattr(item, "gt", low))
        high = getattr(item, "le", high)
    return float(low), float(high)


def _text(reply: str) -> str:
    if len(reply) > 150:
        raise Refused("give at most 150 characters")
    return reply


def _new_name(reply: str, used: list[Any]) -> str:
    if reply in used:
        raise Refused("another trip has this name; tell them apart")
    return _text(reply)


def _date(reply: str) -> dt.date:
    try:
        return parse_date(reply)
    except PydanticCustomError as error:
        raise Refused(error.message()) from None


def _place(reply: str) -> Place:
    try:
        return find_place(reply)
    except PlaceError as error:
        raise Refused("; ".join(fault.rule for fault in error.faults)) from None


def _next_place(reply: str, before: Place, stop: int) -> Place | None:
    """The next stop, or None when the trip is over; the first one must be."""
    if stop > 1 and reply.lower() == DONE:
        return None
    place = _place(reply)
    km = distance_km(before, place)
    if km > FASTEST_KM_H * _bounds(Stop, "drive_hours")[1]:
        raise Refused(f"{place.label} is {km:.0f} km away, too far for one leg; put a stop between")
    return place


def _appliances(reply: str) -> dict[str, int]:
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
    heaters = [
        name for name in chosen if shelf.profile("appliances", name).values["kind"] == "heater"
    ]
    if len(heaters) > 1:
        raise Refused(f"{' and '.join(heaters)} are heaters; the cabin takes one of them")
    return chosen
