"""The client's report: results to one HTML document that needs nothing but a browser."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import asdict
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from sim.decide.what_if import Grid
from sim.ledger.answer import answer_of
from sim.ledger.results import Result
from sim.report.charts import charge_chart, chart_data, palette, sources_chart
from sim.report.page import trip_text, try_it
from sim.report.page.sections import Section, section_data
from sim.report.page.trip_sections import living_sections, runs_out_first
from sim.report.words import assumptions, numbers, sentences
from sim.report.words.cautions import cautions
from sim.report.words.file_days import file_days_told
from sim.report.words.sources import source_words

_TEMPLATES = Path(__file__).parent / "templates"
_TRIPS_ABREAST = 4
# What fits into the margin of a printed page.
_PRINTED_TITLE = 70


def render_page(
    result: Result,
    *,
    written: dt.date,
    version: str,
    sections: tuple[Section, ...] = (),
    grid: Grid | None = None,
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

    Returns
    -------
    str
        HTML with styles, script and the chart library inside; it asks nothing of the network.
    """
    from plotly.offline import get_plotlyjs

    job = result.job
    manner = numbers.Manner(job.settings.units)
    trips, drawn = _trips(result, manner)
    sections = (*living_sections(result, manner), *sections)
    context = {
        "title": job.title,
        "customer": job.customer,
        "written": manner.full_date(written),
        "version": version,
        "build": sentences.build_line(job),
        "upper_bound": assumptions.upper_bound(job),
        "trips": trips,
        "heights": {"charge": charge_chart.CHARGE_HEIGHT, "sources": sources_chart.SOURCES_HEIGHT},
        "group_names": sentences.GROUP_HEADS,
        "charge_marks": _marks(drawn, "charge"),
        "sources_marks": _marks(drawn, "sources"),
        "sources_named": [
            (kind, source_words(kind).flow)
            for kind in result.trips[0].energy.taken
            if kind in _marks(drawn, "sources")
        ],
        "ledgers": _ledgers(result),
        "loads_caption": sentences.ledger_caption(result.trips),
        "topics": assumptions.assumptions(result, written, version, manner),
        "cautions": cautions(job, manner),
        "sections": sections,
        "decisions": section_data(sections),
        "tried": None if grid is None else _tried(result, grid, manner),
        "palettes": palettes(),
        "font": Markup(palette.FONT),
        "data": {
            "dark": palette.recolouring(),
            "charts": {key: chart.data() for key, chart in drawn.items()},
        },
        "plotly": Markup(ascii_script(get_plotlyjs())),
    }
    return environment().get_template("report.html").render(context)


def _trips(
    result: Result, manner: numbers.Manner
) -> tuple[list[trip_text.TripPart], dict[str, charge_chart.Chart]]:
    """The trips' texts and tables, and their charts by key."""
    grains = chart_data.grain_of(result)
    ranges = chart_data.time_ranges(result.trips)
    all_periods = [chart_data.periods(trip) for trip in result.trips]
    top = sources_chart.scale_top(all_periods)
    found, drawn = [], {}
    for index, (planned, trip) in enumerate(zip(result.job.trips, result.trips, strict=True)):
        key, periods = str(index + 1), all_periods[index]
        places = [stop.place.name for stop in planned.stops]
        points, answer = chart_data.charge_points(trip, grains[index]), answer_of(trip)
        drawn[f"charge-{key}"] = charge_chart.charge_chart(
            trip,
            points,
            places=places,
            says=sentences.hour_sentences(trip, points, places, manner),
            span=ranges[index],
            manner=manner,
        )
        drawn[f"sources-{key}"] = sources_chart.sources_chart(
            periods,
            says=sentences.period_sentences(periods, manner),
            span=ranges[index],
            top_wh=top,
            manner=manner,
        )
        found.append(
            trip_text.TripPart(
                key=key,
                name=trip.name,
                when=trip_text.when(trip, manner),
                verdict=trip.verdict,
                sentence=sentences.verdict_sentence(answer, trip.loads),
                facts=(
                    *trip_text.facts(answer, trip, places, manner),
                    ("Runs out first", *runs_out_first(trip, manner)),
                ),
                stops=trip_text.stops(planned, trip, manner),
                charge_caption=" ".join(
                    [
                        sentences.charge_caption(trip, points, places, manner),
                        *file_days_told(points, manner),
                    ]
                ),
                charge_table=trip_text.charge_table(periods, trip.draws, manner),
                sources_caption=sentences.sources_caption(trip),
                sources_table=trip_text.sources_table(periods, manner),
            )
        )
    return found, drawn


def _tried(result: Result, grid: Grid, manner: numbers.Manner) -> dict[str, Any]:
    """What the reader may try."""
    data = try_it.try_data(result, grid, manner)
    return {
        "choices": try_it.choices(result.job, grid),
        "facts": try_it.fact_names(result, manner),
        "has_band": result.job.settings.draws > 1,
        "height": try_it.HEIGHT,
        "data": data,
    }


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


def _marks(drawn: dict[str, charge_chart.Chart], kind: str) -> set[str]:
    """Kinds of mark that any chart of a kind shows, for the key beside the charts."""
    return {mark for key, chart in drawn.items() if key.startswith(kind) for mark in chart.marks}


def palettes() -> dict[str, dict[str, str]]:
    """The charts' colours for the page's own styles."""
    return {"light": asdict(palette.LIGHT), "dark": asdict(palette.DARK)}


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
    return found


def ascii_script(script: str) -> str:
    """A script with its few letters beyond ASCII written as escapes.

    A browser keeps a plain script at one byte a letter and reads it a fifth quicker.
    """
    return re.sub(r"[^\x00-\x7f]", lambda match: f"\\u{ord(match[0]):04x}", script)


def css_text(text: str) -> Markup:
    """A quoted CSS string that holds any text, cut to fit the margin of a printed page."""
    cut = numbers.shortened(text, _PRINTED_TITLE)
    safe = (c if re.fullmatch(r"[A-Za-z0-9 ]", c) else f"\\{ord(c):x} " for c in cut)
    return Markup('"' + "".join(safe) + '"')
