"""What is known of the reanalysis without a station near, and how unsure a month is."""

from __future__ import annotations

import numpy as np
import pytest

from sim.sky.climate.corrections import doubt, shift_of_air

FAR_KM = 1e6


def shift(latitude: float, temperature_c: float, sea_km: float = FAR_KM) -> float:
    """Of one place whose months are all alike."""
    months = shift_of_air(np.array([latitude]), np.full((1, 12), temperature_c), np.array([sea_km]))
    assert months.shape == (1, 12)
    return float(months[0, 0])


@pytest.mark.parametrize(
    ("temperature_c", "expected"), [(20.0, 0.0), (10.0, 0.0), (2.5, -0.125), (-5.0, -0.25)]
)
def test_cold_air_inland_is_duller(temperature_c: float, expected: float) -> None:
    assert shift(45.0, temperature_c) == pytest.approx(expected)


def test_the_sea_keeps_the_cold_away() -> None:
    assert shift(45.0, -5.0, sea_km=0.0) == pytest.approx(0.0)
    assert shift(45.0, -5.0, sea_km=25.0) == pytest.approx(-0.25 * (1.0 - np.exp(-1.0)))
    # No step where the search for the sea ends: farther away it counts as infinite.
    assert abs(shift(45.0, -5.0, sea_km=80.0) - shift(45.0, -5.0)) < 0.011


@pytest.mark.parametrize(
    ("latitude", "expected"),
    [(-55.0, 0.0), (52.0, 0.0), (55.0, 0.1), (58.0, 0.2), (64.0, 0.2), (68.0, 0.1), (80.0, 0.0)],
)
def test_the_north_is_brighter_as_far_as_the_arctic(latitude: float, expected: float) -> None:
    assert shift(latitude, 15.0) == pytest.approx(expected)


def test_a_place_is_least_sure_in_the_cold_and_in_the_north() -> None:
    places = np.array([45.0, 45.0, 62.0])
    warmth = np.repeat(np.array([[15.0], [-5.0], [15.0]]), 12, axis=1)
    own = doubt(places, np.array([10.0, 10.0, 10.0]), warmth, np.full((3, 12), 0.6)).own[:, 0]
    # By hand: 0.027 of a cloudless day is 0.027 x 1.06^2 / (0.6 x 0.46) on the logit scale.
    mild = 0.027 * 1.06**2 / (0.6 * 0.46)
    assert own == pytest.approx([mild, np.hypot(mild, 0.38), np.hypot(mild, 0.20)])
