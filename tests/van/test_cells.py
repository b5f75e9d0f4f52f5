"""Temperature and cells: capacity, acceptance, lockout, and a pad against its closed form."""

from __future__ import annotations

import numpy as np
import pytest

from sim.van.bank.cells import charge_share, heated_bank, lead_capacity_share, lead_pace
from sim.van.cabin import lagged


def test_lead_gives_less_when_cold_and_no_more_when_warm() -> None:
    cell = np.linspace(-40.0, 45.0, 200)
    share = lead_capacity_share(cell)
    assert (np.diff(share) >= 0.0).all()
    assert share[-1] == 1.0
    # Held at the coldest known value: 1 over 1.59 at 20 deg F.
    assert share[0] == pytest.approx(1.0 / 1.59, rel=1e-12)


def test_lead_accepts_slower_when_cold() -> None:
    np.testing.assert_allclose(
        lead_pace(np.array([-40.0, -25.0, 0.0, 25.0, 40.0])), [0.2, 0.2, 0.6, 1.0, 1.0]
    )


def test_lockout_and_the_cool_limit() -> None:
    cell = np.array([-10.0, -0.01, 0.0, 14.99, 15.0, 40.0])
    share = charge_share(cell, above_c=0.0, cool_below_c=15.0, cool_share=0.4)
    np.testing.assert_array_equal(share, [0.0, 0.0, 0.4, 0.4, 1.0, 1.0])


@pytest.mark.parametrize("step_minutes", [5, 60])
def test_a_pad_warms_and_holds(step_minutes: int) -> None:
    """Frost of 10 degrees: the pad at its limit nears its own balance, then holds the target."""
    dt = step_minutes / 60.0
    steps = round(48 / dt)
    around = np.full((steps, 1), -10.0)
    cell, drawn = heated_bank(
        around,
        np.ones((steps, 1)),
        watts=12.0,
        target_c=5.0,
        heat_wh_k=3.0,
        step_hours=dt,
        lag_hours=6.0,
    )
    # Lost per kelvin: 3 Wh/K over 6 h. To hold 15 K takes 7.5 W.
    assert drawn[-1, 0] == pytest.approx(7.5, rel=1e-9)
    assert cell[-1, 0] == pytest.approx(5.0, abs=1e-9)
    # At 12 W towards 14 deg C with 6 h: 15 of 24 K are won after 6 h * ln(24 / 9).
    reached = np.flatnonzero(cell[:, 0] >= 5.0 - 1e-9)[0] * dt
    assert reached == pytest.approx(6.0 * np.log(24.0 / 9.0), abs=dt)
    # Heat put in is heat lost and heat kept.
    lost = ((cell[:-1, 0] + cell[1:, 0]) / 2 + 10.0).sum() * dt * 0.5
    assert drawn[:-1].sum() * dt == pytest.approx(lost + 3.0 * 15.0, rel=0.01)


def test_a_pad_that_may_not_run_is_no_pad() -> None:
    rng = np.random.Generator(np.random.PCG64(1))
    around = rng.normal(-5.0, 8.0, (72, 4))
    cell, drawn = heated_bank(
        around,
        np.zeros_like(around),
        watts=50.0,
        target_c=5.0,
        heat_wh_k=3.0,
        step_hours=1.0,
        lag_hours=6.0,
    )
    assert not drawn.any()
    np.testing.assert_allclose(cell, lagged(around, 1.0, 6.0), rtol=0, atol=1e-12)
