"""The index page of a book: every job with its verdicts and a link to its report."""

from __future__ import annotations

import datetime as dt
from urllib.parse import quote

from markupsafe import Markup

from sim.report.charts.palette import FONT
from sim.report.data.book_record import BookLine
from sim.report.page.client import environment, palettes
from sim.report.page.sealed import sealed
from sim.report.words.book_words import book_sentence, medical_words, state_words, store_words


def render_book(lines: tuple[BookLine, ...], *, written: dt.date, version: str) -> str:
    """A book as one HTML page without a script.

    Parameters
    ----------
    lines : tuple of BookLine
    written : date
        Day on which it was made.
    version : str
        Of the program.
    """
    rows = [
        {
            "customer": line.customer,
            "file": line.file,
            "link": quote(line.page) if line.last else "",
            "trips": [(trip.name, trip.verdict) for trip in (line.last.trips if line.last else ())],
            "store": store_words(line) if line.last else "",
            "ran": line.last.ran if line.last else "",
            "state": state_words(line),
        }
        for line in lines
    ]
    template = environment().get_template("book.html")
    page = template.render(
        title="The book",
        sentence=book_sentence(lines),
        alarms=medical_words(lines),
        rows=rows,
        palettes=palettes(),
        font=Markup(FONT),
        written=written.isoformat(),
        version=version,
    )
    return sealed(page)
