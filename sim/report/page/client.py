"""The client's report: results to one HTML document that needs nothing but a browser."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from jinja2 import Environment, FileSystemLoader, StrictUndefined, Template
from markupsafe import Markup

from sim.decide.what_if import Grid
from sim.job.model.job import Trip
from sim.ledger.answer import Answer, answer_of
from sim.ledger.results import Result, TripResult
from sim.report.charts import chart_data, palette, sources_chart, svg, trip_chart
from sim.report.charts.nights import Night, nights_of
from sim.report.charts.route_sketch import route_sketch
from sim.report.page import trip_text, try_it
from sim.report.page.sealed import packed_library, sealed
from sim.report.page.sections import Section
from sim.report.page.trip_sections import living_sections, runs_out_first
from sim.report.words import assumptions, chart_words, sentences
from sim.report.words.cautions import cautions
from sim.report.words.file_days import file_days_words
from sim.report.words.numbers import Manner, shortened
from sim.report.words.promise_words import medical, why
from sim.report.words.sources import source_words

_TEMPLATES = Path(__file__).parent / "templates"
_TRIPS_ABREAST = 4
# More nights than these stand under the chart, not beside it.
_MANY_NIGHTS = 40
# What fits into the margin of a printed page.
_PRINTED_TITLE = 70


def render_page(
    result: Result,
    *,
    written: dt.date,
    version: str,
    sections: tuple[Section, ...] = (),
    grid: Grid | None = None,
    remedies: Sequence[str | None] = (),
) -> str:
    """The report of a job as one self-contained HTML document.

    Parameters
    ----------
    result : Result
    written : date
        Date of the report.
    version : str
        Of the program.
    sections : tuple of Section
        Decisions to stand between the ledger and how we know.
    grid : Grid, optional
        What a reader may try.
    remedies : sequence of str or None, optional
        For each trip what would help, with its price, in a line.

    Returns
    -------
    str
        HTML with styles, script and the chart library inside; it asks nothing of the network.
    """
    page = begun_page(
        result, written=written, version=version, sections=sections, remedies=remedies
    )
    return page.whole(grid)


@dataclass(frozen=True)
class BegunPage:
    """A report of which all is there but what a reader may try.

    Attributes
    ----------
    result : Result
    template : Template
    context : dict
        What goes into it.
    """

    result: Result
    template: Template
    context: dict[str, Any]

    def whole(self, grid: Grid | None) -> str:
        """The whole report, see `render_page`."""
        manner = Manner(self.result.job.settings.units)
        tried = None if grid is None else _tried(self.result, grid, manner)
        return sealed(self.template.render(self.context, tried=tried), may_wake=True)


def begun_page(
    result: Result,
    *,
    written: dt.date,
    version: str,
    sections: tuple[Section, ...] = (),
    remedies: Sequence[str | None] = (),
) -> BegunPage:
    """A report without its grid, which may still be worked out meanwhile; see `render_page`."""
    job = result.job
    manner = Manner(job.settings.units)
    answers = [answer_of(trip) for trip in result.trips]
    trips, charts = _trips(result, answers, manner, remedies)
    context = {
        "title": job.title,
        "customer": job.customer,
        "written": manner.full_date(written),
        "version": version,
        "build": sentences.build_line(job),
        "upper_bound": assumptions.upper_bound(job),
        "trips": trips,
        "numbers": _numbers(result, answers, manner),
        "group_names": sentences.GROUP_HEADS,
        "ledgers": _ledgers(result),
        "account": _turned_account(result),
        "loads_caption": sentences.ledger_caption(result.trips),
        "topics": assumptions.assumptions(result, written, version, manner),
        "cautions": cautions(job, manner),
        "sections": (*living_sections(result, manner), *sections),
        "palettes": palettes(),
        "font": Markup(palette.FONT),
        "data": {
            "dark": palette.recolouring(),
            "charts": {key: chart.data() for key, chart in charts.items()},
        },
        "library": packed_library(),
    }
    return BegunPage(result, environment().get_template("report.html"), context)


def _trips(
    result: Result,
    answers: Sequence[Answer],
    manner: Manner,
    remedies: Sequence[str | None],
) -> tuple[list[trip_text.TripPart], dict[str, trip_chart.Chart]]:
    """The trips' texts, drawings and tables, and their charts by key."""
    grains = chart_data.grain_of(result)
    ranges = chart_data.time_ranges(result.trips)
    all_periods = [chart_data.periods(trip) for trip in result.trips]
    top = sources_chart.scale_top(all_periods)
    found, charts = [], {}
    for index, (planned, trip) in enumerate(zip(result.job.trips, result.trips, strict=True)):
        key, periods, answer = str(index + 1), all_periods[index], answers[index]
        places = tuple(stop.place.name for stop in planned.stops)
        points = chart_data.charge_points(trip, grains[index], trip.bad)
        chart = trip_chart.trip_chart(
            trip,
            points,
            periods,
            says=chart_words.point_sentences(trip, points, places, manner),
            marks=chart_words.bad_marks(trip, points, answer, places, manner),
            bad_name=chart_words.bad_name(trip),
            view=trip_chart.View(places, ranges[index], top, manner),
        )
        charts[key] = chart
        nights = nights_of(trip, grains[index], trip.bad)
        found.append(
            trip_text.TripPart(
                key=key,
                name=trip.name,
                when=trip_text.when(trip, manner),
                verdict=trip.verdict,
                alarm=medical(trip),
                because=why(trip, answer, manner),
                remedy=(remedies[index] or None) if remedies else None,
                curve=svg.curve(chart.figure),
                drawing=svg.drawn(chart.figure, chart.stops, chart.notes),
                frame=svg.frame_style(chart.figure),
                titles=chart.titles,
                stops=_stop_rows(planned, trip, nights, manner),
                has_band=trip.draws > 1,
                is_long=len(nights) > _MANY_NIGHTS,
                night_marks=_night_marks(nights),
                sketch=_route(planned, trip, manner),
                caption=" ".join(
                    [
                        chart_words.chart_caption(trip, points, answer, places, manner),
                        *file_days_words(points, manner),
                    ]
                ),
                brought=chart_words.sources_caption(trip),
                tables=(
                    trip_text.charge_table(periods, trip.draws, manner),
                    trip_text.sources_table(periods, manner),
                ),
            )
        )
    return found, charts


