"""Lead-acid beside lithium: load and cold raise the floors, nothing is lost by it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from sim.van.bank.lanes import Bank, rate_share
from sim.van.bank.loop import run_bank
from sim.van.bank.offers import Offers
from sim.van.bank.totals import total_bank

MakeBank = Callable[..., Bank]
MakeOffers = Callable[..., Offers]


def with_cold(offers: Offers, usable: object = None, pace: object = None) -> Offers:
    shape = (offers.steps, 1)
    spread = [None if x is None else np.broadcast_to(x, shape) for x in (usable, pace)]
    return Offers(offers.wanted_w, offers.sources, offers.charge_allowed, *spread)


@pytest.mark.parametrize("step_minutes", [5, 60])
@pytest.mark.parametrize("usable", [1.0, 0.7])
@pytest.mark.parametrize(("peukert", "watts"), [(1.0, 100.0), (1.15, 30.0), (1.3, 300.0)])
def test_autonomy_is_the_closed_form_of_the_chemistry(
    bank: MakeBank,
    offers: MakeOffers,
    peukert: float,
    watts: float,
    usable: float,
    step_minutes: int,
) -> None:
    """Usable charge at that load and temperature, over what the load draws with its loss."""
    battery = bank(self_discharge_per_h=0.0, peukert=peukert, rated_hours=20.0)
    share = usable * min((1280.0 / 20.0 / watts) ** (peukert - 1.0), 1.0)
    hours = share * (1.0 - 0.05) * 1280.0 / (watts + 3e-5 * watts**2)
    dt = step_minutes / 60
    steps = int(hours / dt) + 5
    done = run_bank(
        battery,
        with_cold(offers(steps, essential=watts), usable),
        start_soc=1.0,
        step_hours=dt,
    )
    served = (watts - done.unserved_w[0, :, 0]).sum() * dt
    assert served == pytest.approx(watts * hours, rel=1e-9)
    assert done.soc[-1, 0] == pytest.approx(1.0 - share * 0.95, abs=1e-9)


def test_what_a_heavy_load_leaves_a_light_one_finds(bank: MakeBank, offers: MakeOffers) -> None:
    """After 300 W gave up, 40 W run on, down to the very floor, in all the charge there was."""
    battery = bank(self_discharge_per_h=0.0, peukert=1.3, resistance_per_w=0.0)
    done = run_bank(battery, offers(60, essential=40.0, extra=260.0), start_soc=1.0, step_hours=1.0)
    unserved = done.unserved_w[:, :, 0]
    heavy_ends = np.flatnonzero(unserved[2])[0]
    light_ends = np.flatnonzero(unserved[0] > 1e-9)[0]
    assert light_ends > heavy_ends + 10
    served = (300.0 - unserved.sum(axis=0)).sum()
    assert served == pytest.approx(0.95 * 1280.0, rel=1e-9)


def test_cold_locks_charge_away_and_warmth_gives_it_back(
    bank: MakeBank, offers: MakeOffers
) -> None:
    battery = bank(self_discharge_per_h=0.0, resistance_per_w=0.0)
    usable = np.array([0.6] * 20 + [1.0] * 20)[:, None]
    done = run_bank(
        battery, with_cold(offers(40, essential=64.0), usable), start_soc=1.0, step_hours=1.0
    )
    # 0.6 of 0.95 of 1280 Wh is 11.4 hours of 64 W; then dark until it is warm.
    served = 64.0 - done.unserved_w[0, :, 0]
    assert served[:20].sum() == pytest.approx(0.6 * 0.95 * 1280.0, rel=1e-9)
    assert served.sum() == pytest.approx(0.95 * 1280.0, rel=1e-9)


def test_cold_raises_the_level_of_return(bank: MakeBank, offers: MakeOffers) -> None:
    """At 0.445, of which half is locked up, the loads go off; with 0.6 left they would have to be
    at 0.46 to come back, with 0.65 at 0.415."""
    battery = bank(self_discharge_per_h=0.0, capacity_wh=1e5)
    usable = np.array([0.5, 0.6, 0.65])[:, None]
    done = run_bank(
        battery, with_cold(offers(3, essential=64.0), usable), start_soc=0.445, step_hours=1.0
    )
    np.testing.assert_allclose(done.unserved_w[0, :, 0], [64.0, 64.0, 0.0], atol=1e-9)


def test_cold_slows_the_taper(bank: MakeBank, offers: MakeOffers) -> None:
    """Half the pace: the same way in the taper takes twice the time."""
    battery = bank(self_discharge_per_h=0.0)
    quick = run_bank(battery, offers(40, sun=3000.0), start_soc=0.92, step_hours=0.05)
    slow = run_bank(
        battery,
        with_cold(offers(80, sun=3000.0), pace=0.5),
        start_soc=0.92,
        step_hours=0.05,
    )
    np.testing.assert_allclose(slow.soc[::2, 0], quick.soc[:, 0], atol=1e-12)


def test_share_at_and_below_the_rated_load_is_all(bank: MakeBank) -> None:
    share = rate_share(np.array([0.0, 5.0, 10.0, 20.0]), np.full(4, 10.0), 1.2)
    np.testing.assert_allclose(share, [1.0, 1.0, 1.0, 0.5**0.2])


def test_the_heaviest_of_all_lanes_does_not_touch_the_others(
    bank: MakeBank, offers: MakeOffers
) -> None:
    """Lanes near their floor beside one with a huge load: each as if alone, to the last bit."""
    rng = np.random.Generator(np.random.PCG64(5))
    loads = rng.uniform(10.0, 90.0, (40, 8))
    loads[:, 0] = 1200.0
    battery = bank(peukert=1.25)
    many = total_bank(battery, offers(40, comfort=loads), start_soc=0.9, step_hours=1.0)
    for number in range(8):
        one = total_bank(
            battery,
            offers(40, comfort=loads[:, number : number + 1]),
            start_soc=0.9,
            step_hours=1.0,
        )
        np.testing.assert_array_equal(one.unserved_wh[:, 0], many.unserved_wh[:, number])
        assert one.lowest_soc[0] == many.lowest_soc[number]


def test_the_load_before_counts_down_to_the_last_group_that_is_on(
    bank: MakeBank, offers: MakeOffers
) -> None:
    """A pump of 400 W, an extra, ran three quarters of an hour and rests: its floor still rises
    with the 320 W of that hour."""
    battery = bank(self_discharge_per_h=0.0, resistance_per_w=0.0, peukert=1.3, reconnect_above=0.3)
    pump = np.array([400.0, 400.0, 400.0, 0.0, 400.0])
    loads = offers(5, essential=20.0, extra=pump)

    def floor(group_soc: float, watts: float) -> float:
        return 1.0 - (1.0 - group_soc) * (64.0 / watts) ** 0.3

    drained = (3 * 400.0 + 4 * 20.0) * 0.25 / 1280.0
    # The pump's floor is the same at the end of its run and at the end of its rest, in which the
    # lights drain 5 Wh: it goes off in its rest, in which it wants nothing.
    ends = floor(0.25, 320.0) + np.array([0.001, -0.001])
    done = [run_bank(battery, loads, start_soc=end + drained, step_hours=0.25) for end in ends]
    above, below = (each.unserved_w[2, :, 0] for each in done)
    np.testing.assert_allclose([above[:4], below[:4]], 0.0, atol=1e-9)
    assert above[4] < 400.0
    assert below[4] == pytest.approx(400.0)


def test_a_burst_counts_by_the_mean_of_its_hour(bank: MakeBank, offers: MakeOffers) -> None:
    """Ten minutes of 900 W in an hour: five-minute steps see the 150 W that hourly ones see."""
    battery = bank(self_discharge_per_h=0.0, peukert=1.3, resistance_per_w=0.0)
    burst = np.zeros(12 * 12)
    burst[5::12] = burst[6::12] = 900.0
    hourly = run_bank(battery, offers(12, extra=150.0), start_soc=1.0, step_hours=1.0)
    fine = run_bank(battery, offers(144, extra=burst), start_soc=1.0, step_hours=1 / 12)
    served = [150.0 * 12 - hourly.unserved_w.sum(), 150.0 * 12 - fine.unserved_w.sum() / 12]
    assert hourly.unserved_w.any()
    assert served[1] == pytest.approx(served[0], rel=0.06)
    # By its watts alone the law would stop the burst at 0.66 of the charge, not at 0.42.
    assert fine.soc.min() == pytest.approx(hourly.soc.min(), abs=0.05)


def test_a_load_that_the_sun_carried_counts_for_nothing(bank: MakeBank, offers: MakeOffers) -> None:
    """After an hour of 400 W out of the sun, five minutes from the bank are a light load: by the
    400 W alone the law would have raised the floor to 0.45."""
    battery = bank(self_discharge_per_h=0.0, peukert=1.3)
    sun = np.concatenate([np.full(12, 400.0), np.zeros(3)])
    done = run_bank(
        battery, offers(15, essential=400.0, sun=sun), start_soc=0.40, step_hours=1 / 12
    )
    assert not done.unserved_w.any()
    hungry = run_bank(
        battery, offers(15, essential=400.0, sun=0.9 * sun), start_soc=0.25, step_hours=1 / 12
    )
    assert hungry.unserved_w[0, 12:].any()
