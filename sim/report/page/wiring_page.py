"""The wiring sheet as a page for print."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import replace

from markupsafe import Markup

from sim.decide.wiring.rows import STATUSES, WiringSheet
from sim.report.charts.palette import FONT
from sim.report.page.client import environment, palettes
from sim.report.page.sealed import sealed
from sim.report.words.numbers import Manner, unbroken
from sim.report.words.wiring_lines import TICK_LEAD, beside_run, check_lines, on_cable_list, ticks
from sim.report.words.wiring_words import (
    HEADINGS,
    OPENING,
    CheckText,
    answer,
    check_text,
    check_texts,
    counts,
    rule_text,
    run_cells,
)


def _once(texts: Iterable[str]) -> list[str]:
    """Each text once, in the order of the first."""
    return list(dict.fromkeys(texts))


def _unbroken(line: CheckText) -> CheckText:
    """A line whose numbers keep their unit on the line."""
    value, limit, advice = map(unbroken, (line.value, line.limit, line.advice))
    return replace(line, value=value, limit=limit, advice=advice)


def render_wiring(sheet: WiringSheet, *, written: dt.date, version: str) -> str:
    """The sheet as one HTML page for print.

    Parameters
    ----------
    sheet : WiringSheet
    written : date
        Day on which it was made.
    version : str
        Of the program.
    """
    checks = check_texts(sheet)
    # A source is said once, at the end, and numbered where it is used.
    sources = {basis: number for number, basis in enumerate(_once(c.basis for c in checks), 1)}
    lines = [_unbroken(line) for line in check_lines(sheet)]
    groups = [
        (status, HEADINGS[status], [line for line in lines if line.status == status])
        for status in STATUSES
        if status in ("change", "say")
    ]
    # What the cable list says of fuses and cables is said there alone.
    listed = [_unbroken(check_text(x, sheet.units)) for x in sheet.checks if on_cable_list(x)]
    by_run: dict[str, list[tuple[str, list[CheckText]]]] = {}
    for status in ("choose", "pass"):
        own = [line for line in lines if line.status == status and line not in listed]
        runs = _once(line.run for line in own)
        by_run[status] = [(run, [line for line in own if line.run == run]) for run in runs]
    cables = [
        (
            run_cells(run, sheet.units),
            unbroken(rule_text(run, sheet.units)),
            *((unbroken(x.text), x.basis) for x in beside_run(run, sheet)),
            run.length_m is not None,
        )
        for run in sheet.runs
    ]
    context = {
        "title": sheet.title,
        "customer": sheet.customer,
        "palettes": palettes(),
        "font": Markup(FONT),
        "opening": OPENING,
        "answer": answer(sheet),
        "counts": counts(sheet),
        "runs": cables,
        "cables_heading": "Cables and fuses"
        + (" to order" if any(text.status == "choose" for text in listed) else ""),
        "groups": [group for group in groups if group[2] or (group[0] == "say" and ticks(sheet))],
        "tick_lead": TICK_LEAD,
        "ticks": ticks(sheet),
        "by_run": by_run,
        "headings": HEADINGS,
        "sources": sources,
        "source_texts": {number: unbroken(basis) for basis, number in sources.items()},
        "written": Manner(sheet.units).full_date(written),
        "version": version,
    }
    return sealed(environment().get_template("wiring.html").render(context))
