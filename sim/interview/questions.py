"""What a builder is asked about a customer, in order, each with its reason and its default.

The trips come first: what the van needs follows from where and when it goes. Defaults are
examples and habits (common practice, no source), there to be changed.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from functools import partial

from sim.interview.defaults import HOMES, currency_of
from sim.interview.draft import Answers, Question
from sim.interview.load_questions import inverter, loads
from sim.interview.power_questions import power
from sim.interview.replies import UNKNOWN, Within, choice, from_shelf, number, place, short_text
from sim.interview.roof_questions import roof
from sim.interview.tank_questions import tanks
from sim.interview.trip_questions import trips
from sim.job import shelf
from sim.job.model.job import Prices, Van
from sim.job.model.living import Living
from sim.units import METRES_PER_FOOT

UNITS = (("us", "feet, °F, gallons"), ("metric", "metres, °C, litres"))
PETS = (
    ("no", "no pet, or it goes out with them"),
    ("stays", "a pet stays aboard: heat and fans must run on for it"),
)
PRICED = (("later", "not now; they can be written into the file"), ("yes", "yes"))
PRICES = (
    ("panel", "one more panel"),
    ("battery", "one more battery"),
    ("dcdc", "the next size of DC-DC charger"),
)


def questions(answers: Answers, today: dt.date) -> Iterator[Question]:
    """The questions in order, as far as the answers lead.

    Parameters
    ----------
    answers : dict
        Values by question key; the generator must not be asked for the question after one
        that has no answer.
    today : date
        Trips that are offered as defaults lie ahead of it.
    """
    yield from _people(answers)
    yield from trips(answers, today)
    yield from _van(answers)
    yield from loads(answers)
    yield from tanks(answers)
    yield from roof(answers)
    yield from power(answers)
    yield from inverter(answers)
    yield from _prices(answers)


def _people(answers: Answers) -> Iterator[Question]:
    yield Question(
        "customer", "Who is the van for?", "Their name heads the report.", "A new customer",
        short_text,
    )  # fmt: skip
    yield choice(
        "units", "Which units do they think in?", "For lengths, warmth and tanks.", UNITS, "us"
    )
    yield Question(
        "home", "Where do their trips start?", "A town with its state, or a coordinate.",
        HOMES[answers["units"]], place,
    )  # fmt: skip
    yield from_shelf(
        "living", "days", "How do they live in the van?",
        "It sets when they are up and when they are out; change the hours in the file.",
        "weekend-away",
    )  # fmt: skip
    profile = shelf.profile("days", answers["living"]).values
    yield number(
        "people", "How many people travel?", "Everybody warms the cabin and charges a phone.",
        f"{profile['people']}", Within(Living, "people", whole=True),
    )  # fmt: skip
    yield choice("pets", "Is a pet aboard while they are out?", "", PETS, "no")


def _van(answers: Answers) -> Iterator[Question]:
    yield from_shelf(
        "van", "vans", "Which kind of van?", "It sets the cabin's size and what heat it loses.",
        "medium-roof",
    )  # fmt: skip
    unit, per_unit = ("feet", METRES_PER_FOOT) if answers["units"] == "us" else ("metres", 1.0)
    length = shelf.profile("vans", answers["van"]).values["length_m"]
    yield number(
        "length", f"How long is the living space, in {unit}?",
        "From behind the seats to the rear door, measured inside.",
        f"{length / per_unit:.3g}", Within(Van, "length_m", per_unit=per_unit),
    )  # fmt: skip


def _prices(answers: Answers) -> Iterator[Question]:
    yield choice(
        "prices", "Are prices known?", "With them, changes to the build are ranked by cost too.",
        PRICED, "later",
    )  # fmt: skip
    if answers["prices"] == "later":
        return
    yield Question(
        "currency", "In which currency?", "All prices in one.",
        currency_of(answers["home"], answers["units"]), partial(short_text, longest=8),
    )  # fmt: skip
    for key, what in PRICES:
        yield number(
            f"price {key}", f"What does {what} cost?", f"Fitted; {UNKNOWN} when it is not known.",
            UNKNOWN, Within(Prices, key, or_unknown=True),
        )  # fmt: skip
