"""What living in the van comes to: tanks, warmth, frost, the season, the battery's life.

Each is a section of the client's report, and is left out when there is nothing to tell.
"""

from __future__ import annotations

import numpy as np

from sim.arrays import Bools
from sim.ledger.audit import audit
from sim.ledger.results import Result, TripResult
from sim.report.charts.chart_data import local_clock
from sim.report.page.sections import Section
from sim.report.page.trip_text import Table
from sim.report.words.numbers import (
    GAP,
    Manner,
    amount,
    called,
    counted,
    hours,
    isolated,
    listed,
    quoted,
    watt_hours,
)
from sim.report.words.sentences import change_words
from sim.report.words.warmth import pipes_otherwise
from sim.trip.frost import FrostSpot
from sim.trip.tanks import StoreLine

# Of fewer simulated trips the tenth part is none.
_TEN = 10
_WINTERISE = (
    "Winterise before {places}: the van is left unheated there and what is inside can freeze. "
    "Drain the tanks, blow out the pipes, or keep a heater on while nobody is aboard."
)


def living_sections(result: Result, manner: Manner) -> tuple[Section, ...]:
    """The sections that a result has something to tell in, in the order of the page."""
    found = (
        _stores(result, manner),
        _season(result, manner),
        _leftover(result),
        _warmth(result, manner),
        _wear(result),
    )
    return tuple(section for section in found if section is not None)


def store_words(line: StoreLine, trip: TripResult, manner: Manner) -> str:
    """How long one tank lasts on a trip."""
    word = "full" if line.kind == "grey" else "empty"
    out_at_h = line.out_at_h[np.isfinite(line.out_at_h)]
    if len(out_at_h):
        when = _moment(trip, float(np.median(out_at_h)), manner)
        if trip.draws == 1 or line.out_share > 0.995:
            return f"{word} on {when}"
        return f"{word} in {_often(line.out_share, trip)}, as a rule on {when}"
    shortest = float(line.nights_until.min())
    if not np.isfinite(shortest):
        return "not used"
    lasts = counted(int(shortest), "night") if shortest < 1000.0 else "for years"
    return f"would last {lasts}"


def runs_out_first(trip: TripResult, manner: Manner) -> tuple[str, str]:
    """What runs out first on a trip, and when: for the first screen."""
    first = trip.first_out
    if first.name is None or first.at_h is None:
        return "nothing", ""
    word = "full" if first.store == "grey" else "empty"
    counts = trip.draws > 1 and round(first.share * trip.draws) > 0
    often = f", first in {_often(first.share, trip)}" if counts else ""
    return called(first.name), f"{word} {_moment(trip, first.at_h, manner)}{often}"


def _often(share: float, trip: TripResult) -> str:
    """``88 of 200 simulated trips``, or ``2 of 5 years``."""
    return f"{round(share * trip.draws):,} of {trip.draws:,} {_draw(trip)}s"


def _draw(trip: TripResult) -> str:
    return "year" if trip.years else "simulated trip"


def _moment(trip: TripResult, hours_after: float, manner: Manner) -> str:
    clock = local_clock(trip)
    step = min(int(hours_after / trip.timeline.step_hours), len(clock) - 1)
    return manner.day(clock[step].date())


def _stores(result: Result, manner: Manner) -> Section | None:
    if not result.trips[0].stores:
        return None
    sentences = []
    for trip in result.trips:
        parts = [f"{isolated(x.name)} {store_words(x, trip, manner)}" for x in trip.stores]
        sentences.append(f"{called(trip.name)}: {'; '.join(parts)}.")
    carries = [sum(line.carries for line in trip.stores) for trip in result.trips]
    if max(carries) >= 1.0:
        sentences.append(
            f"Carried in by hand: up to {counted(round(max(carries)), 'can')} of water."
        )
    sentences.append(
        "Where a stop offers it, tanks are filled and emptied as often as it takes. Their levels "
        "are in each trip's chart."
    )
    tables = tuple(_stores_table(trip, manner) for trip in result.trips)
    return Section("stores", "Water and propane", tuple(sentences), tables=tables)


def _stores_table(trip: TripResult, manner: Manner) -> Table:
    rows = []
    for line in trip.stores:
        use = listed([f"{name} {amount(line, x, manner)}" for name, x in line.by_use.items() if x])
        rows.append(
            (
                line.name,
                amount(line, line.capacity, manner),
                amount(line, float(line.use_per_day.mean()), manner),
                use or "nothing",
                store_words(line, trip, manner),
                amount(line, line.missed_per_day, manner),
            )
        )
    head = ("Tank", "Holds", "A day", "Of which", "On this trip", "Missing, or over, a day")
    caption = f"{called(trip.name)}: tanks, mean of all days and simulated trips"
    return Table(caption, head, tuple(rows))


def _season(result: Result, manner: Manner) -> Section | None:
    found = audit(result)
    if not found.changes:
        return None
    cold, warm = quoted(found.coldest), quoted(found.warmest)
    lead = f"What the appliances take a day on the trip {warm}, against {cold}:"
    sentences = (
        lead,
        *(f"{isolated(change_words(change, manner.units))}." for change in found.changes),
    )
    return Section("season", "What the season changes", sentences)


