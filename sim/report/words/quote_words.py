"""The words of a quote: what is fitted, carried, weighed and not promised.

Each sentence is here whole and once; what varies in it has a name.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from sim.decide.designs import DesignDecision, DesignOption
from sim.decide.fitted import Part
from sim.ledger.answer import Answer
from sim.report.words.answer_words import draws_of_each, medical_words
from sim.report.words.assumptions import upper_bound
from sim.report.words.by_locale import Writing
from sim.report.words.design_words import (
    design_name,
    held_in,
    part_words,
    payload_cell,
    unknown_weight,
    unpriced_names,
    weight_name,
)
from sim.report.words.numbers import counted, isolated, listed, quoted, shortened

WORDS = {
    "kind": "quote",
    "kicker": "Quote",
    "skip": "To the quote",
    "for": "For {customer}, {date}",
    "dated": "{date}",
    "valid": "Valid until {date}.",
    "fitted": "What is fitted",
    "count": "Number",
    "what": "What",
    "each": "Each",
    "amount": "Amount",
    "whole": "All of this, at one price",
    "subtotal": "Sum",
    "tax": "Tax, {percent}",
    "total": "Total",
    "no_tax": "No tax is named in this sum.",
    "no_price": "No price is agreed so far.",
    "unpriced": "Without a price and not in the sum: {parts}.",
    "carries": "What it carries, and how surely",
    "trip": "Trip",
    "holds": "Everything holds in",
    "essentials": "Essentials hold in",
    "lowest": "Lowest charge",
    "leaves": "leaves {date}",
    "more": "And {trips} that it carries more surely than these.",
    "how": "Lowest charge: in the bad case, the simulated trip that decides whether a trip is "
    "ample. Ample: everything "
    "holds in at least {ample} of the simulated trips; tight: the essentials in at least {tight}; "
    "short: less.",
    "weighs": "What it weighs",
    "together": "Together",
    "left": "Payload left for people, furniture and all else",
    "counted": "Tanks are counted full. Nothing else aboard is counted.",
    "not": "What is not promised",
    "missed": "Any one trip’s weather. Of {draws} of {trip}, something falls behind in {missed}.",
    "none_missed": "Any one trip’s weather. In none of the {draws} does anything fall behind, but "
    "a real trip may meet worse.",
    "living": "Other ways of living: it is computed for {people}, with {appliances}.",
    "shade": "Other places, seasons, shade or hours of driving than those of the trips above.",
    "bound": "Clouds: some stops were computed under a cloudless sky, so the figures are too good.",
    "weight": "The load on axles and roof: {unknown} The vehicle’s scales and papers decide.",
    "weight_known": "The load on axles and roof. The vehicle’s scales and papers decide.",
    "age": "A battery that ages: it is computed at {health} of its rated capacity.",
    "codes": "That cables, fuses, gas and shore power meet the code: a licensed trade has to check "
    "them on the finished van, and the local code decides.",
    "sign_customer": "Customer",
    "sign_workshop": "Workshop",
    "sign_place": "Place and date",
    "end": "Nightledger {version}, {date}. Computed with {draws} for each trip, seed {seed}.",
}
# More trips, or names of appliances, than these would not fit on the page.
MOST_TRIPS = 6
_MOST_APPLIANCES = 8
# A longer name, of whatever it is, would take more than a line of a paper.
MOST_LETTERS = 60


@dataclass(frozen=True)
class QuotePage:
    """One design of a quote, in words.

    Attributes
    ----------
    name : str
    lines : tuple of (count, what, each, amount)
        Of what is fitted.
    sums : tuple of (what, amount)
        The last is the total.
    notes : tuple of str
        What the sums do not say.
    trips : tuple of (verdict, name, when, everything, essentials, lowest)
    trips_notes : tuple of str
    weights : tuple of (what, weight)
        The last are the sum and what is left.
    not_promised : tuple of str
    alarm : str
        Medical devices that may go without; empty where none ever does.
    """

    name: str
    lines: tuple[tuple[str, str, str, str], ...]
    sums: tuple[tuple[str, str], ...]
    notes: tuple[str, ...]
    trips: tuple[tuple[str, str, str, str, str, str], ...]
    trips_notes: tuple[str, ...]
    weights: tuple[tuple[str, str], ...]
    not_promised: tuple[str, ...]
    alarm: str


def quote_page(option: DesignOption, writing: Writing) -> QuotePage:
    """A design as its page of the quote.

    Parameters
    ----------
    option : DesignOption
    writing : Writing
    """
    pairs = list(zip(option.job.trips, option.trips, strict=True))
    order = sorted(pairs, key=lambda pair: pair[1].all_held / pair[1].draws)[:MOST_TRIPS]
    trips = [pair for pair in pairs if pair in order]
    return QuotePage(
        name=shortened(design_name(option), MOST_LETTERS),
        lines=tuple(_line(option, part, writing) for part in option.cost.parts),
        sums=_sums(option, writing),
        notes=_notes(option),
        trips=tuple(
            (
                answer.verdict,
                isolated(shortened(answer.trip, MOST_LETTERS)),
                WORDS["leaves"].format(date=writing.date(trip.depart)),
                held_in(answer),
                f"{answer.essentials_held:,} of {answer.draws:,}",
                writing.percent(answer.bad.lowest_soc),
            )
            for trip, answer in trips
        ),
        trips_notes=tuple(_trips_notes(option, len(trips), writing)),
        weights=tuple(_weights(option, writing)),
        not_promised=tuple(_not_promised(option, writing)),
        alarm=medical_words([("With this", option.trips)]),
    )


def heading(customer: str | None, written: dt.date, writing: Writing) -> str:
    """For whom the quote is, and of which day."""
    date = writing.date(written)
    if customer is None:
        return WORDS["dated"].format(date=date)
    return WORDS["for"].format(customer=isolated(shortened(customer, MOST_LETTERS)), date=date)


def _line(option: DesignOption, part: Part, writing: Writing) -> tuple[str, str, str, str]:
    cost = option.cost
    what = part_words(option.job, part, writing)
    number = writing.number(part.count)
    if cost.whole is not None or part.each is None or part.amount is None:
        return number, what, "", "" if cost.whole is not None else "–"
    return (
        number,
        what,
        writing.money(part.each, cost.currency),
        writing.money(part.amount, cost.currency),
    )


def _sums(option: DesignOption, writing: Writing) -> tuple[tuple[str, str], ...]:
    cost = option.cost
    if cost.subtotal is None or cost.total is None:
        return ()
    label = WORDS["total"] if cost.whole is None else WORDS["whole"]
    if cost.tax is None or cost.tax_pct is None:
        return ((label, writing.money(cost.total, cost.currency)),)
    first = WORDS["subtotal"] if cost.whole is None else WORDS["whole"]
    rate = writing.amount(cost.tax_pct, "%", 3)
    return (
        (first, writing.money(cost.subtotal, cost.currency)),
        (WORDS["tax"].format(percent=rate), writing.money(cost.tax, cost.currency)),
        (WORDS["total"], writing.money(cost.total, cost.currency)),
    )


def _notes(option: DesignOption) -> tuple[str, ...]:
    cost = option.cost
    if cost.total is None:
        return (WORDS["no_price"],)
    notes = []
    if cost.unpriced:
        notes.append(WORDS["unpriced"].format(parts=unpriced_names(cost)))
    if cost.tax is None:
        notes.append(WORDS["no_tax"])
    return tuple(notes)


def _trips_notes(option: DesignOption, shown: int, writing: Writing) -> list[str]:
    notes = []
    if more := len(option.trips) - shown:
        notes.append(WORDS["more"].format(trips=counted(more, "trip")))
    bounds = option.job.settings
    ample, tight = writing.percent(bounds.ample_share), writing.percent(bounds.tight_share)
    return [*notes, WORDS["how"].format(ample=ample, tight=tight)]


def _weights(option: DesignOption, writing: Writing) -> list[tuple[str, str]]:
    load = option.load
    rows = [
        (
            name[:1].upper() + name[1:],
            "not known" if weight.kg is None else writing.weight(weight.kg),
        )
        for weight in load.weights
        for name in (weight_name(option.job, weight),)
    ]
    over = "over " if load.unknown else ""
    known = [weight.kg for weight in load.weights if weight.kg is not None]
    rows.append((WORDS["together"], over + writing.weights(known)))
    if load.left_kg is not None:
        rows.append((WORDS["left"], payload_cell(load, writing)))
    return rows


def _not_promised(option: DesignOption, writing: Writing) -> list[str]:
    job = option.job
    worst = min(option.trips, key=lambda answer: answer.all_held / answer.draws)
    missed, draws = f"{worst.draws - worst.all_held:,}", _draws(worst)
    names = [shortened(isolated(item.name)) for item in job.appliances if item.count]
    if len(names) > _MOST_APPLIANCES:
        rest = len(names) - _MOST_APPLIANCES + 1
        names = [*names[: _MOST_APPLIANCES - 1], f"{rest} more appliances"]
    people = counted(job.living.people, "person").replace("persons", "people")
    sentences = [
        WORDS["missed"].format(draws=draws, trip=quoted(worst.trip), missed=missed)
        if worst.all_held < worst.draws
        else WORDS["none_missed"].format(draws=draws),
        WORDS["living"].format(people=people, appliances=listed(names) or "no appliances"),
        WORDS["shade"],
    ]
    if upper_bound(job):
        sentences.append(WORDS["bound"])
    if unknown := unknown_weight(option):
        sentences.append(WORDS["weight"].format(unknown=unknown))
    else:
        sentences.append(WORDS["weight_known"])
    sentences.append(WORDS["age"].format(health=writing.percent(job.battery.health_pct / 100.0)))
    sentences.append(WORDS["codes"])
    return sentences


def _draws(answer: Answer) -> str:
    what = "years of the weather file" if answer.years else "simulated trips"
    return f"{answer.draws:,} {what}"


def end_words(found: DesignDecision, written: dt.date, version: str, writing: Writing) -> str:
    """How the figures can be had again."""
    answers = [answer for option in found.options for answer in option.trips]
    return WORDS["end"].format(
        version=version,
        date=writing.date(written),
        draws=draws_of_each(answers),
        seed=found.job.settings.seed,
    )
