"""What the air around a bank does to it: the cabin's air in the cabin, the outer air outside."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import exp

import numpy as np
import pytest

from sim.job.model.job import Job
from sim.sky.sun import position
from sim.trip.bank import bank_weather
from sim.trip.timeline import Timeline, build_timeline
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


def pad_watts(job: Job, timeline: Timeline, air_c: float) -> np.ndarray:
    """What the heating pad draws in air that is as cold all the time. [W], shape (H,)"""
    air = np.full((len(timeline), 1), air_c)
    found = bank_weather(job, timeline, air, position(track_of(timeline)), air)
    assert found.heating_w is not None
    return found.heating_w[:, 0]


def test_the_pad_lifts_the_heat_that_a_bank_holds(make_job: MakeJob) -> None:
    """120 Wh/kg and 0.28 Wh/(kg K): 1280 Wh hold 2.99 Wh/K, however worn they are. A van in
    the sun from the first hour; over that hour the bank leaks to the air with six hours' lag."""
    pad = 'use = "lifepo4-100"\nheating_watts = 200\nheat_to_c = 1'
    job = make_job(
        ("depart = 2027-07-10", 'depart = 2027-07-10\nleave_at = "12:00"'),
        ('use = "lifepo4-100"', pad),
    )
    timeline = build_timeline(job, job.trips[1])
    watts = pad_watts(job, timeline, -20.0)
    held = 1280.0 / 120.0 * 0.28
    kept = exp(-1.0 / 6.0)
    assert watts[0] == pytest.approx(held / 6.0 * 21.0 / (1.0 - kept), rel=0.03)
    # From then on it makes up for what leaks.
    assert watts[1] == pytest.approx(held / 6.0 * 21.0, rel=0.03)
    worn = make_job(
        ("depart = 2027-07-10", 'depart = 2027-07-10\nleave_at = "12:00"'),
        ('use = "lifepo4-100"', f"{pad}\nhealth_pct = 60"),
    )
    np.testing.assert_allclose(pad_watts(worn, timeline, -20.0), watts)


@pytest.mark.parametrize("source", ["driving", "idling", "plugged"])
def test_the_pad_waits_for_any_source(make_job: MakeJob, source: str) -> None:
    job = make_job(
        ("depart = 2027-07-10", 'depart = 2027-07-10\nleave_at = "00:00"'),
        ('use = "lifepo4-100"', 'use = "lifepo4-100"\nheating_watts = 200'),
    )
    timeline = build_timeline(job, job.trips[1])
    first = np.zeros(len(timeline))
    first[0] = 1.0
    none = dict.fromkeys(("driving", "idling", "plugged"), np.zeros(len(timeline)))
    # It is midnight: there is no sun.
    assert pad_watts(job, replace(timeline, **none), -20.0)[0] == 0.0
    assert pad_watts(job, replace(timeline, **{**none, source: first}), -20.0)[0] > 0.0
