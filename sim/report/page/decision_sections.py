"""Decisions as sections of a page: sentences, a chart with its caption, a table behind it."""

from __future__ import annotations

import datetime as dt

from markupsafe import Markup

from sim.decide.calendar import Calendar
from sim.decide.levers.effect import LeverDecision
from sim.decide.living_rules import LivingRules, StayRules
from sim.decide.panels.counts import PanelDecision
from sim.job.model.job import Job
from sim.report.charts import decision_charts as charts
from sim.report.charts.palette import FONT
from sim.report.page.client import environment, palettes
from sim.report.page.ledgers import calendar_ledger, levers_ledger, panels_ledger
from sim.report.page.sealed import sealed
from sim.report.page.sections import Figure, Section
from sim.report.page.trip_text import Table
from sim.report.words import calendar_words, lever_words, panel_words
from sim.report.words.living_words import habit_words, stay_sentences
from sim.report.words.numbers import (
    GAP,
    Manner,
    counted,
    drawn_share,
    listed,
    month_name,
)
from sim.report.words.panel_words import panel_sentences, roof_note
from sim.units import METRES_PER_FOOT


def panels_section(job: Job, found: PanelDecision) -> Section:
    """How many panels, and where they lie."""
    us_units = job.settings.units == "us"
    bounds = job.settings.ample_share, job.settings.tight_share
    sentences, note = list(panel_sentences(found)), roof_note(found.fit)
    figures = []
    layout = found.fit.layout
    if layout is not None and layout.count:
        caption = (
            f"{counted(layout.count, 'panel')} of {found.panel} "
            f"{'fits' if layout.count == 1 else 'fit'} on the roof; its front is on the left."
        )
        if note:
            caption += f" {note[:1].upper()}{note[1:]}."
        drawing = charts.roof_chart(layout, found.fit.others, us_units=us_units)
        table = _roof_table(found, us_units)
        figures.append(Figure("roof", "The roof from above", caption, drawing, table))
    elif note:
        sentences.append(f"Roof: {note}.")
    ledger = panels_ledger(found, bounds, us_units)
    return Section(
        "panels",
        "How many panels?",
        tuple(sentences),
        tuple(figures),
        ledgers=(ledger,),
        notes=panel_words.sure_sentences(found),
        alarm=panel_words.medical(found),
    )


def _roof_table(found: PanelDecision, us_units: bool) -> Table:
    layout = found.fit.layout
    assert layout is not None
    unit, metres, digits = ("in", METRES_PER_FOOT / 12.0, 1) if us_units else ("m", 1.0, 2)
    rows = [
        (
            rect.name,
            *(
                f"{value / metres:.{digits}f}"
                for value in (rect.x_m, rect.y_m, rect.length_m, rect.width_m)
            ),
        )
        for rect in (*layout.panels, *found.fit.others, *layout.space.obstacles)
    ]
    sides = ("From the front", "From the left", "Length", "Width")
    head = ("What", *(f"{side}, {unit}" for side in sides))
    return Table("Where everything lies", head, tuple(rows))


def levers_section(job: Job, found: LeverDecision) -> Section:
    """Which fix."""
    bounds = job.settings.ample_share, job.settings.tight_share
    ledger = levers_ledger(found, bounds, job.settings.units == "us")
    return Section(
        "levers",
        "Which change helps?",
        lever_words.lever_sentences(found),
        ledgers=(ledger,),
        notes=lever_words.sure_sentences(found),
        alarm=lever_words.medical(found),
    )


def calendar_section(job: Job, found: Calendar) -> Section:
    """When in the year."""
    planned = next((trip for trip in job.trips if trip.name == found.trip), job.trips[0])
    ledger = calendar_ledger(found, (planned.depart.month, planned.depart.day))
    return Section(
        "calendar",
        "When in the year?",
        calendar_words.calendar_sentences(found),
        ledgers=(ledger,),
        notes=calendar_words.sure_sentences(found),
        alarm=calendar_words.medical(found),
    )


def living_section(found: LivingRules) -> Section:
    """What the customer should know."""
    sentences = [
        "How full the battery must be at sunset so that, in 9 of 10 simulated stays, nothing goes "
        "dark until the morning after:",
        *(text for stay in found.stays for text in stay_sentences(stay)),
    ]
    if found.habits:
        savings = [
            f"{habit_words(habit, found.units)} ({habit.saving_wh:.0f}{GAP}Wh a day)"
            for habit in found.habits
        ]
        sentences.append(f"What saves most: {listed(savings)}.")
    figures = []
    for index, stay in enumerate(found.stays):
        caption = (
            f"Charge at sunset from which nothing goes dark until the morning after so many more "
            f"nights, parked at {stay.place} without driving or a plug, in 9 of 10 simulated "
            "stays. Where a line is broken a full battery is not enough."
        )
        drawing = charts.nights_chart(stay)
        figures.append(
            Figure(f"nights-{index + 1}", stay.place, caption, drawing, _nights_table(stay))
        )
    return Section("living", "Living with it", tuple(sentences), tuple(figures))


def _nights_table(stay: StayRules) -> Table:
    def shares(values: tuple[float | None, ...]) -> tuple[str, ...]:
        return tuple("–" if value is None else drawn_share(value, 1) for value in values)

    def hours(value: float | None) -> str:
        return "–" if value is None else f"{value:.1f}"

    rows = tuple(
        (
            month_name(night.month),
            *shares(night.parked),
            *shares(night.driving),
            f"{dull.missing_wh:,.0f}",
            hours(dull.drive_hours),
            hours(dull.plug_hours),
        )
        for night, dull in zip(stay.nights, stay.dull_days, strict=True)
    )
    driven = f"{stay.driving_hours:g} h driving"
    head = (
        "Month",
        *(f"{n} parked" for n in ("1 night", "2 nights", "3 nights")),
        *(f"{n}, {driven}" for n in ("1 night", "2 nights", "3 nights")),
        "Missing on a dull day, Wh",
        "Hours of driving for it",
        "Hours on a plug for it",
    )
    return Table(f"Charge at sunset that holds, {stay.place}", head, rows)


def render_decision(
    job: Job, sections: tuple[Section, ...], *, written: dt.date, version: str
) -> str:
    """Sections as one self-contained HTML document.

    Parameters
    ----------
    job : Job
    sections : tuple of Section
    written : date
        Day on which it was made.
    version : str
        Of the program.
    """
    context = {
        "title": job.title,
        "customer": job.customer,
        "written": Manner(job.settings.units).full_date(written),
        "version": version,
        "palettes": palettes(),
        "font": Markup(FONT),
        "sections": sections,
    }
    return sealed(environment().get_template("decision.html").render(context))
