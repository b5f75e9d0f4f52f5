"""When things may run: the sun stands well up from 15 degrees, or half its height of the day."""

from __future__ import annotations

import numpy as np

from sim.sky.sun import Sun
from sim.trip.availability import sun_well_up


def sun_at(*height: float) -> Sun:
    """A sun at these heights. [degrees]"""
    zenith = 90.0 - np.array(height)
    return Sun(zenith, zenith, np.zeros_like(zenith), np.zeros_like(zenith))


def test_the_sun_is_well_up_from_15_degrees_or_half_way_up_its_day() -> None:
    """A summer day, a winter day that climbs to 10 degrees, and a polar night."""
    sun = sun_at(-5.0, 14.5, 15.5, 60.0, 4.5, 5.5, 10.0, -3.0, -20.0, -1.0)
    day = np.array([0, 0, 0, 0, 1, 1, 1, 1, 2, 2])
    assert sun_well_up(sun, day).tolist() == [0, 0, 1, 1, 0, 1, 1, 0, 0, 0]
