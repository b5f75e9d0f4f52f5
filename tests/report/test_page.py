"""The page: numbers of the result, nothing from outside, and user text that stays text."""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

import sim
from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.ledger.answer import answer_of
from sim.ledger.results import Result
from sim.report.data.export import trip_json
from sim.report.page import client
from sim.report.page.client import render_page

WRITTEN = dt.date(2027, 3, 1)
MOST_BYTES = 1_900_000
VOID = {"meta", "input", "br", "path", "circle", "line", "rect"}
HOSTILE = (
    "</script><script>window.hacked=1</script>",
    "\"'><img src=x onerror=window.hacked=1>",
    "<b>bold</b> &amp; {{ 7 * 7 }} {% raw %}",
    "\u202eevil \u05e9\u05dc\u05d5\u05dd \u0645\u0631\u062d\u0628\u0627 \u2067x",
    "\U0001f690\U0001f31e ';}</style><!-- \\3c \u2028",
    "W" * 10_000,
)


class Reading(HTMLParser):
    """A page as a reader without a browser sees it."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.words: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.data = ""
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag, f"</{tag}> closes nothing"

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] == "script":
            if self.tags[-1][1].get("id") == "data":
                self.data += data
        elif not {"style", "svg"} & set(self.open):
            self.words.append(data)

    @property
    def text(self) -> str:
        """Words in order, spaces made alike."""
        return " ".join(" ".join(self.words).split())

    def count(self, tag: str) -> int:
        return sum(found == tag for found, _ in self.tags)


def read(result: Result) -> Reading:
    return Reading(render_page(result, written=WRITTEN, version="9.8.7"))


@pytest.fixture(scope="module")
def small_page(small_result: Result) -> Reading:
    return read(small_result)


def hostile_result(result: Result, text: str) -> Result:
    """The result with every text a user can write replaced."""
    job = result.job
    # Longer than a job file may write it: the page must hold it all the same.
    trips = tuple(
        trip.model_copy(
            update={
                "name": text,
                "stops": tuple(
                    stop.model_copy(update={"place": replace(stop.place, name=text)})
                    for stop in trip.stops
                ),
            }
        )
        for trip in job.trips
    )
    job = job.model_copy(update={"title": text, "customer": text, "trips": trips})
    shown = tuple(
        replace(
            trip,
            name=text,
            about=(text,),
            loads=tuple(replace(load, name=text) for load in trip.loads),
            timeline=replace(
                trip.timeline,
                stays=tuple(replace(stay, label=text) for stay in trip.timeline.stays),
            ),
        )
        for trip in result.trips
    )
    return Result(job, shown)


def test_first_screen_tells_the_answer(small_result: Result, small_page: Reading) -> None:
    text = small_page.text
    assert "Small <test> van & more" in text
    assert "170 W of panels" in text
    assert "20 A DC-DC charger" in text
    assert "1.3 kWh battery" in text
    for trip in small_result.trips:
        assert trip.name in text
        assert f"{trip.verdict.capitalize()}" in text


def test_numbers_of_all_trips_stand_side_by_side(small_result: Result, small_page: Reading) -> None:
    winter, summer = small_result.trips
    text = small_page.text
    for name, values in (
        (
            "Simulated trips without a dark hour",
            [f"{(t.dark_hours == 0).sum()} of 12" for t in (winter, summer)],
        ),
        (
            "Lowest charge, typical trip",
            [f"{100 * t.lowest_soc.p50:.0f} %" for t in (winter, summer)],
        ),
        (
            "Lowest charge, bad case (1 in 20)",
            [f"{100 * answer_of(t).bad.lowest_soc:.0f} %" for t in (winter, summer)],
        ),
    ):
        assert f"{name} {' '.join(values)}" in text


def test_a_remedy_is_told_where_there_is_one(small_result: Result) -> None:
    remedies = ("One more <panel>: $150.", None)
    html = render_page(small_result, written=WRITTEN, version="1", remedies=remedies)
    assert html.count('<p class="remedy"') == 1
    assert "One more &lt;panel&gt;: $150." in html
    assert 'class="remedy"' not in render_page(small_result, written=WRITTEN, version="1")


def test_verdict_is_told_by_shape_too(small_result: Result) -> None:
    shapes, trip = set(), small_result.trips[0]
    job = with_values(small_result.job, {"trips": small_result.job.trips[:1]})
    for group, dark in ((2, 0), (2, 3), (0, 12)):
        unserved = np.zeros_like(trip.unserved_w)
        unserved[group, 0, :dark] = 5.0
        html = render_page(
            Result(job, (replace(trip, unserved_w=unserved),)), written=WRITTEN, version="1"
        )
        shapes.add(re.search(r'<svg class="moon".*?</svg>', html, re.S)[0])  # type: ignore[index]
    assert len(shapes) == 3


def test_account_shows_the_ledger_and_closes(small_result: Result) -> None:
    found = {row.name: row for _, row in client.trip_text.account(small_result.trips)}
    for index, trip in enumerate(small_result.trips):
        value = {
            name: float(row.cells[index][0].replace(",", "").replace("−", "-"))
            for name, row in found.items()
        }
        assert value["Sun"] == round(trip.energy.taken["sun"])
        assert value["Appliances"] == round(trip.energy.served)
        # both sums are rounded to a watt-hour
        assert abs(value["In"] - value["Out"]) <= 1


def test_loads_table_names_every_load_and_the_inverter(
    small_result: Result, small_page: Reading
) -> None:
    groups = client.trip_text.loads(
        small_result.trips, client.trip_text.most_wanted(small_result.trips)
    )
    rows = [row for name, group in groups if name != "total" for row in group]
    assert sorted(row.name for row in rows) == sorted(x.name for x in small_result.trips[0].loads)
    assert "Inverter (its own draw and losses)" in small_page.text
    trip = small_result.trips[0]
    fridge = next(x for x in trip.loads if x.name.startswith("Refrigerator"))
    shown = next(row for row in rows if row.name == fridge.name)
    assert shown.cells[0][0] == f"{fridge.wanted_wh.mean() / trip.days_long:,.0f}"
    assert max(share for row in rows for _, share in row.cells) == 1.0


def test_many_trips_stand_four_abreast(small_result: Result) -> None:
    job = small_result.job
    many = Result(with_values(job, {"trips": (job.trips * 3)[:5]}), (small_result.trips * 3)[:5])
    reading = read(many)
    heads = [attrs for tag, attrs in reading.tags if tag == "table" and "style" in attrs]
    assert [attrs["style"] for attrs in heads] == ["--trips:4", "--trips:1"]
    # numbers and account have a row for each trip then
    for section, end in (("In numbers", "The account of"), ("The account of", "Who takes it")):
        rows = reading.text.split(section)[-1].split(end)[0]
        assert rows.count("Summer") == 2
    # a full bar is the same everywhere
    bars = [
        float(str(attrs["style"]).removeprefix("--share:"))
        for tag, attrs in reading.tags
        if attrs.get("class") == "bar"
    ]
    assert len(bars) == 5 * len(small_result.trips[0].loads)
    assert sum(bar == 1.0 for bar in bars) in (2, 3)


def test_every_chart_has_sentence_data_and_drawing(small_page: Reading) -> None:
    charts = json.loads(small_page.data)["charts"]
    shown = [attrs["data-chart"] for tag, attrs in small_page.tags if "data-chart" in attrs]
    assert sorted(shown) == sorted(charts) == ["1", "2"]
    labels = [
        attrs["aria-label"]
        for _, attrs in small_page.tags
        if attrs.get("role") == "img" and attrs.get("class") == "plot"
    ]
    assert len(labels) == 2
    assert all(
        label and label in small_page.text.replace("\n", " ")
        for label in (" ".join(str(label).split()) for label in labels)
    )
    assert small_page.count("figcaption") == 2
    assert small_page.count("details") == 2 + 2
    drawn = [a for tag, a in small_page.tags if tag == "svg" and a.get("class") == "drawn"]
    assert len(drawn) == 2
    for chart in charts.values():
        assert len(chart["at"]) == len(chart["says"]) > 0


def test_the_drawing_shows_what_the_json_says(small_result: Result, small_page: Reading) -> None:
    paths = [a for tag, a in small_page.tags if tag == "path" and a.get("stroke-width") == "2.4"]
    drawings = [str(path["d"]) for path in paths]
    # the small curve and the chart of each trip
    assert len(drawings) == 4
    for number, told in enumerate(trip_json(small_result)["trips"]):
        small, whole = drawings[number], drawings[2 + number]
        for data in (small, whole):
            levels = np.cumsum([int(y) for _, y in re.findall(r"(-?\d+) (-?\d+)", data)])
            soc = np.array(told["series"]["soc_p50"])
            assert len(levels) == len(soc)
            # drawn to a tenth of a percent
            shares = (levels - levels[soc.argmax()]) / (levels[soc.argmin()] - levels[soc.argmax()])
            expected = (soc.max() - soc) / (soc.max() - soc.min())
            np.testing.assert_allclose(shares, expected, atol=0.006)


def test_charts_and_json_say_the_same(small_result: Result, small_page: Reading) -> None:
    charts = json.loads(small_page.data)["charts"]
    for number, told in enumerate(trip_json(small_result)["trips"], 1):
        traces = charts[str(number)]["figure"]["data"]
        for trace, name in ((traces[0], "p90"), (traces[1], "p10"), (traces[3], "p50")):
            # drawn to a tenth of a percent
            np.testing.assert_allclose(
                trace["y"], 100 * np.array(told["series"][f"soc_{name}"]), atol=0.0501
            )
        assert traces[3]["x"] == [t[:16].replace("T", " ") for t in told["series"]["time"]]


def test_headings_descend_one_step_at_a_time(small_page: Reading) -> None:
    levels = [int(tag[1]) for tag, _ in small_page.tags if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    assert {"header", "main", "nav", "footer"} <= {tag for tag, _ in small_page.tags}


def test_page_asks_nothing_of_the_network(small_result: Result, small_page: Reading) -> None:
    for tag, attrs in small_page.tags:
        for name in ("src", "href", "data", "action", "poster", "srcset"):
            assert (attrs.get(name) or "#").startswith("#"), (tag, attrs)


def test_page_is_small_enough_to_mail(small_result: Result) -> None:
    html = render_page(small_result, written=WRITTEN, version="1")
    assert len(html.encode()) < MOST_BYTES


def test_same_result_same_page(small_result: Result) -> None:
    pages = {render_page(small_result, written=WRITTEN, version="1") for _ in range(2)}
    assert len(pages) == 1
    later = render_page(small_result, written=dt.date(2028, 5, 6), version="2")
    assert "May\N{NO-BREAK SPACE}6, 2028" in later
    assert "Nightledger 2" in later


@pytest.mark.parametrize("text", HOSTILE, ids=["script", "image", "tags", "rtl", "style", "long"])
def test_hostile_text_is_shown_as_text(small_result: Result, text: str) -> None:
    reading = read(hostile_result(small_result, text))
    assert reading.open == []
    assert reading.count("script") == 3
    assert reading.count("style") == 2
    assert reading.count("img") == 0
    assert reading.count("b") == 0
    words = " ".join(text.split())
    assert reading.text.count(words) >= 10
    data = json.loads(reading.data)
    assert set(data["charts"]) == {"1", "2"}


def test_printed_title_holds_any_text() -> None:
    assert client.css_text("A van 2") == '"A van 2"'
    for text in HOSTILE:
        shown = client.css_text(text)
        assert re.fullmatch(r'"([A-Za-z0-9 ]|\\[0-9a-f]+ )*"', shown), shown
        assert len(re.sub(r"\\[0-9a-f]+ ", "x", shown)) <= 72
    # what a browser would read back
    back = re.sub(r"\\([0-9a-f]+) ", lambda m: chr(int(m[1], 16)), client.css_text("a</style>ü\"'"))
    assert back == '"a</style>ü"\'"'


def test_metric_page_tells_celsius(small_result: Result) -> None:
    settings = small_result.job.settings
    for units, sign, other in (("us", "°F", "°C, inside"), ("metric", "°C", "°F")):
        job = with_values(small_result.job, {"settings": with_values(settings, {"units": units})})
        says = json.loads(read(Result(job, small_result.trips)).data)["charts"]["1"]["says"]
        assert all(f"\N{NO-BREAK SPACE}{sign}" in line for line in says)
        assert not any(other in line for line in says)


def test_one_draw_has_no_band_and_no_bad_case(
    small_job: str, write_job: Callable[[str], Path]
) -> None:
    job = sim.load_job(write_job(small_job + '\n[settings]\nweather = "clear"\ndraws = 1\n'))
    reading = read(sim.simulate(job))
    assert "upper bound, not what to expect" in reading.text
    assert "1 in 10" not in reading.text
    assert "eight simulated trips in ten" not in reading.text
    chart = json.loads(reading.data)["charts"]["1"]
    assert not any("in ten" in line or "bad case" in line for line in chart["says"])


def test_a_van_without_sources_or_loads_still_has_a_page(
    small_job: str, write_job: Callable[[str], Path]
) -> None:
    text = small_job.replace("count = 2", "count = 0").split("[[appliances]]")
    bare = text[0] + text[1][text[1].index("[[trips]]") :]
    job: Job = sim.load_job(write_job(bare + "\n[settings]\ndraws = 3\n"))
    reading = read(sim.simulate(job))
    assert "no panels" in reading.text
    assert "Nothing aboard draws power." in reading.text
    assert "No source brings anything" in reading.text


def test_a_long_trip_is_told_by_days_and_weeks(
    small_job: str, write_job: Callable[[str], Path]
) -> None:
    text = small_job.replace("nights = 2", "nights = 200")
    result = sim.simulate(sim.load_job(write_job(text + "\n[settings]\ndraws = 2\n")))
    html = render_page(result, written=WRITTEN, version="1")
    charts = json.loads(Reading(html).data)["charts"]
    assert len(charts["1"]["at"]) == 201
    bars = [trace for trace in charts["1"]["figure"]["data"] if trace["type"] == "bar"]
    assert {len(bar["x"]) for bar in bars} == {29}
    assert "lowest charge of the day" in charts["1"]["says"][0]
    assert "lowest of each day" in Reading(html).text
    assert len(html.encode()) < MOST_BYTES
