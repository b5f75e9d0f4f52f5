"""Quote and sheet for the van in a browser: so many sheets in print, a phone's width kept."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import sim
from sim.decide.designs import DesignDecision
from sim.decide.handover import HandoverSheet
from sim.job.model.changes import with_values
from sim.job.model.designs import DesignEntry, PriceItem
from sim.job.model.handover import Handover, Service
from sim.job.model.job import Job, Prices
from sim.job.model.power import Generator
from sim.ledger.results import Result
from sim.report.page.handover_page import render_handover
from sim.report.page.quote_page import render_quote

Visit = Callable[..., Any]
OVERFLOW = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"
WRITTEN = dt.date(2027, 3, 1)
# As long as a note may be.
NOTE = "A note of the builder about where this thing is, as long as such a note may be. "[:60] * 2


@pytest.fixture(scope="session")
def few(demo: Result) -> Job:
    """The demo's job in few draws."""
    return with_values(demo.job, {"settings": with_values(demo.job.settings, {"draws": 6})})


def fullest(job: Job) -> Job:
    """A job with a line for everything that a sheet may hold."""
    services = tuple(
        Service(what=NOTE, due=dt.date(2031, 9, 1), every_months=18) for _ in range(10)
    )
    texts = {key: NOTE for key in Handover.model_fields if key not in ("winter", "services")}
    generator = Generator(watts=1600, charger_amps=30, tank_l=4, start_below_soc=0.2)
    return with_values(
        job,
        {
            "handover": Handover(**texts, winter=(NOTE,) * 6, services=services),  # type: ignore[arg-type]
            "generator": generator,
        },
    )


@pytest.fixture(scope="session")
def sheets(few: Job, tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """Addresses of the sheet for the van: the demo's, a bare one, the fullest."""
    bare = with_values(
        few, {"water": None, "propane": None, "shore": (), "appliances": few.appliances[:2]}
    )
    folder: Path = tmp_path_factory.mktemp("sheets")
    made = {}
    for name, job in (("demo", few), ("bare", bare), ("fullest", fullest(few))):
        found: HandoverSheet = sim.decide.handover(job, jobs=2)
        path = folder / f"{name}.html"
        path.write_text(render_handover(found, written=WRITTEN, version="1.2.3"), "utf-8")
        made[name] = path.as_uri()
    return made


@pytest.fixture(scope="session")
def quotes(few: Job, tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[str, int]]:
    """Addresses of quotes, each with the number of its designs."""
    items = tuple(
        PriceItem(name=NOTE[:60] + str(n), price=99.99 * n, count=n) for n in range(1, 12)
    )
    prices = Prices(panel=190, battery=850, dcdc=320, tax_pct=8.25, items=items)
    entries = tuple(DesignEntry(name=f"Design {n}", set={"battery.count": n}) for n in range(1, 5))
    many = tuple(
        with_values(trip, {"name": f"{trip.name} {n}"}) for n in range(4) for trip in few.trips
    )
    heavy = with_values(
        fullest(few), {"prices": prices, "designs": entries, "trips": many, "handover": None}
    )
    folder: Path = tmp_path_factory.mktemp("quotes")
    made = {}
    for name, job in (("demo", few), ("heavy", heavy)):
        found: DesignDecision = sim.decide.designs(job, jobs=2)
        path = folder / f"{name}.html"
        page = render_quote(
            found, written=WRITTEN, version="1.2.3", valid_until=dt.date(2027, 4, 1)
        )
        path.write_text(page, "utf-8")
        made[name] = path.as_uri(), len(found.options)
    return made


def pages_of(page: Any, paper: str) -> int:
    printed = page.pdf(format=paper, prefer_css_page_size=False)
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", printed))


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("which", ["demo", "bare", "fullest"])
def test_the_sheet_is_two_sheets_of_paper(
    visit: Visit, sheets: dict[str, str], which: str, paper: str
) -> None:
    assert pages_of(visit(sheets[which]), paper) == 2


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("which", ["demo", "heavy"])
def test_each_design_is_one_sheet_of_paper(
    visit: Visit, quotes: dict[str, tuple[str, int]], which: str, paper: str
) -> None:
    address, designs = quotes[which]
    assert pages_of(visit(address), paper) == designs


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [320, 390, 1280])
def test_nothing_is_wider_than_the_screen(
    visit: Visit,
    sheets: dict[str, str],
    quotes: dict[str, tuple[str, int]],
    width: int,
    scheme: str,
) -> None:
    for address in (*sheets.values(), *(address for address, _ in quotes.values())):
        page = visit(address, width=width, color_scheme=scheme)
        assert page.evaluate(OVERFLOW) <= 0, address
        back, ink = page.evaluate(
            "() => [getComputedStyle(document.documentElement).backgroundColor, "
            "getComputedStyle(document.body).color].map((c) => parseInt(c.match(/\\d+/)[0]))"
        )
        assert (back < ink) == (scheme == "dark")


