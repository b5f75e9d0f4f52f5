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
from sim.decide.levers.effect import LeverDecision
from sim.decide.living_rules import LivingRules
from sim.decide.panels.counts import PanelDecision
from sim.job.model.changes import with_values
from sim.job.model.job import Job, LeverEntry, Prices
from sim.job.model.roof import Obstacle, Roof
from sim.ledger.results import Result
from sim.report.charts.palette import LIGHT
from sim.report.data import decision_json
from sim.report.data.export import json_text
from sim.report.page import decision_sections, ledgers
from sim.report.page.client import render_page
from sim.report.page.sections import Section, unbroken
from sim.report.terminal import decision_text
from sim.report.words.numbers import GAP, month_name
from sim.report.words.panel_words import panel_sentences

WRITTEN = dt.date(2027, 3, 1)
# Percent, but not of a charge; points of a share; what may be chance.
EXPERT_SIGNS = (" % (", " points", "~", "MERRA", "deviation", "dark hour")
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
        decision_sections.levers_section(job, levers),
        decision_sections.calendar_section(job, year),
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
            for group in ("essentials", "comforts"):
                assert 0.0 <= trip["everything"]["share"] <= trip[group]["share"] <= 1.0
                assert (trip[group]["missing_wh"] > 0.0) >= (
                    {"group": group, "kind": "electricity"}
                    in [{key: x[key] for key in ("group", "kind")} for x in trip["lacks"]]
                )
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
    for week, row in zip(data["weeks"], year.answers, strict=True):
        assert week["everything_share"] == [x.all_held / x.draws for x in row]
        assert week["essentials_share"] == [x.essentials_held / x.draws for x in row]
        assert week["comforts_share"] == [x.comforts_held / x.draws for x in row]
    assert any(x.all_held for row in year.answers for x in row)
    living = json.loads(json_text(decision_json.living_json(rules)))
    assert [len(stay["soc_at_sunset"]) for stay in living["stays"]] == [12] * len(rules.stays)
    assert living["stays"][0]["nights"] == [1, 2, 3]


# --- terminal -----------------------------------------------------------------------------------


def test_panels_in_the_terminal(panels: PanelDecision) -> None:
    text = said(decision_text.print_panels, panels, us_units=False)
    for option in panels.options:
        # Weight stands beside price.
        assert re.search(rf"USD {option.count * 150:,} +{option.count * 8} kg", text)
        assert f"{option.trips[0].verdict} {option.trips[0].essentials_held}/" in text
    assert "2 (job)" in text
    for sentence in panel_sentences(panels):
        assert sentence.replace(GAP, " ") in " ".join(text.split())
    full = said(decision_text.print_panels, panels, us_units=False, full=True)
    assert f"{panels.options[-1].controller_amps:g} A" in full
    pounds = said(decision_text.print_panels, panels, us_units=True)
    assert "35 lb" in pounds  # 16 kg


def test_levers_in_the_terminal(job: Job, levers: LeverDecision) -> None:
    text = " ".join(said(decision_text.print_levers, levers, us_units=False).split())
    for sentence in decision_sections.levers_section(job, levers).sentences:
        assert sentence.replace(GAP, " ") in text
    for sign in EXPERT_SIGNS:
        assert sign not in text
    full = " ".join(said(decision_text.print_levers, levers, us_units=True, full=True).split())
    # of the profile; what nobody weighed has a dash, not a nought
    assert "USD 400 26 lb" in full
    assert "Two batteries USD 500 –" in full
    assert "Not tried: " in full
    assert "By effect per money" in full


def test_without_full_no_answer_speaks_to_experts(
    panels: PanelDecision, levers: LeverDecision, year: Calendar
) -> None:
    """Counts of simulated trips: no share in percent with its interval, no points, no tilde."""
    # Many draws: of few even experts get counts.
    many = [replace(answer, draws=200, held=186) for answer in panels.options[0].trips]
    options = tuple(replace(option, trips=tuple(many)) for option in panels.options)
    base = tuple(many)
    printed = (
        said(decision_text.print_panels, replace(panels, options=options), us_units=True),
        said(decision_text.print_levers, replace(levers, base=base), us_units=True),
        said(decision_text.print_calendar, year),
    )
    for text in printed:
        for sign in EXPERT_SIGNS:
            assert sign not in text
    experts = said(decision_text.print_levers, replace(levers, base=base), us_units=True, full=True)
    assert "93 % (" in experts


@pytest.mark.parametrize("full", [False, True])
def test_answers_fit_eighty_columns(
    panels: PanelDecision, levers: LeverDecision, year: Calendar, full: bool
) -> None:
    for print_it, found, more in (
        (decision_text.print_panels, panels, {"us_units": True}),
        (decision_text.print_levers, levers, {"us_units": True}),
        (decision_text.print_calendar, year, {}),
    ):
        out = StringIO()
        print_it(found, Console(file=out, width=80, highlight=False), full=full, **more)
        lines = out.getvalue().splitlines()
        assert max(map(len, lines)) <= 80
        # The title, then the answer in a sentence.
        assert len(lines[1].split()) > 4


def test_calendar_in_the_terminal(year: Calendar) -> None:
    text = said(decision_text.print_calendar, year)
    for month in year.months:
        worst = month.worst
        counts = f"{worst.essentials_held} +{worst.comforts_held} +{worst.all_held}"
        assert re.search(rf"{month_name(month.month)} +{month.verdict} +{counts}", text)
    full = said(decision_text.print_calendar, year, full=True)
    for month in year.months:
        assert re.search(
            rf"{month_name(month.month)} +{' +'.join(map(str, year.month_held(month.month)))}", full
        )


