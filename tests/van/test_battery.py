"""The battery against closed forms: autonomy, charge, limits, self-discharge, order of sources."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from sim.job.model.living import PRIORITIES
from sim.van.bank.hours import BankHours
from sim.van.bank.lanes import GROUPS, Bank
from sim.van.bank.loop import run_bank
from sim.van.bank.offers import Offers
from sim.van.bank.totals import UNSERVED_TOLERANCE_W

MakeBank = Callable[..., Bank]
MakeOffers = Callable[..., Offers]


def run(bank: Bank, offers: Offers, *, start_soc: float, step_hours: float = 1.0) -> BankHours:
    return run_bank(bank, offers, start_soc=start_soc, step_hours=step_hours)


def test_groups_are_the_jobs_priorities() -> None:
    assert GROUPS == PRIORITIES


@pytest.mark.parametrize("step_minutes", [5, 12, 60])
@pytest.mark.parametrize("watts", [20.0, 137.0, 900.0])
def test_autonomy_is_the_closed_form(
    bank: MakeBank, offers: MakeOffers, watts: float, step_minutes: int
) -> None:
    """A steady load runs for usable energy over (P + r P^2), whatever the step."""
    battery = bank(self_discharge_per_h=0.0)
    hours = (1.0 - 0.05) * 1280.0 / (watts + 3e-5 * watts**2)
    steps = int(hours * 60 / step_minutes) + 5
    done = run(battery, offers(steps, essential=watts), start_soc=1.0, step_hours=step_minutes / 60)
    served = (watts - done.unserved_w[0, :, 0]).sum() * step_minutes / 60
    assert served == pytest.approx(watts * hours, rel=1e-12)
    assert done.soc[-1, 0] == pytest.approx(0.05, abs=1e-12)
    dark = np.flatnonzero(done.unserved_w[0, :, 0] > UNSERVED_TOLERANCE_W)
    assert dark[0] == int(hours * 60 / step_minutes)


@pytest.mark.parametrize("step_minutes", [5, 60])
def test_charge_is_straight_and_then_exponential(
    bank: MakeBank, offers: MakeOffers, step_minutes: int
) -> None:
    """A charge at the limit against the same rule integrated in steps of two seconds."""
    battery = bank(self_discharge_per_h=0.0)
    minutes = 240
    steps = minutes // step_minutes
    done = run(battery, offers(steps, sun=2000.0), start_soc=0.3, step_hours=step_minutes / 60)
    at_limit = 0.99 * 640.0 - 3e-5 * 640.0**2
    taper_wh, full = 0.9 * 1280.0, 1280.0
    level, reference = 0.3 * full, [0.3]
    for second in range(0, minutes * 60, 2):
        # From all of it where the taper starts to a tenth when full.
        share = 1.0 - 0.9 * max(level - taper_wh, 0.0) / (full - taper_wh)
        level = min(level + at_limit * share * 2.0 / 3600.0, full)
        if (second + 2) % (60 * step_minutes) == 0:
            reference.append(level / full)
    # The reference's own error is its step of 2 s at 0.6 kW: 0.35 Wh in 1280.
    np.testing.assert_allclose(done.soc[:, 0], reference, atol=3e-4)
    # A straight line below the taper, to the last digit.
    straight = 0.3 + at_limit / full * np.arange(steps + 1) * step_minutes / 60
    below = straight < 0.9
    np.testing.assert_allclose(done.soc[below, 0], straight[below], rtol=1e-12)
    assert below.sum() >= 2
    assert done.soc.max() <= 1.0
    assert done.taken_w[0].max() == pytest.approx(640.0, rel=1e-12)


def test_taper_is_exponential_in_closed_form(bank: MakeBank, offers: MakeOffers) -> None:
    """Within the taper the distance to its end shrinks by one factor each step."""
    battery = bank(self_discharge_per_h=0.0, tail_share=0.2)
    done = run(battery, offers(10, sun=5000.0), start_soc=0.9, step_hours=1 / 60)
    # Accepted power is linear in the charge: all at 0.9, a fifth at 1, hence none at 1.025.
    at_limit = (0.99 * 640.0 - 3e-5 * 640.0**2) / 1280.0
    factor = np.exp(-at_limit / (1.025 - 0.9) / 60.0)
    expected = 1.025 - (1.025 - 0.9) * factor ** np.arange(11)
    np.testing.assert_allclose(done.soc[:, 0], np.minimum(expected, 1.0), rtol=1e-12)


def test_a_weak_source_charges_straight_until_full(bank: MakeBank, offers: MakeOffers) -> None:
    """Below the tail's power nothing tapers; what a full bank cannot take stays with the sun."""
    battery = bank(self_discharge_per_h=0.0)
    done = run(battery, offers(12, sun=30.0), start_soc=0.9)
    stored = 0.99 * 30.0 - 3e-5 * 30.0**2
    expected = np.minimum(0.9 + stored * np.arange(13) / 1280.0, 1.0)
    np.testing.assert_allclose(done.soc[:, 0], expected, rtol=1e-12)
    assert done.soc[-1, 0] == 1.0
    assert done.taken_w[0][-1, 0] == 0.0


