"""Decisions as tables, JSON, charts and pages: keys, words, nothing from a file let loose."""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Iterator
from dataclasses import fields, replace
from io import StringIO
from typing import Any

import pytest
from rich.console import Console

import sim
from sim.decide.calendar import Calendar
from sim.decide.levers.effects import LeverDecision
from sim.decide.living_rules import LivingRules
from sim.decide.panels.counts import PanelDecision
from sim.job.model.changes import with_values
from sim.job.model.job import Job, LeverEntry, Prices
from sim.job.model.roof import Obstacle, Roof
from sim.ledger.results import Result
from sim.report.charts.palette import LIGHT
from sim.report.data import decision_json
from sim.report.data.export import json_text
from sim.report.page import decision_sections
from sim.report.page.client import render_page
from sim.report.page.sections import Section, unbroken
from sim.report.terminal import decision_text
from sim.report.words.numbers import month_name
from sim.report.words.panel_words import panel_sentences

WRITTEN = dt.date(2027, 3, 1)
HOSTILE = '<script>alert("x")</script> [bold]&amp; {{ 7 * 7 }} \u202eevil'


def small(job: Job, **changes: Any) -> Job:
    """The job with a roof, prices, a lever of its own and few draws."""
    settings = with_values(job.settings, {"draws": 4})
    update = {
        "settings": settings,
        "roof": Roof(
            length_m=2.6,
            width_m=1.6,
            walkway_m=0.1,
            obstacles=(Obstacle(name="Fan", x_m=1.0, y_m=0.6, length_m=0.4, width_m=0.4),),
        ),
        "prices": Prices(panel=150.0, battery=400.0),
        "levers": (LeverEntry(name="Two batteries", set={"battery.count": 2}, price=500.0),),
        "panels": (
            with_values(
                job.panels[0], {"length_m": 1.0, "width_m": 0.5, "weight_kg": 8.0, "count": 2}
            ),
        ),
    }
    return with_values(job, {**update, **changes})


@pytest.fixture(scope="module")
def job(small_result: Result) -> Job:
    return small(small_result.job)


@pytest.fixture(scope="module")
def panels(job: Job) -> PanelDecision:
    return sim.decide.panels(job)


@pytest.fixture(scope="module")
def levers(job: Job) -> LeverDecision:
    return sim.decide.levers(job)


@pytest.fixture(scope="module")
def year(job: Job) -> Calendar:
    # A stay of one night: the year, not the way.
    stop = with_values(job.trips[0].stops[0], {"nights": 1, "drive_hours": 0.0})
    trip = with_values(job.trips[0], {"start": None, "stops": (stop,)})
    return sim.decide.calendar(with_values(job, {"trips": (trip,)}))


@pytest.fixture(scope="module")
def rules(job: Job) -> LivingRules:
    return sim.decide.living_rules(job)


@pytest.fixture(scope="module")
def sections(
    job: Job, panels: PanelDecision, levers: LeverDecision, year: Calendar, rules: LivingRules
) -> tuple[Section, ...]:
    return (
        decision_sections.panels_section(job, panels),
        decision_sections.levers_section(levers),
        decision_sections.calendar_section(year),
        decision_sections.living_section(rules),
    )


def said(print_it: Any, *arguments: Any, **options: Any) -> str:
    out = StringIO()
    print_it(*arguments, Console(file=out, width=110, highlight=False), **options)
    return out.getvalue()


# --- JSON ---------------------------------------------------------------------------------------