def _route(planned: Trip, trip: TripResult, manner: Manner) -> Markup | None:
    """A sketch of the way from stop to stop, from the very start; None where there is no way."""
    start = planned.start or planned.stops[0].place
    latitude = np.append(start.latitude, trip.timeline.latitude)
    longitude = np.append(start.longitude, trip.timeline.longitude)
    if not (np.ptp(latitude) or np.ptp(longitude)):
        return None
    return route_sketch(
        latitude,
        longitude,
        [(stop.place.latitude, stop.place.longitude) for stop in planned.stops],
        us_units=manner.units == "us",
    )


def _stop_rows(
    planned: Trip, trip: TripResult, nights: Sequence[Night], manner: Manner
) -> tuple[tuple[str, str, tuple[tuple[Markup, int, str], ...]], ...]:
    """The stops, each with its nights as squares."""
    return tuple(
        (
            place,
            when,
            tuple(
                (night.drawing, night.point, trip_text.night_words(night, trip.draws, manner))
                for night in nights
                if night.stop == index
            ),
        )
        for index, (place, when) in enumerate(trip_text.stops(planned, trip, manner))
    )


def _night_marks(nights: Sequence[Night]) -> tuple[str, ...]:
    """Kinds of mark that the squares of a trip have."""
    found = (
        ("off", any(night.is_off for night in nights)),
        ("plugged", any(night.is_plugged for night in nights)),
        ("served", any(night.is_served for night in nights)),
    )
    return tuple(kind for kind, has in found if has)


def _numbers(result: Result, answers: Sequence[Answer], manner: Manner) -> trip_text.Table:
    """The few numbers that answer, of all trips."""
    each = []
    for planned, trip, answer in zip(result.job.trips, result.trips, answers, strict=True):
        places = [stop.place.name for stop in planned.stops]
        first_out = ("Runs out first", *runs_out_first(trip, manner))
        each.append((*trip_text.facts(answer, trip, places, manner), first_out))
    return trip_text.numbers([trip.name for trip in result.trips], each)


def _tried(result: Result, grid: Grid, manner: Manner) -> dict[str, Any]:
    """What the reader may try."""
    data = try_it.try_data(result, grid, manner)
    figure = data.pop("figure")
    return {
        "choices": try_it.choices(result.job, grid),
        "facts": try_it.fact_names(result, manner),
        "draws": sentences.tried_in_first(result),
        "has_band": any(trip.draws > 1 for trip in result.trips),
        "drawing": svg.drawn(figure),
        "frame": svg.frame_style(figure),
        "data": data,
    }


def _turned_account(result: Result) -> trip_text.Table | None:
    """The account with a row for each trip, where they are many."""
    if len(result.trips) < trip_text.MANY_TRIPS:
        return None
    lines = trip_text.account(result.trips)
    rows = tuple((row.name, *(text for text, _ in row.cells)) for _, row in lines)
    head = ("Trip", *(trip.name for trip in result.trips))
    caption = "Wh a day, mean of all days and simulated trips, each number rounded"
    return trip_text.turned(trip_text.Table(caption, head, rows))


def _ledgers(result: Result) -> list[dict[str, Any]]:
    """Account and loads of so many trips at a time as fit on a sheet of paper."""
    most = trip_text.most_wanted(result.trips)
    batches = [
        result.trips[first : first + _TRIPS_ABREAST]
        for first in range(0, len(result.trips), _TRIPS_ABREAST)
    ]
    return [
        {
            "names": [trip.name for trip in batch],
            "account": trip_text.account(batch),
            "loads": trip_text.loads(batch, most),
        }
        for batch in batches
    ]


def palettes() -> dict[str, dict[str, str]]:
    """The charts' colours for the page's own styles."""
    return {"light": asdict(palette.LIGHT), "dark": asdict(palette.DARK)}


@cache
def environment() -> Environment:
    """Templates of all pages: everything that goes in is escaped, nothing may be missing."""
    found = Environment(
        loader=FileSystemLoader(_TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    found.filters["css_text"] = css_text
    found.globals |= {"widths": svg.WIDTHS, "source_words": source_words}
    return found


def css_text(text: str) -> Markup:
    """A quoted CSS string that holds any text, cut to fit the margin of a printed page."""
    cut = shortened(text, _PRINTED_TITLE)
    safe = (c if re.fullmatch(r"[A-Za-z0-9 ]", c) else f"\\{ord(c):x} " for c in cut)
    return Markup('"' + "".join(safe) + '"')
