"""The client's report in a real browser: it opens offline, is read, touched, printed."""

from __future__ import annotations

import datetime as dt
import json
import os
import re
import shutil
import subprocess
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

import numpy as np
import pytest

import sim
from sim.job.model.changes import with_values
from sim.ledger.answer import answer_of
from sim.ledger.results import Result
from sim.ledger.verdict import bad_draw
from sim.report.words.answer_words import held_words

Visit = Callable[..., Any]
WIDTHS = (320, 360, 390, 768, 1024, 1280, 1600)
# A4 and Letter in points.
PAPER = {"A4": (595, 842), "Letter": (612, 792)}
HOSTILE = (
    "</script><script>window.hacked=1</script>",
    "\"'><img src=x onerror=window.hacked=1>",
    "<b>bold</b> &amp; {{ 7 * 7 }} <a href='http://example.org'>x</a>",
    "\u202eevil \u05e9\u05dc\u05d5\u05dd \u0645\u0631\u062d\u0628\u0627 \u2067x",
    "\U0001f690\U0001f31e ';}</style><!-- \\3c",
    "W" * 200,
)
# What the page is promised to weigh.
DEMO_BYTES, ONE_CHART_BYTES = 2_500_000, 1_900_000
CHART = "figure[data-chart='1']"


def wake(page: Any, chart: str = CHART) -> Any:
    """Clicks a chart, so that the chart library draws it."""
    figure = page.locator(chart)
    figure.locator(".plot").click(position={"x": 200, "y": 120})
    figure.locator(".live .main-svg").first.wait_for(state="attached")
    return figure


def until(page: Any, expression: str) -> None:
    """Waits for something to be true; the page's policy forbids what playwright would do."""
    for _ in range(100):
        if page.evaluate(expression):
            return
        page.wait_for_timeout(50)
    pytest.fail(f"never true: {expression}")


def words_in(text: str) -> str:
    """A text with all spaces alike."""
    return " ".join(text.split())


def level_at(page: Any, trace: int) -> list[float]:
    """Charge along a line as it is drawn, from the grid lines of 0 and 100 %."""
    found = page.evaluate(
        """(trace) => { const drawn = document.querySelector("figure[data-chart='1'] .drawn");
        const grid = [...drawn.querySelectorAll('line.s-rule')].slice(0, 5);
        return [grid.map((l) => parseFloat(l.getAttribute('y1'))),
          drawn.querySelector(`[data-trace='${trace}']`).getAttribute('d')]; }""",
        trace,
    )
    heights, path = found
    foot, top = max(heights), min(heights)
    steps = [int(y) for _, y in re.findall(r"(-?\d+) (-?\d+)", path)]
    return [100 * (foot - y / 100) / (foot - top) for y in np.cumsum(steps).tolist()]


def test_first_screen_on_a_phone(visit: Visit, demo: Result, demo_address: str) -> None:
    page = visit(demo_address, 390, 844, is_mobile=True, has_touch=True)
    assert page.inner_text("h1") == demo.job.title
    for number, trip in enumerate(demo.trips):
        row = page.locator(".answer").nth(number)
        box = row.bounding_box()
        assert box["y"] + box["height"] <= 844
        shown = words_in(row.inner_text())
        assert trip.name in shown
        assert trip.verdict.capitalize() in shown
        assert held_words(answer_of(trip))[1:] in shown
        curve = row.locator("svg.curve").bounding_box()
        assert curve["width"] > 120
        assert curve["height"] > 30


def test_four_trips_fit_two_screens_of_a_phone(
    visit: Visit, demo: Result, save: Callable[..., str]
) -> None:
    job = with_values(demo.job, {"trips": demo.job.trips * 2})
    page = visit(save(replace(demo, job=job, trips=demo.trips * 2)), 390, 844)
    box = page.locator(".answer").nth(3).bounding_box()
    assert box["y"] + box["height"] <= 2 * 844


def test_the_page_is_alive_without_a_script(visit: Visit, demo: Result, demo_address: str) -> None:
    page = visit(demo_address, 390, java_script_enabled=False)
    for number in range(len(demo.trips)):
        drawn = page.locator(".trip svg.drawn").nth(number)
        assert drawn.locator(".lines path").count() > 8
        assert drawn.bounding_box()["width"] > 250
    # nothing that only a script could move
    assert not page.locator(".reader").first.is_visible()
    assert not page.locator("#try").is_visible()
    page.locator("summary").first.click()
    assert page.locator("details[open] table").first.is_visible()


