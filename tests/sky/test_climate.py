"""The world climate at a point."""

from __future__ import annotations

import numpy as np
import pytest

from sim.sky.climate.monthly import monthly
from sim.sky.climate.tables import (
    LAPSE_K_PER_M,
    _clearness,
    _tables,
    brightest_clearness,
    mean_weights,
    months_of_sun,
    point_climate,
    reanalysis_clearness,
)

MOAB = (38.57, -109.55, 1227.0)
SYDNEY = (-33.87, 151.21, 20.0)
TROMSO = (69.65, 18.96, 10.0)


def test_mean_weights_give_the_mean_of_what_is_drawn() -> None:
    probabilities = np.array([0.1, 0.3, 0.8])
    quantiles = np.array([1.0, 2.0, 5.0])
    rank = (np.arange(100_000) + 0.5) / 100_000
    assert mean_weights(probabilities).sum() == pytest.approx(1.0, abs=1e-12)
    assert quantiles @ mean_weights(probabilities) == pytest.approx(
        np.interp(rank, probabilities, quantiles).mean(), abs=1e-4
    )


def test_points_are_read_alike_alone_and_together() -> None:
    """To the last bit: a route must not change the weather of its first stop."""
    together = point_climate(*(np.array(axis) for axis in zip(MOAB, SYDNEY, TROMSO, strict=True)))
    for index, place in enumerate((MOAB, SYDNEY, TROMSO)):
        alone = monthly(*place)
        assert (alone.clearness_quantiles == together.clearness[index]).all()
        assert (alone.temperature_c == together.temperature_c[index]).all()
        assert (alone.temperature_range_c == together.temperature_range_c[index]).all()


HOT_AND_DULL = (1.37, 103.98, 16.0)  # Singapore
HOT_AND_BRIGHT = (33.43, -112.0, 340.0)  # Phoenix in July


def test_hot_months_are_corrected_by_how_dull_they_are() -> None:
    """The correction is a factor on what the tables hold: 1.09 where it is 27 deg C and dull, 0.975
    where it is hot and bright; 0.89 to 0.90 where it is mild. Stations around come on top."""

    def factor(place: tuple[float, float, float], month: int) -> float:
        cells, _ = reanalysis_clearness(*(np.array([axis]) for axis in place))
        raw, _ = _clearness(_tables(), np.array([place[0]]), np.array([place[1]]))
        # The middle of the distribution, far from the cloudless sky that cuts off its top.
        return float(cells[0, month, 3] / raw[0, month, 3])

    assert factor(HOT_AND_DULL, 6) == pytest.approx(1.09, abs=0.02)
    assert factor(HOT_AND_BRIGHT, 6) == pytest.approx(0.975, abs=0.01)
    assert factor(SYDNEY, 7) == pytest.approx(0.895, abs=0.005)


def test_at_the_shore_a_bright_month_is_no_wider_than_a_dull_one() -> None:
    """Los Angeles' airport against Riverside: the year's swing of the range, about half: the
    stations around make Riverside's year flatter than its cell."""
    shore, inland = monthly(33.94, -118.41, 30.0), monthly(33.95, -117.40, 250.0)
    assert np.ptp(shore.temperature_range_c) < 0.5 * np.ptp(inland.temperature_range_c)


def test_months_make_sense_on_both_hemispheres() -> None:
    north, south = monthly(*MOAB), monthly(*SYDNEY)
    assert north.ghi_kwh_m2_day.argmax() in (5, 6)
    assert south.ghi_kwh_m2_day.argmax() in (11, 0)
    assert north.temperature_c.argmax() == 6
    assert south.temperature_c.argmin() == 6
    assert north.daylight_h.argmin() == 11
    assert south.daylight_h.argmin() == 5
    assert north.ghi_kwh_m2_day == pytest.approx(
        north.clearness_index * months_of_sun(np.array([MOAB[0]]))[0][0] / 1000.0, rel=1e-12
    )


def test_quantiles_rise_and_stay_under_a_cloudless_sky() -> None:
    rng = np.random.default_rng(1)
    latitude, longitude = rng.uniform(30.0, 60.0, 200), rng.uniform(-120.0, -80.0, 200)
    altitude = rng.uniform(0.0, 3000.0, 200)
    here = point_climate(latitude, longitude, altitude)
    assert (np.diff(here.clearness, axis=2) >= 0.0).all()
    assert (here.clearness > 0.0).all()
    assert (here.clearness <= brightest_clearness(altitude)[:, None, None]).all()
    assert (here.temperature_range_c > 0.0).all()


def test_height_cools_the_air() -> None:
    low, high = monthly(46.0, 8.0, 200.0), monthly(46.0, 8.0, 2200.0)
    drop = low.temperature_c - high.temperature_c
    assert drop == pytest.approx(np.full(12, 2000.0 * LAPSE_K_PER_M), abs=1e-9)


@pytest.mark.parametrize("other", [-180.0, 540.0])
def test_the_world_is_round(other: float) -> None:
    here, there = monthly(66.0, 180.0, 50.0), monthly(66.0, other, 50.0)
    assert here.clearness_index == pytest.approx(there.clearness_index, rel=1e-12)
    assert here.temperature_c == pytest.approx(there.temperature_c, rel=1e-12)


def test_nothing_jumps_across_the_date_line() -> None:
    step_deg = 0.001
    west, east = monthly(66.0, 180.0 - step_deg, 50.0), monthly(66.0, -180.0 + step_deg, 50.0)
    assert west.clearness_index == pytest.approx(east.clearness_index, abs=1e-3)
    assert west.temperature_c == pytest.approx(east.temperature_c, abs=0.02)


def test_the_sea_narrows_the_day() -> None:
    """Los Angeles airport, 2 km from the sea, and Riverside, 60 km inland."""
    shore, inland = monthly(33.94, -118.41, 30.0), monthly(33.95, -117.40, 250.0)
    assert (inland.temperature_range_c - shore.temperature_range_c > 2.0).all()


def test_polar_night_and_midnight_sun() -> None:
    here = monthly(*TROMSO)
    assert here.daylight_h[11] < 0.5
    assert here.ghi_kwh_m2_day[11] < 0.01
    assert here.daylight_h[5] == 24.0
    assert np.isfinite(here.clearness_quantiles).all()


def test_near_land_the_nearest_cell_does() -> None:
    """The Channel between Plymouth and Brest, and a cape beyond the last row of cells."""
    assert 2.0 < monthly(49.5, -4.5, 0.0).ghi_kwh_m2_day.mean() < 4.0
    assert 1.5 < monthly(71.17, 25.78, 300.0).ghi_kwh_m2_day.mean() < 3.0
