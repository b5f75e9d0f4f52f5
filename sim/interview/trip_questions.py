"""What a builder is asked about the trips: when, where to, and what it is like there."""

from __future__ import annotations

import calendar
import datetime as dt
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial

from sim.interview.defaults import departure, destination
from sim.interview.draft import Answers, Question, Refused, Which
from sim.interview.replies import DONE, NONE, Within, day, day_or_done, pick, place
from sim.job.model.fields import bounds
from sim.job.model.job import Stop
from sim.job.rules.trips import FASTEST_KM_H, MAX_TRIP_DAYS, MOST_DRIVE_H
from sim.places.lookup import Place, distance_km
from sim.places.roads import estimated_drive

MOST_TRIPS, MOST_STOPS = 12, 60
HOME = "home"
_NIGHTS = re.compile(r"(.+?)[\s,:]+([0-9]{1,3})\s*(?:nights?|n)\.?", re.IGNORECASE)
_SKYLINE_COMMA = re.compile(r"(skyline\s+[0-9]+),(?=[0-9])", re.IGNORECASE)
_SKYLINE = re.compile(r"skyline\s+(\S+)(?:\s*(?:degrees|deg|°))?", re.IGNORECASE)
# What it may be like at a stop: the word, and what is shown for it.
_SURROUNDINGS = (
    ("open", "open: nothing hides the sun"),
    ("some trees", "some trees, or houses"),
    ("forest", "forest"),
    ("canyon", "canyon: walls or hills 25 degrees high all round"),
)
_OFFERS = (
    ("plug at night", "plug at night"),
    ("plug all day", "plug day and night"),
    ("water", "fresh water"),
    ("drain", "drain, to empty the tanks"),
    ("propane", "propane for sale"),
)
_PLUGS = {"plug at night": "nights", "plug all day": "always"}
_SERVICES = {"water": "water", "drain": "dump", "propane": "propane"}


@dataclass(frozen=True)
class Leg:
    """A stop of a route.

    Attributes
    ----------
    place : Place
    nights : int
        0 for one that is only passed, or the arrival at home.
    """

    place: Place
    nights: int


@dataclass(frozen=True)
class There:
    """What it is like at a stop.

    Attributes
    ----------
    surroundings : str
        As a job file has it.
    skyline_deg : float or None
        Where it was given in degrees.
    plug : str
        "never", "nights" or "always".
    services : tuple of str
        As a job file has them.
    """

    surroundings: str
    skyline_deg: float | None
    plug: str
    services: tuple[str, ...]


def trips(answers: Answers, today: dt.date) -> Iterator[Question]:
    """The questions on each trip, until there is no other."""
    home: Place = answers["home"]
    for number in range(1, MOST_TRIPS + 1):
        key = f"trip {number}"
        date = departure(home, number, today).isoformat()
        if number == 1:
            yield Question(
                f"{key} depart", "When does the first trip leave?",
                "Year-month-day. A winter and a summer trip together show most.", date, day,
            )  # fmt: skip
        else:
            yield Question(
                f"{key} depart", f"When does trip {number} leave?",
                f"Year-month-day; {DONE} when there is no other.",
                date if number == 2 else DONE, day_or_done,
            )  # fmt: skip
        if answers[f"{key} depart"] is None:
            return
        yield Question(
            f"{key} route", "Where to, and for how many nights?",
            f"From {home.name}. Stops with ; between, {HOME} last if it is a part of the trip.",
            f"{destination(home, number).label}, 3 nights; {HOME}", partial(route, home=home),
        )  # fmt: skip
        for stop, leg in enumerate(answers[f"{key} route"], 1):
            if leg.nights:
                yield _there(f"{key} stop {stop} there", leg)


def _there(key: str, leg: Leg) -> Question:
    options = (*_SURROUNDINGS, *_OFFERS)
    return Question(
        key,
        f"What is it like at {leg.place.name}?",
        "Numbers or words with commas. For a skyline of your own: skyline 12 (degrees).",
        "open",
        there,
        tuple(shown for _, shown in options),
        (("Sun", len(_SURROUNDINGS)), ("On offer", len(_OFFERS))),
    )


def route(reply: str, home: Place) -> tuple[Leg, ...]:
    """The stops of ``"Moab, Utah, 3 nights; home"``.

    Raises
    ------
    Which
        A place that may be several; each choice is the whole reply with one of them.
    Refused
        A stop without nights, one too far for a day, or a trip too long.
    """
    parts = [part.strip() for part in reply.split(";")]
    legs = tuple(_leg(parts, index, home) for index, part in enumerate(parts) if part)
    if not legs:
        raise Refused("give at least one stop")
    if len(legs) > MOST_STOPS:
        raise Refused(f"give at most {MOST_STOPS} stops; more can go into the file")
    if not any(leg.nights for leg in legs):
        raise Refused("give at least one stop some nights, such as Moab, Utah, 3 nights")
    days, before = 0.0, home
    for leg in legs:
        days += leg.nights + _drive_hours(before, leg.place) / 24.0
        before = leg.place
    if days > MAX_TRIP_DAYS:
        raise Refused(f"this takes {days:.0f} days; a trip lasts at most {MAX_TRIP_DAYS}")
    return legs