def test_losses_of_a_charge_and_a_discharge(bank: MakeBank, offers: MakeOffers) -> None:
    """Charge loses (1 - eta) P + r P^2, discharge r P^2; both are told as losses."""
    battery = bank(self_discharge_per_h=0.0)
    charged = run(battery, offers(1, sun=500.0), start_soc=0.4)
    assert charged.losses_w[0, 0] == pytest.approx(0.01 * 500.0 + 3e-5 * 500.0**2, rel=1e-12)
    drained = run(battery, offers(1, comfort=300.0, sun=100.0), start_soc=0.8)
    assert drained.losses_w[0, 0] == pytest.approx(3e-5 * 200.0**2, rel=1e-12)
    assert drained.soc[1, 0] == pytest.approx(0.8 - (200.0 + 1.2) / 1280.0, rel=1e-12)


@pytest.mark.parametrize("step_minutes", [5, 60])
def test_round_trip_of_a_constant_current_cycle(
    bank: MakeBank, offers: MakeOffers, step_minutes: int
) -> None:
    """Out over in of a full cycle is the closed form of its two losses."""
    per_hour = 60 // step_minutes
    battery = bank(self_discharge_per_h=0.0, taper_from_soc=0.99, tail_share=0.95)
    source = np.repeat([256.0] * 3 + [0.0] * 8, per_hour)
    load = np.repeat([0.0] * 3 + [256.0] * 8, per_hour)
    done = run(
        battery,
        offers(len(load), essential=load, sun=source),
        start_soc=0.05,
        step_hours=step_minutes / 60,
    )
    given = (load - done.unserved_w[0, :, 0]).sum()
    expected = (0.99 - 3e-5 * 256.0) / (1.0 + 3e-5 * 256.0)
    assert given / done.taken_w[0].sum() == pytest.approx(expected, rel=1e-9)


def test_discharge_limit_leaves_the_least_important_hungry(
    ideal: MakeBank, offers: MakeOffers
) -> None:
    battery = ideal(discharge_limit_w=300.0)
    done = run(
        battery, offers(2, essential=200.0, comfort=200.0, extra=100.0, sun=50.0), start_soc=0.9
    )
    np.testing.assert_allclose(done.unserved_w[:, :, 0], [[0, 0], [50, 50], [100, 100]])
    np.testing.assert_allclose(done.soc[:, 0], 0.9 - 300.0 / 1280.0 * np.arange(3))