def test_panels_json_has_the_agreed_keys(panels: PanelDecision) -> None:
    data = json.loads(json_text(decision_json.panels_json(panels)))
    assert {"options", "recommended", "reason"} <= set(data)
    for count, option in enumerate(data["options"]):
        assert {"count", "fits", "price", "trips"} <= set(option)
        assert option["count"] == count
        assert option["price"] == 150.0 * count
        assert option["weight_kg"] == 8.0 * count
        for trip in option["trips"]:
            assert {
                "name",
                "verdict",
                "ample_share",
                "lowest_soc_p10",
                "dark_hours_mean",
                "unharvested_wh_per_day",
            } <= set(trip)
            low, high = trip["ample_share_interval"]
            assert low <= trip["ample_share"] <= high
    assert data["roof"]["most"] == len(data["roof"]["panels"]) == panels.fit.most
    assert data["roof"]["walkway"]["width_m"] == 0.1
    assert [option["fits"] for option in data["options"]].count(True) == panels.fit.most + 1


def test_levers_json(levers: LeverDecision) -> None:
    data = json.loads(json_text(decision_json.levers_json(levers)))
    assert [lever["name"] for lever in data["levers"]] == [x.name for x in levers.effects]
    (own,) = [lever for lever in data["levers"] if lever["own"]]
    assert (own["name"], own["price"]) == ("Two batteries", 500.0)
    for lever in data["levers"]:
        assert len(lever["trips"]) == len(data["base"])
    assert set(data["by_price"]) <= {lever["name"] for lever in data["levers"]}
    assert {entry["name"] for entry in data["not_tried"]} == {name for name, _ in levers.not_tried}


def test_calendar_and_living_json(year: Calendar, rules: LivingRules) -> None:
    data = json.loads(json_text(decision_json.calendar_json(year)))
    assert len(data["weeks"]) == 52
    assert len(data["months"]) == 12
    assert all(len(week["ample_share"]) == len(data["counts"]) for week in data["weeks"])
    living = json.loads(json_text(decision_json.living_json(rules)))
    assert [len(stay["soc_at_sunset"]) for stay in living["stays"]] == [12] * len(rules.stays)
    assert living["stays"][0]["nights"] == [1, 2, 3]


# --- terminal -----------------------------------------------------------------------------------


def test_panels_in_the_terminal(panels: PanelDecision) -> None:
    text = said(decision_text.print_panels, panels, us_units=False)
    for option in panels.options:
        assert f"USD {option.count * 150:,}" in text
        assert f"{option.count * 8} kg" in text
    assert "2 (job)" in text
    for sentence in panel_sentences(panels):
        assert sentence in " ".join(text.split())
    pounds = said(decision_text.print_panels, panels, us_units=True)
    assert "35 lb" in pounds  # 16 kg


def test_levers_in_the_terminal(levers: LeverDecision) -> None:
    text = " ".join(said(decision_text.print_levers, levers).split())
    assert "Two batteries USD 500" in text
    assert "Not tried: " in text
    for sentence in decision_sections.levers_section(levers).sentences:
        assert sentence in text
    assert "The best two together: " in text
    assert "By effect per money" in text


def test_calendar_in_the_terminal(year: Calendar) -> None:
    text = said(decision_text.print_calendar, year)
    for month in year.months:
        assert re.search(rf"{month_name(month.month)} +{month.verdict}", text)


def test_no_markup_of_a_file_reaches_the_terminal(
    panels: PanelDecision, levers: LeverDecision
) -> None:
    text = said(decision_text.print_panels, replace(panels, title=HOSTILE), us_units=False)
    assert "[bold]" in text
    assert "\u202e" not in text
    effect = replace(levers.effects[0], names=(HOSTILE,))
    assert "[bold]" in said(decision_text.print_levers, replace(levers, effects=(effect,)))


def test_many_trips_share_a_column(levers: LeverDecision) -> None:
    many = replace(
        levers,
        base=levers.base * 3,
        effects=tuple(replace(effect, trips=effect.trips * 3) for effect in levers.effects),
    )
    text = " ".join(said(decision_text.print_levers, many).split())
    assert "Worst trip" in text
    assert "points held" in text


# --- charts and pages ---------------------------------------------------------------------------