def _leftover(result: Result) -> Section | None:
    """Sun that nothing took, by its cause, and what snow kept from the panels."""
    causes = {
        "battery full": "the battery was full",
        "acceptance": "the battery took no more, being nearly full",
        "too cold": "the cells were too cold to be charged",
        "controller limit": "the solar controller was at its limit",
    }
    trips = result.trips
    rows = [
        (parts, *(watt_hours(trip.unharvested_by_cause[cause]) for trip in trips))
        for cause, parts in causes.items()
        if any(trip.unharvested_by_cause[cause] >= 0.5 for trip in trips)
    ]
    if any(trip.snowed_wh_day >= 0.5 for trip in trips):
        rows.append(("snow lay on the panels", *(watt_hours(t.snowed_wh_day) for t in trips)))
    if not rows:
        return None
    head = ("Because", *(trip.name for trip in trips))
    table = Table("Wh a day, mean of all days and simulated trips", head, tuple(rows))
    text = "Sun the panels could have given and nothing took, by its cause."
    return Section("leftover", "Sun left over, and why", (text,), tables=(table,))


def _warmth(result: Result, manner: Manner) -> Section | None:
    sentences: list[str] = []
    for trip in result.trips:
        parts = [
            *_cold_hours(trip),
            *_warm_food(trip),
            *_wet_windows(trip),
            *_frozen(trip, manner),
        ]
        sentences += [f"{called(trip.name)}: {text}" for text in parts]
    if not sentences:
        return None
    return Section("warmth", "Warmth and frost", tuple(sentences))


def _cold_hours(trip: TripResult) -> list[str]:
    chill = trip.chill.hours
    if not chill.any():
        return []
    most_h = float(np.quantile(chill, 0.9))
    if most_h == 0.0:
        cold = chill[chill > 0.0]
        return [
            f"the heater does not reach its set point in {len(cold):,} of {len(chill):,} simulated "
            f"trips, for {hours(float(cold.mean()))} on average of these."
        ]
    most = hours(most_h)
    return [
        f"the heater does not reach its set point for {hours(float(chill.mean()))} on average, "
        f"for {most} or more in one {_draw(trip)} of ten."
    ]


def _wet_windows(trip: TripResult) -> list[str]:
    mean = float(trip.damp_hours.mean())
    if mean < 1.0:
        return []
    return [
        f"water runs down the windows for {hours(mean)} in all. Keep a roof vent and a low vent "
        "open a crack, also while it is cold, and wipe the glass in the morning."
    ]


def _warm_food(trip: TripResult) -> list[str]:
    return [
        f"{isolated(box.name)} is warmer than it should be for "
        f"{hours(float(box.warm_hours.mean()))} on average, because it was switched off."
        for box in trip.boxes
        if box.warm_hours.any()
    ]


def _frozen(trip: TripResult, manner: Manner) -> list[str]:
    parts = [_spot(spot, manner) for spot in trip.frost.spots if spot.hours.any()]
    if (otherwise := pipes_otherwise(trip)) is not None:
        parts.append(f"{otherwise}.")
    if trip.frost.winterise:
        places = [trip.timeline.stays[stop].label for stop in trip.frost.winterise]
        parts.append(_WINTERISE.format(places=listed([*dict.fromkeys(map(isolated, places))])))
    return parts


def _spot(spot: FrostSpot, manner: Manner) -> str:
    """In how many simulated trips something could freeze, for how long and how cold it is there:
    of those trips alone, so that no warning names a warmth above freezing."""
    freezes = spot.hours > 0.0
    coldest = manner.temperature(float(np.quantile(spot.coldest_c[freezes], 0.1)))
    text = (
        f"{isolated(spot.name)} ({spot.place}) could freeze in {_trips_of(freezes)}, for "
        f"{hours(float(spot.hours[freezes].mean()))} on average, down to {coldest}"
        f"{' in one of ten' if freezes.sum() >= _TEN else ''}."
    )
    if spot.pad_watts > 0:
        return f"{text} Drain it, or fit a pad of {spot.pad_watts}{GAP}W."
    if spot.place != "inside":
        return f"{text} Drain it before a cold night."
    return f"{text} Keep the heater on, or drain and blow out the pipes."


def _trips_of(chosen: Bools) -> str:
    if len(chosen) == 1:
        return "the weather computed"
    return f"{int(chosen.sum()):,} of {len(chosen):,} simulated trips"


def _wear(result: Result) -> Section | None:
    rows = []
    for trip in result.trips:
        life = trip.battery_life
        if life is None:
            continue
        rows.append(
            (
                trip.name,
                f"{life.full_cycles_per_year:.0f}",
                f"{life.wear_pct_per_year:.1f}{GAP}%",
                f"{counted(round(life.years), 'year')} "
                f"({life.years_low:.0f} to {life.years_high:.0f})",
            )
        )
    if not rows:
        return None
    head = ("Used all year as on", "Full cycles a year", "Of its life a year", "Expected life")
    text = (
        "How long the battery would last if the van were used all year as on one of these trips. "
        "Published lives of batteries of one kind differ by a factor of two and more, so the range "
        "matters more than the middle."
    )
    table = Table("Life of the battery", head, tuple(rows))
    return Section("wear", "How the battery ages", (text,), tables=(table,))
