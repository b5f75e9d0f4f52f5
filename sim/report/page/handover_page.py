"""The sheet that stays in the van, as a page: two sheets in print, one column on a phone."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from math import ceil

from markupsafe import Markup

from sim.decide.handover import HandoverSheet
from sim.report.charts.palette import FONT
from sim.report.page.client import environment, palettes
from sim.report.page.sealed import sealed
from sim.report.page.trip_text import Table
from sim.report.words import emergency_words
from sim.report.words import handover_words as words
from sim.report.words.by_locale import Writing
from sim.report.words.numbers import shortened
from sim.report.words.shed_words import shed_sentences

# Lines of half a sheet's width in both columns from which a sheet is set smaller to stay one.
_MANY_LINES = 100
_LINE_LETTERS = 62


def render_handover(sheet: HandoverSheet, *, written: dt.date, version: str) -> str:
    """The sheet as one HTML document.

    Parameters
    ----------
    sheet : HandoverSheet
    written : date
        Day of the sheet.
    version : str
        Of the program.
    """
    job, writing = sheet.job, Writing.of(sheet.job)
    extinguisher = job.handover.extinguisher if job.handover else None
    emergencies = emergency_words.emergencies(job)
    places = tuple(words.place_lines(job))
    winter, service = (
        tuple(words.winter_lines(sheet, writing)),
        tuple(words.service_lines(sheet, writing)),
    )
    shed, habits = (
        tuple(shed_sentences(sheet, writing)),
        tuple(words.habit_lines(sheet, writing)),
    )
    charge, tanks = tuple(words.charge_rows(sheet, writing)), tuple(words.tank_rows(sheet, writing))
    steps = [step for one in emergencies for step in one.steps]
    living = _lines((*shed, *habits, *service)) + 2 * (len(charge) + len(tanks)) + 12
    safety = _lines((*steps, *winter)) + 2 * len(places) + 2 * len(emergencies) + 6
    context = {
        "title": job.title,
        "short_title": shortened(job.title, 60),
        "heading": words.heading(job.customer, written, writing),
        "words": words.WORDS,
        "charge": Table(
            words.charge_caption(sheet), words.charge_head(), charge,
        ),
        "charge_sentences": tuple(words.charge_sentences(sheet, writing)),
        "dull": tuple(words.dull_sentences(sheet, writing)),
        "shed": shed,
        "habits": habits,
        "tanks": Table(
            words.WORDS["tanks_caption"], words.tank_head(sheet), tanks,
        ),
        "emergency_words": emergency_words,
        "emergencies": emergencies,
        "extinguisher": None
        if extinguisher is None
        else emergency_words.EXTINGUISHER.format(place=extinguisher),
        "places": places,
        "winter": winter,
        "frozen": words.frozen_sentence(sheet),
        "service": service,
        "many": max(living, safety) > _MANY_LINES,
        "end": words.end_words(sheet, written, version, writing),
        "version": version,
        "palettes": palettes(),
        "font": Markup(FONT),
    }  # fmt: skip
    return sealed(environment().get_template("handover.html").render(context))


def _lines(texts: Iterable[str]) -> int:
    """About how many lines texts take in one of two columns."""
    return sum(ceil(len(text) / _LINE_LETTERS) for text in texts)
