"""The page of a place: its sun through the year, with the spread of the days."""

from __future__ import annotations

import calendar
import datetime as dt
from typing import Any

import plotly.graph_objects as go
from markupsafe import Markup

from sim.ledger.almanac import Almanac
from sim.places.lookup import Place
from sim.report.charts.palette import AXIS, FONT, LIGHT, frame
from sim.report.charts.svg import drawn, frame_style
from sim.report.charts.tracks import round_steps
from sim.report.page.client import environment, palettes
from sim.report.page.sealed import sealed
from sim.report.terminal.place_months import heading, table_rows
from sim.report.words.numbers import Manner, month_name, percent, unbroken
from sim.report.words.sky_words import sky_sentence

_HEIGHT = 296
_NOTHING_KWH = 0.05  # what the text would print as 0.0


def render_almanac(
    place: Place, almanacs: tuple[Almanac, ...], *, written: dt.date, version: str
) -> str:
    """The months of a place as one self-contained HTML document.

    Parameters
    ----------
    place : Place
    almanacs : tuple of Almanac
        The place's climate; a weather file may stand beside it.
    written : date
        Day on which it was made.
    version : str
        Of the program.
    """
    manner = Manner("us" if place.country == "US" else "metric")
    us_units = manner.units == "us"
    figure = _figure(almanacs).to_plotly_json()
    context = {
        "title": place.label,
        "written": manner.full_date(written),
        "version": version,
        "palettes": palettes(),
        "font": Markup(FONT),
        "sentence": sky_sentence(almanacs[0]),
        "caption": _caption(almanacs),
        "has_file": len(almanacs) > 1,
        "sources": [
            {
                "heading": heading(each),
                "rows": _unbroken(table_rows(each, us_units)),
                "about": [unbroken(text) for text in each.about],
            }
            for each in almanacs
        ],
        "unit": "°F" if us_units else "°C",
        "drawing": drawn(figure),
        "frame": frame_style(figure),
    }
    return sealed(environment().get_template("sky.html").render(context))


def _unbroken(rows: list[tuple[str, ...]]) -> list[list[str]]:
    """Cells that no narrow screen breaks into several lines."""
    return [[cell.replace(" ", "\u00a0") for cell in row] for row in rows]


def _caption(almanacs: tuple[Almanac, ...]) -> str:
    climate = almanacs[0]
    low, _, high = climate.ghi_quantiles
    least = int(climate.ghi_kwh_m2_day.argmin())
    text = f"In {month_name(least + 1)} the sun brings nothing."
    if high[least] >= _NOTHING_KWH:
        text = (
            f"In {month_name(least + 1)}, the darkest month, an average day brings "
            f"{climate.ghi_kwh_m2_day[least]:.1f} kWh/m² on level ground; of ten days one brings "
            f"less than {low[least]:.1f} and one more than {high[least]:.1f}."
        )
    if len(almanacs) > 1:
        file = almanacs[1]
        ratio = file.ghi_kwh_m2_day.sum() / climate.ghi_kwh_m2_day.sum()
        text += f" The file {file.source} has {percent(ratio)} of the climate's sun over the year."
    return text


def _figure(almanacs: tuple[Almanac, ...]) -> go.Figure:
    """Mean sun of the months as a line, eight days of ten as a band; a file as a dotted line."""
    climate = almanacs[0]
    names = list(calendar.month_abbr)[1:]
    figure = go.Figure()
    low, _, high = climate.ghi_quantiles
    figure.add_scatter(x=names, y=_plain(high), mode="lines", line={"width": 0})
    figure.add_scatter(
        x=names,
        y=_plain(low),
        mode="lines",
        line={"width": 0},
        fill="tonexty",
        fillcolor=LIGHT.band,
    )
    figure.add_scatter(
        x=names,
        y=_plain(climate.ghi_kwh_m2_day),
        mode="lines+markers",
        line={"color": LIGHT.charge, "width": 2.4},
        marker={"color": LIGHT.charge, "size": 6},
    )
    for file in almanacs[1:]:
        figure.add_scatter(
            x=names,
            y=_plain(file.ghi_kwh_m2_day),
            mode="lines+markers",
            line={"color": LIGHT.ink, "width": 1.8, "dash": "dot"},
            marker={"color": LIGHT.ink, "size": 5, "symbol": "diamond"},
        )
    top = 1.05 * max(float(each.ghi_quantiles.max()) for each in almanacs)
    values = round_steps(0.0, max(top, 1.0))
    figure.update_layout(frame(_HEIGHT))
    figure.update_xaxes(
        **AXIS, showline=True, linecolor=LIGHT.ink, categoryarray=names, range=[-0.3, 11.3]
    )
    texts = [f"{value:g}" for value in values]
    figure.update_yaxes(**AXIS, range=[0, max(top, 1.0)], tickvals=values, ticktext=texts)
    figure.update_yaxes(showgrid=True, gridcolor=LIGHT.rule)
    return figure


def _plain(values: Any) -> list[float]:
    return [round(float(value), 3) for value in values]
