"""Sentences about the inverter: when it is on, what it loses, what may run on it at once."""

from __future__ import annotations

from collections.abc import Iterator

from sim.job.model.job import Job
from sim.job.model.power import Inverter
from sim.job.rules.findings import clock_text
from sim.ledger.results import Result, TripResult
from sim.report.words.numbers import (
    Manner,
    hours,
    isolated,
    listed,
    percent,
    shortened,
    watts,
)
from sim.trip.inverter import SEARCH_SHARE, AcPeak, keeps_awake

_NAMED = 4


def inverter_sentences(result: Result, manner: Manner) -> tuple[str, ...]:
    """All of them; none without an inverter."""
    job = result.job
    if job.inverter is None:
        return ()
    return (
        f"The inverter draws {job.inverter.idle_watts:g} W while it is on and feeds nothing. Its "
        f"efficiency is {percent(job.inverter.efficiency)} at its best and "
        f"{percent(job.inverter.least_efficiency)} at full load.",
        _mode(job, job.inverter),
        *_peaks(result, manner),
    )


def _mode(job: Job, inverter: Inverter) -> str:
    if inverter.runs == "always":
        return "It is on all the time."
    if inverter.runs == "search":
        search = inverter.search_watts
        search = SEARCH_SHARE * inverter.idle_watts if search is None else search
        return (
            f"While nothing runs it searches for a load and draws {search:g} W; what draws less "
            "than it can notice does not wake it."
        )
    if inverter.runs == "by hand":
        times = listed(
            [f"from {clock_text(start)} to {clock_text(end)}" for start, end in inverter.at]
        )
        names = [x.name for x in job.appliances if x.on_inverter]
        dark = f": {_listed(names)}" if names else ""
        return (
            f"It is switched on by hand {times}. Outside these hours nothing runs on AC unless "
            f"the van is plugged in{dark}."
        )
    awake = keeps_awake(job)
    if awake:
        verb = "starts by itself" if len(awake) == 1 else "start by themselves"
        return f"It is on all the time, because {_listed(awake)} {verb} at any hour."
    return "People switch it on for what they use on AC, and off after it."


def _peaks(result: Result, manner: Manner) -> Iterator[str]:
    """What may run at once on each trip; trips on which that is the same share a sentence."""
    found: dict[str, list[str]] = {}
    for trip in result.trips:
        if trip.ac_peak is not None:
            sentence = _peak(trip, trip.ac_peak, manner)
            found.setdefault(sentence, []).append(isolated(shortened(trip.name)))
    surge = None if result.job.wiring is None else result.job.wiring.inverter_surge_watts
    for sentence, trips in found.items():
        yield sentence if len(trips) == len(result.trips) else f"{listed(trips)}: {sentence}"
    start_w = max((x.ac_peak.start_w for x in result.trips if x.ac_peak), default=0.0)
    if start_w > 0.0:
        limit = "its surge is not in the job" if surge is None else f"its surge is {watts(surge)}"
        yield (
            f"At the start of a compressor that may come to {watts(start_w)} for a moment; {limit}."
        )


def _peak(trip: TripResult, peak: AcPeak, manner: Manner) -> str:
    when = manner.clock(trip.local_times()[peak.step])
    at_once = (
        f"up to {watts(peak.together_w)} may run on it at once, first about {when}: "
        f"{_listed(list(peak.names))}. It is rated for {watts(peak.rated_w)}"
    )
    if not peak.over_h.any():
        return f"{at_once[0].upper()}{at_once[1:]}."
    return (
        f"{at_once[0].upper()}{at_once[1:]}, which may be exceeded in "
        f"{hours(float(peak.over_h.mean()))} of the trip: then it switches itself off. Say what "
        "must not run together."
    )


def is_overloaded(trip: TripResult) -> bool:
    """Whether more may run at once than the inverter is rated for."""
    return trip.ac_peak is not None and bool(trip.ac_peak.over_h.any())


def overload_words(trip: TripResult) -> str:
    """What may run at once, for one cell of the terminal."""
    peak = trip.ac_peak
    if peak is None or not is_overloaded(trip):
        return "never"
    return (
        f"{peak.together_w:,.0f} W may meet {peak.rated_w:,.0f} W in "
        f"{peak.over_h.mean():.0f} h: {', '.join(peak.names)}"
    )


def _listed(names: list[str]) -> str:
    shown = [isolated(shortened(name)) for name in names[:_NAMED]]
    rest = len(names) - len(shown)
    return listed([*shown, f"{rest} more"] if rest else shown)