def test_nothing_sticks_out_at_any_width(visit: Visit, demo_address: str) -> None:
    page = visit(demo_address, WIDTHS[0])
    page.evaluate("document.querySelectorAll('details').forEach((d) => { d.open = true })")
    for size in (100, 200):
        page.evaluate(f"document.documentElement.style.fontSize = '{size}%'")
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 900})
            assert page.evaluate("document.documentElement.scrollWidth") <= width, (size, width)
            wide = page.evaluate(
                """() => [...document.querySelectorAll('main *')].filter(
                (e) => !e.closest('.scroll, svg') && e.getBoundingClientRect().right > innerWidth)
                .map((e) => e.outerHTML.slice(0, 80))"""
            )
            assert wide == [], (size, width)


def test_words_of_a_chart_stay_inside_the_page(visit: Visit, demo_address: str) -> None:
    page = visit(demo_address, WIDTHS[0])
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        edges = page.evaluate(
            """() => [...document.querySelectorAll('.trip .drawn text')]
            .filter((t) => t.getComputedTextLength() > 0)
            .map((t) => t.getBoundingClientRect()).flatMap((b) => [b.left, innerWidth - b.right])"""
        )
        assert min(edges) >= 0, width


def test_the_drawing_is_the_result(visit: Visit, demo: Result, demo_address: str) -> None:
    page = visit(demo_address)
    trip = demo.trips[0]
    bad = trip.soc[:, bad_draw(trip.dark_hours, trip.lowest, trip.ample_share)]
    for trace, expected in ((2, bad), (3, np.median(trip.soc, axis=1))):
        np.testing.assert_allclose(level_at(page, trace), 100 * expected, atol=0.15)


def test_the_bad_case_is_under_the_floor_whenever_the_verdict_says_so(
    visit: Visit, demo: Result, demo_address: str
) -> None:
    page = visit(demo_address)
    trip = demo.trips[0]
    assert trip.verdict != "ample"
    lowest = min(level_at(page, 2))
    assert lowest < 100 * max(trip.floors)
    assert "off" in page.locator(f"{CHART} .drawn text").all_text_contents()
    notes = [words_in(x) for x in page.locator(f"{CHART} .drawn .f-floor.rim").all_text_contents()]
    assert any(" off, " in note for note in notes)
    assert any(note.startswith(f"low {lowest:.0f} %, ") for note in notes)
    # with date and place where there is room for the letters of the note
    shown = """(all) => all.map((e) => [
      Number(e.className.baseVal.match(/from-([0-9]+)/)[1]), getComputedStyle(e).display])"""
    said_more = page.locator(f"{CHART} .drawn .more").evaluate_all(shown)
    assert len(said_more) == 2
    inline = [need for need, display in said_more if display == "inline"]
    hidden = [need for need, display in said_more if display == "none"]
    assert inline
    assert max(inline) < min(hidden, default=np.inf)
    # the sentence below says the same, and an ample trip has no such mark
    said = words_in(page.locator(f"{CHART} figcaption").text_content())
    assert f"at {lowest:.0f} %. On " in said
    other = "figure[data-chart='2']"
    assert demo.trips[1].verdict == "ample"
    assert "off" not in page.locator(f"{other} .drawn text").all_text_contents()
    assert "Nothing goes off in it." in page.locator(f"{other} figcaption").text_content()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_woken_chart_draws_the_same(
    visit: Visit, demo: Result, demo_address: str, scheme: str
) -> None:
    page = visit(demo_address, color_scheme=scheme)
    page.evaluate("scrollTo({ top: 600, behavior: 'instant' })")
    drawn = page.locator(f"{CHART} .drawn [data-trace='3']").bounding_box()
    height = page.locator(f"{CHART} .plot").bounding_box()["height"]
    figure = wake(page)
    assert not figure.locator(".drawn").is_visible()
    low = figure.locator(".live").evaluate("(p) => Math.min(...p.data[3].y)")
    assert low == pytest.approx(100 * np.median(demo.trips[0].soc, axis=1).min(), abs=0.06)
    line = figure.locator(".live").evaluate("(p) => p.data[3].line.color")
    label = page.evaluate(
        "getComputedStyle(document.documentElement).getPropertyValue('--charge').trim()"
    )
    assert line == label
    # it lies where the drawing lay
    live = figure.locator(".live .xy .js-line").last.bounding_box()
    for side in ("x", "y", "width", "height"):
        assert live[side] == pytest.approx(drawn[side], abs=3.0), side
    assert figure.locator(".plot").bounding_box()["height"] == pytest.approx(height, abs=3.0)
    # the other chart sleeps on
    assert page.locator(".live").count() == 1