def test_no_markup_of_a_file_reaches_the_terminal(
    panels: PanelDecision, levers: LeverDecision
) -> None:
    text = said(decision_text.print_panels, replace(panels, title=HOSTILE), us_units=False)
    assert "[bold]" in text
    assert "\u202e" not in text
    effect = replace(levers.effects[0], names=(HOSTILE,))
    assert "[bold]" in said(
        decision_text.print_levers, replace(levers, effects=(effect,)), us_units=True
    )


def test_many_trips_share_a_column(levers: LeverDecision) -> None:
    many = replace(
        levers,
        base=levers.base * 3,
        effects=tuple(replace(effect, trips=effect.trips * 3) for effect in levers.effects),
    )
    text = " ".join(said(decision_text.print_levers, many, us_units=True).split())
    assert "Worst trip" in text
    assert "in how many hold: essentials/comforts" in text


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
        assert section.figures or section.ledgers
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
        drawing = section.figures[0].drawing
        assert drawing.layout.yaxis.scaleanchor == "x"
        # 2.6 m by 1.6 m, and the same margin all around
        assert section.figures[0].frame.startswith(f"--ratio:{2.756 / 1.756:.4f}")
        widths = [round((shape.x1 - shape.x0) * unit, 3) for shape in drawing.layout.shapes]
        assert widths[0] == 2.6
        assert widths.count(1.0) + widths.count(0.5) == panels.fit.most


def test_the_panels_are_a_ledger_and_the_choice_is_underlined(
    job: Job, panels: PanelDecision
) -> None:
    (ledger,) = decision_sections.panels_section(job, panels).ledgers
    assert len(ledger.rows) == len(panels.options)
    for row, option in zip(ledger.rows, panels.options, strict=True):
        for cell, trip in zip(row[3:], option.trips, strict=True):
            text = f"{trip.verdict} {trip.essentials_held}/{trip.comforts_held}"
            assert cell.text.startswith(text)
            assert cell.share == trip.all_held / trip.draws
            assert cell.essentials == trip.essentials_held / trip.draws >= cell.share
    counts = [option.count for option in panels.options]
    for recommended in (None, *counts[:2]):
        found = ledgers.panels_ledger(
            replace(panels, choice=replace(panels.choice, recommended=recommended)),
            (0.95, 0.8),
            False,
        )
        assert found.chosen == (None if recommended is None else counts.index(recommended))


def test_the_cheapest_change_that_is_enough_is_underlined(levers: LeverDecision) -> None:
    base = levers.effects[0]
    held = tuple(replace(trip, answer=replace(trip.answer, verdict="ample")) for trip in base.trips)
    prices = ((90.0, held), (20.0, base.trips[:0] or held), (5.0, ()), (None, held))
    effects = tuple(
        replace(
            base,
            names=(str(price),),
            price=price,
            trips=trips,
            changes_nothing=False,
            unpriced=0,
            known_price=0.0,
        )
        for price, trips in prices
    )
    short = tuple(replace(answer, verdict="short") for answer in levers.base)
    levers = replace(levers, base=short, effects=effects)
    found = ledgers.levers_ledger(levers, (0.95, 0.8), False)
    # one that cannot be done has no row
    assert [row[0] for row in found.rows] == ["90.0", "20.0", "None"]
    assert found.chosen == 1
    assert found.head[:3] == ("Change", "Price", "Weight")
    # What is enough is named whatever its price; what is not, never.
    unpriced = replace(levers, effects=effects[3:])
    assert ledgers.levers_ledger(unpriced, (0.95, 0.8), False).chosen == 0
    none = replace(levers, effects=effects[2:3])
    assert ledgers.levers_ledger(none, (0.95, 0.8), False).chosen is None


def test_the_year_has_a_square_for_every_start_and_its_own_is_marked(year: Calendar) -> None:
    found = ledgers.calendar_ledger(year, (7, 15))
    assert len(found.rows) == 12
    squares = [row[1] for row in found.rows]
    assert sum(len(weeks.verdicts) for weeks in squares) == 52
    column = year.counts.index(year.job_count)
    shown = [verdict for weeks in squares for verdict in weeks.verdicts]
    order = sorted(range(52), key=lambda week: year.departs[week].month)
    assert shown == [year.answers[week][column].verdict for week in order]
    assert [number for number, weeks in enumerate(squares, 1) if weeks.own is not None] == [7]
    for row, month in zip(found.rows, year.months, strict=True):
        assert row[2].share == month.worst.all_held / month.worst.draws
        assert row[2].text.startswith(f"{month.verdict} {month.worst.essentials_held}/")
        more = f"over {year.counts[-1]}"
        assert row[3] == (more if month.panels is None else str(month.panels))


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
    assert "<script" not in page
    # What experts ask is folded away.
    folded = page.split('<details class="folded">')[1:]
    notes = [note for section in sections for note in section.notes]
    assert notes
    assert all(part.lstrip().startswith("<summary>How we know</summary>") for part in folded)
    assert len(folded) == sum(bool(section.notes) for section in sections)


def test_names_in_ledgers_are_text(job: Job, levers: LeverDecision) -> None:
    effect = replace(levers.effects[0], names=("<b>bold</b>",))
    section = decision_sections.levers_section(job, replace(levers, effects=(effect,)))
    page = decision_sections.render_decision(job, (section,), written=WRITTEN, version="1")
    assert "&lt;b&gt;bold&lt;/b&gt;" in page
    assert "<b>bold" not in page


def test_decisions_stand_in_the_clients_report_or_are_absent(
    small_result: Result, sections: tuple[Section, ...]
) -> None:
    without = render_page(small_result, written=WRITTEN, version="1")
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
