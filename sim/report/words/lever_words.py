"""What levers do, in sentences: what is enough, what comes nearest, what makes a trip worse."""

from __future__ import annotations

from sim.decide.levers.effect import LeverDecision, LeverEffect, TripEffect
from sim.decide.levers.lever import WhyNot
from sim.report.words.answer_words import (
    beside_of_trips,
    counts_cell,
    held_briefly,
    medical_names,
    medical_words,
    missing_words,
    sure_words,
)
from sim.report.words.numbers import (
    FEWEST_FOR_A_SHARE,
    called,
    changes,
    drawn_share,
    gain_words,
    listed,
    percent,
    price,
    quoted,
)

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
    "nothing strong": "no load that may wait is strong enough to matter",
    "nothing to wait for": "no plug, no sun at that hour, no drive and no charge to wait for",
    "needed at night": "something on AC is needed at night",
    "takes the cold": "this battery can be charged in the cold",
    "warm battery": "the battery is in a heated cabin",
    "no heater": "there is no heater",
}
# What brings less than this part of what is missing, and holds nothing more often, is not named.
_WORTH_NAMING = 0.1
# More changes that are enough are not named one by one.
_MOST_ENOUGH = 3


def why_not(why: WhyNot) -> str:
    """Why a lever has no place in a job."""
    return _WHY_NOT[why]


def lever_sentences(found: LeverDecision) -> tuple[str, ...]:
    """The answer first: what is enough, or comes nearest; then the most for the money."""
    sentences = [_answer(found)]
    shown = _shown(found)
    paid = [x for x in found.by_price if x.held_gain > 0.0 or x.missing_gain >= _WORTH_NAMING]
    if paid and not found.is_ample and shown is not None and paid[0].names != shown.names:
        sentences.append(f"Most for the money: {_named(paid[0], found)}. {_then(paid[0])}")
    return tuple(sentences)


def medical(found: LeverDecision) -> str:
    """Medical devices that may go without, as it is and with the change that is shown."""
    cases = [("As it is", found.base)]
    if (shown := _shown(found)) is not None:
        names = changes(shown.names)
        cases.append((f"With {names}", tuple(trip.answer for trip in shown.trips)))
    return medical_words(cases)


def _shown(found: LeverDecision) -> LeverEffect | None:
    """The change, or pair, that the answer is about."""
    if found.enough:
        return found.enough[0]
    if found.best_pair is not None:
        return found.best_pair
    useful = [x for x in found.effects if x.trips and not x.changes_nothing and x.gain > 0.0]
    return useful[0] if useful else None


def _answer(found: LeverDecision) -> str:
    shown = _shown(found)
    if found.is_ample and (ill := medical_names(found.base)):
        lead = "Every trip is ample as it is."
        if found.best_pair is not None:
            both = _named(found.best_pair, found)
            return (
                f"{lead} No one change keeps {ill} on in all simulated trips; two together do: "
                f"{both}."
            )
        if not found.enough:
            return f"{lead} No change tried keeps {ill} on in all simulated trips."
        return f"{lead} To keep {ill} on in all simulated trips: {_named(found.enough[0], found)}."
    if found.is_ample:
        lead = "Every trip is ample as it is: no change is needed."
        return lead if shown is None else f"{lead} Most would add: {_named(shown, found)}."
    if shown is None:
        return "None of the changes tried helps."
    if found.enough:
        others = [_named(x, found) for x in found.enough[1 : 1 + _MOST_ENOUGH]]
        also = f" Enough too: {listed(others)}." if others else ""
        return f"One change is enough: {_named(shown, found)}. {_then(shown)}{also}"
    if shown.is_enough:
        return (
            "No one change is enough; two together are: "
            f"{_named(shown, found)}. {_then(shown)}{_beside(shown)}"
        )
    nor = ", nor are two together; nearest come" if len(shown.names) > 1 else "; nearest comes"
    return f"No change tried is enough{nor} {_named(shown, found)}. {_then(shown)}{_beside(shown)}"


def _beside(effect: LeverEffect) -> str:
    """What still falls behind beside electricity."""
    left = beside_of_trips([x.answer for x in effect.trips if x.answer.verdict != "ample"])
    return f" {left}" if left else ""


def _named(effect: LeverEffect, found: LeverDecision) -> str:
    return f"{changes(effect.names)} ({_cost(effect, found.currency)})"


def _cost(effect: LeverEffect, currency: str) -> str:
    if effect.price is None:
        return "price not known"
    return price(effect.price, currency) if effect.price else "free"


def _then(effect: LeverEffect) -> str:
    """What then holds on the trips that were not ample, and which trip is worse off."""
    trips = [x for x in effect.trips if x.before is None or x.before.verdict != "ample"]
    trips = trips or [min(effect.trips, key=lambda x: x.answer.rank)]
    sentences = [_trip_then(x) for x in trips[:2]] + worse_words(effect)
    return " ".join(sentences)


def _trip_then(trip: TripEffect) -> str:
    answer = trip.answer
    return f"{quoted(answer.trip)} is then {answer.verdict}: {held_briefly(answer)}."


def worse_words(effect: LeverEffect) -> list[str]:
    """Which trips a lever makes worse, a sentence each."""
    return [
        f"It makes {quoted(x.answer.trip)} worse: {x.answer.verdict}, {held_briefly(x.answer)}."
        for x in effect.trips
        if x.is_worse
    ]


def trip_cell(trip: TripEffect) -> str:
    """``tight 200/179``: verdict, essentials and comforts, and whether the trip is worse off; of
    what holds in all simulated trips the lowest charge in the bad case, of what holds in none
    what is missing."""
    answer = trip.answer
    text = f"{answer.verdict} {counts_cell(answer)}"
    if trip.is_worse:
        text += " worse"
    if trip.is_left:
        return f"{text} not used"
    before = trip.before or answer
    if answer.all_held == before.all_held == answer.draws:
        text += f", low {percent(answer.bad.lowest_soc)}"
    if answer.all_held == 0 and (missing := missing_words(answer)):
        text += f"\n{missing}"
    return text


def full_cell(trip: TripEffect) -> str:
    """For experts: ``97.5 % (+13)`` over ``lowest 43 % (+19)``; a gain that chance alone could
    make has a ~."""
    now = trip.answer
    sure = "" if abs(trip.share_gain) > trip.gain_error else "~"
    held = (
        f"{now.held:,} of {now.draws:,}"
        if now.draws < FEWEST_FOR_A_SHARE
        else drawn_share(now.ample_share, now.draws)
    )
    return (
        f"{held} ({sure}{gain_words(trip.share_gain, now.draws)})\n"
        f"lowest {drawn_share(now.lowest_soc.p10, 1)} ({100 * trip.lowest_gain:+z.0f})"
    )


def sure_sentences(found: LeverDecision) -> tuple[str, ...]:
    """For experts: how sure the counts of the build as it is are."""
    return tuple(
        f"{called(answer.trip)} as it is: without a dark hour {sure_words(answer)}; lowest "
        f"charge in the bad case {drawn_share(answer.bad.lowest_soc, 1)}."
        for answer in found.base
    )
