"""An inverter's losses: a data sheet's efficiencies come out again, and loads that come and go."""

from __future__ import annotations

import numpy as np
import pytest

from sim.van.inverter import LossCurve, loss_curve, on_off_losses_w


def sheet(**changes: float) -> LossCurve:
    values = {
        "watts": 2000.0,
        "idle_watts": 11.0,
        "efficiency": 0.93,
        "full_load_efficiency": 0.87,
    }
    return loss_curve(**{**values, **changes})


@pytest.mark.parametrize("full", [0.93, 0.9, 0.8])
@pytest.mark.parametrize("idle", [0.0, 5.0, 11.0])
def test_the_data_sheets_figures_come_out_again(full: float, idle: float) -> None:
    curve = sheet(idle_watts=idle, full_load_efficiency=full)
    load = np.linspace(1.0, 2000.0, 20_000)
    efficiency = load / curve.input_w(load)
    assert efficiency.max() == pytest.approx(0.93, abs=1e-4)
    assert efficiency[-1] == pytest.approx(full, rel=1e-12)
    assert float(curve.input_w(np.zeros(1))[0]) == idle


def test_by_hand() -> None:
    """Over the rating: idle 0.0055, root 0.07416; bend (0.07416 + sqrt(1/0.87 - 1/0.93))**2 =
    (0.07416 + 0.27232)**2 = 0.12005; slope 1/0.93 - 1 - 2 * 0.07416 * 0.34648 = 0.02388. At
    200 W: 11 + 4.78 + 2.40 = 18.18 W lost."""
    curve = sheet()
    assert curve.bend_per_w * 2000.0 == pytest.approx(0.12005, abs=2e-5)
    assert curve.slope == pytest.approx(0.02388, abs=2e-5)
    assert float(curve.input_w(np.array(200.0))) == pytest.approx(218.18, abs=0.02)


def test_a_large_idle_draw_keeps_it_below_its_best() -> None:
    curve = sheet(idle_watts=150.0)
    assert curve.slope == 0.0
    load = np.linspace(1.0, 2000.0, 2000)
    assert (load / curve.input_w(load)).max() < 0.93
    assert (curve.input_w(load) > load).all()


def test_short_strong_loads_lose_more_than_long_weak_ones() -> None:
    """Minute by minute: 1200 W for ten of sixty minutes, beside 300 W in forty, the last twenty
    of which and the ten have nothing to do with each other."""
    curve = sheet()
    rng = np.random.default_rng(5)
    minutes = 400_000
    kettle = 1200.0 * (rng.random(minutes) < 1.0 / 6.0)
    other = 300.0 * (rng.random(minutes) < 2.0 / 3.0)
    total = kettle + other
    lost = (curve.slope * total + curve.bend_per_w * total**2).mean()
    apart = [
        float(on_off_losses_w(curve, np.array(mean), running, np.array(beside)))
        for mean, running, beside in ((200.0, 1200.0, 200.0), (200.0, 300.0, 200.0))
    ]
    assert sum(apart) == pytest.approx(lost, rel=0.01)
    assert apart[0] > 2.0 * apart[1]
