"""Floors of the charge: what is switched off, in which order, and when it comes back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from sim.van.bank.hours import BankHours
from sim.van.bank.lanes import Bank
from sim.van.bank.loop import run_bank
from sim.van.bank.offers import Offers
from sim.van.bank.totals import UNSERVED_TOLERANCE_W

MakeBank = Callable[..., Bank]
MakeOffers = Callable[..., Offers]


def run(bank: Bank, offers: Offers, *, start_soc: float, step_hours: float = 1.0) -> BankHours:
    return run_bank(bank, offers, start_soc=start_soc, step_hours=step_hours)


def test_groups_are_shed_in_order_each_at_its_floor(ideal: MakeBank, offers: MakeOffers) -> None:
    """A kilowatt-hour bank under 100 + 60 + 40 W, in minutes: extras end at 25 %, comfort at
    15 %, essential at 5 %, and each spell lasts what the closed form says."""
    battery = ideal(capacity_wh=1000.0)
    done = run(
        battery,
        offers(600, essential=100.0, comfort=60.0, extra=40.0),
        start_soc=0.5,
        step_hours=1 / 60,
    )
    unserved = done.unserved_w[:, :, 0] > UNSERVED_TOLERANCE_W
    spells_h = (0.5 - 0.25) * 1000 / 200, (0.25 - 0.15) * 1000 / 160, (0.15 - 0.05) * 1000 / 100
    ends_h = np.cumsum(spells_h)
    for group, end in zip((2, 1, 0), ends_h, strict=True):
        assert np.flatnonzero(unserved[group])[0] == int(end * 60)
        # Once off, off for good: nothing charges.
        assert unserved[group, int(end * 60) :].all()
    served_wh = (np.array([100, 60, 40]) * 10 - done.unserved_w[:, :, 0].sum(axis=1) / 60).tolist()
    expected = [100 * ends_h[2], 60 * ends_h[1], 40 * ends_h[0]]
    assert served_wh == pytest.approx(expected, rel=1e-9)
    assert done.soc[-1, 0] == pytest.approx(0.05, abs=1e-12)


def test_all_three_floors_within_one_step(ideal: MakeBank, offers: MakeOffers) -> None:
    """One long step gives the same energies as six hundred short ones."""
    battery = ideal(capacity_wh=1000.0)
    done = run(
        battery,
        offers(1, essential=100.0, comfort=60.0, extra=40.0),
        start_soc=0.5,
        step_hours=10.0,
    )
    served_wh = 10.0 * (np.array([100.0, 60.0, 40.0]) - done.unserved_w[:, 0, 0])
    assert served_wh.tolist() == pytest.approx([287.5, 60 * 1.875, 40 * 1.25], rel=1e-12)


def test_a_group_stays_off_until_well_above_its_floor(ideal: MakeBank, offers: MakeOffers) -> None:
    """Extras fall at 25 %, and come back in the first step that begins above 30 %."""
    battery = ideal(capacity_wh=1000.0)
    sun = [0.0] * 3 + [130.0] * 9
    done = run(battery, offers(12, extra=100.0, sun=sun), start_soc=0.30)
    served = 100.0 - done.unserved_w[2, :, 0]
    # 0.30 -> 0.25 in half an hour, off; then 13 % an hour of charge from hour 3: 0.38 at hour 4.
    np.testing.assert_allclose(served[:4], [50.0, 0.0, 0.0, 0.0], atol=1e-9)
    np.testing.assert_allclose(served[4:], 100.0)
    assert done.soc[4, 0] == pytest.approx(0.38)


@pytest.mark.parametrize("above", [0.0, 0.05, 0.2])
def test_cut_off_and_reconnect_make_a_loop(
    ideal: MakeBank, offers: MakeOffers, above: float
) -> None:
    """After the cut-off the load is off although the sun would feed it, until the charge is
    `reconnect_above` over the cut-off."""
    battery = ideal(capacity_wh=1000.0, reconnect_above=above)
    sun = np.concatenate([np.zeros(60), np.full(300, 100.0)])
    done = run(battery, offers(360, essential=60.0, sun=sun), start_soc=0.06, step_hours=1 / 60)
    served = 60.0 - done.unserved_w[0, :, 0]
    assert (served[:10] > 60.0 - 1e-9).all()  # one per cent lasts ten minutes
    assert not served[11:60].any()
    back = 60 + int(np.ceil(above * 1000.0 / 100.0 * 60.0 - 1e-9))
    # One step more where the first sunny step begins just at the cut-off.
    assert np.flatnonzero(served[60:] > 1.0)[0] + 60 in (back, back + 1)
    assert (served[back + 1 :] > 60.0 - 1e-9).all()


def test_below_a_floor_the_sun_alone_does_not_bring_a_group_back(
    bank: MakeBank, offers: MakeOffers
) -> None:
    battery = bank(capacity_wh=1e6)
    done = run(
        battery, offers(3, essential=5.0, extra=400.0, sun=[0.0, 900.0, 900.0]), start_soc=0.2
    )
    assert done.unserved_w[2, :, 0] == pytest.approx([400.0, 400.0, 400.0])
    assert not done.unserved_w[0].any()


def test_charging_goes_on_after_loads_fell_off(ideal: MakeBank, offers: MakeOffers) -> None:
    """Within one step: extras draw to their floor, then the sun's surplus charges the bank."""
    battery = ideal(capacity_wh=1000.0)
    done = run(battery, offers(1, essential=50.0, extra=150.0, sun=100.0), start_soc=0.30)
    # 100 W of deficit take half an hour to the floor; then 50 W of surplus for the other half.
    assert done.soc[1, 0] == pytest.approx(0.25 + 0.025, rel=1e-12)
    assert done.unserved_w[:, 0, 0] == pytest.approx([0.0, 0.0, 75.0])
    assert done.taken_w[0][0, 0] == pytest.approx(100.0, rel=1e-12)


