"""The pages of decisions in a browser: every chart drawn, nothing asked of the network, a phone's
width kept."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

import sim
from sim.job.model.changes import with_values
from sim.ledger.results import Result

Visit = Callable[..., Any]
EMPTY = "document.querySelectorAll('.plot[data-figure]:not(:has(.main-svg))').length"
OVERFLOW = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"


@pytest.fixture(scope="session")
def decided(demo: Result, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    """Addresses of a page of decisions and of a client's report with the same sections."""
    from sim.report.page import decision_sections
    from sim.report.page.client import render_page

    settings = with_values(demo.job.settings, {"draws": 6})
    job = with_values(demo.job, {"settings": settings})
    sections = (
        decision_sections.panels_section(job, sim.decide.panels(job)),
        decision_sections.levers_section(sim.decide.levers(job)),
        decision_sections.living_section(sim.decide.living_rules(job)),
    )
    folder: Path = tmp_path_factory.mktemp("decisions")
    written = {"written": dt.date(2027, 3, 1), "version": "1.2.3"}
    alone, client = folder / "alone.html", folder / "client.html"
    alone.write_text(decision_sections.render_decision(job, sections, **written), "utf-8")  # type: ignore[arg-type]
    client.write_text(render_page(demo, sections=sections, **written), "utf-8")  # type: ignore[arg-type]
    return alone.as_uri(), client.as_uri()


@pytest.mark.parametrize("width", [360, 1280])
@pytest.mark.parametrize("which", [0, 1], ids=["alone", "client"])
def test_every_chart_is_drawn(
    visit: Visit, decided: tuple[str, str], which: int, width: int
) -> None:
    page = visit(decided[which], width=width)
    plots = page.locator(".plot[data-figure]")
    assert plots.count() >= 5
    for number in range(plots.count()):
        plots.nth(number).scroll_into_view_if_needed()
        plots.nth(number).locator(".main-svg").first.wait_for(state="attached")
    assert page.evaluate(OVERFLOW) <= 0


def test_what_was_never_near_is_drawn_before_print(visit: Visit, decided: tuple[str, str]) -> None:
    page = visit(decided[1])
    assert page.evaluate(EMPTY) > 0
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert page.evaluate(EMPTY) == 0


def test_tables_stand_behind_the_charts(visit: Visit, decided: tuple[str, str]) -> None:
    page = visit(decided[0])
    page.locator("#panels summary").first.click()
    assert "lowest" in page.locator("#panels table").first.inner_text()


def test_the_roof_is_to_scale_on_the_screen(visit: Visit, decided: tuple[str, str]) -> None:
    page = visit(decided[0])
    roof = page.locator('.plot[data-figure="roof"] .shapelayer path').first
    roof.wait_for(state="attached")
    box = roof.bounding_box()
    # 13.5 by 5.4 feet; lines have a width.
    assert box["width"] / box["height"] == pytest.approx(13.5 / 5.4, rel=0.03)


def test_names_on_the_roof_keep_apart_on_a_phone(visit: Visit, decided: tuple[str, str]) -> None:
    page = visit(decided[1], width=390)
    roof = page.locator('.plot[data-figure="roof"]')
    roof.scroll_into_view_if_needed()
    names = roof.locator(".annotation-text")
    names.first.wait_for(state="attached")
    boxes = sorted(
        (
            (box["x"], box["x"] + box["width"])
            for box in (name.bounding_box() for name in names.all())
        ),
    )
    assert len(boxes) >= 4
    for (_, left_ends), (right_begins, _) in pairwise(boxes):
        assert left_ends <= right_begins
    # no more height than the drawing needs
    assert roof.bounding_box()["height"] < 220


def test_names_of_levers_keep_apart_in_print(visit: Visit, decided: tuple[str, str]) -> None:
    page = visit(decided[1])
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    names = page.locator('.plot[data-figure="levers"] .ytick text')
    boxes = [name.bounding_box() for name in names.all()]
    assert len(boxes) >= 8
    rows = sorted((box["y"], box["y"] + box["height"]) for box in boxes)
    # a line's box has some air above and below its letters
    assert all(ends <= begins + 2 for (_, ends), (begins, _) in pairwise(rows))
