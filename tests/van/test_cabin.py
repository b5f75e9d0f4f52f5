"""The cabin: heat lost, gained, stored and burnt."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from sim.van import air as air_flow
from sim.van import cabin
from sim.van.cabin import Cabin, CabinHours
from sim.van.cabin_run import cabin_hours
from sim.van.shell import Shell, insulated_u_w_m2k, shell_area_m2, sun_gain_w

SHELL = Shell(
    ua_w_k=60.0,
    leak_cm2=0.0,
    roof_m2=10.0,
    shell_u_w_m2k=1.2,
    skin_absorptance=0.3,
    glass_m2=1.5,
    mass_wh_k=180.0,
    vent_w_k=120.0,
    vent_above_c=24.0,
)
OFF = -np.inf


def run(
    outside: np.ndarray | list[float],
    *,
    gain: float | np.ndarray = 0.0,
    set_point: float | np.ndarray = OFF,
    aboard: float | np.ndarray = 0.0,
    shell: Shell = SHELL,
    heater_watts: float = 4000.0,
    step_hours: float = 1.0,
    **more: Any,
) -> CabinHours:
    air = np.asarray(outside, dtype=np.float64)
    air = air[:, None] if air.ndim == 1 else air
    steps = len(air)
    gains = np.broadcast_to(np.asarray(gain, dtype=np.float64), (steps,))[:, None] + 0.0 * air
    one = Cabin(
        air,
        gains,
        np.broadcast_to(np.asarray(aboard, dtype=np.float64), (steps,)),
        shell,
        devices(steps, set_point, heater_watts, **more),
    )
    return cabin_hours([one], step_hours=step_hours)[0]


def devices(
    steps: int, set_point: float | np.ndarray, heater_watts: float, **more: Any
) -> cabin.Devices:
    """A heater, and what else is given."""
    held = np.broadcast_to(np.asarray(set_point, dtype=np.float64), (1, steps))
    return cabin.Devices(
        **{
            "set_point_c": held,
            "heat_w": np.full((1, steps), heater_watts),
            "wind_m_s": np.zeros(steps),
            "fresh_l_s": np.zeros(steps),
            "hand_w_k": np.zeros(steps),
            "fan_w_k": 0.0,
            "fan_above_c": np.inf,
            "cool_w": np.zeros(steps),
            "cool_above_c": np.inf,
            **more,
        }
    )


def ends(done: CabinHours, start: np.ndarray) -> np.ndarray:
    """Temperatures between steps from the steps' means, the start included."""
    out = [start]
    for mean in done.temp_c:
        out.append(2.0 * mean - out[-1])
    return np.array(out)


def test_shell_area_is_that_of_a_box() -> None:
    assert shell_area_m2(5.0, 2.0, 1.8) == pytest.approx(2 * (10.0 + 9.0 + 3.6))


def test_insulation_between_bare_ribs() -> None:
    # By hand: films 1 / 22.7 + 1 / 8.3 = 0.1645 m2K/W; 35 mm of 0.035 W/mK add 1 m2K/W.
    assert insulated_u_w_m2k(0.0) == pytest.approx(6.08, abs=0.005)
    assert insulated_u_w_m2k(0.035) == pytest.approx(0.92 / 1.1645 + 0.08 * 6.078, abs=1e-3)
    # The ribs stay, however thick it is.
    assert insulated_u_w_m2k(10.0) > 0.08 * 6.0


@pytest.mark.parametrize("step_hours", [1 / 12, 1.0])
def test_a_held_temperature_needs_ua_times_the_difference(step_hours: float) -> None:
    done = run([-5.0] * 400, set_point=19.0, step_hours=step_hours)
    np.testing.assert_allclose(done.heat_w[0, 200:], 60.0 * 24.0, rtol=1e-9)
    np.testing.assert_allclose(done.temp_c[200:], 19.0, rtol=1e-9)


def test_people_and_sun_are_heat_that_the_heater_saves() -> None:
    done = run([0.0] * 300, set_point=20.0, gain=350.0)
    assert done.heat_w[0, -1, 0] == pytest.approx(60.0 * 20.0 - 350.0, rel=1e-9)
    # More gain than loss: no heat, and the cabin floats at gain over UA.
    warm = run([0.0] * 300, set_point=5.0, gain=900.0)
    assert warm.heat_w[0, -1, 0] == 0.0
    assert warm.temp_c[-1, 0] == pytest.approx(900.0 / 60.0, rel=1e-9)


