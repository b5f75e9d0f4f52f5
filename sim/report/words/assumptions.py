"""What the numbers rest on: sentences from the job."""

from __future__ import annotations

import datetime as dt

import numpy as np

from sim.job.model.appliances import Fan, Timed
from sim.job.model.job import Job
from sim.job.model.power import Alternator, PanelGroup
from sim.job.rules.remarks import remarks
from sim.ledger.answer import answer_of
from sim.ledger.results import Result
from sim.report.words.answer_words import draws_of_each
from sim.report.words.chart_words import bad_name
from sim.report.words.drives import drive_sentences
from sim.report.words.numbers import (
    GAP,
    Manner,
    amps,
    isolated,
    listed,
    percent,
    shortened,
    watt_hours,
    watts,
)
from sim.report.words.on_ac import inverter_sentences
from sim.report.words.on_strings import converter_sentences, unharvested_strings
from sim.report.words.warmth import away_sentences
from sim.sky.climate.wind import LAND_M_S
from sim.units import LITRES_PER_GALLON

LEFT_OUT = (
    "The weather of a particular year. Simulated weather says how often, not when; nothing here "
    "is a forecast.",
    "Snow as it falls: the climate tables hold no snowfall, so a dull day near freezing is taken "
    "for one of snow. It lies until sun or thaw melts it, it slides, or somebody sweeps it off.",
    "What follows from a dark hour or an empty tank: that a refrigerator runs longer afterwards, "
    "or that a heater without electricity or propane leaves the cabin cold. The hours are given; "
    "nobody's habits change.",
    "A skyline with gaps: each stop has one skyline height all round, and its shade takes the "
    "same share of the sun all day.",
    "People who change their habits. Everybody aboard follows the job's timetable, in good "
    "weather and in bad; in life one turns things off when the charge is low.",
    "Faults, loose cables, a battery that ages during the trip, and dirt beyond the loss named "
    "above.",
    "The short peaks of motors and compressors when they start.",
)

Topic = tuple[str, tuple[str, ...]]


def assumptions(result: Result, written: dt.date, version: str, manner: Manner) -> list[Topic]:
    """Topics and their sentences: weather, verdict, losses, battery, start, what is left out."""
    job = result.job
    topics: list[Topic] = [
        ("Sun and temperature", _weather(result)),
        ("What the verdict means", _verdict(result)),
        ("Between panel and battery", _panels(job, manner)),
        ("Battery and charging", _battery(job)),
        ("On AC", inverter_sentences(result, manner)),
        ("How a trip begins", _starts(result)),
        ("Hours of driving", drive_sentences(job)),
        ("How people live", _living(job, manner)),
        ("What the calculation leaves out", LEFT_OUT),
        ("For the builder: odd in the job", _odd(job, written)),
        ("This report", (_origin(result, written, version, manner),)),
    ]
    return [topic for topic in topics if topic[1]]


def _mounted(job: Job) -> list[PanelGroup]:
    return [group for group in job.panels if group.count > 0]


def _weather(result: Result) -> tuple[str, ...]:
    """Sentences that hold for several trips are said once, those of one trip with its name."""
    said: dict[str, list[str]] = {}
    for trip in result.trips:
        for line in trip.about:
            said.setdefault(line, []).append(isolated(shortened(trip.name)))
    every = len(result.trips)
    sentences = [
        line if len(trips) == every else f"{listed(trips)}: {line}" for line, trips in said.items()
    ]
    sentences.append(_wind(result))
    if result.job.settings.prudent:
        sentences.append("Prudent: the spread of the simulated weather was widened on purpose.")
    return tuple(sentences)


