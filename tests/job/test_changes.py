"""A section with keys changed: each value by the rule of its key, the section itself untouched."""

from __future__ import annotations

import math
from typing import Any

import pytest

from sim.errors import JobError
from sim.job.model.appliances import ColdBox
from sim.job.model.changes import with_values
from sim.job.model.fields import bounds
from sim.job.model.job import Job, Stop
from sim.job.model.power import Battery, PanelGroup
from sim.job.model.roof import Roof


def test_only_the_keys_named_change(job: Job) -> None:
    more = with_values(job.battery, {"count": 3, "use": None})
    assert (more.count, more.use, job.battery.count) == (3, None, 1)
    assert more.capacity_ah == job.battery.capacity_ah
    changed = with_values(job, {"battery": more, "panels": (), "roof": None})
    assert changed.battery is more
    assert changed.panels == ()
    assert changed.van is job.van


def test_values_are_read_as_in_a_job_file(job: Job) -> None:
    trip = with_values(job.trips[0], {"leave_at": "06:30", "depart": "2027-08-01"})
    assert trip.leave_at == 390
    assert (trip.depart.month, trip.depart.day) == (8, 1)
    assert with_values(job.battery, {"resistance_mohm": 2}).resistance_mohm == 2.0


def test_a_place_by_its_coordinate_or_as_it_was_found(job: Job) -> None:
    stop = job.trips[0].stops[0]
    moved = with_values(stop, {"place": "40.0, -105.0"})
    assert (moved.place.latitude, moved.place.longitude) == (40.0, -105.0)
    assert with_values(stop, {"place": moved.place}).place is moved.place
    with pytest.raises(JobError, match="write a town"):
        with_values(stop, {"place": 7})


@pytest.mark.parametrize(
    ("section", "key", "value", "rule"),
    [
        ("battery", "count", 41, "less than or equal to 40"),
        ("battery", "count", 1.5, "valid integer"),
        ("battery", "capacity_ah", "100", "valid number"),
        ("battery", "capacity_ah", math.inf, "finite number"),
        ("battery", "count_", 2, "no such key; did you mean count?"),
        ("living", "people", 0, "greater than or equal to 1"),
        ("settings", "units", "imperial", "'us' or 'metric'"),
    ],
)
def test_what_a_job_file_may_not_hold_is_refused(
    job: Job, section: str, key: str, value: Any, rule: str
) -> None:
    with pytest.raises(JobError, match=rule) as caught:
        with_values(getattr(job, section), {key: value})
    assert caught.value.faults[0].key == key


def test_a_section_takes_the_place_of_its_own_kind_alone(job: Job) -> None:
    with pytest.raises(JobError):
        with_values(job, {"battery": job.van})
    with pytest.raises(JobError):
        with_values(job, {"panels": (job.battery,)})
    assert with_values(job, {"roof": Roof(length_m=3.0, width_m=1.5)}).roof is not None


def test_bounds_of_a_key() -> None:
    assert bounds(Battery, "count") == (1.0, 40.0)
    assert bounds(PanelGroup, "count") == (0.0, 60.0)
    assert bounds(Stop, "local_drive_hours") == (0.0, 16.0)
    # A key that may be left out keeps its bounds within.
    assert bounds(PanelGroup, "weight_kg") == (0.1, 200.0)
    assert bounds(ColdBox, "rated_ambient_c")[1] > bounds(ColdBox, "inside_c")[1]
