"""What the charts of a trip say: a sentence for every point, a caption, words at the marks."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sim.arrays import Floats
from sim.ledger.answer import Answer
from sim.ledger.outcome import TripOutcome
from sim.ledger.results import TripResult
from sim.report.charts.chart_data import ChargePoints, first_low
from sim.report.charts.trip_chart import Mark
from sim.report.words.answer_words import typical_low
from sim.report.words.numbers import (
    Manner,
    isolated,
    listed,
    percent,
    shortened,
    watt_hours,
    watts,
)
from sim.report.words.sentences import GROUPS, named_loads
from sim.report.words.sources import source_words

_GROUP_OFF = {"essential": "essentials off", "comfort": "comforts off", "extra": "extras off"}
_EARLY = (
    "Cold, or a strong load, leaves less in a lead-acid battery than its charge says: here loads "
    "are switched off before the charge falls to the broken lines."
)


def bad_name(trip: TripOutcome) -> str:
    """What the bad case is called everywhere on the page: ``bad case (1 in 20)``."""
    worse = 1.0 - trip.ample_share
    if worse < 1e-9:
        return "worst case"
    often = 1.0 / worse
    return f"bad case (1 in {often:.0f})" if abs(often - round(often)) < 1e-6 else "bad case"


def bad_marks(
    trip: TripResult, points: ChargePoints, answer: Answer, places: Sequence[str], manner: Manner
) -> list[Mark]:
    """The first dark hour and the lowest charge of the bad case; one where they are the same."""
    hourly = points.grain == "hour"

    def where(index: int, stop: int) -> str:
        time = points.times[index]
        when = manner.moment(time) if hourly else manner.day(time.date())
        return f"{when}, {isolated(shortened(places[stop], 20))}"

    found = []
    if points.bad_dark.any() and answer.first_dark is not None:
        index = int(np.argmax(points.bad_dark))
        found.append(
            Mark(
                index,
                _GROUP_OFF[answer.first_dark.priority],
                where(index, int(points.stop[index])),
                True,
            )
        )
    if trip.draws > 1 or not found:
        lowest = first_low(points.bad)
        there = where(lowest, _stop_at(points, lowest))
        if not found or found[0].index != lowest:
            found.append(Mark(lowest, f"low {percent(points.bad[lowest])}", there, False))
    return found


def _stop_at(points: ChargePoints, index: int) -> int:
    """Where the van is when a low is reached: at the end of the hour before that point."""
    return int(points.stop[max(index - 1, 0) if points.grain == "hour" else index])


def chart_caption(
    trip: TripResult, points: ChargePoints, answer: Answer, places: Sequence[str], manner: Manner
) -> str:
    """When and where the charge is lowest, in the middle and in the bad case, and what goes off."""
    middle = _lowest(points.p50, points, places, manner)
    early = f" {_EARLY}" if _off_above_floors(trip) else ""
    off = _first_off(trip, answer, places, manner)
    if trip.draws == 1:
        return f"The charge is lowest {middle}.{off}{early}"
    bad = _lowest(points.bad, points, places, manner)
    half = typical_low(answer)
    own = (
        f" Each trip has its low at a time of its own: half of them fall to {half} or lower."
        if half != percent(points.p50.min())
        else ""
    )
    return (
        f"The middle line is lowest {middle}.{own} The bad case is the simulated trip that the "
        f"battery is judged by; it is lowest {bad}.{off}{early}"
    )


def _lowest(charge: Floats, points: ChargePoints, places: Sequence[str], manner: Manner) -> str:
    index = first_low(charge)
    time = points.times[index]
    when = manner.moment(time) if points.grain == "hour" else manner.day(time.date())
    place = isolated(places[_stop_at(points, index)])
    return f"on {when} ({place}), at {percent(float(charge[index]))}"


def _first_off(trip: TripResult, answer: Answer, places: Sequence[str], manner: Manner) -> str:
    first = answer.first_dark
    if first is None or not first.is_bad_case:
        if answer.verdict != "ample":
            return (
                f" Nothing goes off in it: what makes the trip {answer.verdict} is not the battery."
            )
        return " Nothing goes off in it."
    day = trip.day_index[first.step]
    wanted = [x for x in trip.loads if x.wanted_wh_day[day, first.draw] > 0.0]
    moment = manner.moment(trip.local_times()[first.step])
    where = isolated(shortened(places[trip.timeline.stop[first.step]]))
    names = named_loads(wanted, first.priority)
    return f" On {moment} ({where}) {GROUPS[first.priority]} go off first: {names}."


def _off_above_floors(trip: TripResult) -> bool:
    """Whether a lead-acid bank went dark in a draw whose charge never fell to a floor."""
    high = trip.lowest > max(trip.floors)
    return trip.chemistry != "lifepo4" and bool((high & (trip.dark_hours > 0)).any())


def point_sentences(
    trip: TripResult,
    points: ChargePoints,
    places: Sequence[str],
    manner: Manner,
) -> list[str]:
    """What each point of the chart says when a reader stops at it."""
    return [
        _point_sentence(trip, points, index, places[points.stop[index]], manner)
        for index in range(len(points.stop))
    ]


def _point_sentence(
    trip: TripResult, points: ChargePoints, index: int, place: str, manner: Manner
) -> str:
    time = points.times[index]
    hourly = points.grain == "hour"
    start = manner.moment(time) if hourly else manner.day(time.date())
    driving = points.driving[index] > 0.5
    text = f"{start}, {'on the way to ' if driving else ''}{isolated(place)}: "
    text += "charge " if hourly else "lowest charge of the day "
    text += percent(points.p50[index])
    if trip.draws > 1:
        low, high = percent(points.p10[index]), percent(points.p90[index])
        text += f", in the bad case {percent(points.bad[index])}"
        text += f" (eight simulated trips in ten: {low} to {high})"
    gains = [
        f"{source_words(kind).flow} {watts(flow[index])}"
        for kind, flow in points.taken_w.items()
        if flow[index] >= 0.5
    ]
    text += f". In: {listed(gains) or 'nothing'}. Out: {watts(points.served_w[index])}."
    levels = [
        f"{isolated(shortened(store.name, 24))} {percent(level[index])}"
        for store, level in zip(trip.stores, points.stores, strict=True)
    ]
    text += f" Tanks: {listed(levels)}." if levels else ""
    text += f" Outside {manner.temperature(points.outside_c[index])}"
    text += f", inside {manner.temperature(points.cabin_c[index])}."
    dark = points.dark[index]
    if dark > 0:
        draws = "years" if trip.years else "simulated trips"
        text += f" Something is off in {round(dark * trip.draws):,} of {trip.draws:,} {draws}."
    return text


def sources_caption(trip: TripResult) -> str:
    """What an average day brings and takes."""
    energy = trip.energy
    brought = [
        f"{source_words(kind).bringer} {watt_hours(value)}"
        for kind, value in energy.taken.items()
        if value >= 0.5
    ]
    start = f"An average day brings {listed(brought)}" if brought else "No source brings anything"
    text = f"{start}; the appliances take {watt_hours(energy.served)}"
    if energy.unharvested >= 0.5:
        text += f", and {watt_hours(energy.unharvested)} of sun found no room"
    return f"{text}."
