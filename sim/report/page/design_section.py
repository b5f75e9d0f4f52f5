"""The designs of a job as a section that a customer can choose from."""

from __future__ import annotations

from sim.decide.designs import DesignDecision
from sim.ledger.answer import Answer
from sim.report.page.ledgers import Bar, Cell, Ledger
from sim.report.page.sections import Section
from sim.report.words.by_locale import Writing
from sim.report.words.design_words import (
    CAPTION,
    HEADING,
    design_name,
    design_sentences,
    medical,
    payload_cell,
    price_cell,
    weight_cell,
)
from sim.report.words.numbers import percent


def designs_section(found: DesignDecision, *, prices: bool) -> Section:
    """The designs side by side.

    Parameters
    ----------
    found : DesignDecision
    prices : bool
        Whether the customer is to see them.
    """
    job, writing = found.job, Writing.of(found.job)
    has_payload = job.van.payload_kg is not None
    names = [trip.name for trip in job.trips]
    head = ["Design", "Worst trip", *names, *(["Price"] if prices else []), "Weight"]
    head += ["Payload left"] if has_payload else []
    rows: list[tuple[Cell, ...]] = []
    for option in found.options:
        cells: list[Cell] = [design_name(option), option.verdict]
        cells += [_bar(answer, job.settings.bounds) for answer in option.trips]
        cells += [price_cell(option.cost, writing)] if prices else []
        cells.append(weight_cell(option.load, writing))
        cells += [payload_cell(option.load, writing)] if has_payload else []
        rows.append(tuple(cells))
    ledger = Ledger(CAPTION, tuple(head), tuple(rows))
    sentences = design_sentences(found, prices=prices)
    return Section("designs", HEADING, sentences, ledgers=(ledger,), alarm=medical(found))


def _bar(answer: Answer, bounds: tuple[float, float]) -> Bar:
    """The trips in which everything held, as a bar."""
    return Bar(
        text=f"{answer.all_held:,} of {answer.draws:,}",
        note=f"low {percent(answer.bad.lowest_soc)}",
        share=answer.all_held / answer.draws,
        essentials=answer.essentials_held / answer.draws,
        bounds=bounds,
    )
