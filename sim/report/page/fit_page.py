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
from sim.report.words import fit_words
from sim.report.words.numbers import GAP, Manner


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
    manner = Manner(found.job.settings.units)
    context = {
        "title": found.job.title,
        "customer": found.job.customer,
        "palettes": palettes(),
        "font": Markup(FONT),
        "sections": _sections(found, manner),
        "is_kept": not found.broken,
        "log": fit_words.log_sentence(found),
        "written": manner.full_date(written),
        "version": version,
    }
    return sealed(environment().get_template("fit.html").render(context))


def _sections(found: Fit, manner: Manner) -> tuple[Section, ...]:
    head = ("Promise", "Kept?", "Measured", "Eight in ten", "Since")
    # On a phone no cell is broken into several lines.
    rows = tuple(
        tuple(cell.replace(" ", GAP) if column else cell for column, cell in enumerate(row))
        for row in (fit_words.cells(finding, manner) for finding in found.findings)
    )
    table = Table(fit_words.TABLE_CAPTION, head, rows)
    answer = Section(
        "verdict", "Was the promise kept?", fit_words.answer_sentences(found), tables=(table,)
    )
    seen = Section("seen", "What the log shows", (), figures=_figures(found))
    sections = [answer, seen]
    if texts := fit_words.unknown_sentences(found):
        sections.append(Section("unknown", "What the log cannot tell", texts))
    if texts := fit_words.next_sentences(found):
        caution = (fit_words.CAUTION,) if found.broken else ()
        sections.append(Section("next", "What to measure next", (*texts, *caution)))
    return tuple(sections)


def _figures(found: Fit) -> tuple[Figure, ...]:
    units = found.job.settings.units
    days, hours = charts.days_of(found), charts.hours_of(found)
    figures = []
    if np.isfinite(found.seen.soc_at).any():
        inside = _inside(found)
        figures.append(
            Figure(
                "charge",
                "The charge and its promise",
                fit_words.charge_caption(inside),
                charts.charge_chart(found),
                _charge_table(days, units),
            )
        )
    figures.append(
        Figure(
            "days",
            "Day by day, Wh",
            fit_words.days_caption(days.came_wh, days.due_wh, days.taken_wh, is_sun=days.is_sun),
            charts.days_chart(days, units),
            _days_table(days, units),
        )
    )
    if np.isfinite(hours.sun_w).any() or np.isfinite(hours.loads_w).any():
        figures.append(
            Figure(
                "hours",
                "Above and below the promise, by the hour of the day",
                fit_words.hours_caption(hours.sun_w, hours.loads_w),
                charts.hours_chart(hours),
                _hours_table(hours),
            )
        )
    return tuple(figures)


def _inside(found: Fit) -> float:
    """Share of the known hours in which the charge lay in or above the band of the promise."""
    low = np.quantile(found.promised.soc, 0.1, axis=1)
    shown = found.seen.soc_at.mean(axis=1)
    known = np.isfinite(shown)
    return float((shown[known] >= low[known]).mean())


def _charge_table(days: charts.Days, units: str) -> Table:
    rows = [
        (charts.date_text(date, units), _share(low), _share(due))
        for date, low, due in zip(days.dates, days.low, days.due_low, strict=True)
    ]
    head = ("Day", "Lowest charge shown", "Lowest of the promise's bad case")
    return Table("The lowest charge of each day", head, tuple(rows))


def _days_table(days: charts.Days, units: str) -> Table:
    came, taken = ("Sun", "Loads") if days.is_sun else ("Into the battery", "Out of it")
    rows = [
        (charts.date_text(date, units), *(_watts(x) for x in values))
        for date, *values in zip(days.dates, days.came_wh, days.due_wh, days.taken_wh, strict=True)
    ]
    return Table("Day by day, Wh", ("Day", came, "Sun as promised", taken), tuple(rows))


def _hours_table(hours: charts.Hours) -> Table:
    rows = [
        (f"{hour:02d}:00", _watts(hours.sun_w[hour]), _watts(hours.loads_w[hour]))
        for hour in range(24)
    ]
    return Table("Measured less promised, W", ("Hour", "Sun", "Loads"), tuple(rows))


def _share(value: float) -> str:
    return f"{100 * value:.0f} %" if np.isfinite(value) else "–"


def _watts(value: float) -> str:
    return f"{value:,.0f}".replace("-", "\N{MINUS SIGN}") if np.isfinite(value) else "–"
