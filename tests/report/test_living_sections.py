"""Tanks, season, left-over sun, warmth and wear: told from the result, absent without it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import plotly.graph_objects as go
import pytest

import sim
from sim.ledger.audit import audit
from sim.ledger.results import Result
from sim.report.charts.trip_chart import Chart
from sim.report.page.client import render_page
from sim.report.page.sections import Section
from sim.report.page.trip_sections import living_sections, runs_out_first, store_words
from sim.report.words.numbers import Manner, amount
from sim.trip.cabin import Chill
from sim.trip.frost import NO_FROST, Frost, FrostSpot

Draw = Callable[..., Chart]
US, METRIC = Manner("us"), Manner("metric")
TANKS = """
[water]
fresh_l = 60

[[water.grey]]
name = "Sink <b>tank</b>"
capacity_l = 20
takes = ["kitchen", "basin"]

[[water.grey]]
name = "Shower tank"
capacity_l = 200
takes = ["shower"]

[propane]
tank_l = 10

[[appliances]]
use = "propane-stove"

[[appliances]]
use = "furnace-propane"
"""


@pytest.fixture(scope="module")
def tanks(report_job: str, tmp_path_factory: pytest.TempPathFactory) -> Result:
    """The small job with tanks and a furnace."""
    path: Path = tmp_path_factory.mktemp("tanks") / "job.toml"
    path.write_text(report_job + TANKS, "utf-8")
    return sim.simulate(sim.load_job(path))


def by_key(result: Result, manner: Manner = US) -> dict[str, Section]:
    return {section.key: section for section in living_sections(result, manner)}


def plain(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u2068", "").replace("\u2069", "")


def test_sections_without_data_are_absent(small_result: Result) -> None:
    assert "stores" not in by_key(small_result)
    calm = tuple(
        replace(
            trip,
            chill=Chill(np.zeros(12), np.zeros(12), np.full(12, np.inf)),
            damp_hours=np.zeros(12),
            frost=NO_FROST,
            boxes=(),
            snowed_wh_day=0.0,
            unharvested_by_cause_w=np.zeros_like(trip.unharvested_by_cause_w),
        )
        for trip in small_result.trips
    )
    assert set(by_key(replace(small_result, trips=calm))) == {"season", "wear"}
    assert set(by_key(replace(small_result, trips=calm[:1]))) == {"wear"}


def test_each_tank_is_told_with_its_table(tanks: Result) -> None:
    section = by_key(tanks)["stores"]
    assert len(section.tables) == len(tanks.trips)
    rows = {row[0]: row for row in section.tables[0].rows}
    assert plain(rows["Sink <b>tank</b>"][1]) == "5.3 gal"
    assert "full on" in rows["Sink <b>tank</b>"][4]
    assert rows["Shower tank"][4].startswith("would last ")


def test_tanks_that_move_are_in_the_chart(tanks: Result, draw_trip: Draw) -> None:
    winter = tanks.trips[0]
    drawing = go.Figure(draw_trip(tanks).figure)
    sink = winter.stores[1]
    ends = [trace.y[-1] for trace in drawing.data if trace.yaxis == "y4" and trace.mode == "lines"]
    expected = 100.0 * sink.levels.level[-2, 0] / 20.0
    assert any(end == pytest.approx(expected, abs=0.06) for end in ends)
    names = [note.text for note in drawing.layout.annotations if note.yref == "y4"]
    assert "Sink &lt;b&gt;tank&lt;/b&gt;" in names
    still = replace(
        winter,
        stores=tuple(
            replace(x, levels=replace(x.levels, level=np.ones_like(x.levels.level)))
            for x in winter.stores
        ),
    )
    calm = replace(tanks, trips=(still, *tanks.trips[1:]))
    assert len(go.Figure(draw_trip(calm).figure).layout.annotations) < len(
        drawing.layout.annotations
    )
    assert "yaxis5" not in go.Figure(draw_trip(calm).figure).to_plotly_json()["layout"]


def test_a_service_is_marked_where_the_level_jumps(
    report_job: str, tmp_path: Path, draw_trip: Draw
) -> None:
    stop = '{ place = "Bend, Oregon", nights = 2, drive_hours = 2,'
    assert stop in report_job
    text = report_job.replace(stop, f'{stop} services = ["water", "dump"],')
    path = tmp_path / "job.toml"
    path.write_text(text + TANKS, "utf-8")
    result = sim.simulate(sim.load_job(path))
    winter = result.trips[0]
    marks = services(go.Figure(draw_trip(result).figure))
    assert set(marks) == {"triangle-up", "triangle-down"}
    zone = ZoneInfo("America/Los_Angeles")
    arrives = winter.timeline.stays[1].arrives.astimezone(zone).replace(tzinfo=None)
    (filled,) = marks["triangle-up"].x
    assert abs(dt.datetime.fromisoformat(filled) - arrives) <= dt.timedelta(hours=1)
    assert marks["triangle-up"].y == (100.0,)
    assert max(marks["triangle-down"].y) == 0.0
    # propane is not offered there, and nothing is offered in summer
    assert not services(go.Figure(draw_trip(result, 1).figure))


def services(drawing: Any) -> dict[str, Any]:
    """Marks of filling and emptying by their symbol."""
    return {
        trace.marker.symbol: trace
        for trace in drawing.data
        if trace.type == "scatter" and trace.mode == "markers" and "triangle" in trace.marker.symbol
    }


def test_what_runs_out_first_is_that_of_the_result(tanks: Result) -> None:
    trip = tanks.trips[0]
    name, when = runs_out_first(trip, US)
    assert trip.first_out.store == "grey"
    assert name == trip.first_out.name == "Sink <b>tank</b>"
    assert trip.first_out.at_h is not None
    day = trip.depart + dt.timedelta(hours=trip.first_out.at_h)
    count = round(trip.draws * trip.first_out.share)
    assert count > 0
    often = f"first in {count} of {trip.draws} simulated trips"
    assert when == f"full {US.day(day.date())}, {often}"
    full = replace(trip, stores=(), cut_off_h=np.full(trip.draws, np.inf))
    assert runs_out_first(full, US) == ("nothing", "")


def test_amounts_in_both_systems(tanks: Result) -> None:
    fresh, propane = tanks.trips[0].stores[0], tanks.trips[0].stores[-1]
    assert plain(amount(fresh, 3.785411784, US)) == "1.0 gal"
    assert plain(amount(fresh, 3.785411784, METRIC)) == "4 L"
    assert plain(amount(propane, 0.45359237, US)) == "1.0 lb"
    assert plain(amount(propane, 0.45359237, METRIC)) == "0.5 kg"
    unused = replace(propane, levels=replace(propane.levels, moved=propane.levels.moved * 0.0))
    if not unused.levels.missed.any():
        assert store_words(unused, tanks.trips[0], US) == "not used"


def test_the_season_is_that_of_the_audit(tanks: Result) -> None:
    section, found = by_key(tanks)["season"], audit(tanks)
    assert len(section.sentences) == 1 + len(found.changes) > 2
    assert found.coldest == "Winter [red]week[/red]"
    for change, text in zip(found.changes, section.sentences[1:], strict=True):
        assert change.name in text
        assert f"{abs(change.warm_wh - change.cold_wh):,.0f} Wh" in text


def test_left_over_sun_adds_up_to_what_was_not_harvested(tanks: Result) -> None:
    section = by_key(tanks)["leftover"]
    for column, trip in enumerate(tanks.trips, 1):
        told = sum(
            float(plain(row[column]).removesuffix(" Wh").replace(",", ""))
            for row in section.tables[0].rows
            if "snow" not in row[0]
        )
        assert told == pytest.approx(trip.energy.unharvested, abs=2.0)


def test_cold_hours_and_frost_are_told_with_the_habit(tanks: Result) -> None:
    spot = FrostSpot(
        name="Sink tank",
        place="under the floor",
        hours=np.full(12, 30.0),
        coldest_c=np.full(12, -4.0),
        warmer_watts=0.0,
        needed_watts=np.full(12, 33.0),
    )
    pipes = replace(spot, name="Pipes and pump", place="inside", needed_watts=np.zeros(12))
    trip = replace(
        tanks.trips[0],
        chill=Chill(np.full(12, 2.5), np.full(12, 9.0), np.zeros(12)),
        frost=Frost((pipes, spot), np.array([[False] * 12, [True] * 12])),
    )
    told = plain(" ".join(by_key(replace(tanks, trips=(trip,)))["warmth"].sentences))
    assert "does not reach its set point for 2.5 hours on average, for 2.5 hours or more" in told
    assert (
        "Sink tank (under the floor) could freeze in 12 of 12 simulated trips, for 30 hours" in told
    )
    assert "on average, down to 25 °F" in told
    assert "fit a pad of 40 W" in told
    assert "Keep the heater on, or drain and blow out the pipes." in told
    assert "Winterise before Bend, Oregon" in told


def test_wear_tells_its_range(small_result: Result) -> None:
    row = by_key(small_result)["wear"].tables[0].rows[0]
    life = small_result.trips[0].battery_life
    assert life is not None
    assert row[3] == f"{life.years:.0f} years ({life.years_low:.0f} to {life.years_high:.0f})"


def test_no_freeze_warning_names_a_warmth_above_freezing(tanks: Result) -> None:
    """Of twelve simulated trips one is cold: the warning is of that one, not of the mean."""
    trip = tanks.trips[0]
    pipes, *_ = trip.frost.spots
    hours, coldest = np.zeros(12), np.full(12, 3.0)
    hours[4], coldest[4] = 5.0, -4.0
    spot = replace(pipes, hours=hours, coldest_c=coldest)
    cold = replace(trip, frost=replace(NO_FROST, spots=(spot,)))
    text = plain(" ".join(by_key(replace(tanks, trips=(cold,)))["warmth"].sentences))
    assert "could freeze in 1 of 12 simulated trips, for 5 hours on average, down to 25 °F" in text
    mild = replace(trip, frost=replace(NO_FROST, spots=(replace(spot, hours=np.zeros(12)),)))
    sections = by_key(replace(tanks, trips=(mild,)))
    said = " ".join(sections["warmth"].sentences) if "warmth" in sections else ""
    assert "freeze" not in said


def test_they_stand_in_the_page_escaped(tanks: Result) -> None:
    page = render_page(tanks, written=dt.date(2027, 3, 1), version="1")
    for key in ("stores", "season", "leftover", "wear"):
        assert f'<section id="{key}"' in page
    assert "<b>tank</b>" not in page.split('id="decisions"')[0]
    assert page.index('id="loads"') < page.index('id="stores"') < page.index('id="how"')