def test_equal_floors_fall_together(ideal: MakeBank, offers: MakeOffers) -> None:
    battery = ideal(capacity_wh=1000.0, floors=(0.1, 0.1, 0.1))
    done = run(battery, offers(2, essential=50.0, comfort=30.0, extra=20.0), start_soc=0.2)
    assert done.unserved_w[:, 0, 0] == pytest.approx([0.0, 0.0, 0.0], abs=1e-9)
    assert done.unserved_w[:, 1, 0] == pytest.approx([50.0, 30.0, 20.0])


def test_the_charge_never_leaves_its_bounds(bank: MakeBank, offers: MakeOffers) -> None:
    """Wild sources and loads for 2,000 hours in 30 lanes, without the leak that may go lower."""
    rng = np.random.Generator(np.random.PCG64(5))
    battery = bank(self_discharge_per_h=0.0)
    shape = (2000, 30)
    done = run(
        battery,
        offers(
            2000,
            essential=rng.exponential(120.0, shape),
            comfort=rng.exponential(150.0, shape) * (rng.random(shape) < 0.4),
            extra=rng.exponential(500.0, shape) * (rng.random(shape) < 0.1),
            sun=rng.exponential(200.0, shape) * (rng.random(shape) < 0.5),
            drive=600.0 * (rng.random(shape) < 0.1),
            shore=900.0 * (rng.random(shape) < 0.05),
        ),
        start_soc=0.7,
    )
    assert done.soc.max() <= 1.0
    assert done.soc.min() >= 0.05 - 1e-12
    # Both ends are really touched.
    assert (done.soc.max(axis=0) == 1.0).any()
    assert (done.soc.min(axis=0) < 0.05 + 1e-9).all()
    for taken in (*done.taken_w, done.unserved_w, done.losses_w):
        assert taken.min() >= -1e-9


def test_only_the_leak_goes_below_the_cut_off(bank: MakeBank, offers: MakeOffers) -> None:
    """A bank that is cut off still loses its self-discharge, and nothing else."""
    battery = bank(self_discharge_per_h=1e-3)
    done = run(battery, offers(100, essential=200.0), start_soc=0.06)
    below = done.soc[2:, 0]
    np.testing.assert_allclose(below[1:] / below[:-1], 1.0 - 1e-3, rtol=1e-9)
    assert below[-1] < 0.05


@pytest.mark.parametrize("usable", [1.0, 0.7])
def test_the_cut_off_is_told_where_it_really_is(
    ideal: MakeBank, offers: MakeOffers, usable: float
) -> None:
    """100 W from a kilowatt-hour at 60 %: cold that locks up 30 % raises the floor of 5 % to
    33.5 %, and the essential loads end after 5.5 or 2.65 hours."""
    wanted = offers(8, essential=100.0)
    done = run(
        ideal(capacity_wh=1000.0),
        replace(wanted, usable=np.full((8, 1), usable)),
        start_soc=0.6,
    )
    assert done.cut_off_h.tolist() == [6.0 if usable == 1.0 else 3.0]
    assert done.lowest_soc[0] == pytest.approx(1.0 - 0.95 * usable)


def test_only_essential_loads_cut_at_their_floor_count(ideal: MakeBank, offers: MakeOffers) -> None:
    battery = ideal(capacity_wh=1000.0)
    # Comfort ends at 15 %, and nothing else draws.
    comfort = run(battery, offers(24, comfort=100.0), start_soc=0.5)
    assert comfort.soc[-1, 0] == pytest.approx(0.15)
    assert comfort.cut_off_h.tolist() == [np.inf]
    # A full bank that gives 60 W at most refuses 40 W of essential loads.
    weak = run(replace(battery, discharge_limit_w=60.0), offers(2, essential=100.0), start_soc=1.0)
    assert weak.unserved_w[0].min() == pytest.approx(40.0)
    assert weak.cut_off_h.tolist() == [np.inf]
    # The first time counts, though the sun brings the loads back.
    again = offers(12, essential=100.0, sun=[0.0] * 3 + [600.0] * 4 + [0.0] * 5)
    assert run(battery, again, start_soc=0.2).cut_off_h.tolist() == [2.0]


def test_the_cut_off_is_told_in_hours_whatever_the_step(
    ideal: MakeBank, offers: MakeOffers
) -> None:
    """100 W from a kilowatt-hour at 58 % end at 5 % after 5.3 hours: in the half hour to 5.5."""
    battery, wanted = ideal(capacity_wh=1000.0), offers(16, essential=100.0)
    done = run(battery, wanted, start_soc=0.58, step_hours=0.5)
    assert done.cut_off_h.tolist() == [5.5]
