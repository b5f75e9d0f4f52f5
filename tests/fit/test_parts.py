"""The parts of the fit on figures that can be worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from sim.fit.changes import CLEAR_GAIN, best_split, ceiling_falls
from sim.fit.estimate import Z80, Estimate, over_days, robust_mean
from sim.log.signs import charging_sign
from sim.log.steps import to_utc


def test_the_best_split_finds_a_step_and_none_in_noise() -> None:
    chance = np.random.default_rng(4)
    noise = chance.normal(size=60)
    assert best_split(noise)[1] < CLEAR_GAIN
    index, gain = best_split(noise + 4.0 * (np.arange(60) >= 37))
    assert abs(index - 37) <= 1
    assert gain > 5.0 * CLEAR_GAIN
    assert best_split(np.ones(5)) == (0, 0.0)


def test_bright_days_fall_where_cloudy_ones_hide_the_mean() -> None:
    chance = np.random.default_rng(5)
    bright = np.where(chance.random(40) < 0.5, 1.0, chance.uniform(0.2, 0.9, size=40))
    halved = bright * np.where(np.arange(40) >= 20, 0.5, 1.0)
    falls, places = ceiling_falls(np.column_stack([halved, bright]))
    assert falls[0] == pytest.approx(0.5, abs=0.15)
    assert falls[1] < 0.3
    assert abs(places[0] - 20) <= 6


def test_intervals_hold_eight_of_ten() -> None:
    low, high = Estimate(0.8, 0.1).interval
    assert (low, high) == pytest.approx((0.8 * np.exp(-0.1 * Z80), 0.8 * np.exp(0.1 * Z80)))
    assert Estimate(5.0, 2.0, is_factor=False).interval == pytest.approx((5 - 2 * Z80, 5 + 2 * Z80))
    assert Estimate(0.8, 0.1).z == pytest.approx(np.log(0.8) / 0.1)
    chance = np.random.default_rng(6)
    held = 0
    for _ in range(100):
        values = chance.normal(size=40)
        spread = over_days(lambda rows, x=values: float(x[rows].mean()), 40, 0.0)  # type: ignore[misc]
        held += abs(values.mean()) < Z80 * spread
    assert 70 <= held <= 90


def test_a_robust_mean_leaves_slips_out() -> None:
    values = np.append(np.random.default_rng(7).normal(10.0, 1.0, size=50), [500.0, -300.0])
    assert robust_mean(values) == pytest.approx(10.0, abs=0.4)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_the_sign_of_a_current_is_seen_from_what_it_does(sign: float) -> None:
    hours = np.arange(400.0)
    amps = 10.0 * np.sin(hours / 24.0 * 2.0 * np.pi)
    soc = 0.5 + np.cumsum(amps) / 800.0
    assert (
        charging_sign("current", {"current": sign * amps, "soc": soc}, is_discharge=False) == sign
    )
    volts = 13.0 + 0.02 * amps
    seen = {"current": sign * amps, "voltage": volts}
    assert charging_sign("current", seen, is_discharge=True) == sign
    assert charging_sign("current", {"current": amps}, is_discharge=True) == -1.0


def test_local_times_over_the_end_of_summer_time() -> None:
    start = np.arange("2026-11-01T05:00", "2026-11-01T12:00", 60, dtype="datetime64[m]")
    offset = np.where(start < np.datetime64("2026-11-01T09:00"), -360, -420)
    at = np.array(["2026-11-01T00:30", "2026-11-01T02:30", "2026-11-01T02:30"]).astype(
        "datetime64[s]"
    )
    # US Mountain Time goes back at 08:00 UTC; here at 09:00, as the steps have it.
    again = np.array([False, False, True])
    utc = to_utc(at, again, start.astype("datetime64[s]"), offset.astype(np.int64))
    assert utc.astype("datetime64[m]").astype(str).tolist() == [
        "2026-11-01T06:30",
        "2026-11-01T08:30",
        "2026-11-01T09:30",
    ]
