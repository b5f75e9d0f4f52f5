"""Why a trip is what it is, and what mends it: the first lines of an answer.

Plain text, the same in the terminal, on the page and in JSON.
"""

from __future__ import annotations

from collections.abc import Sequence

from sim.arrays import Floats
from sim.decide.needs import Need
from sim.decide.remedy import Remedy
from sim.ledger.answer import Answer
from sim.ledger.behind import counted_lack
from sim.ledger.outcome import TripOutcome
from sim.ledger.promise import Lack, MedicalLack
from sim.report.words.answer_words import behind_words, held_words, of_a_hundred
from sim.report.words.numbers import (
    GAP,
    Manner,
    changes,
    counted,
    either,
    isolated,
    listed,
    night_of,
    percent,
    price,
    shortened,
    watt_hours,
)
from sim.report.words.sources import source_words

_NAMED = 2
# A battery that never came this near to the floor of what went dark did not run low.
_FLOOR_NEAR = 0.02


def _trips(trip: TripOutcome) -> str:
    return f"{trip.draws:,} {'years of the weather file' if trip.years else 'simulated trips'}"


def because(trip: TripOutcome, manner: Manner) -> str:
    """Why, in one text; see `reasons`."""
    return " ".join(reasons(trip, manner))


def reasons(trip: TripOutcome, manner: Manner) -> list[str]:
    """Why, in sentences, what matters most first: medical devices; what falls behind first, in
    how many simulated trips, when and where; against what; what else falls behind."""
    ill = medical(trip)
    return [*([ill] if ill else []), *_behind(trip, manner)]


def medical(trip: TripOutcome, named: int | None = None) -> str:
    """Medical devices that go without, in one sentence, the first `named` of them by name; empty
    where none ever does."""
    ill = trip.promise.medical
    alike = len({x.count for x in ill}) == 1
    parts: list[str] = []
    for x in ill[:named]:
        verb = "" if parts else " misses up to"
        times = f"{x.count:,}" if parts else _times(x.count, trip)
        often = "" if alike else f" in {times}"
        parts.append(f"{isolated(x.name)}{verb} {_missed(x)}{often}")
    if others := ill[len(parts) :]:
        parts.append(f"{len(others)} more {_missed(others[0])} or less")
    often = f" in {_times(ill[0].count, trip)}" if alike else ""
    return f"{listed(parts)}{often}." if parts else ""


def _missed(lack: MedicalLack) -> str:
    return f"{max(lack.worst_wh, 1.0):,.0f}{GAP}Wh"


def _behind(trip: TripOutcome, manner: Manner) -> list[str]:
    lack = trip.promise.decides
    if lack is None:
        return [] if trip.promise.medical else [f"Nothing falls behind in any of {_trips(trip)}."]
    return [*_lack_words(lack, trip, manner), *_besides(lack, trip)]


def _besides(first: Lack, trip: TripOutcome) -> list[str]:
    """What else falls behind too often, of another kind than what decides."""
    allowed = (1.0 - trip.ample_share) * trip.draws
    others = [x for x in trip.promise.lacks if x.kind != first.kind and x.count > allowed]
    # Electricity once, of the essentials where these lack it too.
    kinds = {x.kind: x for x in reversed(others)}
    named = [behind_words(counted_lack(x), trip.draws) for x in reversed(kinds.values())]
    return [f"Besides, {listed(named)}."] if named else []


def _who(lack: Lack, trip: TripOutcome) -> str:
    """In how many simulated trips who goes without, besides the medical devices named before."""
    ill = [x.name for x in trip.promise.medical]
    names = trip.who_lacks(lack)
    others = [name for name in names if name not in ill]
    if ill and {x.count for x in trip.promise.medical} == {lack.count} and lack.is_essential:
        if not others:
            return "It goes without" if len(ill) == 1 else "They go without"
        return f"With {'it' if len(ill) == 1 else 'them'} {_without(others)}"
    return f"In {_times(lack.count, trip)} {_without(others or names)}"


def why(trip: TripOutcome, answer: Answer, manner: Manner) -> str:
    """What holds and what does not, and why: the sentences of a trip on the first screen, after
    those on medical devices."""
    held, sure = held_words(answer), of_a_hundred(answer)
    text = f"{held[:1].upper()}{held[1:]}."
    if sure:
        text += f" So of 100 such trips {sure}."
    return f"{text} {' '.join(_behind(trip, manner))}".rstrip()


def _times(count: int, trip: TripOutcome) -> str:
    if trip.draws == 1:
        return "the weather computed"
    return f"all {_trips(trip)}" if count == trip.draws else f"{count:,} of {_trips(trip)}"


def _lack_words(lack: Lack, trip: TripOutcome, manner: Manner) -> list[str]:
    often, when = _times(lack.count, trip), _when(lack, trip, manner)
    match lack.kind:
        case "electricity":
            return [f"{_who(lack, trip)}, {when}.", *_against(lack, trip)]
        case "propane" | "fresh" | "fuel":
            mends = ["Filling it on the way mends that."] if lack.kind != "fuel" else []
            return [f"{lack.names[0]} runs out in {often}, {when}.", *mends]
        case "grey":
            return [
                f"{isolated(lack.names[0])} is full in {often}, {when}.",
                "Emptying it on the way mends that.",
            ]
        case "hot water":
            return [f"Hot water falls short by {watt_hours(lack.missing)} over the trip, {when}."]
        case "warmth":
            return [
                f"In {often} the cabin stays colder than set for {lack.missing:.0f}{GAP}hours, "
                f"{when}."
            ]


