"""A tank of hot water: its heat closes, it warms as its heaters may, and it runs cold."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.van.hot_water import AROUND_C, WATER_WH_L_K, HotHours, hot_hours

HOURS = 48
# Litres 50 kelvin above cold water.
FULL_WH = 20.0 * WATER_WH_L_K * 50.0


def run(wanted: np.ndarray, most: list[Any], **changes: Any) -> HotHours:
    """A tank of 20 litres at 60 deg C, fed with water of 10, that loses nothing."""
    heaters = len(most)
    keys: dict[str, Any] = {
        "tank_l": np.full(heaters, 20.0),
        "hot_c": np.full(heaters, 60.0),
        "cold_c": 10.0,
        "standing_w_k": 0.0,
        "step_hours": 1.0,
        **changes,
    }
    steps = len(wanted)
    rows = [np.broadcast_to(np.asarray(row, dtype=float), (steps,)) for row in most]
    return hot_hours(wanted, np.array(rows).reshape(heaters, steps), **keys)


def draws_at(hour: int, watts: float) -> np.ndarray:
    wanted = np.zeros(HOURS)
    wanted[hour] = watts
    return wanted


def test_a_shower_is_made_up_for_as_fast_as_the_heater_can() -> None:
    hot = run(draws_at(10, 700.0), [300.0])
    assert hot.stored_wh[0] == pytest.approx(FULL_WH)
    np.testing.assert_allclose(hot.heat_w[0, 9:14], [0.0, 300.0, 300.0, 100.0, 0.0], atol=1e-9)
    assert not hot.short_w.any()
    assert hot.stored_wh[-1] == pytest.approx(FULL_WH)


def test_an_empty_tank_falls_short() -> None:
    hot = run(draws_at(10, FULL_WH + 500.0), [200.0])
    assert hot.short_w.sum() == pytest.approx(300.0)
    assert hot.stored_wh[11] == 0.0
    # Nothing makes up later for a shower that was cold.
    assert hot.heat_w.sum() == pytest.approx(FULL_WH + 200.0)


def test_without_a_heater_the_tank_gives_what_it_started_with() -> None:
    hot = run(np.full(HOURS, 100.0), [0.0])
    assert 100.0 * HOURS - hot.short_w.sum() == pytest.approx(FULL_WH)


def test_as_it_flows_nothing_is_kept() -> None:
    hot = run(draws_at(10, 5000.0), [4000.0], tank_l=np.zeros(1), standing_w_k=3.0)
    assert hot.heat_w[0, 10] == 4000.0
    assert hot.short_w[10] == 1000.0
    assert hot.heat_w.sum() == 4000.0
    assert not hot.lost_w.any()
    assert not hot.stored_wh.any()


def test_a_hot_tank_leaks_and_is_kept_hot() -> None:
    """2 W/K over 60 deg C less 18 of the air about it."""
    hot = run(np.zeros(HOURS), [900.0], standing_w_k=2.0)
    np.testing.assert_allclose(hot.lost_w, 2.0 * (60.0 - 18.0))
    np.testing.assert_allclose(hot.heat_w[0], hot.lost_w)


def test_a_tank_left_alone_cools_towards_the_air_about_it() -> None:
    """dT/dt = -U (T - T_air) / C, in steps short against C/U."""
    hours = np.arange(1, 2401) * 0.1
    hot = run(np.zeros(2400), [0.0], standing_w_k=2.0, step_hours=0.1)
    water_c = 10.0 + hot.stored_wh[1:] / (20.0 * WATER_WH_L_K)
    decay = np.exp(-2.0 * hours / (20.0 * WATER_WH_L_K))
    np.testing.assert_allclose(water_c, AROUND_C + (60.0 - AROUND_C) * decay, atol=0.1)


def test_it_heats_only_when_it_may() -> None:
    may = np.zeros(HOURS)
    may[20:24] = 1000.0
    hot = run(draws_at(10, 600.0), [may])
    assert np.flatnonzero(hot.heat_w[0]).tolist() == [20]
    assert hot.stored_wh[15] == pytest.approx(FULL_WH - 600.0)


def test_the_first_heater_goes_first_and_each_keeps_its_own_warmth() -> None:
    """The engine's heat on the road, up to 70 deg C; the burner holds 50 for the rest."""
    road = np.zeros(HOURS)
    road[30:33] = 2000.0
    wanted = draws_at(10, 900.0) + draws_at(40, 100.0)
    hot = run(wanted, [road, 400.0], hot_c=np.array([70.0, 50.0]))
    keeps = 20.0 * WATER_WH_L_K * np.array([60.0, 40.0])
    assert hot.stored_wh[0] == pytest.approx(keeps[0])
    # It fell by 900 Wh to below what the burner holds.
    assert hot.stored_wh[20] == pytest.approx(keeps[1])
    assert hot.stored_wh[34] == pytest.approx(keeps[0])
    # Still above 50 deg C: the burner stands.
    assert not hot.heat_w[1, 30:].any()


def test_what_heats_as_it_flows_gives_what_the_tank_has_not() -> None:
    wanted = draws_at(10, FULL_WH + 300.0)
    hot = run(wanted, [0.0, 4000.0], tank_l=np.array([20.0, 0.0]))
    assert hot.heat_w[1].sum() == pytest.approx(300.0)
    assert not hot.short_w.any()


def test_no_heater_and_no_tank() -> None:
    hot = run(draws_at(10, 100.0), [])
    assert hot.heat_w.shape == (0, HOURS)
    assert hot.short_w[10] == 100.0


@given(
    wanted=st.lists(st.floats(0.0, 3000.0), min_size=1, max_size=30),
    most=st.lists(st.floats(0.0, 4000.0), min_size=1, max_size=3),
    tank_l=st.floats(0.0, 60.0),
    standing=st.floats(0.0, 10.0),
    step_hours=st.sampled_from([1 / 12, 0.5, 1.0]),
)
def test_heat_closes(
    wanted: list[float], most: list[float], tank_l: float, standing: float, step_hours: float
) -> None:
    """Heat in is heat drawn, heat lost and heat left, and no store is above full or below empty."""
    drawn = np.array(wanted)
    tanks = np.full(len(most), tank_l)
    tanks[1:] /= 2.0
    hot = run(drawn, list(most), tank_l=tanks, standing_w_k=standing, step_hours=step_hours)
    given_w = hot.heat_w.sum() - hot.lost_w.sum() - (drawn - hot.short_w).sum()
    grown = hot.stored_wh[-1] - hot.stored_wh[0]
    assert given_w * step_hours == pytest.approx(grown, abs=1e-6 * (1.0 + hot.stored_wh.max()))
    full = tank_l * WATER_WH_L_K * 50.0
    assert hot.stored_wh.min() >= 0.0
    assert hot.stored_wh.max() <= full + 1e-9
    assert (hot.heat_w <= np.array(most)[:, None] + 1e-9).all()
    assert (hot.short_w <= drawn + hot.lost_w + 1e-9).all()
