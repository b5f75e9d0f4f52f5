"""Sentences about the heat that is kept while nobody is aboard."""

from __future__ import annotations

from sim.job.model.appliances import Heater
from sim.job.model.job import Job
from sim.ledger.results import TripResult
from sim.report.words.numbers import Manner, hours, isolated, shortened


def away_sentences(job: Job, manner: Manner) -> list[str]:
    """What each heater holds while nobody is aboard."""
    made = []
    for item in job.appliances:
        if isinstance(item, Heater) and item.count > 0:
            name, held = isolated(shortened(item.name)), item.away_c != "off"
            what = f"holds {manner.temperature(item.away_set_c)}" if held else "is off"
            made.append(f"{name} {what} while nobody is aboard.")
    return made


def pipes_otherwise(trip: TripResult) -> str | None:
    """What the pipes would do with the heaters off while nobody is aboard, or held where they
    are off; None where it makes no difference worth an hour."""
    away, spots = trip.frost.away, trip.frost.spots
    if away is None or not spots:
        return None
    otherwise = away.otherwise_hours
    # Both of the draws in which it was tried.
    as_it_is = spots[0].hours[: len(otherwise)]
    if abs(float(otherwise.mean() - as_it_is.mean())) < 1.0:
        return None
    heater = "switched off" if away.is_held else "left on low"
    trips = f"{(otherwise > 0.0).sum():,} of {len(otherwise):,} simulated trips"
    how_long = f", for {hours(float(otherwise.mean()))} on average" if otherwise.any() else ""
    return (
        f"with the heater {heater} while nobody is aboard, the pipes inside could freeze in "
        f"{trips}{how_long}"
    )
