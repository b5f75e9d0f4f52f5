"""The page of a log against the promise."""

from __future__ import annotations

import datetime as dt

import numpy as np
from markupsafe import Markup

from sim.fit.fit import Fit
from sim.report.charts import fit_charts as charts
from sim.report.charts.palette import FONT
from sim.report.page.client import environment, palettes
from sim.report.page.sealed import sealed
from sim.report.page.sections import Figure, Section
from sim.report.page.trip_text import Table
from sim.report.words import fit_captions, fit_words
from sim.report.words.by_locale import Writing
from sim.report.words.numbers import GAP, unbroken


def render_fit(found: Fit, *, written: dt.date, version: str) -> str:
    """A log against the promise as one self-contained HTML document.

    Parameters
    ----------
    found : Fit
    written : date
        Day on which it was made.
    version : str
        Of the program.
    """
    writing = Writing.of(found.job)
    context = {
        "title": found.job.title,
        "customer": found.job.customer,
        "palettes": palettes(),
        "font": Markup(FONT),
        "sections": _sections(found, writing),
        "is_kept": not found.broken,
        "log": fit_words.log_sentence(found),
        "written": writing.date(written),
        "version": version,
    }
    return sealed(environment().get_template("fit.html").render(context))


def _sections(found: Fit, writing: Writing) -> tuple[Section, ...]:
    head = ("Promise", "Kept?", "Measured", "Eight in ten", "Since")
    # On a phone no cell is broken into several lines.
    rows = tuple(
        tuple(cell.replace(" ", GAP) if column else cell for column, cell in enumerate(row))
        for row in (fit_words.cells(finding, writing) for finding in found.findings)
    )
    table = Table(unbroken(fit_words.TABLE_CAPTION), head, rows)
    answer = Section(
        "verdict", "Was the promise kept?", fit_words.answer_sentences(found), tables=(table,)
    )
    seen = Section("seen", "What the log shows", (), figures=_figures(found, writing))
    sections = [answer, seen]
    if texts := fit_words.unknown_sentences(found):
        sections.append(Section("unknown", "What the log cannot tell", texts))
    if texts := fit_words.next_sentences(found):
        caution = (fit_words.CAUTION,) if found.broken else ()
        sections.append(Section("next", "What to measure next", (*texts, *caution)))
    return tuple(sections)


def _figures(found: Fit, writing: Writing) -> tuple[Figure, ...]:
    units = found.job.settings.units
    days, hours = charts.days_of(found), charts.hours_of(found)
    figures = []
    if np.isfinite(found.seen.soc_at).any():
        inside = _inside(found)
        figures.append(
            Figure(
                "charge",
                "The charge and its promise",
                fit_captions.charge_caption(inside, writing),
                charts.charge_chart(found),
                _charge_table(days, units, writing),
            )
        )
    figures.append(
        Figure(
            "days",
            "Day by day, Wh",
            fit_captions.days_caption(
                days.came_wh, days.due_wh, days.taken_wh, writing, is_sun=days.is_sun
            ),
            charts.days_chart(days, units),
            _days_table(days, units, writing),
        )
    )
    if np.isfinite(hours.sun_w).any() or np.isfinite(hours.loads_w).any():
        figures.append(
            Figure(
                "hours",
                "Above and below the promise, by the hour of the day",
                fit_captions.hours_caption(hours.sun_w, hours.loads_w, writing),
                charts.hours_chart(hours),
                _hours_table(hours, writing),
            )
        )
    return tuple(figures)


def _inside(found: Fit) -> float:
    """Share of the known hours in which the charge lay in or above the band of the promise."""
    low = np.quantile(found.promised.soc, 0.1, axis=1)
    shown = found.seen.soc_at.mean(axis=1)
    known = np.isfinite(shown)
    return float((shown[known] >= low[known]).mean())


def _charge_table(days: charts.Days, units: str, writing: Writing) -> Table:
    rows = [
        (charts.date_text(date, units), _share(low, writing), _share(due, writing))
        for date, low, due in zip(days.dates, days.low, days.due_low, strict=True)
    ]
    head = ("Day", "Lowest charge shown", "Lowest of the promise's bad case")
    return Table("The lowest charge of each day", head, tuple(rows))


def _days_table(days: charts.Days, units: str, writing: Writing) -> Table:
    came, taken = ("Sun", "Loads") if days.is_sun else ("Into the battery", "Out of it")
    rows = [
        (charts.date_text(date, units), *(_watts(x, writing) for x in values))
        for date, *values in zip(days.dates, days.came_wh, days.due_wh, days.taken_wh, strict=True)
    ]
    return Table("Day by day, Wh", ("Day", came, "Sun as promised", taken), tuple(rows))


def _hours_table(hours: charts.Hours, writing: Writing) -> Table:
    rows = [
        (f"{hour:02d}:00", _watts(hours.sun_w[hour], writing), _watts(hours.loads_w[hour], writing))
        for hour in range(24)
    ]
    return Table("Measured less promised, W", ("Hour", "Sun", "Loads"), tuple(rows))


def _share(value: float, writing: Writing) -> str:
    return writing.percent(value) if np.isfinite(value) else "–"


def _watts(value: float, writing: Writing) -> str:
    if not np.isfinite(value):
        return "–"
    return writing.number(value).replace("-", "\N{MINUS SIGN}")
