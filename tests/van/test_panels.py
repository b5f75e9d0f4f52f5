"""Panels: glass, warmth, losses, power."""

from __future__ import annotations

from typing import Literal

import numpy as np
import pytest

from sim.sky.sun import PlaneIrradiance
from sim.van import panels


def column(*values: float) -> np.ndarray:
    return np.array(values, dtype=np.float64)[:, None]


def plane(beam: float, sky: float, ground: float, incidence: float) -> PlaneIrradiance:
    return PlaneIrradiance(column(beam), column(sky), column(ground), np.array([incidence]))


def test_losses_multiply() -> None:
    assert panels.kept_share() == 1.0
    assert panels.kept_share(3.0, 2.0) == pytest.approx(0.97 * 0.98, rel=1e-15)
    assert panels.kept_share(100.0, 5.0) == 0.0


def test_glass_lets_all_of_a_perpendicular_beam_in() -> None:
    """Relative to the perpendicular, as the rating of a panel is."""
    assert panels.through_glass(plane(800.0, 0.0, 0.0, 0.0), 0.0)[0, 0] == pytest.approx(800.0)


def test_glass_takes_more_of_a_low_sun_and_nothing_comes_from_behind() -> None:
    through = [
        panels.through_glass(plane(500.0, 0.0, 0.0, angle), 0.0)[0, 0]
        for angle in (0.0, 30.0, 60.0, 75.0, 85.0, 89.9, 95.0)
    ]
    assert (np.diff(through) < 0.0).all()
    assert through[3] == pytest.approx(0.774 * 500.0, rel=2e-3)
    assert through[-1] == pytest.approx(0.0, abs=1e-9)


def test_light_of_sky_and_ground_passes_the_glass_a_little_less() -> None:
    """A flat panel sees the whole sky at a mean loss of some per cent, and no ground."""
    flat = panels.through_glass(plane(0.0, 100.0, 50.0, 40.0), 0.0)[0, 0]
    assert 93.0 < flat < 97.0
    tilted = panels.through_glass(plane(0.0, 100.0, 50.0, 40.0), 40.0)[0, 0]
    sky_only = panels.through_glass(plane(0.0, 100.0, 0.0, 40.0), 40.0)[0, 0]
    # Light from the ground comes in at grazing angles: a good part of it is lost.
    assert 0.6 * 50.0 < tilted - sky_only < 0.95 * 50.0


def test_cells_are_warmer_than_the_air_and_the_road_cools_them() -> None:
    light, air = column(0.0, 500.0, 1000.0, 1000.0), column(20.0, 20.0, 20.0, 20.0)
    cell = panels.cell_temperature(light, air, np.array([0.0, 0.0, 0.0, 1.0]))[:, 0]
    assert cell[0] == 20.0
    assert 20.0 < cell[1] < cell[2]
    # A panel close to a roof in light wind: some 45 K above the air in full sun.
    assert 40.0 < cell[2] - 20.0 < 50.0
    assert 15.0 < cell[3] - 20.0 < 30.0
    # Half an hour on the road is a wind between the two.
    half = panels.cell_temperature(column(1000.0), column(20.0), np.array([0.5]))[0, 0]
    assert cell[3] < half < cell[2]


def test_the_road_is_a_wind_of_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    light, air = column(1000.0), column(20.0)
    driving = panels.cell_temperature(light, air, np.array([1.0]))
    monkeypatch.setattr(panels, "WIND_PARKED_M_S", panels.WIND_DRIVING_M_S)
    np.testing.assert_allclose(panels.cell_temperature(light, air, np.array([0.0])), driving)


def test_power_is_linear_in_light_and_falls_with_warmth() -> None:
    def watts(light: float, cell: float, kept: float = 1.0) -> float:
        return float(
            panels.panel_watts(
                column(light), column(cell), rated_watts=340.0, temp_coeff_pct_c=-0.35, kept=kept
            )[0, 0]
        )

    assert watts(1000.0, 25.0) == pytest.approx(340.0, rel=1e-12)
    assert watts(500.0, 25.0) == pytest.approx(170.0, rel=1e-12)
    assert watts(1000.0, 65.0) == pytest.approx(340.0 * (1.0 - 0.0035 * 40.0), rel=1e-12)
    assert watts(1000.0, -5.0) == pytest.approx(340.0 * (1.0 + 0.0035 * 30.0), rel=1e-12)
    assert watts(1000.0, 25.0, kept=0.9) == pytest.approx(306.0, rel=1e-12)
    assert watts(0.0, -20.0) == 0.0
    # No panel is so hot that it draws power.
    assert watts(1000.0, 400.0) == 0.0


def test_lanes_stay_apart() -> None:
    light = np.array([[100.0, 900.0], [0.0, 400.0]])
    air = np.array([[0.0, 30.0], [5.0, 35.0]])
    driving = np.array([0.0, 0.4])
    together = panels.cell_temperature(light, air, driving)
    for lane in range(2):
        alone = panels.cell_temperature(light[:, [lane]], air[:, [lane]], driving)
        np.testing.assert_array_equal(alone[:, 0], together[:, lane])


