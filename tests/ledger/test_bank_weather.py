"""What the air around a bank does to it: the cabin's air in the cabin, the outer air outside."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from sim.job.model.job import Job
from sim.sky.sun import position
from sim.trip.bank import bank_weather
from sim.trip.timeline import build_timeline
from sim.trip.weather import track_of

MakeJob = Callable[..., Job]


@pytest.mark.parametrize("chemistry", ["lifepo4-100", "agm-100"])
@pytest.mark.parametrize("pad", ["", "\nheating_watts = 10\nheat_to_f = 34"], ids=["bare", "pad"])
@pytest.mark.parametrize("place", ["cabin", "outside"])
def test_a_bank_feels_the_air_it_stands_in(
    make_job: MakeJob, place: str, pad: str, chemistry: str
) -> None:
    """Twenty degrees in the cabin, twenty below nought outside, all the time."""
    job = make_job(
        ('use = "medium-roof"', f'use = "medium-roof"\nbattery_place = "{place}"'),
        ('use = "lifepo4-100"', f'use = "{chemistry}"{pad}'),
    )
    timeline = build_timeline(job, job.trips[1])
    shape = (len(timeline), 2)
    sun = position(track_of(timeline))
    outside, inside = np.full(shape, -20.0), np.full(shape, 20.0)
    found = bank_weather(job, timeline, outside, sun, inside)
    frozen = place == "outside"
    if chemistry == "agm-100":
        assert found.usable is not None
        # The air's own share, but for what a pad of 10 W adds.
        assert (found.usable < 0.75).all() == frozen
    else:
        # Ten watts lift the bank by some kelvin, not by twenty.
        np.testing.assert_array_equal(found.charge_allowed, 0.0 if frozen else 1.0)
    if pad:
        assert found.heating_w is not None
        assert found.heating_w.any() == frozen
