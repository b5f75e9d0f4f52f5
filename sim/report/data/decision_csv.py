"""Answers and decisions as CSV: a row for each trip, and for each thing tried on it, with what held
of what is promised."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from sim.decide.calendar import Calendar
from sim.decide.levers.effect import LeverDecision, LeverEffect
from sim.decide.panels.counts import PanelDecision
from sim.ledger.answer import Answer, answer_of
from sim.ledger.results import Result
from sim.report.data.export import cell

# Ends of the names of the CSV files: of the trips' answers, and of a decision.
ANSWER, TRIED = "answer", "tried"
# Of each trip; counts are of simulated trips, of so many draws.
_PROMISED = (
    "trip", "verdict", "draws", "essentials_held", "comforts_held", "stores_and_cold_held",
    "everything_held", "medical_may_go_without", "medical", "lowest_soc_p10", "dark_hours_mean",
)  # fmt: skip


def _promised(answer: Answer) -> tuple[Any, ...]:
    return (
        answer.trip,
        answer.verdict,
        answer.draws,
        answer.essentials_held,
        answer.comforts_held,
        answer.stores_held,
        answer.all_held,
        answer.medical_dark,
        " + ".join(answer.medical),
        answer.lowest_soc.p10,
        answer.dark_hours.mean,
    )


def answers_csv(result: Result, stem: str) -> dict[str, str]:
    """CSV text by file name: the answer of each trip."""
    return _file(f"{stem}-{ANSWER}", _PROMISED, (_promised(answer_of(x)) for x in result.trips))


def panels_csv(found: PanelDecision, stem: str) -> dict[str, str]:
    """CSV text by file name: each number of panels on each trip."""
    head = ("panels", "fits", "recommended", "price", "currency", "weight_kg", "controller_amps")
    rows = (
        (
            option.count,
            {True: "yes", False: "no", None: ""}[option.fits],
            "yes" if option.count == found.recommended else "no",
            option.price,
            found.currency,
            option.weight_kg,
            option.controller_amps,
            *_promised(answer),
        )
        for option in found.options
        for answer in option.trips
    )
    return _file(f"{stem}-{TRIED}", (*head, *_PROMISED), rows)


def levers_csv(found: LeverDecision, stem: str) -> dict[str, str]:
    """CSV text by file name: the job as it is, each change, and each pair, on each trip."""
    head = ("change", "and", "price", "currency", "weight_kg", "enough", "worse", "not_used")
    effects = [x for x in (*found.effects, *found.pairs) if x.trips]
    as_it_is = (("", "", None, found.currency, None, "", "", "", *_promised(x)) for x in found.base)
    tried = (row for effect in effects for row in _effect_rows(effect, found.currency))
    return _file(f"{stem}-{TRIED}", (*head, *_PROMISED), [*as_it_is, *tried])


def _effect_rows(effect: LeverEffect, currency: str) -> Iterator[tuple[Any, ...]]:
    first, second = (*effect.names, "")[:2]
    enough = "yes" if effect.is_enough else "no"
    for trip in effect.trips:
        flags = ("yes" if flag else "no" for flag in (trip.is_worse, trip.is_left))
        known = effect.price, currency, effect.weight_kg
        yield first, second, *known, enough, *flags, *_promised(trip.answer)


def calendar_csv(found: Calendar, stem: str) -> dict[str, str]:
    """CSV text by file name: each start of the trip with each number of panels."""
    rows = (
        (depart.isoformat(), count, "yes" if count == found.job_count else "no", *_promised(answer))
        for depart, row in zip(found.departs, found.answers, strict=True)
        for count, answer in zip(found.counts, row, strict=True)
    )
    return _file(f"{stem}-{TRIED}", ("depart", "panels", "as_in_the_job", *_PROMISED), rows)


def _file(name: str, head: Sequence[str], rows: Iterable[Sequence[Any]]) -> dict[str, str]:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(head)
    writer.writerows([_plain(value) for value in row] for row in rows)
    return {f"{name}.csv": text.getvalue()}


def _plain(value: Any) -> str:
    if value is None:
        return ""
    return f"{value:.6g}" if isinstance(value, float) else cell(value)