def colours(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        for key, item in value.items():
            if "color" in key and isinstance(item, str):
                yield item
            yield from colours(item)
    elif isinstance(value, (list, tuple)):
        for item in value:
            if isinstance(item, str) and item.startswith(("#", "rgb")):
                yield item
            yield from colours(item)


def test_charts_use_the_palette_alone(sections: tuple[Section, ...]) -> None:
    allowed = {getattr(LIGHT, field.name) for field in fields(LIGHT)}
    for section in sections:
        assert section.sentences
        assert section.figures
        for figure in section.figures:
            found = set(colours(figure.drawing.to_plotly_json()))
            assert found
            assert found <= allowed, figure.key
            assert figure.caption.endswith(".")
            assert all(len(row) == len(figure.table.head) for row in figure.table.rows)


def test_the_roof_is_drawn_to_scale(panels: PanelDecision, job: Job) -> None:
    for us_units, unit in ((False, 1.0), (True, 0.3048)):
        settings = with_values(job.settings, {"units": "us" if us_units else "metric"})
        section = decision_sections.panels_section(with_values(job, {"settings": settings}), panels)
        drawing = section.figures[1].drawing
        assert drawing.layout.yaxis.scaleanchor == "x"
        assert drawing.layout.yaxis.scaleratio == 1
        widths = [round((shape.x1 - shape.x0) * unit, 3) for shape in drawing.layout.shapes]
        assert widths[0] == 2.6
        assert widths.count(1.0) + widths.count(0.5) == panels.fit.most


def test_the_calendar_has_a_cell_for_every_start(year: Calendar) -> None:
    (figure,) = decision_sections.calendar_section(year).figures
    field = figure.drawing.data[0]
    assert len(field.z) == len(year.counts)
    assert {len(row) for row in field.z} == {52}
    levels = {"short": 0, "tight": 1, "ample": 2}
    assert field.z[1][30] == levels[year.verdict(30, 1)]


def test_a_page_holds_its_section_and_escapes_it(job: Job, sections: tuple[Section, ...]) -> None:
    loose = replace(sections[0], heading=HOSTILE, sentences=(HOSTILE,))
    page = decision_sections.render_decision(
        with_values(job, {"title": HOSTILE, "customer": HOSTILE}),
        (loose, *sections[1:]),
        written=WRITTEN,
        version="9.8.7",
    )
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert" in page
    assert "{{ 7 * 7 }}" in page
    for section in sections:
        assert f'id="{section.key}"' in page
        for figure in section.figures:
            assert f'data-figure="{figure.key}"' in page
    data = json.loads(
        re.search(r'<script type="application/json" id="decisions">(.*?)</script>', page, re.S)[1]  # type: ignore[index]
    )
    assert set(data["figures"]) == {f.key for s in sections for f in s.figures}


def test_names_in_charts_are_text(levers: LeverDecision) -> None:
    effect = replace(levers.effects[0], names=("<b>bold</b>",))
    section = decision_sections.levers_section(replace(levers, effects=(effect,)))
    assert section.figures[0].drawing.layout.yaxis.ticktext == ("&lt;b&gt;bold&lt;/b&gt;",)


def test_decisions_stand_in_the_clients_report_or_are_absent(
    small_result: Result, sections: tuple[Section, ...]
) -> None:
    without = render_page(small_result, written=WRITTEN, version="1")
    assert 'id="decisions"' not in without
    assert 'id="panels"' not in without
    both = render_page(small_result, written=WRITTEN, version="1", sections=sections)
    for section in sections:
        assert f'<a href="#{section.key}">{section.heading}</a>' in both
    assert both.index('id="living"') < both.index('id="how"')
    assert len(both) < 8_000_000


def test_units_stay_with_their_numbers() -> None:
    assert unbroken("97.5 % of 20 W, 3 Wh; 4 panels") == (
        "97.5\N{NO-BREAK SPACE}% of 20\N{NO-BREAK SPACE}W, 3\N{NO-BREAK SPACE}Wh; 4 panels"
    )
