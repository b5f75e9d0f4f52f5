"""Wear of a battery: daily cycles against arithmetic, bounds, quiet histories."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.van.bank.wear import DAYS_PER_YEAR, ENDURANCE, cycle_wear, expected_life, rainflow


def daily(depth: float, days: int) -> np.ndarray:
    """A battery that is full every evening and down by a depth every morning."""
    return np.concatenate([np.tile([1.0, 1.0 - depth], days), [1.0]])


@pytest.mark.parametrize("chemistry", sorted(ENDURANCE))
@pytest.mark.parametrize("depth", [0.1, 0.5, 0.8])
def test_a_cycle_a_day(chemistry: str, depth: float) -> None:
    kind = ENDURANCE[chemistry]
    wear, full_cycles = cycle_wear(daily(depth, 100), kind)
    lasts = kind.cycles * (kind.depth / depth) ** kind.exponent
    assert wear == pytest.approx(100.0 / lasts, rel=1e-12)
    assert full_cycles == pytest.approx(100.0 * depth, rel=1e-12)
    life = expected_life(daily(depth, 100)[:, None], 100.0, chemistry)
    assert life.years == pytest.approx(
        1.0 / (DAYS_PER_YEAR / lasts + 1.0 / kind.years[1]), rel=1e-12
    )
    assert life.years_low < life.years < life.years_high
    assert life.wear_pct_per_year == pytest.approx(100.0 / life.years, rel=1e-12)


@pytest.mark.parametrize("chemistry", sorted(ENDURANCE))
def test_on_the_shelf_the_calendar_rules(chemistry: str) -> None:
    quiet = np.full((50, 2), 0.8)
    quiet[::2] += 0.001
    life = expected_life(quiet, 10.0, chemistry)
    assert (life.years_low, life.years, life.years_high) == pytest.approx(
        ENDURANCE[chemistry].years
    )
    assert life.full_cycles_per_year == 0.0


def test_known_points_of_the_curves() -> None:
    flooded, lithium = ENDURANCE["flooded"], ENDURANCE["lifepo4"]
    # Murphy: 15 000 cycles of 5 %.
    assert 1.0 / cycle_wear(daily(0.05, 1), flooded)[0] == pytest.approx(15_000, rel=0.01)
    # Data sheets: 2000 cycles of 100 %.
    assert 1.0 / cycle_wear(daily(1.0, 1), lithium)[0] == pytest.approx(2000, rel=0.01)
    # A golf-cart data sheet: 750 cycles of 50 %, 225 of 80 %, within the bounds that are told.
    for depth, cycles in ((0.5, 750.0), (0.8, 225.0)):
        ours = 1.0 / cycle_wear(daily(depth, 1), flooded)[0]
        low, high = flooded.cycles_factor
        assert low * 0.97 * ours <= cycles <= high * ours


def test_deeper_is_worse_and_the_mean_of_histories_counts() -> None:
    lives = [expected_life(daily(d, 30)[:, None], 30.0, "agm").years for d in (0.1, 0.3, 0.6)]
    assert lives == sorted(lives, reverse=True)
    two = np.stack([daily(0.1, 30), daily(0.6, 30)], axis=1)
    both = expected_life(two, 30.0, "agm")
    assert both.wear_pct_per_year == pytest.approx(
        np.mean([100.0 / lives[0], 100.0 / lives[2]]), rel=1e-12
    )


@given(st.lists(st.integers(0, 20), min_size=1, max_size=60))
def test_rainflow_counts_every_way_once(values: list[int]) -> None:
    """Twice the count times the range is the whole way up and down, whatever the history."""
    series = np.array(values, dtype=np.float64)
    found = rainflow(series)
    way = np.abs(np.diff(series)).sum()
    assert 2.0 * (found[:, 0] * found[:, 2]).sum() == pytest.approx(way, abs=1e-9)
    assert set(found[:, 2].tolist()) <= {0.5, 1.0}


def test_swings_below_half_a_point_are_the_noise_of_loads() -> None:
    kind = ENDURANCE["lifepo4"]
    assert cycle_wear(daily(0.0049, 100), kind) == (0.0, 0.0)
    assert cycle_wear(daily(0.0051, 100), kind)[1] == pytest.approx(0.51)