def harvested(kind: Literal["mppt", "pwm", "boost"], vmp: float, battery_v: float) -> float:
    """Share of its power that a string gives, with a margin of 1 V."""
    share = panels.controller_share(
        np.full((1, 1), vmp), kind=kind, battery_v=battery_v, run_above_v=1.0
    )
    return float(share[0, 0])


def test_a_pwm_controller_wastes_what_the_voltages_differ_by() -> None:
    """At 25 deg C: 36 cells of 18 V on a 13.6 V bank lose a quarter, 60 cells of 31 V over half."""
    for vmp, kept in ((18.0, 13.6 / 18.0), (31.0, 13.6 / 31.0), (13.6, 1.0)):
        assert harvested("pwm", vmp, 13.6) == pytest.approx(kept, rel=1e-12)


def test_a_hot_string_fails_to_reach_the_bank() -> None:
    """18 V lose 0.3 % a degree: power holds up while the string is above the bank's voltage,
    and is gone where even its open-circuit voltage does not reach it."""
    cell = np.array([25.0, 60.0, 100.0, 150.0, 250.0])[:, None]
    warm = panels.at_cells(18.0, cell, -0.3)
    share = panels.controller_share(warm, kind="pwm", battery_v=14.4, run_above_v=1.0)[:, 0]
    vmp = 18.0 * (1.0 - 0.003 * (cell[:, 0] - 25.0))
    np.testing.assert_allclose(share[:2], 14.4 / vmp[:2], rtol=1e-12)
    # 13.95 V at 100 deg C: 14.4 V is 0.45 V of the 2.79 V up to the open circuit.
    assert share[2] == pytest.approx(14.4 / 13.95 * (1.0 - 0.45 / 2.79), rel=1e-9)
    assert share[3] < 0.01
    assert share[4] == 0.0


@pytest.mark.parametrize(
    ("shadowed", "series", "strings", "lost"),
    [
        (0.0, 1, 4, 0.0),
        # One string loses the part in shadow and no more, however long it is.
        (0.05, 1, 1, 0.05),
        (0.05, 4, 1, 0.05),
        # Side by side a shadow costs more: four panels, a third of the time a part of twelve.
        (0.02, 1, 4, 12 * 0.02 * 0.75 / 4),
        (0.02, 1, 2, 6 * 0.02 / 3),
        # Two strings of two: they give up a sixth of their voltage.
        (0.02, 2, 2, 12 * 0.02 / 6),
        # Never less than the area.
        (0.9, 1, 4, 0.9),
        (1.0, 2, 1, 1.0),
    ],
)
def test_shadows_cost_by_the_wiring(
    shadowed: float, series: int, strings: int, lost: float
) -> None:
    """Worked out by hand from the rule in the docstring; no source."""
    got = panels.shadow_loss(shadowed, series=series, strings=strings)
    assert got == pytest.approx(lost)


def test_one_more_string_never_gives_less() -> None:
    for shadowed in np.linspace(0.0, 1.0, 41):
        for series in (1, 2, 3):
            kept = [
                n * (1.0 - panels.shadow_loss(shadowed, series=series, strings=n))
                for n in range(1, 9)
            ]
            assert (np.diff(kept) >= -1e-12).all()


def test_a_controller_that_steps_down_needs_the_banks_voltage_and_a_margin() -> None:
    """By hand, with 1 V above the bank: 19 V reach 13.6 V and not 27.2 V; 31 V reach it cool.

    At 70 deg C 31 V are 31 x (1 - 0.0036 x 45) = 25.978 V: held at 28.2 V, which is 1.08554 of
    that, the current is (1.2 - 1.08554) / 0.2 = 0.57230, and 0.62126 of the power is left.
    """
    assert harvested("mppt", 19.0, 13.6) == 1.0
    assert harvested("mppt", 14.6, 13.6) == 1.0
    assert harvested("mppt", 19.0, 27.2) == 0.0
    assert harvested("mppt", 19.0, 54.4) == 0.0
    assert harvested("mppt", 31.0, 27.2) == 1.0
    hot = float(panels.at_cells(31.0, np.full((1, 1), 70.0), -0.36)[0, 0])
    assert hot == pytest.approx(25.978, abs=1e-9)
    assert harvested("mppt", hot, 27.2) == pytest.approx(0.62126, abs=1e-4)


def test_a_controller_that_steps_up_takes_what_lies_below_the_bank() -> None:
    """By hand: 19 V in full on 27.2 V; 31 V feed straight through at 27.2 V, 27.2/31 of it."""
    assert harvested("boost", 19.0, 27.2) == 1.0
    assert harvested("boost", 31.0, 27.2) == pytest.approx(27.2 / 31.0, rel=1e-12)


def test_a_controller_starts_on_days_on_which_the_open_string_once_reaches_it() -> None:
    """Day 0: 30 V in the dark do not count and 28 V in the light do; day 1 stays below."""
    open_v = column(30.0, 28.0, 24.0, 30.0, 26.9, 24.0)
    is_lit = column(0.0, 1.0, 1.0, 0.0, 1.0, 1.0) > 0.0
    day = np.array([0, 0, 0, 1, 1, 1])
    starts = panels.starts_that_day(open_v, is_lit, day, 27.0)[:, 0]
    assert starts.tolist() == [True, True, True, False, False, False]
