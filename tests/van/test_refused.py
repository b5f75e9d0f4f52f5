"""Sun that was not taken, by its cause: cases with one cause each, and sums that close."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from sim.van.bank.lanes import Bank
from sim.van.bank.loop import run_bank
from sim.van.bank.offers import Offers

MakeBank = Callable[..., Bank]
MakeOffers = Callable[..., Offers]


@pytest.mark.parametrize(
    ("start", "sun", "allowed", "expected"),
    [
        # full, acceptance, too cold
        (1.0, 300.0, 1.0, (300.0, 0.0, 0.0)),
        (1.0, 300.0, 0.0, (300.0, 0.0, 0.0)),
        (0.3, 900.0, 1.0, (0.0, 260.0, 0.0)),
        (0.3, 600.0, 0.0, (0.0, 0.0, 600.0)),
        (0.3, 900.0, 0.0, (0.0, 260.0, 640.0)),
        (0.3, 900.0, 0.25, (0.0, 260.0, 480.0)),
        (0.3, 200.0, 1.0, (0.0, 0.0, 0.0)),
    ],
)
def test_one_hour(
    bank: MakeBank,
    offers: MakeOffers,
    start: float,
    sun: float,
    allowed: float,
    expected: tuple[float, float, float],
) -> None:
    battery = bank(self_discharge_per_h=0.0)
    done = run_bank(battery, offers(1, sun=sun, allowed=allowed), start_soc=start, step_hours=1.0)
    np.testing.assert_allclose(done.refused_sun_w[:, 0], expected, atol=1e-6)


def test_the_taper_is_acceptance_until_the_bank_is_full(bank: MakeBank, offers: MakeOffers) -> None:
    """One long step split where the taper ends, against steps of a minute."""
    battery = bank(self_discharge_per_h=0.0)
    long = run_bank(battery, offers(1, sun=500.0), start_soc=0.85, step_hours=1.0)
    minutes = run_bank(battery, offers(60, sun=500.0), start_soc=0.85, step_hours=1 / 60)
    fine = minutes.refused_sun_w.mean(axis=1)
    assert fine[0] > 20.0
    assert fine[1] > 20.0
    # The loss in a taper is that of its mean power: 1.2 W of 500.
    np.testing.assert_allclose(long.refused_sun_w[:, 0], fine, atol=1.5)


def test_only_the_suns_part_counts(bank: MakeBank, offers: MakeOffers) -> None:
    """What the plug and the engine could not bring is no sun."""
    battery = bank(self_discharge_per_h=0.0)
    done = run_bank(
        battery, offers(1, sun=100.0, drive=200.0, shore=300.0), start_soc=1.0, step_hours=1.0
    )
    np.testing.assert_allclose(done.refused_sun_w[:, 0], [100.0, 0.0, 0.0], atol=1e-9)
    early = run_bank(battery, offers(1, sun=100.0, shore=900.0), start_soc=0.2, step_hours=1.0)
    np.testing.assert_allclose(early.refused_sun_w[:, 0], 0.0, atol=1e-9)


@pytest.mark.parametrize("step_minutes", [5, 60])
def test_causes_add_up_to_what_was_left(
    bank: MakeBank, offers: MakeOffers, step_minutes: int
) -> None:
    rng = np.random.Generator(np.random.PCG64(8))
    shape = (24 * 20, 9)
    many = offers(
        shape[0],
        essential=rng.uniform(0.0, 80.0, shape),
        extra=900.0 * (rng.random(shape) < 0.05),
        sun=rng.exponential(250.0, shape) * (rng.random(shape) < 0.5),
        drive=400.0 * (rng.random(shape) < 0.1),
        shore=600.0 * (rng.random(shape) < 0.1),
        allowed=rng.choice([0.0, 0.4, 1.0], shape),
    )
    done = run_bank(bank(), many, start_soc=0.6, step_hours=step_minutes / 60)
    left = (many.sources[0].offered_w - done.taken_w[0]).mean(axis=1)
    np.testing.assert_allclose(done.refused_sun_w.sum(axis=0), left, atol=1e-9)
    assert (done.refused_sun_w >= -1e-12).all()
    assert (done.refused_sun_w.sum(axis=1) > 1.0).all()


def test_the_cold_is_to_blame_only_until_the_taper(bank: MakeBank, offers: MakeOffers) -> None:
    """Half the limit allowed, the taper reached after 13 minutes: from then on it is the taper."""
    battery = bank(self_discharge_per_h=0.0)
    done = run_bank(battery, offers(1, sun=640.0, allowed=0.5), start_soc=0.9, step_hours=1.0)
    stored, most = ((0.99 - 3e-5 * watts) * watts for watts in (320.0, 640.0))
    # Accepted power falls from all of it at 0.9 to a tenth when full, 115.2 Wh above nought.
    knee_soc = 0.9 + 0.1 * (1.0 - stored / most) / 0.9
    straight_h = (knee_soc - 0.9) * 1280.0 / stored
    assert 0.2 < straight_h < 0.25
    assert done.refused_sun_w[2, 0] == pytest.approx(320.0 * straight_h, rel=1e-9)
    assert done.refused_sun_w[1, 0] > 100.0