def _leg(parts: list[str], index: int, home: Place) -> Leg:
    text = parts[index]
    match = _NIGHTS.fullmatch(text)
    where, nights = (match[1].strip(" ,"), int(match[2])) if match else (text, None)
    if where.lower() == HOME:
        return Leg(home, nights or 0)
    try:
        here = place(where)
    except Which as which:
        rest = f", {nights} nights" if match else ""
        whole = tuple(
            "; ".join([*parts[:index], found + rest, *parts[index + 1 :]])
            for found in which.replies
        )
        raise Which(which.says, which.choices, whole) from None
    if nights is None:
        raise Refused(f"say for how many nights, such as {where}, 3 nights")
    if nights > bounds(Stop, "nights")[1]:
        raise Refused(f"give at most {bounds(Stop, 'nights')[1]:.0f} nights")
    return Leg(here, nights)


def _drive_hours(before: Place, here: Place) -> float:
    """The drive to a stop as the job will estimate it; 0 where there is no road. [h]"""
    km = distance_km(before, here)
    too_far = f"{here.label} is {km:.0f} km away, too far for one leg; put a stop between"
    if km > FASTEST_KM_H * MOST_DRIVE_H:
        raise Refused(too_far)
    drive = estimated_drive(before, here)
    if drive is not None and drive.hours > MOST_DRIVE_H:
        raise Refused(too_far)
    return 0.0 if drive is None else drive.hours


def there(reply: str) -> There:
    """What it is like at a stop, from words or numbers with commas.

    Raises
    ------
    Which, Refused
        As `pick` does; or surroundings, or ways to plug in, that exclude each other.
    """
    words = tuple(word for word, _ in (*_SURROUNDINGS, *_OFFERS))
    found, skyline = [], None
    # Its decimal comma parts no words.
    text = _SKYLINE_COMMA.sub(r"\1.", reply)
    parts = [part.strip() for part in text.split(",") if part.strip()]
    for index, part in enumerate(parts):
        if part.lower() == NONE:
            continue
        if match := _SKYLINE.fullmatch(part):
            skyline = Within(Stop, "horizon_deg", or_zero=True).read(match[1])
            continue
        try:
            found.append(pick(part, words))
        except Which as which:
            whole = tuple(
                ", ".join([*parts[:index], word, *parts[index + 1 :]]) for word in which.replies
            )
            raise Which(which.says, which.choices, whole) from None
    around = list(dict.fromkeys(word for word in found if word in dict(_SURROUNDINGS)))
    plugs = list(dict.fromkeys(word for word in found if word in _PLUGS))
    for several in (around, plugs):
        if len(several) > 1:
            raise Refused(f"{several[0]} and {several[1]} exclude each other; give one of them")
    return There(
        around[0] if around else "open",
        skyline,
        _PLUGS[plugs[0]] if plugs else "never",
        tuple(name for word, name in _SERVICES.items() if word in found),
    )


def numbers(answers: Answers) -> Iterator[str]:
    """The trips that were answered, as ``"trip 1"``."""
    for number in range(1, MOST_TRIPS + 1):
        if answers.get(f"trip {number} depart") is None:
            return
        yield f"trip {number}"


def trip_names(answers: Answers) -> dict[str, str]:
    """A name for each trip: month and first stop with nights, with a number if two are alike."""
    found: dict[str, str] = {}
    for key in numbers(answers):
        month = calendar.month_name[answers[f"{key} depart"].month]
        first = next(leg for leg in answers[f"{key} route"] if leg.nights)
        name, copies = f"{month}, {first.place.name}", 1
        while name in found.values():
            copies += 1
            name = f"{month}, {first.place.name} {copies}"
        found[key] = name
    return found


def coldest_night(answers: Answers) -> tuple[float, str] | None:
    """How cold nights usually get at the coldest stop, and the name of that trip. [deg C]"""
    # The tables of the climate, with their libraries: not before the trips are known.
    from sim.sky.climate.monthly import usual_night_c

    found = []
    names = trip_names(answers)
    for key in numbers(answers):
        date = answers[f"{key} depart"]
        for leg in answers[f"{key} route"]:
            night_c = usual_night_c(leg.place, date.month) if leg.nights else None
            if night_c is not None:
                found.append((night_c, names[key]))
            date += dt.timedelta(days=leg.nights)
    return min(found, default=None)