@pytest.mark.parametrize("step_hours", [1 / 12, 0.5, 1.0])
def test_it_cools_like_the_closed_form(step_hours: float) -> None:
    """From a warm start it nears the outside as exp(-t UA / C): 3 h is the time constant."""
    steps = round(24 / step_hours)
    outside = np.full(steps, -10.0)
    outside[0] = 20.0
    done = run(outside, step_hours=step_hours)
    got = ends(done, np.array([20.0]))[:, 0]
    time = np.maximum(np.arange(steps + 1) - 1, 0) * step_hours
    np.testing.assert_allclose(got, -10.0 + 30.0 * np.exp(-time / 3.0), rtol=1e-9, atol=1e-9)


def test_a_heater_that_is_too_small_gives_all_it_has() -> None:
    done = run([-20.0] * 300, set_point=20.0, heater_watts=1000.0)
    np.testing.assert_array_equal(done.heat_w[0, 1:], 1000.0)
    assert done.temp_c[-1, 0] == pytest.approx(-20.0 + 1000.0 / 60.0, rel=1e-6)


def test_no_heater_no_heat() -> None:
    done = run([3.0] * 50, set_point=20.0, heater_watts=0.0)
    assert not done.heat_w[0].any()
    np.testing.assert_allclose(done.temp_c, 3.0)


def test_a_set_point_is_reached_as_fast_as_the_heater_can() -> None:
    set_point = np.array([5.0] * 10 + [20.0] * 10)
    done = run([0.0] * 20, set_point=set_point, heater_watts=1500.0)
    got = ends(done, np.array([5.0]))[:, 0]
    # 180 Wh/K at full power against the loss: the closed form of the rise.
    level, kept = 1500.0 / 60.0, np.exp(-1.0 / 3.0)
    assert done.heat_w[0, 10, 0] == 1500.0
    assert got[11] == pytest.approx(level + (5.0 - level) * kept, rel=1e-12)
    np.testing.assert_allclose(got[15:], 20.0, rtol=1e-9)


def test_colder_nights_never_need_less_heat() -> None:
    rng = np.random.Generator(np.random.PCG64(3))
    hours = np.arange(240)
    mild = 2.0 + 9.0 * np.sin(hours / 24.0 * 2.0 * np.pi) + rng.normal(0.0, 2.0, 240)
    night = (hours % 24 >= 22) | (hours % 24 < 7)
    set_point = np.where(night, 13.0, 19.0)
    total, per_kelvin = [], []
    for colder in np.arange(0.0, 25.0, 1.5):
        done = run(mild - colder * night, set_point=set_point, aboard=1.0)
        total.append(done.heat_w[0].sum())
        per_kelvin.append(done.heat_w[0][:, 0])
    assert (np.diff(total) > 0.0).all()
    # Hour by hour as well, as the cabin never starts an hour warmer.
    assert (np.diff(per_kelvin, axis=0) >= -1e-9).all()


@pytest.mark.parametrize("step_hours", [1 / 12, 1.0])
def test_energy_of_the_cabin_closes(step_hours: float) -> None:
    """Heater and gains less what the shell lost is what the things inside hold more."""
    rng = np.random.Generator(np.random.PCG64(4))
    steps = 500
    outside = rng.normal(3.0, 8.0, (steps, 7))
    gain = rng.exponential(200.0, steps)
    done = run(outside, gain=gain, set_point=16.0, heater_watts=900.0, step_hours=step_hours)
    start = np.maximum(outside[0], 16.0)
    at = ends(done, start)
    # The mean of an exponential step, from its two ends and the level it tends to.
    level = outside + (gain[:, None] + done.heat_w[0]) / SHELL.ua_w_k
    pace = SHELL.ua_w_k * step_hours / SHELL.mass_wh_k
    mean = level + (at[:-1] - level) * -np.expm1(-pace) / pace
    lost = SHELL.ua_w_k * (mean - outside)
    stored = SHELL.mass_wh_k * np.diff(at, axis=0) / step_hours
    np.testing.assert_allclose(gain[:, None] + done.heat_w[0] - lost, stored, atol=1e-6)
    assert (done.heat_w[0] == 900.0).any()
    assert (done.heat_w[0] == 0.0).any()