def test_no_label_of_the_library_ever_shows(visit: Visit, demo_address: str) -> None:
    page = visit(demo_address)
    figure = wake(page)
    page.evaluate("scrollTo({ top: 600, behavior: 'instant' })")
    box = figure.locator(".plot").bounding_box()
    for x, y in ((120, 100), (300, 200), (500, 420), (620, 600)):
        page.mouse.move(box["x"] + x, box["y"] + y, steps=3)
        page.wait_for_timeout(80)
        assert figure.locator(".hoverlayer *").count() == 0
    assert figure.locator(".legend, .modebar-group").count() == 0
    assert "trace" not in figure.inner_text()


def test_night_is_followed_at_once(visit: Visit, demo_address: str) -> None:
    page = visit(demo_address, color_scheme="light")
    stroke = "getComputedStyle(document.querySelector('.drawn [data-trace]')).stroke"
    live = "document.querySelector('.live').data[3].line.color"
    wake(page)
    before = page.evaluate(stroke), page.evaluate(live)
    page.emulate_media(color_scheme="dark")
    until(page, f"{live} !== '{before[1]}'")
    assert page.evaluate(stroke) != before[0]


def test_an_hour_is_read_by_key_and_by_pointer(visit: Visit, demo_address: str) -> None:
    page = visit(demo_address)
    figure = page.locator(CHART)
    slider, says = figure.locator("input"), figure.locator(".says")
    figure.locator(".plot").hover(position={"x": 400, "y": 150})
    before = says.text_content()
    # a mouse that passes by wakes nothing
    assert page.evaluate("typeof Plotly") == "undefined"
    slider.focus()
    page.keyboard.press("Home")
    first = says.text_content()
    assert "10:00\u00a0am" in first
    assert slider.get_attribute("aria-valuetext") == first
    page.keyboard.press("ArrowRight")
    assert "11:00\u00a0am" in says.text_content()
    # a key wakes the library
    figure.locator(".live .main-svg").first.wait_for(state="attached")
    # any track tells the same hour
    figure.locator(".plot").hover(position={"x": 400, "y": 420})
    assert says.text_content() == before


def test_zoom_and_back(visit: Visit, demo_address: str) -> None:
    page = visit(demo_address)
    figure = page.locator(CHART)

    def press(wish: str) -> None:
        figure.locator(f"[data-do={wish}]").click()
        figure.locator(".live .main-svg").first.wait_for(state="attached")
        page.wait_for_timeout(50)

    def span() -> float:
        found = figure.locator(".live").evaluate(
            "(p) => p.layout.xaxis.range.map((t) => Date.parse(t.replace(' ', 'T') + 'Z'))"
        )
        return float(found[1] - found[0]) / 3_600_000.0

    press("whole")
    whole = span()
    press("closer")
    assert span() == pytest.approx(whole / 2)
    # all tracks move together
    ranges = "(p) => [p.layout.xaxis.range, p.layout.xaxis2.range].map(String)"
    assert len(set(figure.locator(".live").evaluate(ranges))) == 1
    # the slider takes the view along to the other end of the trip
    figure.locator("input").focus()
    page.keyboard.press("Home")
    assert figure.locator(".cursor").is_visible()
    press("wider")
    assert span() == pytest.approx(whole)
    page.evaluate("scrollTo({ top: 600, behavior: 'instant' })")
    box = figure.locator(".plot").bounding_box()
    page.mouse.move(box["x"] + 150, box["y"] + 150)
    page.mouse.down()
    page.mouse.move(box["x"] + 300, box["y"] + 160, steps=4)
    page.mouse.up()
    assert span() < 0.5 * whole
    press("whole")
    assert span() == pytest.approx(whole)


