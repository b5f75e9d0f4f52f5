"""Tanks of whole jobs: what goes in is used, left or let out, whatever the van and its trip."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.job.model.job import Job
from sim.job.overrides import overridden
from sim.trip.prepare import Skies, prepare_trip
from sim.trip.tanks import StoreLine, stores_of
from sim.van import tanks

JOB = """
title = "Any tanks"

[van]
use = "medium-roof"

[living]
use = "weekend-away"
out = []

[battery]
use = "lifepo4-200"

[water]
fresh_l = 80

[[water.grey]]
name = "Sinks"
capacity_l = 20
takes = ["kitchen", "basin"]

[[water.grey]]
name = "Shower"
capacity_l = 60
takes = ["shower"]

[propane]
tank_l = 5

[[appliances]]
use = "furnace-propane"

[[appliances]]
use = "propane-stove"

[[appliances]]
use = "hot-water-propane-instant"

[[trips]]
name = "Winter"
depart = 2027-01-10

[[trips.stops]]
place = "38.57, -109.55"
nights = 2

[[trips.stops]]
place = "38.77, -109.55"
nights = 0
drive_hours = 1

[[trips.stops]]
place = "38.57, -109.55"
nights = 2
drive_hours = 1

[settings]
draws = 5
"""
Run = Callable[[dict[str, object]], tuple[StoreLine, ...]]


def numbers(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high).map(lambda value: round(value, 3))


SERVICES = st.lists(st.sampled_from(["water", "dump", "propane"]), unique=True, max_size=3)
CHANGES = st.fixed_dictionaries(
    {
        "water.fresh_l": numbers(1.0, 300.0),
        "water.start_pct": numbers(0.0, 100.0),
        "water.carries_day": st.sampled_from([0.0, 0.5, 3.0]),
        "water.grey[Sinks].capacity_l": numbers(1.0, 100.0),
        "water.grey[Shower].start_pct": numbers(0.0, 100.0),
        "propane.tank_l": numbers(0.5, 40.0),
        "propane.start_pct": numbers(0.0, 100.0),
        "living.people": st.integers(1, 6),
        "living.showers_person_week": numbers(0.0, 14.0),
        "trips[1].stops[1].services": SERVICES,
        "trips[1].stops[2].services": SERVICES,
        "trips[1].stops[3].services": SERVICES,
    }
)


@pytest.fixture(scope="module")
def run(edited: Callable[..., Job]) -> Run:
    job = edited(JOB)
    skies = Skies()

    def stores(changes: dict[str, object]) -> tuple[StoreLine, ...]:
        changed = overridden(job, changes)
        (trip,) = changed.trips
        ready = prepare_trip(changed, trip, skies=skies)
        return stores_of(changed, trip, ready.timeline, ready.wants)

    return stores


@settings(max_examples=25)
@given(changes=CHANGES)
def test_tanks_close(run: Run, changes: dict[str, object]) -> None:
    fresh, sinks, shower, propane = run(changes)
    for line, start in (
        (fresh, changes["water.start_pct"]),
        (sinks, 0.0),
        (shower, changes["water.grey[Shower].start_pct"]),
        (propane, changes["propane.start_pct"]),
    ):
        levels, sign = line.levels, -1.0 if line.kind == "grey" else 1.0
        began = float(start) / 100.0 * line.capacity  # type: ignore[arg-type]
        put_in = began + sign * levels.renewed.sum(axis=0)
        np.testing.assert_allclose(
            put_in, sign * levels.moved.sum(axis=0) + levels.level[-1], rtol=1e-9, atol=1e-9
        )
        assert line.balance_error() < 1e-9
        assert levels.level.min() >= -1e-9
        assert levels.level.max() <= line.capacity + 1e-9
        assert (line.nights_until >= 0.0).all()
        assert line.out_share == float((line.short_h > 0.0).mean())
        # What the uses take is what was taken and what was missed.
        assert sum(line.by_use.values()) == pytest.approx(
            float(line.use_per_day.mean()), rel=1e-9, abs=1e-12
        )
    # Water leaves the fresh tank by the two drains, or is drunk or cooked away.
    down, showers = (
        sum(x.levels.moved + x.levels.missed for x in some) for some in ((sinks, shower), (shower,))
    )
    assert (down <= fresh.levels.moved + 1e-9).all()
    assert (fresh.levels.moved - down <= (fresh.levels.moved - showers) + 1e-9).all()
    assert fresh.carries * 20.0 <= 20.0 * float(changes["water.carries_day"]) * 5.0  # type: ignore[arg-type]


@settings(max_examples=10)
@given(tank_l=st.floats(0.5, 20.0), more=st.floats(1.0, 3.0))
def test_a_larger_tank_lasts_no_less(run: Run, tank_l: float, more: float) -> None:
    """And the heaters do not know of the tank: what they burn is what was taken and missed."""
    small, large = (
        run({"propane.tank_l": size})[-1] for size in (tank_l, min(tank_l * more, 60.0))
    )
    assert (large.nights_until >= small.nights_until - 1e-9).all()
    assert (large.short_h <= small.short_h).all()
    heat = [tanks.PROPANE_WH_KG * x.use_per_day for x in (small, large)]
    np.testing.assert_allclose(*heat, rtol=1e-12)
