"""A quote as a page: one sheet for each design."""

from __future__ import annotations

import datetime as dt

from markupsafe import Markup

from sim.decide.designs import DesignDecision
from sim.report.charts.palette import FONT
from sim.report.page.client import environment, palettes
from sim.report.page.sealed import sealed
from sim.report.words.by_locale import Writing
from sim.report.words.numbers import shortened
from sim.report.words.quote_words import WORDS, end_words, heading, quote_page

# Lines of a sheet, as tall as a table's row, from which it is set smaller to stay one sheet.
_MANY_LINES = 30


def render_quote(
    found: DesignDecision, *, written: dt.date, version: str, valid_until: dt.date | None = None
) -> str:
    """The quote as one HTML document.

    Parameters
    ----------
    found : DesignDecision
    written : date
        Day of the quote.
    version : str
        Of the program.
    valid_until : date, optional
    """
    job, writing = found.job, Writing.of(found.job)
    pages = [quote_page(option, writing) for option in found.options]
    lines = max(len(x.lines) + len(x.sums) + len(x.trips) + len(x.weights) // 2 for x in pages)
    valid = "" if valid_until is None else WORDS["valid"].format(date=writing.date(valid_until))
    context = {
        "title": job.title,
        "short_title": shortened(job.title, 60),
        "heading": heading(job.customer, written, writing),
        "valid": valid,
        "words": WORDS,
        "pages": pages,
        "many": lines > _MANY_LINES,
        "end": end_words(found, written, version, writing),
        "version": version,
        "palettes": palettes(),
        "font": Markup(FONT),
    }
    return sealed(environment().get_template("quote.html").render(context))