def test_without_a_way_to_unpack_the_drawing_stays(browser: Any, demo_address: str) -> None:
    context = browser.new_context(offline=True)
    page = context.new_page()
    page.add_init_script("delete window.DecompressionStream")
    page.goto(demo_address)
    figure = page.locator(CHART)
    figure.locator(".plot").click(position={"x": 200, "y": 120})
    assert figure.locator(".drawn").is_visible()
    assert not figure.locator(".tools").is_visible()
    assert figure.locator(".says").is_visible()
    assert page.locator(".live").count() == 0
    context.close()


def test_a_finger_scrolls_the_page_over_a_chart(visit: Visit, demo_address: str) -> None:
    page = visit(demo_address, 390, 844, is_mobile=True, has_touch=True)
    plot = page.locator(f"{CHART} .plot")
    plot.scroll_into_view_if_needed()
    box = plot.bounding_box()
    start = page.evaluate("scrollY")
    touch = page.context.new_cdp_session(page)
    x, y = box["x"] + 200, box["y"] + 250
    finger = [{"x": x, "y": y - 20 * step} for step in range(11)]
    touch.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": finger[:1]})
    for at in finger[1:]:
        touch.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [at]})
    touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    until(page, f"scrollY > {start} + 100")
    # and wakes nothing while it does
    assert page.evaluate("typeof Plotly") == "undefined"


def test_places_are_named_where_there_is_room(visit: Visit, demo_address: str) -> None:
    shown = """() => [...document.querySelectorAll("figure[data-chart='1'] .drawn text.f-ink")]
      .filter((t) => /^[0-9] /.test(t.textContent)).map((t) => t.getComputedTextLength())"""
    wide, narrow = (visit(demo_address, width).evaluate(shown) for width in (1280, 360))
    assert len(wide) == len(narrow) >= 4
    assert sum(wide) > sum(narrow)


def sheet_words(path: Path, count: int) -> list[str]:
    """What each sheet of a PDF says, by poppler's pdftotext."""
    tool = shutil.which("pdftotext")
    if tool is None:
        pytest.skip("no pdftotext on this machine (apt-get install poppler-utils)")
    return [
        subprocess.run(
            [str(tool), "-f", str(sheet), "-l", str(sheet), str(path), "-"],
            capture_output=True, text=True, check=True,
        ).stdout
        for sheet in range(1, count + 1)
    ]  # fmt: skip


@pytest.mark.parametrize("paper", PAPER)
def test_print(visit: Visit, demo_address: str, tmp_path: Path, paper: str) -> None:
    page = visit(demo_address, color_scheme="dark")
    wake(page)
    printed = page.pdf(path=tmp_path / "page.pdf", format=paper)
    sheets = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", printed)
    assert 5 <= len(sheets) <= 8
    # the answer on a sheet of its own, both charts on the next, then the tables
    told = sheet_words(tmp_path / "page.pdf", len(sheets))
    assert "Will it carry the trips?" in told[0]
    assert "Charge of the battery" not in told[0]
    assert told[1].count("Charge of the battery") == 2
    assert "In numbers" in told[2]
    # what is folded on the screen is printed
    assert "Heaters draw in fresh air" in " ".join(" ".join(told).split())
    # no sheet holds a footer alone
    assert min(len(text.split()) for text in told) > 40
    # and none ends with a heading or with the caption of a table on the next
    heads = page.locator("h2, h3, p.caption").all_text_contents()
    margin = {page.inner_text("h1"), *(f"{n + 1} / {len(told)}" for n in range(len(told)))}
    for text in told:
        lines = [words_in(line) for line in text.splitlines() if line.strip()]
        assert [x for x in lines if x not in margin][-1] not in map(words_in, heads)
    for width, height in sheets:
        assert (float(width), float(height)) == pytest.approx(PAPER[paper], abs=1.5)
    # after printing the screen is as before
    assert page.locator(f"{CHART} .live").is_visible()


