"""What changed between two states of a job, as a page: trip by trip, then key by key."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

import numpy as np
from markupsafe import Markup

from sim.decide.compare import Comparison, TripChange, TripFigures
from sim.report.charts.compare_chart import compared_chart, curve_of, lowest_by_day
from sim.report.charts.palette import FONT
from sim.report.page.client import environment, palettes
from sim.report.page.sealed import sealed
from sim.report.page.sections import Figure, Section
from sim.report.page.trip_text import Table
from sim.report.words.compare_words import (
    PARTS,
    answer_rows,
    change_sentence,
    chart_caption,
    key_words,
    medical_sentence,
    program_sentence,
    value_words,
)
from sim.report.words.numbers import Manner, percent


def render_comparison(found: Comparison, *, written: dt.date, version: str) -> str:
    """A comparison as one self-contained HTML page without a script.

    Parameters
    ----------
    found : Comparison
    written : date
        Day on which it was made.
    version : str
        Of the program.
    """
    job = found.new.job
    settings = job.get("settings", {})
    manner = Manner("metric" if settings.get("units") == "metric" else "us")
    page = environment().get_template("compare.html").render(
        title=f"{job.get('title', 'A job')}",
        customer=job.get("customer"),
        written=manner.full_date(written),
        version=version,
        program=program_sentence(found),
        palettes=palettes(),
        font=Markup(FONT),
        sections=[*_trips(found, manner), _job(found)],
    )  # fmt: skip
    return sealed(page)


def _trips(found: Comparison, manner: Manner) -> Iterator[Section]:
    for number, change in enumerate(found.trips, 1):
        key, sentences = f"trip-{number}", (change_sentence(change),)
        if change.old is None or change.new is None:
            yield Section(key, change.name, sentences, alarm=medical_sentence(change))
            continue
        rows = answer_rows(change.old, change.new)
        table = Table("The answer", ("", "Before", "Now"), rows)
        figures = tuple(_chart(number, change, manner))
        alarm = medical_sentence(change)
        yield Section(key, change.name, sentences, figures, (table,), alarm=alarm)


def _chart(number: int, change: TripChange, manner: Manner) -> Iterator[Figure]:
    """The two curves on one chart, where both promises hold their points."""
    old, new = change.old, change.new
    if old is None or new is None or not (_has_curve(old) and _has_curve(new)):
        return
    yield Figure(
        f"charge-{number}",
        "Charge of the battery",
        chart_caption(old, new),
        compared_chart(old, new, manner),
        _days_table(old, new),
    )


def _has_curve(figures: TripFigures) -> bool:
    """Whether there is a line to draw: times, and a charge for each."""
    count = len(figures.times)
    return count > 1 and all(len(row) == count for row in figures.soc)


def _days_table(old: TripFigures, new: TripFigures) -> Table:
    """The lowest charge of each day, before and now."""
    columns = []
    for figures in (old, new):
        curve = curve_of(figures)
        noon, lowest = lowest_by_day(curve.days, curve.soc)
        columns.append({int(day): lowest[:, at] for at, day in enumerate(np.floor(noon))})
    before, now = columns
    rows = []
    for day in sorted({*before, *now}):
        cells = []
        for side in (before, now):
            cells += ["–", "–"] if day not in side else [percent(x) for x in side[day][:2]]
        rows.append((f"{day + 1}", *cells))
    head = ("Day", "Before, 1 in 10", "Before, middle", "Now, 1 in 10", "Now, middle")
    return Table("Lowest charge of each day", head, tuple(rows))


def _job(found: Comparison) -> Section:
    """What was changed in the job."""
    tables, same = [], []
    for part, heading in PARTS:
        rows = tuple(
            (key_words(key.key), value_words(key, "old"), value_words(key, "new"))
            for key in found.keys
            if key.part == part
        )
        if rows:
            tables.append(Table(heading, ("", "Before", "Now"), rows))
        else:
            same.append(heading.lower())
    sentences = (f"Nothing changed {' and '.join(same)}.",) if same else ()
    return Section("changes", "What was changed", sentences, tables=tuple(tables))