def test_long_and_short_steps_agree() -> None:
    """A week of winter and a week of summer: heat within 1 %, temperatures within 0.2 K."""
    hours = np.arange(7 * 24)
    for mean, most_kelvin in ((-3.0, 0.2), (26.0, 0.2)):
        outside = mean + 8.0 * np.sin((hours - 9) / 24.0 * 2.0 * np.pi)
        gain = 800.0 * np.clip(np.sin((hours % 24 - 6) / 12.0 * np.pi), 0.0, None)
        set_point = np.where((hours % 24 >= 22) | (hours % 24 < 7), 13.0, 19.0)
        aboard = np.where((hours % 24 >= 10) & (hours % 24 < 16), 0.0, 1.0)
        long = run(outside, gain=gain, set_point=set_point, aboard=aboard)
        short = run(
            np.repeat(outside, 12),
            gain=np.repeat(gain, 12),
            set_point=np.repeat(set_point, 12),
            aboard=np.repeat(aboard, 12),
            step_hours=1 / 12,
        )
        heat = short.heat_w[0].reshape(-1, 12).mean(axis=1)
        assert long.heat_w[0].sum() == pytest.approx(heat.sum(), rel=0.01)
        assert long.temp_c.mean() == pytest.approx(short.temp_c.mean(), abs=most_kelvin)
    assert short.temp_c.max() > 26.0


def test_windows_hold_the_cabin_where_people_like_it() -> None:
    """Too warm inside, cool outside: opened just as far as it takes; nobody aboard, shut."""
    shut = run([15.0] * 200, gain=1500.0)
    assert shut.temp_c[-1, 0] == pytest.approx(15.0 + 1500.0 / 60.0, rel=1e-6)
    held = run([15.0] * 200, gain=1500.0, aboard=1.0)
    assert held.temp_c[-1, 0] == pytest.approx(24.0, rel=1e-9)
    # A hot day: open windows bring it near the outside, never below.
    hot = run([35.0] * 200, gain=1500.0, aboard=1.0)
    assert hot.temp_c[-1, 0] == pytest.approx(35.0 + 1500.0 / 180.0, rel=1e-6)
    # A sun so strong that windows cannot hold it.
    stronger = run([15.0] * 200, gain=5000.0, aboard=1.0)
    assert stronger.temp_c[-1, 0] == pytest.approx(15.0 + 5000.0 / 180.0, rel=1e-6)


def test_windows_stay_shut_when_it_is_warmer_outside() -> None:
    """A cool cabin does not take in the heat of noon."""
    outside = np.array([20.0] * 20 + [35.0] * 3)
    done = run(outside, aboard=1.0)
    shut = run(outside, aboard=0.0)
    np.testing.assert_allclose(done.temp_c, shut.temp_c, rtol=1e-12)
    assert done.temp_c[-1, 0] < 31.0


def test_sun_through_skin_and_glass() -> None:
    """Sol-air: U A a G / h through the roof, half the light through the glass."""
    got = sun_gain_w(np.array([[0.0, 1000.0]]), SHELL)
    assert got[0].tolist() == pytest.approx([0.0, 1000.0 * (1.2 * 10 * 0.3 / 22.7 + 1.5 * 0.5)])
    black = sun_gain_w(np.array([[1000.0]]), replace(SHELL, skin_absorptance=0.9))
    assert black[0, 0] > got[0, 1]


def test_draws_do_not_mix() -> None:
    rng = np.random.Generator(np.random.PCG64(6))
    outside = rng.normal(5.0, 10.0, (100, 5))
    together = run(outside, set_point=15.0, aboard=1.0, gain=200.0)
    for draw in range(5):
        alone = run(outside[:, [draw]], set_point=15.0, aboard=1.0, gain=200.0)
        np.testing.assert_array_equal(alone.temp_c[:, 0], together.temp_c[:, draw])
        np.testing.assert_array_equal(alone.heat_w[0][:, 0], together.heat_w[0, :, draw])


