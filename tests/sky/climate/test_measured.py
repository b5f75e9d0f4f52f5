"""Months as a station's days say they are."""

from __future__ import annotations

import numpy as np
import pytest

from sim.sky.climate.measured import MeasuredDays, measured_months, month_of_day
from sim.sky.climate.tables import probabilities, quantile_mean

DAYS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])


def days_of(
    months: tuple[int, ...] = tuple(range(12)), *, spread: float = 0.15, seed: int = 1
) -> MeasuredDays:
    """Days of some months: clearness 0.45, brighter in winter, spread evenly about it."""
    random = np.random.default_rng(seed)
    day = np.flatnonzero(np.isin(month_of_day(np.arange(365)), months))
    month = month_of_day(day)
    outside = np.full(len(day), 8000.0)
    season = np.cos(2.0 * np.pi * day / 365.0)
    clear = 0.45 + 0.05 * season + spread * random.uniform(-1.0, 1.0, len(day))
    warm = 10.0 - 8.0 * season + random.normal(0.0, 3.0, len(day))
    return MeasuredDays(day, clear * outside, outside, warm, 6.0 + 0.5 * month)


def test_means_are_the_days_own() -> None:
    days = days_of()
    found = measured_months(days, 100.0)
    month = month_of_day(days.day_of_year)
    for at in range(12):
        here = month == at
        mean = days.light[here].sum() / days.light_outside[here].sum()
        assert quantile_mean(found.clearness[at], probabilities()) == pytest.approx(mean)
        assert found.temperature_c[at] == pytest.approx(days.mean_c[here].mean())
        assert found.temperature_range_c[at] == pytest.approx(6.0 + 0.5 * at)


@pytest.mark.parametrize("spread", [0.05, 0.15])
def test_the_spread_is_the_days_own(spread: float) -> None:
    """Evenly spread days: 0.98 of their range between the 2 and the 98 % quantile, within a
    tenth of it, as three months of days have it."""
    found = measured_months(days_of(spread=spread), 0.0)
    width = found.clearness[:, -1] - found.clearness[:, 0]
    assert width == pytest.approx(np.full(12, 2.0 * spread * 0.96), rel=0.1)
    assert found.spell_spread_k.mean() == pytest.approx(3.0, abs=0.3)


def test_an_unknown_month_is_read_between_its_neighbours() -> None:
    found = measured_months(days_of((0, 1, 2, 3, 4, 5, 7, 8, 9, 10, 11)), 0.0)
    means = quantile_mean(found.clearness, probabilities())
    assert means[6] == pytest.approx((means[5] + means[7]) / 2.0)
    assert found.temperature_range_c[6] == pytest.approx(9.0)
    assert np.isfinite(found.spell_spread_k).all()


def test_a_polar_night_has_numbers_and_no_light() -> None:
    days = days_of()
    dark = month_of_day(days.day_of_year) == 11
    days.light[dark] = days.light_outside[dark] = 0.0
    found = measured_months(days, 0.0)
    assert np.isfinite(found.clearness).all()
    assert (found.clearness > 0.0).all()


def test_at_an_altitude() -> None:
    found = measured_months(days_of(), 100.0)
    climate = found.at(np.array([100.0, 1100.0]))
    np.testing.assert_allclose(climate.temperature_c[0], found.temperature_c)
    np.testing.assert_allclose(climate.temperature_c[0] - climate.temperature_c[1], 6.5)
    np.testing.assert_allclose(climate.clearness[1], found.clearness)
    assert climate.measured


def test_brighter_than_a_cloudless_day_is_cut_to_it() -> None:
    days = days_of(spread=0.0)
    found = measured_months(
        MeasuredDays(
            days.day_of_year,
            0.9 * days.light_outside,
            days.light_outside,
            days.mean_c,
            days.range_k,
        ),
        0.0,
    )
    assert found.at(np.array([0.0])).clearness.max() < 0.75
