"""The audit: appliances by what they take, and reasons that the data bears out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

import sim
from sim.job.model.job import Job
from sim.ledger.audit import LEAST_WH, Audit, Change, audit
from sim.ledger.results import Result
from sim.report.terminal.answer import change_words
from sim.trip.inverter import INVERTER_NAME

MakeJob = Callable[..., Job]
WINTER = ("depart = 2027-03-30", "depart = 2027-01-10")
PLUG_PAD = """
[[appliances]]
name = "Pad on the plug"
kind = "steady"
watts = 60
supply = "ac"
runs = "plugged"
priority = "extra"
"""


@pytest.fixture
def seasons(make_job: MakeJob) -> Result:
    """January with nights on the plug, July without."""
    return sim.simulate(make_job(WINTER, end=PLUG_PAD))


def change(found: Audit, name: str) -> Change:
    (one,) = [x for x in found.changes if x.name == name]
    return one


def test_rows_are_the_ledger_a_day_the_largest_first(seasons: Result) -> None:
    found = audit(seasons)
    assert found.trips == ("Spring", "Summer")
    largest = [max(row.wh_day) for row in found.rows]
    assert largest == sorted(largest, reverse=True)
    assert {row.supply for row in found.rows} == {"dc", "ac", "inverter"}
    for number, trip in enumerate(seasons.trips):
        wanted = sum(float(load.wanted_wh.mean()) for load in trip.loads) / trip.days_long
        assert sum(row.wh_day[number] for row in found.rows) == pytest.approx(wanted)
    monitor = next(row for row in found.rows if row.name == "Monitor")
    assert monitor.wh_day == pytest.approx((120.0, 120.0))


def test_the_inverters_overhead_is_a_row_of_its_own(seasons: Result) -> None:
    (row,) = [row for row in audit(seasons).rows if row.supply == "inverter"]
    assert row.name == INVERTER_NAME
    assert min(row.wh_day) > 0.0


def test_coldest_and_warmest_are_found(seasons: Result) -> None:
    found = audit(seasons)
    assert (found.coldest, found.warmest) == ("Spring", "Summer")
    turned = audit(Result(seasons.job, seasons.trips[::-1]))
    assert (turned.coldest, turned.warmest) == ("Spring", "Summer")
    assert turned.changes == found.changes


def test_reasons_come_with_the_figures_they_rest_on(seasons: Result) -> None:
    cold, warm = seasons.trips
    found = audit(seasons)
    heater, fan, lamps = (change(found, name) for name in ("Heater", "Fan", "Lamps"))
    assert (heater.cause, fan.cause, lamps.cause) == ("outside", "inside", "night")
    assert heater.cold_wh > heater.warm_wh
    assert heater.cold_value == pytest.approx(float(cold.temp_air.mean()))
    assert fan.warm_wh > fan.cold_wh
    assert fan.warm_value == pytest.approx(float(warm.cabin_c.mean()))
    assert lamps.cold_wh > lamps.warm_wh
    assert lamps.cold_value is not None
    assert lamps.warm_value is not None
    # Nights of 38 N: some 14 and 9 hours.
    assert lamps.cold_value > lamps.warm_value + 4.0
    pad = change(found, "Pad on the plug")
    assert (pad.cause, pad.warm_value, pad.warm_wh) == ("plug", 0.0, 0.0)


def test_the_inverter_follows_what_it_feeds(make_job: MakeJob) -> None:
    """The refrigerator on AC takes more in summer, and the inverter's losses with it."""
    found = audit(sim.simulate(make_job(WINTER)))
    inverter = change(found, INVERTER_NAME)
    fed = [sum(x.wh_day[trip] for x in found.rows if x.supply == "ac") for trip in (0, 1)]
    assert inverter.cause == "ac"
    assert (inverter.cold_value, inverter.warm_value) == pytest.approx(tuple(fed))


def test_no_reason_is_told_that_points_the_other_way(seasons: Result) -> None:
    """A heater that takes more where it is warmer outside: the air is not why."""
    cold, warm = seasons.trips
    swapped = replace(cold, temp_air=warm.temp_air), replace(warm, temp_air=cold.temp_air)
    found = audit(Result(seasons.job, swapped))
    assert found.warmest == "Spring"
    heater = change(found, "Heater")
    assert heater.warm_wh > heater.cold_wh
    assert heater.cause != "outside"


def test_small_changes_are_not_told(seasons: Result) -> None:
    found = audit(seasons)
    assert "Monitor" not in {x.name for x in found.changes}
    moved = [abs(x.warm_wh - x.cold_wh) for x in found.changes]
    assert moved == sorted(moved, reverse=True)
    assert min(moved) >= LEAST_WH


def test_one_trip_is_compared_with_nothing(seasons: Result) -> None:
    found = audit(Result(seasons.job, seasons.trips[:1]))
    assert found.changes == ()
    assert found.coldest == found.warmest == "Spring"


def test_an_inverter_left_on_never_takes_less(make_job: MakeJob) -> None:
    dc_box = ('max_watts = 60\nsupply = "ac"', "max_watts = 60")
    mode = ('runs = "when needed"', 'runs = "always"')
    needed = audit(sim.simulate(make_job(WINTER, dc_box)))
    always = audit(sim.simulate(make_job(WINTER, dc_box, mode)))
    (few,), (more,) = (
        [row.wh_day for row in x.rows if row.supply == "inverter"] for x in (needed, always)
    )
    assert (np.array(more) >= np.array(few)).all()
    assert sum(more) > sum(few)


@pytest.mark.parametrize(
    ("cause", "values", "units", "told"),
    [
        ("outside", (0.0, 20.0), "us", "(68 °F instead of 32 °F outside)"),
        ("inside", (10.0, 20.0), "metric", "(20 °C instead of 10 °C inside)"),
        ("night", (14.0, 9.5), "us", "(9.5 instead of 14.0 hours a day without sun)"),
        ("aboard", (20.0, 22.0), "us", "(people aboard 22.0 instead of 20.0 hours a day)"),
        ("plug", (10.0, 0.0), "us", "(0.0 instead of 10.0 hours a day on the plug)"),
        ("road", (1.0, 2.0), "us", "(2.0 instead of 1.0 hours a day on the road)"),
        ("water", (37.854, 75.708), "us", "(20.0 instead of 10.0 gallons of water a day)"),
        ("water", (30.0, 40.0), "metric", "(40 instead of 30 litres of water a day)"),
        ("meals", (4.0, 6.0), "us", "(6.0 instead of 4.0 meals a day)"),
        ("ac", (1000.0, 1200.0), "us", "(AC appliances take 1,200 instead of 1,000 Wh)"),
        (None, (None, None), "us", "Box: 50 Wh more"),
    ],
)
def test_words(cause: object, values: tuple[float, float], units: str, told: str) -> None:
    line = change_words(Change("Box", 100.0, 150.0, cause, *values), units)  # type: ignore[arg-type]
    assert line.startswith("Box: 50 Wh more")
    assert line.endswith(told)