@pytest.mark.parametrize("step_hours", [1 / 12, 1.0])
def test_a_battery_in_its_box_lags_behind_the_air(step_hours: float) -> None:
    """After a drop from 20 to 0 deg C it is at 20 / e after its time constant."""
    steps = round(24 / step_hours)
    air = np.zeros((steps, 1))
    air[0] = 20.0
    lagged = cabin.lagged(air, step_hours, 6.0)
    time = np.maximum(np.arange(steps) - 1, 0) * step_hours
    np.testing.assert_allclose(lagged[:, 0], 20.0 * np.exp(-time / 6.0), rtol=1e-9)


def test_cabins_side_by_side_are_those_by_themselves() -> None:
    """To the last bit, whatever acts on the one beside: heaters, boxes, fans, windows, cooling."""
    rng, steps = np.random.Generator(np.random.PCG64(4)), 200
    outside = rng.normal(18.0, 12.0, (steps, 3))

    def boxes(*kinds: float) -> tuple[cabin.Box, ...]:
        running = (rng.random(steps) < 0.8).astype(np.float64)
        return tuple(cabin.Box(k, lambda c, k=k: k * np.maximum(c, 0.0), running) for k in kinds)

    acts: list[dict[str, Any]] = [
        {},
        {"boxes": boxes(2.0), "fan_w_k": 80.0, "fan_above_c": 21.0},
        {"boxes": boxes(1.0, 2.0), "hand_w_k": 150.0 * (rng.random(steps) < 0.3)},
        {
            "set_point_c": np.stack([np.full(steps, 17.0), np.full(steps, 16.5)]),
            "heat_w": np.stack([np.full(steps, 300.0), np.full(steps, 900.0)]),
            "boxes": boxes(2.0),
            "hand_w_k": np.full(steps, 60.0),
            "fan_w_k": 80.0,
            "fan_above_c": 22.0,
        },
        {"cool_w": np.full(steps, 1500.0), "cool_above_c": 23.0},
    ]
    cabins = [
        Cabin(
            outside + number,
            rng.exponential(600.0, (steps, 3)),
            (rng.random(steps) < 0.7) * rng.random(steps),
            replace(SHELL, leak_cm2=40.0 * number, ua_w_k=60.0 - 5.0 * number),
            devices(steps, 16.0, 2000.0, **more),
        )
        for number, more in enumerate(acts)
    ]
    together = cabin_hours(cabins, step_hours=1.0)
    for one, beside in zip(cabins, together, strict=True):
        (alone,) = cabin_hours([one], step_hours=1.0)
        for name, values in vars(alone).items():
            np.testing.assert_array_equal(getattr(beside, name), values, err_msg=name)
    assert together[4].cool_w.any()
    assert together[3].heat_w.any(axis=(1, 2)).all()
    assert together[2].hand_on.any()


def test_the_first_heater_goes_first_and_the_second_helps() -> None:
    """Each to its own set point and its own limit."""
    done = run(
        [-10.0] * 300,
        set_point_c=np.stack([np.full(300, 20.0), np.full(300, 15.0)]),
        heat_w=np.stack([np.full(300, 800.0), np.full(300, 5000.0)]),
    )
    first, second = done.heat_w[:, -1, 0]
    assert first == 800.0
    # The second holds 15 deg C: 60 W/K x 25 K less what the first gives.
    assert second == pytest.approx(60.0 * 25.0 - 800.0, rel=1e-9)
    assert done.end_c[-1, 0] == pytest.approx(15.0)


def test_a_heater_gives_nothing_when_it_may_not_run() -> None:
    may = np.where(np.arange(100) < 50, 4000.0, 0.0)[None]
    done = run([0.0] * 100, set_point=18.0, heat_w=may)
    assert done.heat_w[0, :50].all()
    assert not done.heat_w[0, 50:].any()
    assert done.end_c[-1, 0] < 1.0


def test_a_fan_on_its_thermostat_moves_what_it_is_paid_for() -> None:
    """End, share and conductance of a settled step fit each other: gain = (UA + vent + share
    of the fan) x rise."""
    fan_w_k = 800.0 * air_flow.AIR_WH_M3_K
    done = run([22.0] * 400, gain=1500.0, aboard=1.0, fan_w_k=fan_w_k, fan_above_c=25.0)
    share = (done.end_c[-1, 0] - 25.0) / cabin.FAN_RAMP_K
    assert 0.0 < share < 1.0
    carried = (60.0 + 120.0 + share * fan_w_k) * (done.end_c[-1, 0] - 22.0)
    assert carried == pytest.approx(1500.0, rel=0.03)
    still = run([22.0] * 400, gain=1500.0, aboard=1.0)
    assert done.end_c[-1, 0] < still.end_c[-1, 0] - 2.0


