"""Levers on how people travel."""

from __future__ import annotations

from collections.abc import Callable

import sim
from sim.decide.levers.lever_catalogue import Lever, lever_list
from sim.decide.remedy import remedies
from sim.job.model.job import Job

Edited = Callable[..., Job]
GENERATOR = """
[generator]
watts = 1600
charger_amps = 40
tank_l = 1
start_below_soc = 0.6
"""
HUNGRY = """
[[appliances]]
kind = "steady"
name = "Instruments"
watts = 40
priority = "essential"
"""


def found(job: Job, name: str) -> list[Lever]:
    return [lever for lever in lever_list(job)[0] if lever.name == name]


def test_a_battery_that_leaves_half_empty_is_filled_first(small_job: str, edited: Edited) -> None:
    name = "Battery full at departure"
    assert found(edited(small_job), name) == []
    low = edited(small_job, ("depart =", "start_soc = 0.1\ndepart ="))
    (lever,) = found(low, name)
    assert (lever.price, lever.weight_kg) == (0.0, 0.0)
    assert [trip.start_soc for trip in lever.change(low).trips] == [1.0] * len(low.trips)


def test_a_generator_that_runs_dry_is_refuelled(small_job: str, edited: Edited) -> None:
    name = "The generator refuelled at every stop"
    assert found(edited(small_job), name) == []
    job = edited(
        small_job, ("count = 2", "count = 0"), ("nights = 2", "nights = 6"), end=GENERATOR + HUNGRY
    )
    (lever,) = found(job, name)
    fed = lever.change(job)
    assert found(fed, name) == []
    result = sim.simulate(job)
    trip, mended = result.trips[0], sim.simulate(fed).trips[0]
    assert trip.verdict == "short"
    assert mended.verdict == "ample"
    (remedy,) = remedies(job, result)
    assert remedy is not None
    assert (remedy.changes, remedy.price) == ((name,), 0.0)
