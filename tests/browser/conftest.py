"""A headless browser and the demo's page in it.

Where no chromium or no playwright is, these tests skip and say so; with
NIGHTLEDGER_NEEDS_BROWSER=1 they fail instead.
"""

from __future__ import annotations

import datetime as dt
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

import sim
from sim.decide.own_cell import as_answered
from sim.decide.what_if import Grid
from sim.ledger.results import Result
from sim.report.page.try_it import says
from sim.report.words.numbers import Manner
from sim.resources import profiles_dir

NAMES = ("chromium", "chromium-browser", "google-chrome")
PATIENCE_MS = 15_000
# A page of ours needs no network; a browser started for a test must not use it either.
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]


def missing(what: str) -> None:
    """Skip the test, or fail it where a browser is promised."""
    if os.environ.get("NIGHTLEDGER_NEEDS_BROWSER") == "1":
        pytest.fail(f"{what}, but NIGHTLEDGER_NEEDS_BROWSER=1 promises a browser")
    pytest.skip(f"{what}: the page was not looked at in a browser")


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """Debian's chromium, headless."""
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        missing("playwright is not installed (pip install 'nightledger[dev]')")
    path = next(filter(None, map(shutil.which, NAMES)), None)
    if path is None:
        missing("no chromium on this machine (apt-get install chromium)")
    with sync_playwright() as play:
        started = play.chromium.launch(executable_path=path, args=FLAGS)
        yield started
        started.close()


@pytest.fixture(scope="session")
def demo() -> Result:
    """The demo job, simulated."""
    return sim.simulate(sim.load_job(profiles_dir() / "jobs" / "demo.toml"))


@pytest.fixture(scope="session")
def save(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., str]:
    """Writes a result's page into a file and gives its address."""
    from sim.report.page.client import render_page

    def write(result: Result, grid: Grid | None = None) -> str:
        path: Path = tmp_path_factory.mktemp("page") / "report.html"
        page = render_page(result, written=dt.date(2027, 3, 1), version="1.2.3", grid=grid)
        path.write_text(page, "utf-8")
        return path.as_uri()

    return write


@pytest.fixture(scope="session")
def demo_grid(demo: Result) -> Grid:
    """What the demo's reader may try, its own build as the report answers it."""
    words = says(Manner(demo.job.settings.units))
    return as_answered(sim.decide.grid(demo.job, words), demo, words)


@pytest.fixture(scope="session")
def demo_address(demo: Result, demo_grid: Grid, save: Callable[..., str]) -> str:
    return save(demo, demo_grid)


@pytest.fixture
def visit(browser: Any) -> Iterator[Callable[..., Any]]:
    """Opens a page offline; fails the test on any console error, script error or request."""
    contexts: list[Any] = []
    troubles: list[str] = []

    def note(message: Any) -> None:
        if message.type in ("error", "warning"):
            troubles.append(message.text)

    def asked(request: Any) -> None:
        if not request.url.startswith(("file:", "data:", "blob:")):
            troubles.append(f"asked for {request.url}")

    def open_page(address: str, width: int = 1280, height: int = 900, **settings: Any) -> Any:
        context = browser.new_context(
            viewport={"width": width, "height": height}, offline=True, **settings
        )
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(PATIENCE_MS)
        page.on("console", note)
        page.on("pageerror", lambda error: troubles.append(str(error)))
        page.on("request", asked)
        page.goto(address)
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert troubles == []