def test_the_table_of_the_charge_fits_a_phone(visit: Visit, sheets: dict[str, str]) -> None:
    page = visit(sheets["demo"], width=390)
    part = page.locator("#charge .scroll")
    assert part.evaluate("(e) => e.scrollWidth - e.clientWidth") <= 0


def test_the_links_of_the_sheet_lead_to_its_parts(visit: Visit, sheets: dict[str, str]) -> None:
    page = visit(sheets["fullest"], width=390, height=800, reduced_motion="reduce")
    for link in page.locator("nav a").all():
        link.click()
        part = page.locator(link.get_attribute("href"))
        box = part.bounding_box()
        assert -1 <= box["y"] < 800


def test_every_line_of_a_quote_is_read_on_a_phone(
    visit: Visit, quotes: dict[str, tuple[str, int]]
) -> None:
    page = visit(quotes["heavy"][0], width=320)
    rows = page.locator("#design-1 .lines tbody tr")
    assert rows.count() > 15
    for row in rows.all():
        assert row.locator("td").last.is_visible()
        box = row.bounding_box()
        assert box["x"] + box["width"] <= 320


LONG = "W" * 200
EVIL = "</script><script>window.hacked=1</script><img src=x onerror=window.hacked=1> \u202eevil"


@pytest.mark.parametrize("text", [LONG, EVIL], ids=["long", "evil"])
def test_no_text_of_a_builder_breaks_a_paper(
    visit: Visit, few: Job, tmp_path: Path, text: str
) -> None:
    note = text[:120]
    notes = Handover(main_switch=note, contact=note, winter=(note,), services=(Service(what=note),))
    prices = Prices(currency="USD", items=(PriceItem(name=text, price=1e6),))
    entries = (DesignEntry(name=text), DesignEntry(name="B"))
    trip = with_values(few.trips[1], {"name": text})
    changes = {
        "title": text, "customer": text, "handover": notes, "prices": prices, "designs": entries,
        "trips": (trip,),
    }  # fmt: skip
    job = with_values(few, changes)
    written = {"written": WRITTEN, "version": "1.2.3"}
    quote, sheet = tmp_path / "quote.html", tmp_path / "sheet.html"
    quote.write_text(render_quote(sim.decide.designs(job), **written), "utf-8")  # type: ignore[arg-type]
    sheet.write_text(render_handover(sim.decide.handover(job), **written), "utf-8")  # type: ignore[arg-type]
    for path, sheets in ((quote, 2), (sheet, 2)):
        page = visit(path.as_uri(), width=320)
        assert page.evaluate("window.hacked") is None
        assert page.evaluate(OVERFLOW) <= 0, path
        assert page.locator("main img").count() == 0
        assert pages_of(page, "A4") == sheets


def test_a_trips_name_stays_beside_its_moon(
    visit: Visit, quotes: dict[str, tuple[str, int]]
) -> None:
    """Its second line begins under its first, not under the moon."""
    page = visit(quotes["heavy"][0], width=320)
    named = page.locator(".carried .named").first
    moon, name = named.locator(".verdict").bounding_box(), named.locator("> :last-child")
    lines = name.evaluate(
        "(part) => { const r = document.createRange(); r.selectNodeContents(part);"
        " return [...r.getClientRects()].map((line) => line.left); }"
    )
    assert len(lines) > 1
    assert min(lines) > moon["x"] + moon["width"]
