"""A small job, simulated once for all tests of the report."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

import sim
from sim.ledger.answer import answer_of
from sim.ledger.results import Result
from sim.ledger.verdict import bad_draw
from sim.report.charts import chart_data, sources_chart, trip_chart
from sim.report.charts.trip_chart import Chart
from sim.report.words import chart_words
from sim.report.words.numbers import Manner

JOB = """
title = "Small <test> van & more"

[van]
use = "medium-roof"

[living]
use = "weekend-away"

[[panels]]
use = "rigid-170"
count = 1
controller_amps = 20

[battery]
use = "lifepo4-100"

[alternator]
dcdc_amps = 20

[shore]
charger_amps = 20
inlet_volts = 120
inlet_amps = 15

[inverter]
watts = 1000
idle_watts = 10

[[appliances]]
use = "fridge-dc"

[[appliances]]
use = "lights-led"

[[appliances]]
use = "coffee-maker"
name = "=SUM(A1)"

[[trips]]
name = "Winter [red]week[/red]"
depart = 2027-01-04
start = "Portland, Oregon"
stops = [
    { place = "Klamath Falls, Oregon", nights = 3, drive_hours = 4 },
    { place = "Bend, Oregon", nights = 2, drive_hours = 2, plug_in = "nights" },
]

[[trips]]
name = "Summer"
depart = 2027-07-05
stops = [{ place = "Bend, Oregon", nights = 3 }]

[settings]
draws = 12
seed = 3
"""


@pytest.fixture(scope="session")
def report_job() -> str:
    """The job file of `small_result`."""
    return JOB


@pytest.fixture(scope="session")
def short_result(tmp_path_factory: pytest.TempPathFactory) -> Result:
    """The same trips with a lamp that burns all night, so that the bad case goes dark."""
    lamp = '[[appliances]]\nkind = "steady"\nname = "Lamp"\nwatts = 18\npriority = "comfort"\n'
    path: Path = tmp_path_factory.mktemp("job") / "short.toml"
    path.write_text(JOB.replace("[[trips]]", f"{lamp}\n[[trips]]", 1), "utf-8")
    return sim.simulate(sim.load_job(path))


@pytest.fixture(scope="session")
def small_result(tmp_path_factory: pytest.TempPathFactory) -> Result:
    """Two short trips in twelve draws, none of them dark."""
    path: Path = tmp_path_factory.mktemp("job") / "small.toml"
    path.write_text(JOB, "utf-8")
    return sim.simulate(sim.load_job(path))


def draw(
    result: Result, index: int = 0, grain: chart_data.Grain = "hour", units: str = "us"
) -> Chart:
    """The chart of one trip as the page makes it."""
    trip, manner = result.trips[index], Manner(units)
    answer = answer_of(trip)
    points = chart_data.charge_points(
        trip, grain, bad_draw(trip.dark_hours, trip.lowest, trip.ample_share)
    )
    periods = [chart_data.periods(each) for each in result.trips]
    places = tuple(stop.place.name for stop in result.job.trips[index].stops)
    span = chart_data.time_ranges(result.trips)[index]
    return trip_chart.trip_chart(
        trip,
        points,
        periods[index],
        says=chart_words.point_sentences(trip, points, places, manner),
        marks=chart_words.bad_marks(trip, points, answer, places, manner),
        bad_name=chart_words.bad_name(trip),
        view=trip_chart.View(places, span, sources_chart.scale_top(periods), manner),
    )


@pytest.fixture(scope="session")
def draw_trip() -> Callable[..., Chart]:
    """Draws a trip of a result."""
    return draw
