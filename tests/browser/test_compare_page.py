"""The page of a comparison in a real browser: on a phone, by night, in print."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import sim
from sim import decide
from sim.decide.compare import state_of
from sim.job.model.changes import with_values
from sim.ledger.results import Result
from sim.report.page.compare_page import render_comparison


@pytest.fixture(scope="module")
def address(demo: Result, tmp_path_factory: pytest.TempPathFactory) -> str:
    (group,) = demo.job.panels
    job = with_values(demo.job, {"panels": (with_values(group, {"count": 4}),)})
    states = (state_of(demo, "1"), state_of(sim.simulate(job), "1"))
    path: Path = tmp_path_factory.mktemp("compare") / "page.html"
    page = render_comparison(decide.compare(*states), written=dt.date(2027, 3, 1), version="1.2.3")
    path.write_text(page, "utf-8")
    return path.as_uri()


@pytest.mark.parametrize("width", [320, 390, 1280])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_fits_and_its_curves_show(
    visit: Callable[..., Any], address: str, width: int, scheme: str
) -> None:
    page = visit(address, width=width, color_scheme=scheme)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    charts = page.locator("svg.drawn")
    assert charts.count() == 2
    for index in range(2):
        # Both middle lines have ink of their own, and reach over the chart.
        for mark in (".s-charge", ".s-ink[stroke-dasharray]"):
            line = charts.nth(index).locator(mark).first
            box = line.bounding_box()
            assert box is not None
            assert box["width"] > 0.5 * charts.nth(index).bounding_box()["width"]
    names = charts.first.locator("text").all_text_contents()
    assert {"now", "before"} <= set(names)


def test_the_table_opens_by_key_and_a_sheet_holds_a_chart(
    visit: Callable[..., Any], address: str
) -> None:
    page = visit(address, width=390)
    page.locator("summary").first.focus()
    page.keyboard.press("Enter")
    assert page.locator("details[open] tbody tr").count() > 10
    page.emulate_media(media="print")
    assert page.locator("svg.drawn").first.is_visible()
