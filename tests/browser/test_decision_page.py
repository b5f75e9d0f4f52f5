"""The pages of decisions in a browser: every chart drawn, nothing asked of the network, a phone's
width kept."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

import sim
from sim.job.model.changes import with_values
from sim.ledger.results import Result

Visit = Callable[..., Any]
OVERFLOW = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"


DRAWS = 6


@pytest.fixture(scope="session")
def decided(demo: Result, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    """Addresses of a page of decisions and of a client's report with the same sections."""
    from sim.report.page import decision_sections
    from sim.report.page.client import render_page

    settings = with_values(demo.job.settings, {"draws": DRAWS})
    job = with_values(demo.job, {"settings": settings})
    sections = (
        decision_sections.panels_section(job, sim.decide.panels(job)),
        decision_sections.levers_section(job, sim.decide.levers(job)),
        decision_sections.living_section(sim.decide.living_rules(job)),
    )
    folder: Path = tmp_path_factory.mktemp("decisions")
    written = {"written": dt.date(2027, 3, 1), "version": "1.2.3"}
    alone, client = folder / "alone.html", folder / "client.html"
    alone.write_text(decision_sections.render_decision(job, sections, **written), "utf-8")  # type: ignore[arg-type]
    client.write_text(render_page(demo, sections=sections, **written), "utf-8")  # type: ignore[arg-type]
    return alone.as_uri(), client.as_uri()


@pytest.mark.parametrize("width", [320, 1280])
@pytest.mark.parametrize("which", [0, 1], ids=["alone", "client"])
def test_everything_is_drawn_without_a_script(
    visit: Visit, decided: tuple[str, str], which: int, width: int
) -> None:
    page = visit(decided[which], width=width, java_script_enabled=False)
    plots = page.locator(".plot[data-figure]")
    assert plots.count() >= 3
    for plot in plots.all():
        box = plot.locator(".drawn").bounding_box()
        assert box["width"] > 200
        assert box["height"] > 60
        assert plot.locator(".drawn path, .drawn rect").count() > 2
    for bar in page.locator("#panels .odds, #levers .odds").all():
        assert bar.bounding_box()["width"] > 80


@pytest.mark.parametrize("width", [320, 390, 1280])
def test_ledgers_scroll_inside_themselves(
    visit: Visit, decided: tuple[str, str], width: int
) -> None:
    page = visit(decided[0], width=width)
    assert page.evaluate(OVERFLOW) <= 0
    for part in page.locator(".scroll:visible").all():
        part.evaluate("(e) => { e.scrollLeft = 1000; }")
        first = part.locator("tbody th").first.bounding_box()
        # the first column stays where it can be read
        assert first["x"] >= part.bounding_box()["x"] - 1


def test_a_bar_is_as_long_as_its_share(visit: Visit, decided: tuple[str, str]) -> None:
    page = visit(decided[0])
    cells = page.locator("#panels td:has(.odds)")
    assert cells.count() >= 4
    for cell in cells.all():
        counts = re.findall(r"\d+", cell.inner_text().split("low")[0])
        widths = [part.bounding_box()["width"] for part in cell.locator(".odds, .odds rect").all()]
        # The pale bar of the essentials, then the dark one of everything: the last count.
        assert widths[1] / widths[0] == pytest.approx(int(counts[0]) / DRAWS, abs=0.01)
        assert widths[2] / widths[0] <= min(map(int, counts)) / DRAWS + 0.01


def test_a_phone_shows_the_bars_of_both_trips(visit: Visit, decided: tuple[str, str]) -> None:
    page = visit(decided[0], width=390)
    for key in ("panels", "levers"):
        bars = page.locator(f"#{key} tbody tr .odds")
        rights = bars.evaluate_all("(all) => all.map((e) => e.getBoundingClientRect().right)")
        assert len(rights) >= 8
        assert max(rights) <= 390
    # the price is under the words of its row, and not beside them
    head = page.locator("#panels tbody th", has_text="as planned")
    assert "USD" in head.inner_text()
    assert not page.locator("#panels td.wide").first.is_visible()


def test_a_phone_shows_both_trips_whole_where_counts_are_long(
    visit: Visit, decided: tuple[str, str]
) -> None:
    page = visit(decided[0], width=390)
    # As long as counts of 200 get, with the longest word on a trip.
    page.locator("#levers td:has(.odds)").evaluate_all(
        """(cells) => cells.forEach((cell) => {
          cell.childNodes.forEach((node) => {
            if (node.nodeType === Node.TEXT_NODE && node.data.trim())
              node.data = "short 167/171/143 ";
          });
          cell.querySelector("small").textContent = "low 41\u00a0%, worse than planned";
        })"""
    )
    scroll = page.locator("#levers .scroll").first
    assert scroll.evaluate("(e) => e.scrollWidth - e.clientWidth") <= 1


def test_tables_stand_behind_the_charts(visit: Visit, decided: tuple[str, str]) -> None:
    page = visit(decided[0])
    page.locator("#panels .decided-charts summary").first.click()
    assert "From the front" in page.locator("#panels .decided-charts details table").inner_text()


def test_the_roof_is_to_scale_on_the_screen(visit: Visit, decided: tuple[str, str]) -> None:
    page = visit(decided[0])
    roof = page.locator('.plot[data-figure="roof"] .drawn > rect').first
    box = roof.bounding_box()
    # 13.5 by 5.4 feet; lines have a width.
    assert box["width"] / box["height"] == pytest.approx(13.5 / 5.4, rel=0.03)


def test_names_on_the_roof_keep_apart_on_a_phone(visit: Visit, decided: tuple[str, str]) -> None:
    page = visit(decided[1], width=390)
    roof = page.locator('.plot[data-figure="roof"]')
    roof.scroll_into_view_if_needed()
    names = roof.locator("text.rim")
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
