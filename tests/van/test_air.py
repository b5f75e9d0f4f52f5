"""Air that comes and goes: leaks, fresh air, moisture."""

from __future__ import annotations

import numpy as np
import pytest

from sim.van import air


def test_leaks_of_a_house_as_in_the_handbook() -> None:
    """Hand calculation with the basic model's coefficients of a single storey: 500 cm2, 20 K and
    5 m/s make 500 sqrt(0.0029 + 0.00435) = 42.6 L/s."""
    flow = air.leak_l_s(np.array([20.0, -20.0]), np.array(5.0), leak_cm2=500.0)
    assert flow == pytest.approx([42.57, 42.57], abs=0.01)


def test_leaks_grow_with_wind_and_warmth_and_stand_still_without() -> None:
    rise, wind = np.array([0.0, 10.0, 20.0]), np.array([[0.0], [3.0], [9.0]])
    flow = air.leak_l_s(rise, wind, leak_cm2=40.0)
    assert flow[0, 0] == 0.0
    assert (np.diff(flow, axis=0) > 0.0).all()
    assert (np.diff(flow, axis=1) > 0.0).all()


def test_a_litre_a_second_carries_1_2_watts_per_kelvin() -> None:
    """1.2 kg/m3 x 1005 J/kgK x 0.001 m3/s = 1.206 W/K."""
    assert air.carried_w_k(np.array([1.0, 10.0])) == pytest.approx([1.206, 12.06])


def test_two_people_breathe_and_a_flame_wants_a_window() -> None:
    flow = air.fresh_l_s(np.array([2.0, 2.0, 0.0]), np.array([0.0, 0.5, 0.0]))
    assert flow == pytest.approx([7.0, 0.5 * 7.0 + 0.5 * 47.0, 0.0])
    # some 8 W/K for two people who only breathe
    assert air.carried_w_k(flow)[0] == pytest.approx(8.4, abs=0.1)


@pytest.mark.parametrize(
    ("temp_c", "g_m3"), [(-10.0, 2.36), (0.0, 4.85), (10.0, 9.40), (20.0, 17.3), (30.0, 30.4)]
)
def test_what_air_can_hold(temp_c: float, g_m3: float) -> None:
    """Absolute humidity at saturation, tables of meteorology (from memory, sure: 17.3 g/m3 at 20
    deg C); below freezing over water. Tolerance 0.5 %: the digits."""
    assert air.saturated_g_m3(np.array([temp_c])) == pytest.approx([g_m3], rel=5e-3)


def test_a_single_pane_is_nearly_as_cold_as_outside() -> None:
    """20 inside, 0 outside, U 5.5 of 8.3: 20 - 0.663 x 20 = 6.75 deg C."""
    face = air.inner_surface_c(np.array([20.0]), np.array([0.0]), u_w_m2k=5.5, film_w_m2k=8.3)
    assert face == pytest.approx([6.747], abs=1e-3)


def test_windows_run_with_water_where_little_air_comes_in() -> None:
    """Two asleep give 80 g/h. With 7 L/s (25.2 m3/h) the air holds 3.2 g/m3 more than outside:
    4.85 + 3.17 = 8.0 g/m3 at a dew point of 0 deg C, which is that of 7.7 deg C."""
    dew, moisture = np.zeros((1, 2)), np.array([[80.0]])
    flow = np.array([[7.0, 70.0]])
    assert air.is_wet(np.full((1, 2), 7.0), dew, moisture, flow).tolist() == [[True, False]]
    assert not air.is_wet(np.full((1, 2), 8.5), dew, moisture, flow).any()


def test_the_dew_point_is_the_lowest_of_the_day() -> None:
    temp = np.array([[5.0], [-2.0], [9.0], [3.0]])
    found = air.dew_point_c(temp, np.array([0, 0, 1, 1]))
    assert found[:, 0].tolist() == [-2.0, -2.0, 3.0, 3.0]
