"""The two-minute talk: five answers, and the whole job file they stand for.

Everything else is answered as the long interview answers it when Enter is pressed, so a sketch is
a job like any other and can be worked on from there.
"""

from __future__ import annotations

import calendar
import datetime as dt
import re
from collections.abc import Iterator
from functools import partial

from sim.errors import Fault, JobError, join_or
from sim.interview.draft import Answers, Interview, Question, Refused
from sim.interview.questions import questions
from sim.interview.replies import Within, number, place
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
    "oven": "propane-oven",
    "refrigerator": "fridge-dc",
    "router": "mobile-internet",
    "stove": "propane-stove",
    "tv": "television",
    "wifi": "mobile-internet",
}
_COUNTED = re.compile(r"(.+?)\s*[x*×]\s*([0-9]{1,3})|(.+)")
_WORKS_ABOARD, _OUT_BY_DAY = "two-remote-workers", "weekend-away"


def sketch_questions(answers: Answers) -> Iterator[Question]:
    """The five questions, in order; see `questions.questions`."""
    yield Question(
        "place", "Where will it stand?", "A town with its state, or a coordinate.", "Moab, UT",
        place,
    )  # fmt: skip
    here: Place = answers["place"]
    # The darker half of the year tells most.
    dark = "January" if here.latitude >= 0.0 else "July"
    yield Question("month", "In which month?", "The darkest one tells most.", dark, month_of)
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
            raise JobError(Fault(str(error), key=FLAGS[question.key], value=text)) from None
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


def aboard(text: str, people: int) -> dict[str, int]:
    """How many of each profile: ``"fridge, laptops, kettle x2"``; ``"none"`` is none.

    Parameters
    ----------
    text : str
        What people call the things.
    people : int
        A plural without a number is one for each of them.

    Raises
    ------
    Refused
        A word that names nothing on the shelf, or several things.
    """
    found: dict[str, int] = {}
    for part in filter(None, (part.strip().lower() for part in text.split(","))):
        if part == "none":
            continue
        match = _COUNTED.fullmatch(part)
        if match is None:
            raise Refused(f"{part[:30]!r} is no appliance")
        name, is_plural = _on_shelf(match[1] or match[3])
        count = int(match[2]) if match[2] else people if is_plural else 1
        found[name] = found.get(name, 0) + count
        if not 1 <= found[name] <= 100:
            raise Refused(f"give 1 to 100 of {name}")
    return found


def _on_shelf(said: str) -> tuple[str, bool]:
    """The profile that a word means, and whether the word was a plural."""
    names = shelf.names("appliances")
    word = re.sub(r"[\s_]+", "-", said.strip())
    if word in names:
        return word, False
    single = word.removesuffix("s")
    for each, is_plural in ((word, False), (single, single != word)):
        if each in _USUAL or each in names:
            return _USUAL.get(each, each), is_plural
    starts = [name for name in names if single and name.startswith(single)]
    if len(starts) == 1:
        return starts[0], single != word
    if starts:
        raise Refused(f"{said[:30]!r} may be {join_or(starts)}; write which")
    try:
        shelf.profile("appliances", word)
    except JobError as error:
        hint = error.faults[0].rule.partition("; ")[2]
        raise Refused(f"{said[:30]!r} is no appliance of the shelf; {hint}") from None
    raise AssertionError("a profile that is not among the names")


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
        "units": "us" if here.country == "US" else "metric",
        "living": _WORKS_ABOARD if works else _OUT_BY_DAY,
        "people": f"{short['people']}",
        "battery": BATTERY,
        "batteries": f"{batteries}",
        "panel": PANEL,
        "panels": f"{panels}",
        # It stands, and has no plug: what the sun brings is all there is.
        "dcdc": "0",
        "inlet": "none",
        "appliances": ", ".join(f"{name} x{count}" for name, count in items.items()),
        "trip 1 name": f"{calendar.month_name[short['month']]}, {here.label}",
        "trip 1 depart": _departs(today, short["month"], short["nights"]).isoformat(),
        "trip 1 stop 1 nights": f"{short['nights']}",
        "trip 1 stop 1 drive": "0",
        "trip 1 stop 1 services": "all" if _burns_propane(items) else "water",
        "trip 1 stop 2 place": "done",
        "trip 1 more": "no",
    }
    known = {"trip 1 start": here, "trip 1 stop 1 place": here}
    interview = Interview(questions)
    while (question := interview.question) is not None:
        if question.key in known:
            interview.answers[question.key] = known[question.key]
            continue
        try:
            interview.reply(said.get(question.key, ""))
        except Refused as error:
            flag = FLAGS["has"] if question.key == "appliances" else question.key
            raise JobError(Fault(str(error), key=flag)) from None
    return interview.answers


def _burns_propane(items: dict[str, int]) -> bool:
    values = [shelf.profile("appliances", name).values for name in items]
    return any("propane" in (value.get("fuel"), value.get("source")) for value in values)


def _departs(today: dt.date, month: int, nights: int) -> dt.date:
    """A day of the next such month, so that the nights lie around its middle."""
    day = max(15 - nights // 2, 1)
    this_year = dt.date(today.year, month, day)
    return this_year if this_year > today else dt.date(today.year + 1, month, day)