def test_a_fan_does_not_draw_in_the_heat_of_noon() -> None:
    fan = {"fan_w_k": 300.0, "fan_above_c": 25.0}
    outside = [26.0] * 50 + [38.0]
    done, still = run(outside, aboard=1.0, **fan), run(outside, aboard=1.0)
    assert done.end_c[-1, 0] == pytest.approx(still.end_c[-1, 0])


def test_a_fan_by_hand_runs_while_it_leaves_the_cabin_warm() -> None:
    hand = np.full(200, 100.0)
    warm = run([18.0] * 200, gain=600.0, hand_w_k=hand)
    assert warm.hand_on[-1, 0]
    assert warm.end_c[-1, 0] == pytest.approx(18.0 + 600.0 / 160.0, rel=1e-9)
    # It would bring the cabin to 13.75 degrees: the roof stays shut.
    cool = run([10.0] * 200, gain=600.0, hand_w_k=hand)
    assert not cool.hand_on.any()
    assert cool.end_c[-1, 0] == pytest.approx(10.0 + 600.0 / 60.0, rel=1e-9)
    # Nor is it run against a heater: in an hour it would fall from 22 to 18 degrees.
    heated = run([12.0] * 200, gain=600.0, hand_w_k=hand, set_point=21.0)
    assert not heated.hand_on.any()


def test_air_that_people_breathe_is_heated() -> None:
    """20 K over a shell of 60 W/K, and 7 L/s of outdoor air at 1.206 W/K each."""
    done = run([0.0] * 200, set_point=20.0, fresh_l_s=np.full(200, 7.0))
    assert done.heat_w[0, -1, 0] == pytest.approx(20.0 * (60.0 + 7.0 * 1.206), rel=1e-6)
    np.testing.assert_allclose(done.air_l_s, 7.0)


def test_wind_through_leaks_takes_the_place_of_a_crack_once_it_is_more() -> None:
    """100 cm2, 20 K, 10 m/s: 100 sqrt(0.0029 + 0.0174) = 14.2 L/s, more than the 7 wanted."""
    windy = {"wind_m_s": np.full(200, 10.0), "fresh_l_s": np.full(200, 7.0)}
    leaky = replace(SHELL, leak_cm2=100.0)
    done = run([0.0] * 200, set_point=20.0, shell=leaky, **windy)
    assert done.air_l_s[-1, 0] == pytest.approx(14.25, abs=0.01)
    assert done.heat_w[0, -1, 0] == pytest.approx(20.0 * (60.0 + 14.25 * 1.206), rel=1e-3)


@pytest.mark.parametrize("hand_w_k", [0.0, 150.0, 400.0])
def test_two_fans_move_what_the_stronger_moves(hand_w_k: float) -> None:
    # Far above its start the thermostat's fan runs at full speed; windows stay shut.
    shut = replace(SHELL, vent_above_c=90.0)
    fans = {"hand_w_k": np.full(400, hand_w_k), "fan_w_k": 270.0, "fan_above_c": 22.0}
    done = run([20.0] * 400, gain=6000.0, aboard=1.0, shell=shut, **fans)
    stronger = max(hand_w_k, 270.0)
    assert done.end_c[-1, 0] == pytest.approx(20.0 + 6000.0 / (60.0 + stronger), abs=1e-6)


def test_an_air_conditioner_holds_its_set_point_as_far_as_it_can() -> None:
    held = run([35.0] * 200, gain=500.0, aboard=1.0, cool_w=np.full(200, 3000.0), cool_above_c=26.0)
    assert held.end_c[-1, 0] == pytest.approx(26.0, rel=1e-9)
    # Through the shell and from inside, with windows shut.
    assert held.cool_w[-1, 0] == pytest.approx(60.0 * 9.0 + 500.0, rel=1e-9)
    weak = run([35.0] * 200, gain=500.0, aboard=1.0, cool_w=np.full(200, 400.0), cool_above_c=26.0)
    np.testing.assert_allclose(weak.cool_w[100:], 400.0)
    assert weak.end_c[-1, 0] == pytest.approx(35.0 + 100.0 / 60.0, rel=1e-9)


