"""Loads held to a charge have a floor of their own, above those of the priorities."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from sim.van.bank.lanes import Bank
from sim.van.bank.loop import run_bank
from sim.van.bank.offers import Offers
from sim.van.bank.totals import total_bank

MakeBank = Callable[..., Bank]
MakeOffers = Callable[..., Offers]

FLOORS = (0.05, 0.15, 0.25, 0.6, 0.8)


def with_held(offers: Offers, *watts: float) -> Offers:
    """Offers with loads that are held to a charge, the lowest first."""
    held = [np.full_like(offers.wanted_w[0], value) for value in watts]
    return replace(offers, wanted_w=np.concatenate([offers.wanted_w, held]))


@pytest.mark.parametrize("step_hours", [10.0, 1.0, 1 / 60])
def test_each_goes_off_at_its_own_charge(
    ideal: MakeBank, offers: MakeOffers, step_hours: float
) -> None:
    """1000 Wh from full under 50 W, with 100 W held to 60 % and 50 W held to 80 %: 200 W take an
    hour to 80 %, 150 W 4/3 h to 60 %, and 50 W feed on what is left. The same in one long step
    and in minutes."""
    bank = ideal(capacity_wh=1000.0, floors=FLOORS)
    asked = with_held(offers(round(10.0 / step_hours), comfort=50.0), 100.0, 50.0)
    done = run_bank(bank, asked, start_soc=1.0, step_hours=step_hours)
    served_wh = (asked.wanted_w[:, :, 0] - done.unserved_w[:, :, 0]).sum(axis=1) * step_hours
    expected = [0.0, 500.0, 0.0, 100.0 * (1.0 + 4.0 / 3.0), 50.0 * 1.0]
    # Left: 1000 - 200 - 200 - 50 W over the other 7 2/3 h.
    expected[1] = 50.0 * 10.0
    assert served_wh.tolist() == pytest.approx(expected, rel=1e-9)
    left = 1.0 - 0.4 - 50.0 * (10.0 - 7.0 / 3.0) / 1000.0
    assert done.soc[-1, 0] == pytest.approx(left, abs=1e-9)


def test_it_comes_back_when_the_charge_has_risen(ideal: MakeBank, offers: MakeOffers) -> None:
    """Off at 60 %, back in the first step that begins above 65 %: 80 W of sun bring 8 % an hour."""
    bank = ideal(capacity_wh=1000.0, floors=FLOORS[:4])
    asked = with_held(offers(6, sun=[0.0, *[80.0] * 5]), 50.0)
    done = run_bank(bank, asked, start_soc=0.62, step_hours=1.0)
    served = 50.0 - done.unserved_w[3, :, 0]
    # 62 % -> 60 % in 0.4 h; then sun: 68 % at hour 2.
    np.testing.assert_allclose(served, [20.0, 0.0, 50.0, 50.0, 50.0, 50.0], atol=1e-9)


def test_one_held_to_ninety_percent_comes_back(ideal: MakeBank, offers: MakeOffers) -> None:
    """`reconnect_above` would ask for more than a full battery: 95 % is enough."""
    bank = ideal(capacity_wh=1000.0, floors=(*FLOORS[:3], 0.9), reconnect_above=0.2)
    asked = with_held(offers(3, sun=100.0), 10.0)
    done = run_bank(bank, asked, start_soc=0.88, step_hours=1.0)
    served = 10.0 - done.unserved_w[3, :, 0]
    np.testing.assert_allclose(served, [0.0, 10.0, 10.0], atol=1e-9)


def test_waiting_is_no_dark_hour(ideal: MakeBank, offers: MakeOffers) -> None:
    """The hours in which only a held load is off do not count, and its energy is kept apart."""
    bank = ideal(capacity_wh=1000.0, floors=FLOORS[:4])
    asked = with_held(offers(4, comfort=25.0), 50.0)
    totals = total_bank(bank, asked, start_soc=0.5, step_hours=1.0)
    assert totals.dark_hours.tolist() == [0.0]
    assert totals.unserved_wh[:, 0].tolist() == pytest.approx([0.0, 0.0, 0.0, 200.0])


def test_lanes_of_many_sizes_agree_with_each_alone(bank: MakeBank, offers: MakeOffers) -> None:
    """Lanes side by side do what each of them does alone."""
    sizes = np.array([600.0, 1280.0, 5000.0])
    many = bank(capacity_wh=sizes, floors=FLOORS)
    rng = np.random.default_rng(5)
    sun = rng.uniform(0.0, 300.0, 72)
    asked = with_held(offers(72, essential=20.0, comfort=60.0, sun=sun), 80.0, 40.0)
    together = run_bank(many, asked, start_soc=0.7, step_hours=1.0)
    for lane, size in enumerate(sizes):
        alone = run_bank(
            bank(capacity_wh=size, floors=FLOORS), asked, start_soc=0.7, step_hours=1.0
        )
        np.testing.assert_allclose(together.soc[:, lane], alone.soc[:, 0], rtol=1e-12)
        np.testing.assert_allclose(
            together.unserved_w[:, :, lane], alone.unserved_w[:, :, 0], atol=1e-9
        )