def _wind(result: Result) -> str:
    """The mean wind over the trips, and where it comes from."""
    winds = np.concatenate([trip.timeline.wind_m_s for trip in result.trips])
    low, high = f"{winds.min():.1f}", f"{winds.max():.1f}"
    between = low if low == high else f"{low} to {high}"
    is_given = result.job.settings.wind_m_s is not None or all(
        stop.wind_m_s is not None for trip in result.job.trips for stop in trip.stops
    )
    source = "as the job says"
    if not is_given:
        source = f"from typical years of weather stations, {LAND_M_S:g}{GAP}m/s far from them all"
    return (
        f"The wind that blows through leaks is a monthly mean, {between}{GAP}m/s on these trips, "
        f"{source}."
    )


def _odd(job: Job, written: dt.date) -> tuple[str, ...]:
    return tuple(remark.sentence for remark in remarks(job, written))


def _verdict(result: Result) -> tuple[str, ...]:
    first = result.trips[0]
    return (
        "A dark hour is an hour in which something aboard was wanted and could not be given.",
        "Essentials are what priority essential holds: food, warmth, health, light, alarms, water. "
        "Comforts are all else that runs on electricity.",
        f"Short: the essentials, or the propane or fresh water they need, hold in fewer than "
        f"{percent(first.tight_share)} of the simulated trips. Tight: comforts, a grey tank, hot "
        f"water or warmth hold in fewer than {percent(first.ample_share)}. Ample: all the rest.",
        "The middle weather is the median: half of the simulated trips do better, half worse. "
        f"The {bad_name(first)} is the simulated trip that the battery is judged by.",
    )


def _panels(job: Job, manner: Manner) -> tuple[str, ...]:
    losses = tuple(_panel_losses(group) for group in _mounted(job))
    return (*losses, *unharvested_strings(job, manner))


def _panel_losses(group: PanelGroup) -> str:
    mount = "flat on the roof"
    if group.mount == "tilted" and group.tilt_deg:
        mount = f"tilted {group.tilt_deg:.0f}° while parked"
    seen = f"{group.seen_loss_pct:g}{GAP}% that a log showed, " if group.seen_loss_pct else ""
    return (
        f"{group.count} × {watts(group.watts)}, {mount}: losses of {group.soiling_pct:g}{GAP}% to "
        f"dirt, {group.wiring_pct:g}{GAP}% in cables, {group.mismatch_pct:g}{GAP}% between "
        f"unequal panels, {group.ageing_pct:g}{GAP}% to age, {seen}"
        f"{100 * (1 - group.controller_efficiency):.0f}{GAP}% in the solar controller of "
        f"{amps(group.controller_amps)}; {-group.temp_coeff_pct_c:g}{GAP}% less power for each "
        "°C a panel is above 25."
    )


def _battery(job: Job) -> tuple[str, ...]:
    battery = job.battery
    lines = [
        f"{watt_hours(battery.capacity_wh)} from full to empty, at {battery.health_pct:g}{GAP}% of "
        f"the capacity it had when new. Charging slows above {percent(battery.taper_from_soc)}, "
        f"and {100 * (1 - battery.charge_efficiency):.2g}{GAP}% of what goes in is lost to the "
        "higher voltage of charging, besides the heat of its resistance.",
        f"Loads are shed in order: the extras below {percent(battery.extras_soc)}, the comforts "
        f"below {percent(battery.reserve_soc)}, everything below {percent(battery.cutoff_soc)}; "
        f"they come back {percent(battery.reconnect_above_soc)} higher.",
    ]
    for share in dict.fromkeys(percent(item.efficiency) for item in job.alternator):
        lines.append(f"{share} of the power taken from the engine reaches the battery.")
    lines += dict.fromkeys(text for item in job.alternator if (text := _alternator(item)))
    for share in dict.fromkeys(percent(plug.charger_efficiency) for plug in job.shore):
        lines.append(f"{share} of the power the charger takes from the plug reaches the battery.")
    return (*lines, *converter_sentences(job))


