"""What levers do and when a trip goes well, in sentences."""

from __future__ import annotations

from sim.decide.calendar import Calendar
from sim.decide.levers.effects import LeverDecision, LeverEffect
from sim.decide.levers.lever import WhyNot
from sim.report.words.numbers import held_share, listed, month_name, price, quoted

_WHY_NOT: dict[WhyNot, str] = {
    "no panels": "the job has no panels",
    "as many as may be": "the job holds as many as it may",
    "no room": "the roof has no room for it",
    "largest": "it is the largest already",
    "no alternator": "the job has no [alternator] to charge from",
    "no plug": "the job has no [shore]: no plug to charge from",
    "short trips": "no trip is long enough",
    "no electric heat": "nothing aboard makes heat from electricity",
    "no AC refrigerator": "no refrigerator runs on AC",
    "no inverter": "the job has no inverter",
    "so already": "it is so already",
    "not always on": "it is not on all the time",
    "needed on": "something that starts by itself, such as a refrigerator, needs it on",
    "best shell": "the shell could not be better",
    "no warmth": "nothing aboard depends on the cabin's warmth",
    "white": "it is white already",
    "clean": "the job counts no dirt on panels",
    "none on roof": "no panel stays on the roof",
    "habit": "it is a habit already",
    "none flat": "no panel lies flat",
    "no extras": "the job has no extras",
}


def why_not(why: WhyNot) -> str:
    """Why a lever has no place in a job."""
    return _WHY_NOT[why]


def lever_sentences(found: LeverDecision) -> tuple[str, ...]:
    """The largest effect, the most for the money, and the best two together."""
    sentences = []
    useful = [x for x in found.effects if x.trips and not x.changes_nothing]
    if useful:
        sentences.append(f"The largest effect: {useful[0].name}. {_then(useful[0])}.")
    paid = [x for x in found.by_price if x.gain > 0.0]
    if paid:
        cost = _cost(paid[0], found.currency)
        sentences.append(f"Most for the money: {paid[0].name}{cost}. {_then(paid[0])}.")
    if found.best_pair is not None:
        pair = found.best_pair
        cost = _cost(pair, found.currency)
        sentences.append(f"The best two together: {pair.name}{cost}. {_then(pair)}.")
    return tuple(sentences)


def _cost(effect: LeverEffect, currency: str) -> str:
    """``, for USD 570`` or ``, for nothing``; empty where it is not known."""
    if effect.price is None:
        return ""
    return f", for {price(effect.price, currency)}" if effect.price else ", for nothing"


def _then(effect: LeverEffect) -> str:
    """In what share of the weathers nothing goes dark then, trip by trip."""
    shares = [f"{held_share(trip.answer)} on {quoted(trip.answer.trip)}" for trip in effect.trips]
    return f"Weathers without a dark hour then: {listed(shares)}"


def calendar_sentences(found: Calendar) -> tuple[str, ...]:
    """In which months the trip is ample, tight and short with the build as it is."""
    sentences = []
    for verdict in ("ample", "tight", "short"):
        names = [month_name(x.month) for x in found.months if x.verdict == verdict]
        if len(names) == len(found.months):
            sentences.append(f"With {found.job_count} panels the trip is {verdict} all year.")
        elif names:
            sentences.append(f"{verdict.capitalize()}: {listed(names)}.")
    return tuple(sentences)
