"""The two-minute talk: five answers, and the whole job file they stand for.

Everything else is answered as the long interview answers it when Enter is pressed, so a sketch is
a job like any other and can be worked on from there.
"""

from __future__ import annotations

import calendar
import datetime as dt
from collections.abc import Iterator
from functools import partial

from sim.errors import Fault, JobError
from sim.interview.aboard import aboard, written
from sim.interview.defaults import units_of
from sim.interview.draft import Answers, Interview, Question, Refused
from sim.interview.load_questions import only_plugged
from sim.interview.questions import questions
from sim.interview.replies import DONE, NONE, Within, number, place
from sim.interview.trip_questions import Leg
from sim.job import shelf
from sim.job.model.job import Stop
from sim.job.model.living import Living
from sim.places.lookup import Place

# A trip of a season: longer ones change month on the way.
MOST_NIGHTS = 60
FLAGS = {
    "place": "PLACE",
    "month": "--month",
    "people": "--people",
    "nights": "--nights",
    "has": "--has",
}
PANEL, BATTERY = "rigid-170", "lifepo4-100"
# What every van has, whoever travels in it (common practice, no source).
ALWAYS = ("lights-led", "water-pump", "gas-and-co-alarm", "battery-monitor")
_A_PHONE_EACH = "phones"
_WORKS_ABOARD, _OUT_BY_DAY = "two-remote-workers", "weekend-away"


def sketch_questions(answers: Answers) -> Iterator[Question]:
    """The five questions, in order; see `questions.questions`."""
    yield Question(
        "place", "Where will it be parked?", "A town with its state, or a coordinate.", "Moab, UT",
        place,
    )  # fmt: skip
    here: Place = answers["place"]
    # The dark half of the year is the hard one.
    dark = "January" if here.latitude >= 0.0 else "July"
    yield Question("month", "In which month?", "The darkest one is the hardest.", dark, month_of)
    yield number(
        "people", "How many people?", "Each has a phone.", "2", Within(Living, "people", whole=True)
    )
    yield number(
        "nights", "How many nights in a row, without a plug and without driving?", "", "7",
        Within(Stop, "nights", whole=True, at_least=1, at_most=MOST_NIGHTS),
    )  # fmt: skip
    yield Question(
        "has", "What is aboard besides lights, water pump, phones and alarm?",
        "With commas, such as fridge, laptops, furnace; a plural is one for each person.",
        "fridge", partial(aboard, people=answers["people"]),
    )  # fmt: skip


def from_flags(said: dict[str, str]) -> Answers:
    """Answers from the command line; what was not said takes its default.

    Parameters
    ----------
    said : dict
        Texts by the keys of `FLAGS`.

    Raises
    ------
    JobError
        The first that cannot be taken.
    """
    interview = Interview(sketch_questions)
    while (question := interview.question) is not None:
        text = said.get(question.key, "")
        try:
            interview.answers[question.key] = question.read(text.strip() or question.default)
        except Refused as error:
            raise JobError(Fault(str(error), key=FLAGS[question.key], value=text.strip())) from None
    return interview.answers


def month_of(text: str) -> int:
    """The number of a month, by its number, its name, or the start of it."""
    word = text.strip().lower().rstrip(".")
    if word.isascii() and word.isdigit() and 1 <= int(word[:4]) <= 12:
        return int(word)
    names = [name.lower() for name in calendar.month_name]
    found = [number for number in range(1, 13) if names[number].startswith(word)]
    if len(word) < 3 or len(found) != 1:
        raise Refused("give a month by its English name or its number, such as January or 1")
    return found[0]


def whole_answers(
    short: Answers, today: dt.date, *, panels: int, batteries: int, customer: str = ""
) -> Answers:
    """The answers of the long interview that five answers stand for.

    Parameters
    ----------
    short : dict
        From `sketch_questions`, all answered.
    today : date
        The trip is in the next such month.
    panels, batteries : int
        The build.
    customer : str
        Empty for nobody yet.

    Raises
    ------
    JobError
        They do not go together.
    """
    here: Place = short["place"]
    works = "laptop" in short["has"]
    always = dict.fromkeys(ALWAYS, 1) | {_A_PHONE_EACH: short["people"]}
    # What they named comes first.
    items = short["has"] | {name: n for name, n in always.items() if name not in short["has"]}
    said = {
        "customer": customer,
        "units": units_of(here.country),
        "living": _WORKS_ABOARD if works else _OUT_BY_DAY,
        "people": f"{short['people']}",
        "trip 1 depart": _departs(today, short["month"], short["nights"]).isoformat(),
        "trip 1 stop 1 there": "water, drain" + (", propane" if _burns_propane(items) else ""),
        "trip 2 depart": DONE,
        "appliances": written(items),
        # What was not named is not aboard.
        "heater": "none",
        # How much fits is not asked on the telephone.
        "roof": NONE,
        "battery": f"{BATTERY} x{batteries}",
        "panels": f"{PANEL} x{panels}" if panels else NONE,
        # It is parked, and has no plug: what the sun brings is all there is.
        "dcdc": "0",
        "inlet": "none",
    }
    known = {"home": here, "trip 1 route": (Leg(here, short["nights"]),)}
    interview = Interview(partial(questions, today=today))
    while (question := interview.question) is not None:
        if question.key in known:
            interview.answers[question.key] = known[question.key]
            continue
        try:
            interview.reply(said.get(question.key, ""))
        except Refused as error:
            raise _not_together(error, question.key, interview.answers) from None
    return interview.answers


def _not_together(error: Refused, key: str, answers: Answers) -> JobError:
    """What keeps five answers from making a job, as a fault of the flag."""
    plugged = only_plugged(answers) if key == "inlet" else []
    if plugged:
        rule = (
            f"{plugged[0].name} runs only on a plug, and a sketch is parked without one; leave it "
            "out, or answer: nightledger begin FOLDER"
        )
        return JobError(Fault(rule, key=FLAGS["has"]))
    return JobError(Fault(str(error), key=FLAGS["has"] if key == "appliances" else key))


def _burns_propane(items: dict[str, int]) -> bool:
    values = [shelf.profile("appliances", name).values for name in items]
    return any("propane" in (value.get("fuel"), value.get("source")) for value in values)


def _departs(today: dt.date, month: int, nights: int) -> dt.date:
    """A day of the next such month, so that the nights lie around its middle."""
    day = max(15 - nights // 2, 1)
    this_year = dt.date(today.year, month, day)
    return this_year if this_year > today else dt.date(today.year + 1, month, day)
