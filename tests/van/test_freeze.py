"""A tank in the cold, and the pad that keeps it from freezing."""

from __future__ import annotations

import numpy as np
import pytest

from sim.van import tanks

AROUND = np.array([-20.0, -5.0, 0.0, 2.0, 3.0, 15.0])


def test_a_cubic_metre_loses_by_six_square_metres() -> None:
    assert tanks.tank_ua_w_k(1000.0) == pytest.approx(6.0 * tanks.TANK_U_W_M2K)
    # Eight times the water, four times the wall.
    assert tanks.tank_ua_w_k(800.0) / tanks.tank_ua_w_k(100.0) == pytest.approx(4.0)


def test_a_strong_pad_holds_its_set_point_and_no_more() -> None:
    held = tanks.warmed_c(AROUND, capacity_l=80.0, most_watts=5000.0)
    np.testing.assert_allclose(held, np.maximum(AROUND, tanks.WARMER_HOLDS_C))


def test_a_pad_rests_where_it_is_warm_enough() -> None:
    drawn = tanks.warmer_watts(AROUND, capacity_l=80.0, most_watts=5000.0)
    assert (drawn[AROUND >= tanks.WARMER_HOLDS_C] == 0.0).all()
    assert (drawn[AROUND < tanks.WARMER_HOLDS_C] > 0.0).all()


def test_a_weak_pad_gives_all_it_has_and_its_watts_are_what_the_wall_loses() -> None:
    ua = tanks.tank_ua_w_k(80.0)
    drawn = tanks.warmer_watts(AROUND, capacity_l=80.0, most_watts=40.0)
    warmed = tanks.warmed_c(AROUND, capacity_l=80.0, most_watts=40.0)
    assert drawn.max() == 40.0
    assert warmed[0] < tanks.FREEZES_C
    np.testing.assert_allclose(ua * (warmed - AROUND), drawn, rtol=1e-12)


def test_without_a_pad_it_is_as_cold_as_around_it() -> None:
    np.testing.assert_array_equal(tanks.warmed_c(AROUND, capacity_l=80.0, most_watts=0.0), AROUND)
