"""Stores: what comes in is what was used and what is left."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from sim.van import tanks

AMOUNTS = hnp.arrays(np.float64, (12, 3), elements=st.floats(0.0, 20.0))
TIMES = hnp.arrays(np.bool_, 12)


def col(*values: float) -> np.ndarray:
    return np.array(values, dtype=np.float64)[:, None]


def test_a_tank_empties_and_what_is_missed_is_counted() -> None:
    got = tanks.emptying(
        col(4, 4, 4, 4), col(0, 0, 0, 0), np.zeros(4, bool), capacity=10.0, start=10.0
    )
    assert got.level[:, 0].tolist() == [10, 6, 2, 0, 0]
    assert got.moved[:, 0].tolist() == [4, 4, 2, 0]
    assert got.missed[:, 0].tolist() == [0, 0, 2, 4]


def test_a_service_fills_it_and_a_can_as_far_as_there_is_room() -> None:
    got = tanks.emptying(
        col(4, 4, 4, 4, 4),
        col(0, 0, 30, 3, 0),
        np.array([0, 1, 0, 0, 0], bool),
        capacity=10.0,
        start=5.0,
    )
    assert got.renewed[:, 0].tolist() == [0, 9, 4, 3, 0]
    assert got.level[:, 0].tolist() == [5, 10, 10, 9, 5, 1]


def test_a_grey_tank_fills_and_what_finds_no_room_is_counted() -> None:
    got = tanks.filling(col(4, 4, 4, 4), np.array([0, 0, 0, 1], bool), capacity=10.0, start=1.0)
    assert got.level[:, 0].tolist() == [1, 5, 9, 0, 4]
    assert got.missed[:, 0].tolist() == [0, 0, 3, 0]
    assert got.renewed[:, 0].tolist() == [0, 0, 0, 10]


@given(AMOUNTS, AMOUNTS, TIMES, st.floats(0.5, 100.0), st.floats(0.0, 1.0))
def test_litres_in_are_litres_used_and_left(
    wanted: np.ndarray, brought: np.ndarray, served: np.ndarray, capacity: float, share: float
) -> None:
    got = tanks.emptying(wanted, brought[:, :1], served, capacity=capacity, start=share * capacity)
    put_in = share * capacity + got.renewed.sum(axis=0)
    np.testing.assert_allclose(put_in, got.moved.sum(axis=0) + got.level[-1], atol=1e-9)
    np.testing.assert_allclose(got.moved + got.missed, wanted, atol=1e-9)
    assert got.level.min() >= 0.0
    assert got.level.max() <= capacity + 1e-9
    # Nothing is missed while there is any left.
    left = got.level[:-1] - got.moved
    assert not (got.missed[left > 1e-9] > 1e-9).any()


@given(AMOUNTS, TIMES, st.floats(0.5, 100.0), st.floats(0.0, 1.0))
def test_grey_in_is_grey_let_out_and_held(
    arriving: np.ndarray, served: np.ndarray, capacity: float, share: float
) -> None:
    got = tanks.filling(arriving, served, capacity=capacity, start=share * capacity)
    held = share * capacity + got.moved.sum(axis=0) - got.renewed.sum(axis=0)
    np.testing.assert_allclose(held, got.level[-1], atol=1e-9)
    np.testing.assert_allclose(got.moved + got.missed, arriving, atol=1e-9)
    assert got.level.min() >= -1e-9
    assert got.level.max() <= capacity + 1e-9


@given(AMOUNTS, st.floats(0.5, 50.0))
def test_a_larger_tank_never_misses_more(wanted: np.ndarray, capacity: float) -> None:
    none, never = np.zeros((12, 1)), np.zeros(12, bool)
    small = tanks.emptying(wanted, none, never, capacity=capacity, start=capacity)
    large = tanks.emptying(wanted, none, never, capacity=1.5 * capacity, start=1.5 * capacity)
    assert (large.missed <= small.missed + 1e-9).all()


def test_propane_by_its_heat() -> None:
    """A kilogram holds 13.9 kWh; 80 % of a litre weighs 405 g."""
    burnt = tanks.burnt_kg(np.array([50.2e6 / 3600.0]), 2.0)
    assert burnt[0] == pytest.approx(2.0)
    assert tanks.full_kg(1.0, 80.0) == pytest.approx(0.4048)


def test_a_pad_holds_a_tank_as_far_as_its_watts_go() -> None:
    air = np.array([-20.0, -5.0, 2.0, 3.0, 15.0])
    ua = tanks.tank_ua_w_k(60.0)
    # A cube of 60 L has 0.92 m2.
    assert ua == pytest.approx(5.0 * 6.0 * 0.06 ** (2.0 / 3.0))
    watts = tanks.warmer_watts(air, capacity_l=60.0, most_watts=50.0)
    np.testing.assert_allclose(watts, [50.0, 8.0 * ua, 1.0 * ua, 0.0, 0.0])
    warmed = tanks.warmed_c(air, capacity_l=60.0, most_watts=50.0)
    np.testing.assert_allclose(warmed, [-20.0 + 50.0 / ua, 3.0, 3.0, 3.0, 15.0])
    bare = tanks.warmed_c(air, capacity_l=60.0, most_watts=0.0)
    np.testing.assert_array_equal(bare, air)
