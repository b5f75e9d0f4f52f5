"""Numbers placed evenly over the draws: normal, independent, and surer than dice."""

from __future__ import annotations

import numpy as np
import pytest

from sim.sky.climate import even

FIRST = 20_000 // even.BLOCK_DAYS * even.BLOCK_DAYS
PINNED = (
    (0.1422302121, -1.5844039155, 0.8652562305),
    (-0.0235643032, 2.3494760443, 0.6451965004),
    (-1.0357511447, 0.3857501131, -0.2529352425),
)


def days(count: int, draws: int, seed: int, first: int = FIRST) -> tuple[np.ndarray, np.ndarray]:
    return even.even_days(first, first + count - 1, draws, seed)


def test_the_lattice_is_the_same_on_any_machine() -> None:
    """Drawn once with numpy 2.4 on x86-64; the lattice is whole numbers, Philox is specified."""
    found = even.normals(np.array([0, 40, 766]), 54, 3, 7)
    assert found == pytest.approx(np.array(PINNED), abs=1e-9)


def test_days_belong_to_the_calendar_and_the_first_draws_to_any_number_of_them() -> None:
    for long, short in zip(days(80, 60, 3), days(24, 20, 3, FIRST + 16), strict=True):
        assert short == pytest.approx(long[16:40, :20], abs=1e-12)
    assert np.abs(days(8, 20, 3)[0] - days(8, 20, 4)[0]).max() > 0.1


def test_days_are_standard_normal_and_independent() -> None:
    """Over a year and its turn; of 512 draws and 400 days a correlation of 0.01 is chance."""
    bright, warm = days(400, 512, 5)
    for part in (bright, warm):
        assert part.mean() == pytest.approx(0.0, abs=0.01)
        assert part.std() == pytest.approx(1.0, abs=0.01)
        for apart in (1, 2, 5, 9):
            assert np.abs((part[apart:] * part[:-apart]).mean()) < 0.01
    assert np.abs((bright * warm).mean()) < 0.01


def test_a_fortnight_is_surer_than_by_dice() -> None:
    """Share of fortnights among the dullest third: over 40 seeds it moves by less than 0.75 of
    what dice would make it move, and its mean is the one of dice within 2 points."""
    shares = []
    for seed in range(40):
        bright, _ = days(24, 200, seed)
        shares.append((bright[5:19].mean(axis=0) < -0.4307 / np.sqrt(14.0)).mean())
    dice = np.sqrt(0.3333 * 0.6667 / 200.0)
    assert np.std(shares, ddof=1) < 0.75 * dice
    assert np.mean(shares) == pytest.approx(1.0 / 3.0, abs=0.02)


def test_the_waves_of_a_block_are_orthonormal() -> None:
    waves = even._waves()
    assert waves @ waves.T == pytest.approx(np.eye(even.BLOCK_DAYS), abs=1e-12)
