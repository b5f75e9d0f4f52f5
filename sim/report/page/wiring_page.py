"""The wiring sheet as a page for print."""

from __future__ import annotations

import datetime as dt

from markupsafe import Markup

from sim.decide.wiring.rows import STATUSES, WiringSheet
from sim.report.charts.palette import FONT
from sim.report.page.client import environment, palettes
from sim.report.page.sealed import sealed
from sim.report.words.numbers import Manner
from sim.report.words.wiring_words import (
    HEADINGS,
    OPENING,
    check_texts,
    counts,
    fuse_place,
    rule_text,
    run_cells,
)


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
    groups = [
        (status, HEADINGS[status], [check for check in checks if check.status == status])
        for status in STATUSES
    ]
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
        "counts": counts(sheet),
        "runs": runs,
        "groups": [group for group in groups if group[2]],
        "written": Manner(sheet.units).full_date(written),
        "version": version,
    }
    return sealed(environment().get_template("wiring.html").render(context))
