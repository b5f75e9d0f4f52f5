"""What a builder is asked about a customer, in order, each with its reason and its default.

Defaults are examples and habits (common practice, no source), there to be changed.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from math import ceil

from sim.interview.draft import Answers, Question
from sim.interview.replies import (
    DONE,
    UNKNOWN,
    Within,
    choice,
    counted_appliances,
    day,
    from_shelf,
    new_name,
    next_place,
    number,
    place,
    short_text,
)
from sim.interview.tank_questions import services, tanks
from sim.job import shelf
from sim.job.model.appliances import appliance_of
from sim.job.model.fields import bounds
from sim.job.model.job import Prices, Stop, Van
from sim.job.model.living import Living
from sim.job.model.power import Alternator, Battery, Inverter, PanelGroup, Shore
from sim.job.rules.trips import FASTEST_KM_H, MAX_TRIP_DAYS
from sim.places.lookup import Place, distance_km, find_place
from sim.places.roads import estimated_drive
from sim.units import KM_PER_MILE, METRES_PER_FOOT

MOST_TRIPS, MOST_STOPS = 12, 60
UNITS = (("us", "feet, °F, gallons"), ("metric", "metres, °C, litres"))
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
PRICED = (("later", "not now; they can be written into the file"), ("yes", "yes"))
PRICES = (
    ("panel", "one more panel"),
    ("battery", "one more battery"),
    ("dcdc", "the next size of DC-DC charger"),
)
YES_NO = (("yes", "another trip"), ("no", "that is all"))
# Sizes that chargers, controllers and inverters are sold in (common practice, no source).
CONTROLLER_AMPS = (10, 15, 20, 30, 40, 50, 60, 70, 85, 100, 150, 200)
INVERTER_WATTS = (300, 600, 1000, 1500, 2000, 3000, 5000)
_FIRST_APPLIANCES = (
    "fridge-dc", "lights-led", "phones", "water-pump", "roof-fan", "gas-and-co-alarm",
    "battery-monitor",
)  # fmt: skip
_EXAMPLE_TRIPS = (("Winter", "2027-01-09"), ("Summer", "2027-07-10"))
_EXAMPLE_PLACES = ("Flagstaff, Arizona", "Moab, Utah")
_NEAR_EXAMPLE_KM = 1500.0
_NEXT_STOP = (DONE, f"A town or a coordinate; {DONE} when the trip ends at the last stop.")


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
    yield from tanks(answers)
    yield from _prices(answers)
    yield from _trips(answers)


def _people() -> Iterator[Question]:
    yield Question(
        "customer",
        "Who is the van for?",
        "Their name heads the report.",
        "A new customer",
        short_text,
    )
    yield choice(
        "units",
        "Which units do they think in?",
        "For lengths, warmth and tanks.",
        UNITS,
        "us",
    )


def _van(answers: Answers) -> Iterator[Question]:
    yield from_shelf(
        "living", "days", "How do they live in it?",
        "It sets when they are up and when they are out; change the hours in the file.",
        "weekend-away",
    )  # fmt: skip
    profile = shelf.profile("days", answers["living"]).values
    yield number(
        "people", "How many people travel?", "Everybody warms the cabin and charges a phone.",
        f"{profile['people']}", Within(Living, "people", whole=True),
    )  # fmt: skip
    yield from_shelf(
        "van", "vans", "Which kind of van?", "It sets the cabin's size and what heat it loses.",
        "medium-roof",
    )  # fmt: skip
    per_unit = METRES_PER_FOOT if answers["units"] == "us" else 1.0
    unit = "feet" if answers["units"] == "us" else "metres"
    length = shelf.profile("vans", answers["van"]).values["length_m"]
    yield number(
        "length", f"How long is the living space, in {unit}?",
        "From behind the seats to the rear door, measured inside.",
        f"{length / per_unit:.3g}", Within(Van, "length_m", per_unit=per_unit),
    )  # fmt: skip
    yield choice(
        "colour",
        "What colour is the roof?",
        "A dark one heats the cabin in summer.",
        COLOURS,
        "0.3",
    )


def _power(answers: Answers) -> Iterator[Question]:
    yield from_shelf(
        "battery", "batteries", "Which battery?", "A class of battery, not a product.",
        "lifepo4-200",
    )  # fmt: skip
    yield number(
        "batteries", "How many of them side by side?", "Equal units in parallel.", "1",
        Within(Battery, "count", whole=True),
    )  # fmt: skip
    yield choice(
        "battery_place", "Where does it stand?", "In the cold it takes no charge.",
        PLACES_OF_BATTERY, "cabin",
    )  # fmt: skip
    yield from_shelf(
        "panel", "panels", "Which solar panels?", "Their number is asked next; none is possible.",
        "rigid-170",
    )  # fmt: skip
    yield number(
        "panels", "How many panels, flat on the roof?", "0 for none.", "2",
        Within(PanelGroup, "count", whole=True),
    )  # fmt: skip
    if answers["panels"]:
        bank = shelf.profile("batteries", answers["battery"]).values
        watts = answers["panels"] * shelf.profile("panels", answers["panel"]).values["watts"]
        wanted = watts / bank["charging_v"]
        yield number(
            "controller", "How many amps does the solar controller give?",
            f"{watts} W of panels need about {wanted:.0f} A; a smaller one clips.",
            f"{_size(wanted, CONTROLLER_AMPS)}", Within(PanelGroup, "controller_amps"),
        )  # fmt: skip
    yield number(
        "dcdc", "How many amps does the DC-DC charger give while driving?",
        "0 when the engine does not charge the house battery.", "30",
        Within(Alternator, "dcdc_amps", or_zero=True),
    )  # fmt: skip
    yield choice(
        "inlet", "Which plug has it outside?", "A campground's plug feeds charger and AC loads.",
        INLETS, "120 15" if answers["units"] == "us" else "230 16",
    )  # fmt: skip
    if answers["inlet"] != "none":
        yield number(
            "charger", "How many amps does the plug's charger give to the battery?",
            "At the battery, not at the plug.", "30", Within(Shore, "charger_amps"),
        )  # fmt: skip


def _loads(answers: Answers) -> Iterator[Question]:
    names = shelf.names("appliances")
    first = [name for name in _FIRST_APPLIANCES if name in names]
    yield Question(
        "appliances",
        "What is aboard?",
        "Numbers with commas, x2 behind one for two of them; more can go into the file later.",
        ", ".join(f"{names.index(name) + 1}" for name in first),
        partial(counted_appliances, has_plug=answers["inlet"] != "none", living=_living(answers)),
        tuple(f"{name}: {shelf.profile('appliances', name).title}" for name in names),
    )
    on_ac = _ac_watts(answers["appliances"])
    if on_ac:
        yield number(
            "inverter", "How many watts does the inverter give?",
            f"The AC appliances draw {sum(on_ac):.0f} W if all run at once, the largest "
            f"{max(on_ac):.0f} W.",
            f"{_size(sum(on_ac), INVERTER_WATTS)}", Within(Inverter, "watts", at_least=max(on_ac)),
        )  # fmt: skip


def _living(answers: Answers) -> Living:
    values = {**shelf.profile("days", answers["living"]).values, "people": answers["people"]}
    tuples = {key: tuple(v) if isinstance(v, list) else v for key, v in values.items()}
    return Living.model_validate(tuples)


def _prices(answers: Answers) -> Iterator[Question]:
    yield choice(
        "prices", "Are prices known?", "With them a change to the build is weighed by its money.",
        PRICED, "later",
    )  # fmt: skip
    if answers["prices"] == "later":
        return
    currency = "USD" if answers["units"] == "us" else "EUR"
    yield Question(
        "currency", "In which currency?", "All prices in one.", currency,
        partial(short_text, longest=8),
    )  # fmt: skip
    for key, what in PRICES:
        yield number(
            f"price {key}", f"What does {what} cost?", f"Fitted; {UNKNOWN} when it is not known.",
            UNKNOWN, Within(Prices, key, or_unknown=True),
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
            partial(new_name, used=used),
        )  # fmt: skip
        yield Question(f"{key} depart", "Which day does it leave?", "Year-month-day.", depart, day)
        yield Question(
            f"{key} start", "Where does it start?", "A town with its state, or a coordinate.",
            _EXAMPLE_PLACES[0], place,
        )  # fmt: skip
        yield from _stops(answers, key)
        if trip < MOST_TRIPS:
            more = "yes" if trip < len(_EXAMPLE_TRIPS) else "no"
            yield choice(f"{key} more", "Is there another trip?", "", YES_NO, more)
            if answers[f"{key} more"] == "no":
                return


def _stops(answers: Answers, trip: str) -> Iterator[Question]:
    before: Place = answers[f"{trip} start"]
    days_left = float(MAX_TRIP_DAYS - 1)
    for stop in range(1, MOST_STOPS + 1):
        key = f"{trip} stop {stop}"
        # Whatever is answered here and for its drive, the trip stays within its longest.
        most_nights = int(days_left - bounds(Stop, "drive_hours")[1] / 24.0)
        if most_nights < 1:
            return
        default, reason = _first_stop(before) if stop == 1 else _NEXT_STOP
        yield Question(
            f"{key} place", f"Stop {stop}: where?", reason, default,
            partial(next_place, before=before, stop=stop),
        )  # fmt: skip
        here = answers[f"{key} place"]
        if here is None:
            return
        yield number(
            f"{key} nights", "How many nights there?",
            "0 for the arrival home." if stop > 1 else "At least one.",
            f"{min(3, most_nights)}", Within(Stop, "nights", whole=True, at_least=int(stop == 1),
            at_most=most_nights),
        )  # fmt: skip
        km = distance_km(before, here)
        yield number(
            f"{key} drive", "How many hours of driving to get there?",
            f"It is {km:.0f} km ({km / KM_PER_MILE:.0f} miles) in a straight line; driving charges "
            "the battery.",
            f"{_driving_hours(before, here):g}",
            Within(Stop, "drive_hours", at_least=km / FASTEST_KM_H),
        )  # fmt: skip
        days_left -= answers[f"{key} nights"] + answers[f"{key} drive"] / 24.0
        if answers[f"{key} nights"]:
            if answers["inlet"] != "none":
                yield choice(
                    f"{key} plug", "Is there a plug?", "Campground or a friend's house.", PLUG_IN,
                    "never",
                )  # fmt: skip
            yield from services(answers, key)
            yield number(
                f"{key} shade", "How much of the sun do trees take, in percent?",
                "0 in the open, 30 some trees, 70 a forest.", "0", Within(Stop, "shade_pct"),
            )  # fmt: skip
        before = here


def _first_stop(start: Place) -> tuple[str, str]:
    """An example near enough to drive to, and what to write."""
    example = find_place(_EXAMPLE_PLACES[1])
    near = distance_km(start, example) < _NEAR_EXAMPLE_KM
    return (
        _EXAMPLE_PLACES[1] if near else start.label,
        "A town, or a coordinate where no town is near.",
    )


def _driving_hours(before: Place, here: Place) -> float:
    """As the roads are estimated, within what the job file takes."""
    drive = estimated_drive(before, here)
    hours = drive.hours if drive else distance_km(before, here) / FASTEST_KM_H
    return min(ceil(4 * hours) / 4, bounds(Stop, "drive_hours")[1])


def _ac_watts(chosen: dict[str, int]) -> list[float]:
    """What each chosen appliance on AC draws at most, all of its units together. [W]"""
    found = []
    for name, count in chosen.items():
        values = shelf.profile("appliances", name).values
        if values.get("supply") == "ac":
            found.append(count * appliance_of(values).most_watts)
    return found


def _size(wanted: float, sizes: tuple[int, ...]) -> int:
    return next((size for size in sizes if size >= wanted), sizes[-1])
