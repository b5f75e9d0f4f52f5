"""The two-minute answer in a dozen lines, and as plain data."""

from __future__ import annotations

from typing import Any

from sim.decide.sketch import Sketch, SketchOption
from sim.ledger.answer import Answer
from sim.report.words.numbers import (
    GAP,
    counted,
    listed,
    month_name,
    percent,
    shortened,
    watt_hours,
    watts,
    weight,
)

# What is aboard takes so many letters at most: two lines of 80 columns, or one.
_MOST_ABOARD, _FEW_ABOARD = 150, 76


def sketch_lines(found: Sketch) -> tuple[str, ...]:
    """The answer first, then what it rests on: with the table 11 lines of 80 columns."""
    beside = _beside(found.best.answer)
    aboard = _aboard(found, _FEW_ABOARD if beside else _MOST_ABOARD)
    lines = (*_answer(found), *beside, _day(found), aboard)
    return tuple(line.replace(GAP, " ") for line in lines)


def _answer(found: Sketch) -> tuple[str, str]:
    best, answer = found.best, found.best.answer
    build = f"{watts(best.panels_w)} of panels, {watt_hours(best.battery_wh)} of battery"
    us_units = found.job.settings.units == "us"
    if found.smallest is not None:
        head = f"Smallest that is ample: {build} ({weight(best.weight_kg, us_units)})."
    else:
        head = f"Nothing is ample. The best is {answer.electric}: {build}."
    return head, (
        f"No dark hour in {answer.held:,} of {answer.draws:,} simulated trips; "
        f"bad case down to {percent(answer.bad.lowest_soc)}."
    )


def _beside(answer: Answer) -> tuple[str, ...]:
    """What neither panels nor battery can mend."""
    if answer.verdict == answer.electric:
        return ()
    failed = answer.draws - answer.all_held
    return (
        f"But {answer.verdict} as a whole: in {failed:,} of {answer.draws:,} warmth, hot water or "
        "a tank falls behind.",
    )


def _day(found: Sketch) -> str:
    return (
        f"A day takes {watt_hours(found.wanted_wh)}, 100 W of panels bring "
        f"{watt_hours(found.sun_wh_per_100_w)}. Parked, no plug."
    )


def _aboard(found: Sketch, most: int) -> str:
    job, trip = found.job, found.job.trips[0]
    items = [f"{x.name} x{x.count}" if x.count > 1 else x.name for x in job.appliances]
    text = (
        f"{trip.stops[0].place.label}, {month_name(trip.depart.month)}, "
        f"{counted(trip.stops[0].nights, 'night')}, {people(job.living.people)}: {listed(items)}."
    )
    return shortened(text, most)


def people(number: int) -> str:
    """``1 person``, ``2 people``."""
    return "1 person" if number == 1 else f"{number} people"


def sketch_table(found: Sketch) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Battery by rows, panels by columns; a star marks the smallest. Its heads, and its rows."""
    panels = dict.fromkeys(option.panels_w for option in found.options)
    rows: dict[float, list[SketchOption]] = {}
    for option in found.options:
        rows.setdefault(option.battery_wh, []).append(option)
    cells = [
        (
            watt_hours(battery_wh),
            *(f"{x.answer.electric}{'*' if x is found.smallest else ' '}" for x in options),
        )
        for battery_wh, options in rows.items()
    ]
    return ("Battery", *(f"{watts(x)} " for x in panels)), cells


def sketch_json(found: Sketch) -> dict[str, Any]:
    """The sketch as plain data, with stable keys."""
    trip = found.job.trips[0]
    return {
        "place": trip.stops[0].place.label,
        "month": trip.depart.month,
        "nights": trip.stops[0].nights,
        "people": found.job.living.people,
        "aboard": [{"name": item.name, "count": item.count} for item in found.job.appliances],
        "day": {"wanted_wh": found.wanted_wh, "sun_wh_per_100_w": found.sun_wh_per_100_w},
        "options": [_option(option) for option in found.options],
        "smallest": None if found.smallest is None else _option(found.smallest),
    }


def _option(option: SketchOption) -> dict[str, Any]:
    return {
        "panels": option.panels,
        "panels_w": option.panels_w,
        "batteries": option.batteries,
        "battery_wh": option.battery_wh,
        "weight_kg": option.weight_kg,
        "verdict": option.answer.verdict,
        "electric": option.answer.electric,
        "held": option.answer.held,
        "draws": option.answer.draws,
        "lowest_soc_p10": option.answer.lowest_soc.p10,
    }
