"""What all rooms ask of their arrays."""

from __future__ import annotations

import numpy as np
import pytest

from sim.arrays import over_steps, quantiles

SHARES = (0.0, 0.1, 0.25, 0.5, 0.9, 0.95, 1.0)


@pytest.mark.parametrize("count", [1, 2, 3, 11, 24, 101, 200])
def test_quantiles_are_numpys_to_the_last_digit(count: int) -> None:
    rng = np.random.default_rng(count)
    values = rng.random((count, 7)) ** 3
    # Draws of a full battery are equal.
    values[:, 3] = np.round(values[:, 3], 1)
    kept = values.copy()
    for axis, own in ((0, values), (1, values.T), (-1, np.array([values.T, -values.T]))):
        np.testing.assert_array_equal(
            quantiles(own, SHARES, axis=axis), np.quantile(own, SHARES, axis=axis)
        )
    one = values[:, 0]
    np.testing.assert_array_equal(quantiles(one, [0.9], axis=0), [np.quantile(one, 0.9)])
    np.testing.assert_array_equal(values, kept)


def test_of_what_is_no_number_there_is_no_quantile() -> None:
    values = np.array([[1.0, np.nan, 3.0], [1.0, 2.0, 3.0]])
    found = quantiles(values, (0.1, 0.9), axis=1)
    np.testing.assert_array_equal(found, np.quantile(values, (0.1, 0.9), axis=1))
    assert np.isnan(found[:, 0]).all()


def test_the_sum_of_a_draw_is_the_same_beside_others_and_alone() -> None:
    values = np.random.default_rng(3).random((1000, 5))
    together = over_steps(values)
    for draw in range(5):
        assert over_steps(values[:, draw : draw + 1])[0] == together[draw]
    np.testing.assert_allclose(together, values.sum(axis=0))


def test_quantiles_of_a_large_table_are_done_some_rows_at_a_time(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    values = np.random.default_rng(4).random((50, 20))
    monkeypatch.setattr("sim.arrays.SORTED_AT_ONCE", 130)
    found = quantiles(values, SHARES, axis=1)
    np.testing.assert_array_equal(found, np.quantile(values, SHARES, axis=1))