def test_nothing_is_cut_in_print(visit: Visit, demo_address: str) -> None:
    # the width of text on A4 and Letter, in CSS pixels: 210 mm and 8.5 in less two margins of 17 mm
    page = visit(demo_address, 665, color_scheme="dark")
    wake(page)
    page.emulate_media(media="print")
    for width in (665, 687):
        page.set_viewport_size({"width": width, "height": 900})
        edges = page.evaluate(
            """() => [...document.querySelectorAll('.drawn, .drawn text, table, li, figcaption')]
            .map((e) => e.getBoundingClientRect().right)"""
        )
        assert max(edges) <= width
        assert page.locator(f"{CHART} .drawn").is_visible()
        assert not page.locator(f"{CHART} .live").is_visible()
        ground = page.evaluate("getComputedStyle(document.documentElement).backgroundColor")
        assert ground == "rgb(255, 255, 255)"


def test_keyboard_reaches_everything_in_order(visit: Visit, demo_address: str) -> None:
    page = visit(demo_address)
    reached, outlines = [], []
    for _ in range(50):
        page.keyboard.press("Tab")
        name, outline = page.evaluate(
            """() => { const e = document.activeElement;
            return [`${e.tagName} ${e.type || e.textContent.trim()}`,
              getComputedStyle(e).outlineStyle]; }"""
        )
        reached.append(name)
        outlines.append(outline)
    assert reached[0] == "A To the answer"
    for wanted in ("A In numbers", "INPUT range", "BUTTON button", "SUMMARY"):
        assert any(item.startswith(wanted) for item in reached), wanted
    assert "none" not in outlines


def test_a_night_of_the_strip_is_read_in_the_chart(
    visit: Visit, demo: Result, demo_address: str
) -> None:
    page = visit(demo_address)
    trip = demo.trips[0]
    nights = page.locator("#trip-1 .nights a")
    assert nights.count() == (trip.local_times()[-1].date() - trip.depart.date()).days
    third = nights.nth(2)
    third.focus()
    page.keyboard.press("Enter")
    evening = trip.depart.date() + dt.timedelta(days=2)
    told = words_in(third.get_attribute("aria-label"))
    assert told.startswith(f"Night of {evening:%a, %b} {evening.day}: ")
    says = words_in(page.locator(f"{CHART} .says").text_content())
    dawn = evening + dt.timedelta(days=1)
    assert says.startswith(f"{dawn:%a, %b} {dawn.day}, ")
    # the charge that the square shows is the one the sentence tells
    assert f"in the bad case {told.split(': ')[1].split(' at dawn')[0]} " in f"{says} "


def test_the_nights_of_a_long_trip_are_large_enough_for_a_finger(
    visit: Visit, demo: Result, save: Callable[..., str]
) -> None:
    """A hundred and twenty nights: each 44 px both ways, read on a phone without a sideways
    move, and beside one another in two columns on a desk."""
    trip = demo.job.trips[0]
    stops = tuple(with_values(stop, {"nights": 24}) for stop in trip.stops[:5])
    settings = with_values(demo.job.settings, {"draws": 4})
    job = with_values(
        demo.job, {"trips": (with_values(trip, {"stops": stops}),), "settings": settings}
    )
    page = visit(save(sim.simulate(job)), 390)
    nights = page.locator(".nights a")
    assert nights.count() == 120
    sizes = "(all) => all.map((e) => e.getBoundingClientRect()).map((b) => [b.width, b.height])"
    for width in (320, 390, 1280):
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert np.min(nights.evaluate_all(sizes)) >= 44
    # Each leads to its own point of the chart, the mornings in their order.
    points = nights.evaluate_all("(all) => all.map((e) => Number(e.dataset.point))")
    assert points == sorted(set(points))
    columns = page.locator(".stops li").evaluate_all("(all) => all.map((e) => e.offsetLeft)")
    assert len(set(columns)) == 2
    nights.nth(70).click()
    assert page.locator(f"{CHART} input").input_value() == str(points[70])


