"""Sentences of the report, the same on the page and in the terminal.

Everything here returns plain text: whoever shows it escapes it for its place.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from sim.job.model.job import Job
from sim.ledger.answer import Answer
from sim.ledger.audit import Change
from sim.ledger.lines import LoadLine
from sim.ledger.outcome import TripOutcome
from sim.ledger.results import Result, TripResult
from sim.report.words.numbers import (
    GAP,
    Manner,
    amps,
    isolated,
    kilowatt_hours,
    listed,
    percent,
    shortened,
    watts,
)
from sim.trip.lines import OWN_DRAW
from sim.units import LITRES_PER_GALLON, celsius_to_fahrenheit

# Groups as a client would name them.
GROUPS = {"essential": "the essentials", "comfort": "the comforts", "extra": "the extras"}
GROUP_HEADS = {
    "essential": "Essentials, switched off last",
    "comfort": "Comforts",
    "extra": "Extras, switched off first",
}
_NAMED = 3


def build_line(job: Job) -> tuple[str, ...]:
    """The build in a few words each: array, battery, charging on the road, plug, inverter."""
    array = sum(group.array_watts for group in job.panels)
    parts = [f"{watts(array)} of panels" if array > 0 else "no panels"]
    parts.append(f"{kilowatt_hours(job.battery.capacity_wh)} battery")
    parts += [f"{amps(item.dcdc_amps)} DC-DC charger" for item in job.alternator]
    for plug in job.shore:
        inlet = f"{plug.inlet_volts:.0f}{GAP}V, {amps(plug.inlet_amps)}"
        parts.append(f"{amps(plug.charger_amps)} shore charger ({inlet})")
    if job.inverter is not None:
        parts.append(f"{watts(job.inverter.watts)} inverter")
    return tuple(parts)


def tried_in_first(result: Result) -> str:
    """That changes are tried in fewer simulated trips than some trip was; else empty."""
    first = result.job.settings.first_draws
    if all(trip.draws <= first or trip.years for trip in result.trips):
        return ""
    return f"Each change is tried in the first {first} of these simulated trips."


def held_of(answer: Answer) -> str:
    """How many draws passed without a dark hour: ``177 of 200``."""
    return f"{answer.held:,} of {answer.draws:,}"


def named_loads(loads: Sequence[LoadLine], priority: str, most: int = _NAMED) -> str:
    """Names of a group's appliances, the hungriest first; converter and inverter left out."""
    chosen = [x for x in loads if x.priority == priority and x.supply not in OWN_DRAW]
    chosen.sort(key=lambda load: -float(load.wanted_wh.mean()))
    names = [isolated(shortened(load.name)) for load in chosen]
    if len(names) > most:
        names = [*names[: most - 1], f"{len(names) - most + 1} more"]
    return listed(names) or "the inverter"


def first_dark(
    answer: Answer, trip: TripOutcome, places: Sequence[str], manner: Manner
) -> tuple[str, str]:
    """When and where the bad case first goes dark, and which group and appliances then do.

    Where the bad case has no dark hour, it is the worst of all draws. The appliances are
    those of the group that are wanted on that day.
    """
    first = answer.first_dark
    if first is None:
        return "none", ""
    day = trip.day_index[first.step]
    wanted = [x for x in trip.lines_wanted() if x.wanted_wh_day[day, first.draw] > 0.0]
    moment = manner.moment(trip.local_times()[first.step])
    where = isolated(shortened(places[trip.timeline.stop[first.step]]))
    case = (
        ""
        if answer.draws == 1
        else "in the bad case: "
        if first.is_bad_case
        else "in the worst trip: "
    )
    names = named_loads(wanted, first.priority)
    return f"{moment}, {where}", f"{case}{GROUPS[first.priority]} ({names})"


def ledger_caption(trips: Iterable[TripResult]) -> str:
    """The hungriest line of each trip."""
    parts = []
    for trip in trips:
        total = sum(float(load.wanted_wh.mean()) for load in trip.loads)
        if total <= 0:
            continue
        top = max(trip.loads, key=lambda load: float(load.wanted_wh.mean()))
        share = percent(float(top.wanted_wh.mean()) / total)
        name = isolated(shortened(top.name))
        parts.append(f"{isolated(shortened(trip.name))}: most goes to {name}, {share} of all.")
        parts += [f"{text}." for text in waited_words(trip)]
    return " ".join(parts) or "Nothing aboard draws power."


def waited_words(trip: TripResult) -> list[str]:
    """What is held to a charge: ``Hob, only above 60 % of charge, gets 71 % of what it wants``."""
    return [
        f"{isolated(shortened(x.name))}, only above {percent(x.appliance.above_soc)} of charge, "
        f"gets {percent(1.0 - float(x.waited_wh.sum() / x.wanted_wh.sum()))} of what it wants"
        for x in trip.loads
        if x.appliance is not None and x.appliance.above_soc is not None and x.wanted_wh.any()
    ]


_CAUSES = {
    "night": "{:.1f} instead of {:.1f} hours a day without sun",
    "aboard": "people aboard {:.1f} instead of {:.1f} hours a day",
    "plug": "{:.1f} instead of {:.1f} hours a day on the plug",
    "road": "{:.1f} instead of {:.1f} hours a day on the road",
    "water": "{:.0f} instead of {:.0f} litres of water a day",
    "meals": "{:.1f} instead of {:.1f} meals a day",
    "ac": "AC appliances take {:,.0f} instead of {:,.0f} Wh",
    "dc": "DC appliances take {:,.0f} instead of {:,.0f} Wh",
}


def change_words(change: Change, units: str) -> str:
    """``Roof fan: 382 Wh a day more; inside 24 °C instead of 17 °C on average.``"""
    moved = change.warm_wh - change.cold_wh
    text = f"{change.name}: {abs(moved):,.0f} Wh {'more' if moved > 0.0 else 'less'}"
    cold, warm = change.cold_value, change.warm_value
    if change.cause is None or cold is None or warm is None:
        return text
    if change.cause in ("outside", "inside"):
        return f"{text} ({_warmth(warm, units)} instead of {_warmth(cold, units)} {change.cause})"
    if change.cause == "water" and units == "us":
        cold, warm = cold / LITRES_PER_GALLON, warm / LITRES_PER_GALLON
        return f"{text} ({warm:.1f} instead of {cold:.1f} gallons of water a day)"
    return f"{text} ({_CAUSES[change.cause].format(warm, cold)})"


def _warmth(celsius: float, units: str) -> str:
    return f"{celsius_to_fahrenheit(celsius):.0f} °F" if units == "us" else f"{celsius:.0f} °C"