def _without(who: Sequence[str]) -> str:
    """Who goes without."""
    names = [_short(name) for name in who]
    if not names:
        return "something goes without"
    if len(names) > _NAMED:
        names = [*names[:_NAMED], f"{len(names) - _NAMED} more"]
    return f"{listed(names)} {'go' if len(names) > 1 else 'goes'} without"


def _short(name: str) -> str:
    """What follows a comma only tells one of a kind from another."""
    return isolated(shortened(name.split(",")[0], 24))


def _when(lack: Lack, trip: TripOutcome, manner: Manner) -> str:
    """When it usually begins, and where."""
    step = _first_step(lack, trip)
    day = manner.day(trip.local_times()[step].date())
    night = night_of((lack.usual_h or 0.0) / 24.0)
    label = trip.timeline.stays[int(trip.timeline.stop[step])].label
    town = label if label[:1] in "-0123456789" else label.split(",")[0]
    usually = "" if trip.draws == 1 else "usually "
    return f"{usually}from {day} (night {night}), at {isolated(shortened(town))}"


def _first_step(lack: Lack, trip: TripOutcome) -> int:
    step = int((lack.usual_h or 0.0) / trip.timeline.step_hours)
    return min(step, len(trip.timeline) - 1)


def _against(lack: Lack, trip: TripOutcome) -> list[str]:
    """What comes in and what is wanted there, a day; or that the battery is not the reason."""
    floor = trip.floors[0 if lack.is_essential else -1]
    least = float(trip.lowest[lack.falls].min())
    cold = []
    if least > floor + _FLOOR_NEAR:
        # Cold raises the floor: what it locks up is counted from full.
        raised = 1.0 - (1.0 - floor) * float(trip.least_usable[lack.falls].min())
        if least > raised + _FLOOR_NEAR:
            return [f"The battery keeps {percent(least)} or more: {_limit(lack, trip)}."]
        cold = [f"In the cold the battery gives nothing below {percent(least)}."]
    stop = trip.timeline.stop[_first_step(lack, trip)]
    taken_w, wanted_w = trip.at_stop_w(int(stop))

    def per_day(watts: Floats) -> float:
        return 24.0 * float(watts[lack.falls].mean())

    brought = {kind: per_day(watts) for kind, watts in taken_w.items()}
    named = [
        f"{watt_hours(wh)} ({source_words(kind).flow})" for kind, wh in brought.items() if wh >= 0.5
    ]
    wanted = per_day(wanted_w)
    brings = f"A day there brings {listed(named) or 'nothing'} of {watt_hours(wanted)} wanted."
    return [*cold, brings]


def _limit(lack: Lack, trip: TripOutcome) -> str:
    """What keeps a load dark while the battery is charged."""
    names = trip.who_lacks(lack)
    if all(line.supply == "ac" for line in trip.lines_wanted() if line.name in names):
        return "the inverter is off then, or at its limit"
    return "more is wanted at once than it or a converter may give"


def remedy_words(remedy: Remedy | None) -> str:
    """The cheapest change that makes a trip ample, and keeps medical devices on, with its price;
    what it would take where no change does; empty where none is needed."""
    if remedy is None:
        return ""
    first = "the first " if remedy.is_of_first else ""
    then = f"{remedy.verdict.upper()}, {remedy.held:,} of {first}{remedy.draws:,}"
    if remedy.need is not None:
        needed = changes([_need(remedy.need), *remedy.changes])
        if remedy.left:
            left = listed([behind_words(one, remedy.draws) for one in remedy.left])
            return f"No change is enough. Nearest comes {needed}: {then}; then {left}."
        lead = f"No one or two changes are enough. It takes {needed}"
        if remedy.is_for_medical:
            return f"{lead} to keep {_kept_on(remedy)}."
        return f"{lead}: {then}.{_ill(remedy)}"
    if not remedy.changes:
        return f"No change that was tried helps{_in_vain(remedy)}: it takes a lighter load."
    names = changes(remedy.changes)
    cost = "" if remedy.price is None else f", {_cost(remedy)}"
    worse = f" It makes {listed(list(remedy.worse))} worse." if remedy.worse else ""
    if remedy.is_for_medical and not remedy.medical_dark:
        return f"To keep {_kept_on(remedy)}: {names}{cost}.{worse}"
    if remedy.verdict == "ample" and not remedy.is_for_medical:
        lead = "Enough" if len(remedy.changes) == 1 else "Enough together"
        return f"{lead}: {names}{cost}: {then}.{worse}{_ill(remedy)}"
    even = _in_vain(remedy)
    if remedy.is_for_medical:
        return f"Nothing tried is enough{even}; nearest comes {names}{cost}.{_ill(remedy)}{worse}"
    return f"Nothing tried is enough{even}; nearest comes {names}{cost}: {then}.{worse}"


def _kept_on(remedy: Remedy) -> str:
    """Medical devices that go without as it is, and no longer then."""
    return f"{listed([_short(name) for name in remedy.ill])} on in all {remedy.draws:,}"


def _ill(remedy: Remedy) -> str:
    """Medical devices that may go without even then."""
    if not remedy.medical_dark:
        return ""
    names = listed([isolated(name) for name in remedy.medical])
    return f" {names} may still go without in {remedy.medical_dark}."


def _in_vain(remedy: Remedy) -> str:
    """The most that was tried, where that was not enough either."""
    tried = [_need(need) for need in remedy.in_vain]
    return f", not even {either(tried)}" if tried else ""


def _need(need: Need) -> str:
    match need.kind:
        case "driving":
            return f"{counted(round(need.amount), 'hour')} of driving a day"
        case "plug":
            return "a plug at every stop"
        case "panels":
            return counted(round(need.amount), "panel")


def _cost(remedy: Remedy) -> str:
    return price(remedy.price, remedy.currency) if remedy.price else "free"