def test_titles_are_between_the_tracks_and_hide_nothing(visit: Visit, demo_address: str) -> None:
    page = visit(demo_address)
    for width in (320, 390, 1280):
        page.set_viewport_size({"width": width, "height": 900})
        met = page.evaluate(
            """() => [...document.querySelectorAll('.trip .plot')].flatMap((plot) => {
            const titles = [...plot.querySelectorAll('.track')];
            const words = [...plot.querySelectorAll('.drawn text')]
              .filter((t) => t.getComputedTextLength() > 0);
            const meets = (a, b) => a.left < b.right && b.left < a.right
              && a.top < b.bottom - 3 && b.top < a.bottom - 3;
            return titles.flatMap((title) => words.filter((word) => meets(
              title.getBoundingClientRect(), word.getBoundingClientRect()))
              .map((word) => `${title.textContent.trim()} | ${word.textContent}`)); })"""
        )
        assert met == [], width


def test_words_of_a_table_begin_at_the_left(visit: Visit, demo_address: str) -> None:
    page = visit(demo_address, 768)
    side = "(cell) => getComputedStyle(cell).textAlign"
    rows = page.locator("#stores table tbody tr")
    row = rows.first.locator("td")
    sides = [cell.evaluate(side) for cell in row.all()]
    # Holds, A day, of which, On this trip, Missing
    assert [x == "left" for x in sides] == [False, False, True, True, False]
    # no column of words is so narrow that each word has a line, a phone's neither
    page.set_viewport_size({"width": 390, "height": 900})
    for cell in page.locator("#stores td.words, #numbers td.words").all():
        assert cell.bounding_box()["width"] >= 88
    assert {cell.evaluate(side) for cell in page.locator("#numbers td").all()} == {"left"}


def test_one_bad_case_is_named_the_same_everywhere(visit: Visit, demo_address: str) -> None:
    page = visit(demo_address)
    name = "bad case (1 in 20)"
    chart = page.locator(f"{CHART} .drawn text").all_text_contents()
    low = next(words_in(x) for x in chart if x.startswith("low ")).split(",")[0]
    table = words_in(page.locator("#numbers table").inner_text())
    assert name in chart
    assert f"Lowest charge, {name} {low.removeprefix('low ')}" in table
    assert "1 in 10" not in page.locator("main").inner_text()
    page.locator("#how summary").click()
    assert f"The {name} is the simulated trip" in page.locator("#how").inner_text()


def test_nothing_else_may_run_or_ask(browser: Any, demo_address: str) -> None:
    context = browser.new_context()
    page = context.new_page()
    asked: list[str] = []
    stopped: dict[str, str] = {}
    page.on("request", lambda request: asked.append(request.url))
    page.on("requestfailed", lambda request: stopped.update({request.url: request.failure}))
    page.goto(demo_address)
    page.evaluate(
        """() => { const add = (tag, fields) =>
          document.body.append(Object.assign(document.createElement(tag), fields));
        add('script', { textContent: 'window.hacked = 1' });
        add('script', { src: 'http://example.org/x.js' });
        add('img', { src: 'http://example.org/x.png' });
        add('iframe', { src: 'http://example.org/' });
        add('style', { textContent: '@import url(http://example.org/x.css)' });
        document.body.style.backgroundImage = 'url(http://example.org/y.png)';
        fetch('http://example.org/z').catch(() => {}); }"""
    )
    page.wait_for_timeout(300)
    assert page.evaluate("window.hacked") is None
    # The browser names what it was asked for, and that the policy stopped it.
    asked = [url for url in asked if not url.startswith("file:")]
    assert {stopped.get(url) for url in asked} <= {"csp"}
    context.close()


def test_targets_are_large_enough_for_a_finger(visit: Visit, demo_address: str) -> None:
    page = visit(demo_address, 390, 844)
    small = page.evaluate(
        """() => [...document.querySelectorAll('button, select, input, nav a, summary')]
        .map((e) => [e.getBoundingClientRect(), e.outerHTML.slice(0, 60)])
        .filter(([box]) => box.height > 0 && box.height < 44).map(([, html]) => html)"""
    )
    assert small == []


def test_weight(demo_address: str, save: Callable[..., str], demo: Result) -> None:
    def weight(address: str) -> int:
        return Path(unquote(urlsplit(address).path)).stat().st_size

    assert weight(demo_address) <= DEMO_BYTES
    job = with_values(demo.job, {"trips": demo.job.trips[:1]})
    assert weight(save(replace(demo, job=job, trips=demo.trips[:1]))) <= ONE_CHART_BYTES


