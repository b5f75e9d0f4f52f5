"""The wiring sheet as a page for print."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from markupsafe import Markup

from sim.decide.wiring.rows import STATUSES, WiringSheet
from sim.report.charts.palette import FONT
from sim.report.page.client import environment, palettes
from sim.report.page.sealed import sealed
from sim.report.words.numbers import Manner
from sim.report.words.wiring_words import (
    HEADINGS,
    OPENING,
    answer,
    check_texts,
    counts,
    fuse_place,
    rule_text,
    run_cells,
)


def _once(texts: Iterable[str]) -> list[str]:
    """Each text once, in the order of the first."""
    return list(dict.fromkeys(texts))


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
    groups = [
        (status, HEADINGS[status], [check for check in checks if check.status == status])
        for status in STATUSES
        if status != "pass"
    ]
    passed = [check for check in checks if check.status == "pass"]
    in_order = [(run, [c for c in passed if c.run == run]) for run in _once(c.run for c in passed)]
    runs = [
        (run_cells(run, sheet.units), rule_text(run, sheet.units), fuse_place(run), run.is_fitted)
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
        "runs": runs,
        "groups": [group for group in groups if group[2]],
        "in_order": in_order,
        "in_order_head": HEADINGS["pass"],
        "sources": sources,
        "written": Manner(sheet.units).full_date(written),
        "version": version,
    }
    return sealed(environment().get_template("wiring.html").render(context))