def test_no_charge_in_the_cold_but_the_sun_still_feeds(bank: MakeBank, offers: MakeOffers) -> None:
    """Below freezing the bank takes nothing; loads run on the sun directly, the rest is left."""
    battery = bank(self_discharge_per_h=0.0)
    cold = run(battery, offers(3, essential=80.0, sun=200.0, allowed=0.0), start_soc=0.5)
    np.testing.assert_array_equal(cold.soc, 0.5)
    np.testing.assert_allclose(cold.taken_w[0], 80.0)
    assert not cold.unserved_w.any()
    assert not cold.losses_w.any()
    night = run(battery, offers(3, essential=80.0, allowed=0.0), start_soc=0.5)
    assert night.soc[-1, 0] < 0.5 - 3 * 80.0 / 1280.0


def test_a_share_of_the_charge_limit(bank: MakeBank, offers: MakeOffers) -> None:
    done = run(bank(), offers(1, sun=900.0, allowed=0.25), start_soc=0.3)
    assert done.taken_w[0][0, 0] == pytest.approx(0.25 * 640.0, rel=1e-12)


@pytest.mark.parametrize("step_minutes", [5, 60])
def test_self_discharge_over_a_month(bank: MakeBank, offers: MakeOffers, step_minutes: int) -> None:
    """3 % a month (720 h) leaves exp(-0.03) of the charge, all of it told as losses."""
    battery = bank(self_discharge_per_h=0.03 / 720.0)
    steps = 720 * 60 // step_minutes
    done = run(battery, offers(steps), start_soc=0.6, step_hours=step_minutes / 60)
    # First-order steps against the exponential: half of (0.03 / 720)^2 * 720.
    assert done.soc[-1, 0] == pytest.approx(0.6 * np.exp(-0.03), rel=1e-6)
    lost = done.losses_w.sum() * step_minutes / 60
    assert lost == pytest.approx((0.6 - done.soc[-1, 0]) * 1280.0, rel=1e-9)


SOURCES = [
    # loads, sun, drive, shore offered; taken from each when the bank is full.
    (100.0, 150.0, 50.0, 500.0, (100.0, 0.0, 0.0)),
    (100.0, 60.0, 70.0, 500.0, (60.0, 40.0, 0.0)),
    (100.0, 20.0, 30.0, 500.0, (20.0, 30.0, 50.0)),
    (100.0, 0.0, 0.0, 500.0, (0.0, 0.0, 100.0)),
    (0.0, 20.0, 30.0, 500.0, (0.0, 0.0, 0.0)),
]


@pytest.mark.parametrize(("load", "sun", "drive", "shore", "taken"), SOURCES)
def test_sun_goes_first_then_the_engine_then_the_plug(
    bank: MakeBank,
    offers: MakeOffers,
    load: float,
    sun: float,
    drive: float,
    shore: float,
    taken: tuple[float, float, float],
) -> None:
    battery = bank(self_discharge_per_h=0.0)
    done = run(battery, offers(1, essential=load, sun=sun, drive=drive, shore=shore), start_soc=1.0)
    got = done.taken_w[0][0, 0], done.taken_w[1][0, 0], done.taken_w[2][0, 0]
    assert got == pytest.approx(taken, abs=1e-9)


def test_an_empty_bank_takes_from_all_sources(bank: MakeBank, offers: MakeOffers) -> None:
    """The charge limit cuts the plug first: 640 W of charge and 100 W of load from 800 W."""
    done = run(
        bank(), offers(1, essential=100.0, sun=200.0, drive=300.0, shore=300.0), start_soc=0.3
    )
    got = done.taken_w[0][0, 0], done.taken_w[1][0, 0], done.taken_w[2][0, 0]
    assert got == pytest.approx((200.0, 300.0, 240.0), rel=1e-12)


def test_progress_is_told(bank: MakeBank, offers: MakeOffers) -> None:
    told: list[float] = []
    run_bank(bank(), offers(640), start_soc=0.5, step_hours=1.0, progress=told.append)
    assert told == sorted(told)
    assert told[0] > 0.0
    assert told[-1] <= 1.0