def test_open_windows_come_before_the_air_conditioner() -> None:
    # With windows shut it would be 28.5 after an hour.
    cooler = {"cool_w": np.full(200, 3000.0), "cool_above_c": 26.0}
    done = run([15.0] * 200, gain=1500.0, aboard=1.0, **cooler)
    assert not done.cool_w.any()
    assert done.end_c[-1, 0] == pytest.approx(24.0)


def test_energy_closes_with_the_air_conditioner_on() -> None:
    rng = np.random.Generator(np.random.PCG64(5))
    outside = rng.normal(36.0, 4.0, (300, 3))
    done = run(outside, gain=700.0, aboard=1.0, cool_w=np.full(300, 1500.0), cool_above_c=25.0)
    at = np.vstack([outside[:1], done.end_c])
    level = outside + (700.0 - done.cool_w) / SHELL.ua_w_k
    pace = SHELL.ua_w_k / SHELL.mass_wh_k
    mean = level + (at[:-1] - level) * -np.expm1(-pace) / pace
    stored = SHELL.mass_wh_k * np.diff(at, axis=0)
    cooled = done.cool_w > 0.0
    balance = 700.0 - done.cool_w - SHELL.ua_w_k * (mean - outside)
    np.testing.assert_allclose(balance[cooled], stored[cooled], atol=1e-6)
    assert cooled.mean() > 0.8


def test_cold_boxes_warm_the_cabin_they_stand_in() -> None:
    done = run([10.0] * 300, boxes=(cabin.Box("box", lambda cabin_c: 2.0 * cabin_c, np.ones(300)),))
    # 60 (T - 10) = 2 T
    assert done.end_c[-1, 0] == pytest.approx(600.0 / 58.0, rel=1e-6)
    np.testing.assert_allclose(done.box_w[-1], 2.0 * done.end_c[-2], rtol=1e-6)


def test_a_bigger_heater_is_never_colder() -> None:
    rng = np.random.Generator(np.random.PCG64(6))
    outside = rng.normal(-12.0, 6.0, (200, 2))
    ends_c = [run(outside, set_point=19.0, heater_watts=w).end_c for w in (500.0, 1500.0, 4000.0)]
    assert (np.diff(ends_c, axis=0) >= -1e-9).all()


def test_an_air_conditioner_never_leaves_it_warmer_than_open_windows() -> None:
    """A weak one in a sunny van under cool air, and a strong one, over mixed weather."""
    rng = np.random.Generator(np.random.PCG64(7))
    outside = rng.normal(24.0, 6.0, (300, 5))
    aired = run(outside, gain=1200.0, aboard=1.0, fan_w_k=270.0, fan_above_c=26.0)
    before = aired.end_c
    for watts in (50.0, 300.0, 1000.0, 3000.0):
        done = run(
            outside,
            gain=1200.0,
            aboard=1.0,
            fan_w_k=270.0,
            fan_above_c=26.0,
            cool_w=np.full(300, watts),
            cool_above_c=25.0,
        )
        assert (done.end_c <= before + 1e-9).all()
        before = done.end_c
    assert done.cool_w.any()


def test_a_white_roof_needs_less_cooling_and_a_black_one_less_heat() -> None:
    rng = np.random.Generator(np.random.PCG64(8))
    outside = rng.normal(0.0, 5.0, (200, 3))
    heat, cool = [], []
    for taken in (0.2, 0.5, 0.9):
        gain = sun_gain_w(np.array([500.0]), replace(SHELL, skin_absorptance=taken))[0]
        heat.append(run(outside + 4.0, gain=gain, set_point=20.0).heat_w.sum())
        cooler = {"cool_w": np.full(200, 3000.0), "cool_above_c": 25.0}
        cool.append(run(outside + 34.0, gain=gain, aboard=1.0, **cooler).cool_w.sum())
    assert (np.diff(heat) < 0.0).all()
    assert (np.diff(cool) > 0.0).all()
