"""The page of a comparison: what changed, trip by trip, and the two curves on one chart."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from sim import decide
from sim.decide.compare import KeyChange, State, TripFigures
from sim.report.charts.compare_chart import compared_chart, curve_of, lowest_by_day
from sim.report.page.compare_page import render_comparison
from sim.report.words.compare_words import change_sentence, chart_caption, key_words, value_words
from sim.report.words.numbers import Manner

EVIL = "</script><script>window.hacked=1</script>"


def figures(
    low: float = 0.4, depart: str = "2027-01-09", hours: int = 48, **other: Any
) -> TripFigures:
    start = dt.datetime.fromisoformat(f"{depart}T10:00:00-07:00")
    middle = tuple(1.0 - (1.0 - low) * hour / hours for hour in range(hours + 1))
    known: dict[str, Any] = {
        "name": "Winter",
        "verdict": "ample",
        "held": 198,
        "draws": 200,
        "lowest_soc": (low - 0.1, low, low + 0.1),
        "dark_hours": 0.0,
        "energy_wh_day": {"sun": 900.0, "served": 800.0},
        "times": tuple((start + dt.timedelta(hours=h)).isoformat() for h in range(hours + 1)),
        "soc": (tuple(x - 0.1 for x in middle), middle, tuple(min(x + 0.1, 1.0) for x in middle)),
        "all_held": 197,
    }
    return TripFigures(**known | other)


def state(*trips: TripFigures, program: str = "1.0", **job: Any) -> State:
    values = {"title": "Van", "customer": None, "settings": {"units": "metric"}}
    return State(values | job, trips, program)


def page(old: State, new: State) -> str:
    found = decide.compare(old, new)
    return render_comparison(found, written=dt.date(2027, 1, 2), version="1.0")


def words(text: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", text.replace("\N{NO-BREAK SPACE}", " ")).split())


def test_two_curves_are_on_one_chart() -> None:
    figure = compared_chart(figures(0.3), figures(0.6), Manner("metric"))
    drawn = {(x.line.dash, min(x.y)) for x in figure.data if x.line.width}
    assert drawn == {("solid", 60.0), ("dash", 30.0), ("dot", 20.0)}
    band = next(x for x in figure.data if x.fill == "tonexty")
    assert min(band.y) == 50.0
    assert {x.text for x in figure.layout.annotations} == {"now", "before"}


def test_a_trip_that_moved_is_laid_day_on_day() -> None:
    old, new = figures(), figures(depart="2027-07-10")
    moved = compared_chart(old, new, Manner("metric"))
    assert list(moved.layout.xaxis.ticktext) == ["day 2", "day 3"]
    assert [x.x[0] for x in moved.data] == [10 / 24] * 5
    stayed = compared_chart(old, figures(0.5), Manner("metric"))
    assert list(stayed.layout.xaxis.ticktext) == [
        "10\N{NO-BREAK SPACE}Jan",
        "11\N{NO-BREAK SPACE}Jan",
    ]


def test_trips_of_different_length_compare() -> None:
    figure = compared_chart(figures(hours=200), figures(hours=30), Manner("us"))
    assert figure.layout.xaxis.range[1] == pytest.approx((10 + 200) / 24)


def test_a_long_trip_is_drawn_by_the_lowest_of_each_day() -> None:
    curve = curve_of(figures(0.2, hours=60 * 24))
    assert len(curve.days) == 61
    assert curve.soc.shape == (3, 61)
    days = np.array([0.2, 0.9, 1.1, 1.3])
    noon, lowest = lowest_by_day(days, np.array([[0.5, 0.4, 0.9, 0.95]]))
    assert noon.tolist() == [0.5, 1.5]
    assert lowest.tolist() == [[0.4, 0.9]]


def test_the_page_says_what_changed_and_is_sealed() -> None:
    old = state(figures(0.3, verdict="tight", all_held=150), battery={"count": 1})
    new = state(figures(0.6), battery={"count": 2}, program="2.0")
    text = page(old, new)
    told = words(text)
    assert "It was tight and is ample now." in told
    assert "Everything holds in 197 of 200 simulated trips; before, it was 150 of 200." in told
    assert "falls to 60 % or lower; before, to 30 %, which is 30 points lower." in told
    assert "Battery: count 1 2" in told
    assert "Nothing changed in the travelling and in the settings." in told
    assert "The program changed too, 1.0 -&gt; 2.0" in told
    assert text.count('<svg class="drawn"') == 1
    assert "script-src 'none'" in text
    assert not re.search(r"(?:src|href)=\"(?:https?:)?//", text)


def test_the_table_behind_the_chart_has_every_day() -> None:
    table = re.search(r"Lowest charge of each day</p>.*?</table>", page(
        state(figures(0.4)), state(figures(0.4, hours=30))
    ), re.DOTALL)  # fmt: skip
    assert table is not None
    rows = re.findall(r'<th scope="row"[^>]*>(\d+)</th>(.*?)</tr>', table[0])
    assert [row[0] for row in rows] == ["1", "2", "3"]
    # The shorter trip has no third day.
    assert rows[2][1].count("–") == 2


def test_a_trip_that_came_and_one_that_went() -> None:
    text = words(page(state(figures(name="Old")), state(figures(name="New"))))
    assert "This trip is gone. It was ample, 197 of 200 simulated trips hold" in text
    assert "A new trip: ample, 197 of 200 simulated trips hold" in text


def test_a_promise_without_points_still_makes_a_page() -> None:
    """As an older program may have kept it: no counts of all that held, one point, no units."""
    bare = replace(figures(), times=("2027-01-09T10:00:00-07:00",), soc=((1.0,),) * 3)
    old = State({"title": "Van"}, (replace(bare, all_held=None),), "0.1")
    text = page(old, state(figures()))
    assert '<svg class="drawn"' not in text
    assert "Charge of the battery" not in text
    assert "198 of 200" in words(text)


def test_names_are_escaped() -> None:
    trip = figures(name=EVIL)
    old = state(trip, title=EVIL, customer=EVIL, appliances=[{"name": EVIL, "watts": 1}])
    new = state(replace(trip, held=1), title=EVIL, customer=EVIL, appliances=[])
    text = page(old, new)
    assert "<script" not in text
    assert text.count("&lt;script&gt;") >= 4


@pytest.mark.parametrize(
    ("key", "said"),
    [
        ("battery.count", "Battery: count"),
        ("panels[1].controller_amps", "Panel group 1: controller_amps"),
        (
            "trips[January, 38.57, -109.55].stops[2].nights",
            "Trip January, 38.57, -109.55, stop 2: nights",
        ),
        ("appliances[Laptop]", "Appliance Laptop"),
        ("generator", "Generator"),
    ],
)
def test_a_key_as_a_reader_meets_it(key: str, said: str) -> None:
    assert key_words(key) == said


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("a.count", None, "none"),
        ("a.on", False, "false"),
        ("a.leave_at", 545, "09:05"),
        ("a.at", [[420, 430], [1200, 1440]], "07:00-07:10, 20:00-24:00"),
        ("a.open_drains", ["kitchen", "basin"], "kitchen, basin"),
        ("a.open_drains", ["ab", "cd"], "ab, cd"),
        ("a.open_drains", [], "none"),
        ("a.watts", 0.5, "0.5"),
    ],
)
def test_a_value_as_the_job_file_writes_it(key: str, value: object, said: str) -> None:
    assert value_words(KeyChange("build", key, value, None), "old") == said


def test_captions_follow_the_figures() -> None:
    def told(old: float, new: float) -> str:
        text = chart_caption(figures(old), figures(new))
        return text.replace("\N{NO-BREAK SPACE}", " ")

    half = "In half of the simulated trips the charge falls to "
    assert told(0.40, 0.41).startswith(
        f"{half}41 % or lower; before, to 40 %, which is 1 point lower."
    )
    assert told(0.40, 0.30).startswith(
        f"{half}30 % or lower; before, to 40 %, which is 10 points higher."
    )
    assert told(0.40, 0.402).startswith(f"{half}40 % or lower, as before.")
    (change,) = decide.compare(state(figures()), state(figures())).trips
    assert change_sentence(change).startswith("As before: ample")