def _alternator(source: Alternator) -> str:
    """What the alternator has for the house; empty where the charger's rating alone rules."""
    rated = source.rated_amps
    gives = source.spare_amps if rated is None else rated
    if gives is None:
        return ""
    own = "" if rated is None else f", of which the vehicle takes {amps(source.vehicle_amps)}"
    return (
        f"Of the alternator's {amps(gives)} {source.hot_loss_pct:g}{GAP}% are lost when it is hot "
        f"on a day of 25 °C, more in greater heat and less in the cold{own}; at idle "
        f"{source.idle_output_pct:g}{GAP}% of the current is left."
    )


def _starts(result: Result) -> tuple[str, ...]:
    levels = {trip.start_soc for trip in result.job.trips}
    if len(levels) == 1:
        return (f"Every trip sets out with the battery at {percent(levels.pop())}.",)
    return tuple(
        f"{isolated(shortened(trip.name))} sets out with the battery at {percent(trip.start_soc)}."
        for trip in result.job.trips
    )


def _living(job: Job, manner: Manner) -> tuple[str, ...]:
    living = job.living
    us = manner.units == "us"
    unit, litres = (f"{GAP}gal", LITRES_PER_GALLON) if us else (f"{GAP}L", 1.0)
    taps = (living.kitchen_l_person_day + living.basin_l_person_day) / litres
    aboard = f"{living.people} {'person' if living.people == 1 else 'people'} aboard"
    lines = [f"{aboard}, up from {_clock(living.wake_at)} to {_clock(living.sleep_at)}."]
    if job.water is not None:
        lines.append(
            f"Each uses {taps:.1f}{unit} a day at the taps, and takes "
            f"{living.showers_person_week:g} showers a week of "
            f"{living.shower_l / litres:.1f}{unit}."
        )
        drunk = min(living.drunk_l_person_day, living.kitchen_l_person_day) / litres
        if job.water.grey and drunk > 0.0:
            lines.append(
                f"Of that {drunk:.1f}{unit} a day are drunk or cooked away and reach no grey tank."
            )
    lines += away_sentences(job, manner)
    lines += _times_of_use(job)
    if any(group.count for group in job.panels):
        swept = {"never": "lies until it melts", "each morning": "is swept off each morning"}
        lines.append(f"Snow on the panels {swept[living.clear_snow]}.")
    return tuple(lines)


_HELD = {
    "plugged": "while the van is plugged in",
    "driving": "while the van drives",
    "sun": "while the sun is well up",
}


def _times_of_use(job: Job) -> list[str]:
    """What runs only at certain times, one sentence for all that share them."""
    found: dict[str, list[str]] = {}
    for item in job.appliances:
        held = [_HELD[item.runs]] if item.runs in _HELD else []
        if item.above_soc is not None:
            held.append(f"while the battery is above {percent(item.above_soc)}")
        # The times of a fan and of what goes by the clock anyway say when people switch it on.
        if item.at and not isinstance(item, (Fan, Timed)):
            held.append(listed([f"from {_clock(a)} to {_clock(b)}" for a, b in item.at]))
        if held and item.count > 0:
            found.setdefault(", ".join(held), []).append(isolated(shortened(item.name)))
    return [f"Only {when}: {listed(names)}." for when, names in found.items()]


def _clock(minute: int) -> str:
    return f"{minute // 60:02d}:{minute % 60:02d}"


def _origin(result: Result, written: dt.date, version: str, manner: Manner) -> str:
    settings = result.job.settings
    draws = draws_of_each([answer_of(trip) for trip in result.trips])
    return (
        f"Written on {manner.full_date(written)} by Nightledger {version}. "
        f"Computed with {draws} for each trip, seed {settings.seed}, in steps of "
        f"{settings.step_minutes} minutes. The same job file, seed and version give the same "
        "numbers."
    )


def upper_bound(job: Job) -> bool:
    """Whether some stop was computed under a cloudless sky, so that the answer is too good."""
    stops = (stop for trip in job.trips for stop in trip.stops)
    return any((stop.weather or job.settings.weather) == "clear" for stop in stops)