def toml_text(text: str) -> str:
    """A text as TOML writes it."""
    return json.dumps(text, ensure_ascii=False)


def hostile_job(tmp_path: Path) -> Path:
    """A job file with a hostile text wherever a builder may write one."""
    loads = "".join(
        f"\n[[appliances]]\nkind = 'steady'\nname = {toml_text(text)}\nwatts = 3\n"
        for text in HOSTILE
    )
    trips = "".join(
        f"\n[[trips]]\nname = {toml_text(text)}\ndepart = 2027-01-0{day}\n"
        "stops = [{ place = '38.57, -109.55', nights = 2 }]\n"
        for day, text in enumerate(HOSTILE, 1)
    )
    title, customer = (toml_text(text) for text in HOSTILE[:2])
    path = tmp_path / "hostile.toml"
    path.write_text(
        f"title = {title}\ncustomer = {customer}\n"
        "van = { use = 'small-van' }\nliving = { use = 'weekend-away' }\n"
        "battery = { use = 'lifepo4-100' }\n"
        f"{loads}{trips}\n[settings]\ndraws = 2\n",
        "utf-8",
    )
    return path


@pytest.mark.parametrize("width", [390, 1280])
def test_hostile_text_breaks_nothing(
    visit: Visit, save: Callable[[Result], str], tmp_path: Path, width: int
) -> None:
    result = sim.simulate(sim.load_job(hostile_job(tmp_path)))
    endless = result.job.model_copy(update={"customer": "W" * 10_000})
    page = visit(save(replace(result, job=endless)), width)
    wake(page)
    assert page.evaluate("window.hacked") is None
    assert page.locator("img").count() == 0
    assert page.inner_text("h1") == HOSTILE[0]
    heads = page.locator(".answer h3").all_inner_texts()
    assert [" ".join(head.split()) for head in heads] == [" ".join(x.split()) for x in HOSTILE]
    names = page.locator("#loads tbody bdi").all_inner_texts()
    assert {" ".join(x.split()) for x in HOSTILE} <= {" ".join(name.split()) for name in names}
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    # many trips do not squeeze the names out of a ledger
    names = page.locator(".ledger tbody th[scope=row]")
    assert min(names.evaluate_all("(all) => all.map((e) => e.offsetWidth)")) >= 120


def test_axe_finds_nothing_serious(visit: Visit, demo_address: str) -> None:
    script = os.environ.get("NIGHTLEDGER_AXE")
    if not script:
        pytest.skip("NIGHTLEDGER_AXE does not name axe.min.js: accessibility was not scanned")
    page = visit(demo_address)
    page.evaluate("document.querySelectorAll('details').forEach((d) => { d.open = true })")
    page.evaluate(Path(script).read_text("utf-8"))
    wake(page)
    for width, scheme in ((390, "light"), (1280, "dark"), (1280, "light")):
        page.set_viewport_size({"width": width, "height": 900})
        page.emulate_media(color_scheme=scheme)
        found = page.evaluate("axe.run(document).then((r) => r.violations)")
        assert [(v["id"], [n["html"][:99] for n in v["nodes"]]) for v in found] == []


@pytest.mark.parametrize("width", [320, 390])
def test_the_tanks_fit_a_phone_with_each_cell_by_its_heading(
    visit: Visit, demo_address: str, width: int
) -> None:
    page = visit(demo_address, width)
    tables = page.locator("#stores .scroll")
    assert tables.count() == 2
    for index in range(tables.count()):
        assert tables.nth(index).evaluate("(e) => e.scrollWidth - e.clientWidth") <= 0
    cell = page.locator("#stores td").first
    assert cell.get_attribute("data-label") == "Holds"
    assert cell.evaluate("(e) => getComputedStyle(e, '::before').content") == '"Holds"'
    assert not page.locator("#stores thead").first.is_visible()
    wide = visit(demo_address, 1280)
    assert wide.locator("#stores thead").first.is_visible()
    before = "(e) => getComputedStyle(e, '::before').content"
    assert wide.locator("#stores td").first.evaluate(before) == "none"
