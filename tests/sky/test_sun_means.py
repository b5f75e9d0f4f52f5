"""The closed-form means against a fine numerical mean of pvlib's own positions."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from sim.sky.sun import position
from sim.sky.sun_means import mean_sun, sun_clock
from sim.sky.track import Track


def hours(first: str, count: int) -> np.ndarray:
    return np.datetime64(first, "s") + np.timedelta64(3600, "s") * np.arange(count)


def minute_mean(start: np.ndarray, latitude: float, longitude: float) -> tuple:
    minutes = (start[:, None] + np.timedelta64(60, "s") * np.arange(60)).ravel()
    here = np.ones(len(minutes))
    sun = position(Track(minutes, 1, here * latitude, here * longitude, 0 * here))
    up = (sun.cos_zenith > 0).reshape(-1, 60).mean(axis=1)
    return sun.cos_zenith.reshape(-1, 60).mean(axis=1), up


@pytest.mark.parametrize(
    ("latitude", "longitude"),
    [(0.0, 0.0), (38.6, -109.5), (-33.9, 151.2), (59.0, 179.9), (70.7, 23.7), (-77.8, 166.7)],
)
@pytest.mark.parametrize("day", ["2024-03-20", "2024-06-21", "2025-08-10", "2024-12-21"])
def test_hourly_mean_is_that_of_the_minutes(latitude: float, longitude: float, day: str) -> None:
    start = hours(f"{day}T00:00", 24)
    cosine, up = mean_sun(sun_clock(start, 60), latitude, longitude, -0.5, 0.5)
    minute_cosine, minute_up = minute_mean(start, latitude, longitude)
    # The declination moves 0.016 degrees an hour at most, the minutes round the sunrise.
    np.testing.assert_allclose(cosine, minute_cosine, atol=2e-4)
    # A minute on either side; where the sun skims the horizon, a few.
    np.testing.assert_allclose(up, minute_up, atol=3 / 60 if abs(latitude) < 65 else 0.1)


def test_parts_of_an_hour_add_up_to_the_hour() -> None:
    clock = sun_clock(hours("2024-06-21T00:00", 24), 60)
    whole, whole_up = mean_sun(clock, 70.0, 25.0, -0.5, 0.5)
    cuts = np.array([-0.5, -0.37, -0.1, 0.05, 0.41, 0.5])
    parts = [
        (end - begin, *mean_sun(clock, 70.0, 25.0, begin, end))
        for begin, end in itertools.pairwise(cuts)
    ]
    np.testing.assert_allclose(sum(w * cosine for w, cosine, _ in parts), whole, atol=1e-12)
    np.testing.assert_allclose(sum(w * up for w, _, up in parts), whole_up, atol=1e-12)


def test_polar_day_and_night() -> None:
    clock = sun_clock(hours("2024-06-21T00:00", 24), 60)
    np.testing.assert_allclose(mean_sun(clock, 80.0, 20.0, -0.5, 0.5)[1], 1.0)
    cosine, up = mean_sun(clock, -80.0, 20.0, -0.5, 0.5)
    assert cosine.max() == 0.0
    assert up.max() == 0.0


def test_an_empty_part_is_dark_not_nan() -> None:
    clock = sun_clock(hours("2024-06-21T00:00", 24), 60)
    cosine, up = mean_sun(clock, 40.0, 0.0, 0.2, 0.2)
    assert (cosine == 0.0).all()
    assert (up == 0.0).all()
