"""Decisions as sections of a page: sentences, a chart with its caption, a table behind it."""

from __future__ import annotations

import datetime as dt

from markupsafe import Markup

from sim.decide.calendar import Calendar
from sim.decide.levers.effects import LeverDecision, TripEffect
from sim.decide.living_rules import LivingRules, StayRules
from sim.decide.panels.counts import PanelDecision
from sim.job.model.job import Job
from sim.report.charts import decision_charts as charts
from sim.report.charts.palette import FONT
from sim.report.page.client import ascii_script, environment, palettes
from sim.report.page.sections import Figure, Section, section_data
from sim.report.page.trip_text import Table
from sim.report.words.lever_words import calendar_sentences, lever_sentences
from sim.report.words.living_words import habit_words, stay_sentences
from sim.report.words.numbers import (
    FEWEST_FOR_A_SHARE,
    GAP,
    Manner,
    drawn_share,
    gain_told,
    held_share,
    listed,
    month_name,
    price,
    sure_share,
    weight,
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
            f"{layout.count} panels of {found.panel} fit on the roof; its front is on the left."
        )
        if note:
            caption += f" {note[:1].upper()}{note[1:]}."
        drawing = charts.roof_chart(layout, found.fit.others, us_units=us_units)
        table = _roof_table(found, us_units)
        figures.append(Figure("roof", "The roof from above", caption, drawing, table))
    elif note:
        sentences.append(f"Roof: {note}.")
    names = listed([answer.trip for answer in found.options[0].trips])
    caption = (
        f"Share of weathers without a dark hour by number of panels, on {names}. Bars hold the "
        "true share in 95 cases of 100; broken lines are the bounds of ample and tight."
    )
    if found.recommended is not None:
        caption += f" The shaded column is the recommendation, {found.recommended}."
    drawing = charts.panels_chart(found, bounds)
    figures.insert(0, Figure("panels", "", caption, drawing, _panels_table(found, us_units)))
    return Section("panels", "How many panels?", tuple(sentences), tuple(figures))


def _panels_table(found: PanelDecision, us_units: bool) -> Table:
    trips = [answer.trip for answer in found.options[0].trips]
    rows = []
    for option in found.options:
        fits = {True: "yes", False: "no", None: "?"}[option.fits]
        start = (str(option.count), fits, weight(option.weight_kg, us_units))
        cells = [
            f"{answer.verdict}, {sure_share(answer)}; lowest "
            f"{drawn_share(answer.lowest_soc.p10, 1)}; dark {answer.dark_hours.mean:.1f}{GAP}h; "
            f"left over {answer.unharvested_wh_per_day:,.0f}{GAP}Wh a day"
            for answer in option.trips
        ]
        rows.append((*start, price(option.price, found.currency), *cells))
    head = ("Panels", "Fits", "Weight", "Price", *trips)
    return Table("Each number of panels on every trip", head, tuple(rows))


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


def levers_section(found: LeverDecision) -> Section:
    """Which fix."""
    caption = (
        "The worst trip's share of weathers without a dark hour with each change, one at a time; "
        "the broken line is the build as it is. A hollow point is a gain the draws cannot tell "
        "from none."
    )
    drawing = charts.levers_chart(found)
    figure = Figure("levers", "", caption, drawing, _levers_table(found))
    return Section("levers", "Which change helps?", lever_sentences(found), (figure,))


def _gain(trip: TripEffect) -> str:
    """``+12.5 ± 4.1`` points, or ``+1`` of few draws."""
    draws = trip.answer.draws
    gain = gain_told(trip.share_gain, draws)
    return gain if draws < FEWEST_FOR_A_SHARE else f"{gain} ± {100.0 * trip.gain_error:.1f}"


def _levers_table(found: LeverDecision) -> Table:
    rows = []
    for effect in found.effects:
        if effect.fault:
            cells = ["cannot be done", *[""] * (len(found.base) - 1)]
        elif effect.changes_nothing:
            cells = ["changes nothing", *[""] * (len(found.base) - 1)]
        else:
            cells = [
                f"{held_share(trip.answer)} "
                f"({_gain(trip)}); lowest "
                f"{drawn_share(trip.answer.lowest_soc.p10, 1)} "
                f"({100.0 * trip.lowest_gain:+z.0f}); "
                f"dark {trip.answer.dark_hours.mean:.1f}{GAP}h"
                for trip in effect.trips
            ]
        rows.append((effect.name, price(effect.price, found.currency), *cells))
    head = ("Change", "Price", *(answer.trip for answer in found.base))
    return Table("Each change on every trip", head, tuple(rows))


def calendar_section(found: Calendar) -> Section:
    """When in the year."""
    caption = (
        f"{found.trip}, started in every week of the year, by number of panels. Full: ample; "
        f"pale: tight; empty: short. The framed row is the build, {found.job_count} panels."
    )
    rows = tuple(
        (
            month_name(month.month),
            month.verdict,
            *(drawn_share(value, 1) for value in found.month_share(month.month)),
            "more" if month.panels is None else str(month.panels),
        )
        for month in found.months
    )
    head = ("Month", "The build", *(f"{n} panels" for n in found.counts), "Ample with")
    table = Table("Share of weathers without a dark hour at the month's worst start", head, rows)
    figure = Figure("calendar", "", caption, charts.calendar_chart(found), table)
    return Section("calendar", "When in the year?", calendar_sentences(found), (figure,))


def living_section(found: LivingRules) -> Section:
    """What the customer should know."""
    sentences = [
        "How full the battery must be at sunset so that, in nine weathers of ten, nothing goes "
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
            f"nights, parked at {stay.place} without driving or a plug, in nine weathers of ten. "
            "Where a line is broken a full battery is not enough."
        )
        drawing = charts.nights_chart(stay)
        figures.append(
            Figure(f"nights-{index + 1}", stay.place, caption, drawing, _nights_table(stay))
        )
    return Section("living", "Living with it", tuple(sentences), tuple(figures))


def _nights_table(stay: StayRules) -> Table:
    def told(values: tuple[float | None, ...]) -> tuple[str, ...]:
        return tuple("–" if value is None else drawn_share(value, 1) for value in values)

    def hours(value: float | None) -> str:
        return "–" if value is None else f"{value:.1f}"

    rows = tuple(
        (
            month_name(night.month),
            *told(night.parked),
            *told(night.driving),
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
    from plotly.offline import get_plotlyjs

    context = {
        "title": job.title,
        "customer": job.customer,
        "written": Manner(job.settings.units).full_date(written),
        "version": version,
        "palettes": palettes(),
        "font": Markup(FONT),
        "sections": sections,
        "data": section_data(sections),
        "plotly": Markup(ascii_script(get_plotlyjs())),
    }
    return environment().get_template("decision.html").render(context)
