"""The quick way through a step and the thorough one give the same numbers, to the last digit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from sim.van.bank import charge, loop, step
from sim.van.bank.floors import descend
from sim.van.bank.hours import BankHours
from sim.van.bank.lanes import Bank, Lanes
from sim.van.bank.loop import run_bank, unserved_bank
from sim.van.bank.offers import Offers
from sim.van.bank.sources import Source
from sim.van.bank.span import Lacking, Span, Spent
from sim.van.bank.switches import Switches

MakeBank = Callable[..., Bank]
LANES, STEPS = 40, 24 * 6
KINDS = {
    "plain": {},
    "weak": {"discharge_limit_w": 300.0},
    "lead": {"peukert": 1.2},
    "held": {"floors": (0.05, 0.15, 0.25, 0.5)},
    "by lane": {"capacity_wh": np.linspace(400.0, 4000.0, LANES)},
}


def slowly(lanes: Lanes, switches: Switches, span: Span) -> Spent:
    """`serve` without its quick way: all lanes go down the floors, whether they reach one or
    not."""
    every = np.arange(len(span.level))
    if switches.off.size:
        switches.come_back(span.level, span.usable)
    groups = switches.groups(every)
    whole = span.some(every)
    off_wh = whole.wanted * (1.0 - groups[1]) * span.hours
    done = descend(lanes, whole, *groups)
    switches.settle(every, done.on)
    lacking = Lacking(every, off_wh), Lacking(every, done.unserved)
    return Spent(done.level, done.losses, done.surplus, done.spare_h, lacking)


def job(groups: int, seed: int, *, cold: bool) -> Offers:
    """Lanes that are full, hungry and anything between, under sun, engine and plug."""
    rng = np.random.Generator(np.random.PCG64(seed))
    shape = (STEPS, LANES)
    hour = np.arange(STEPS)[:, None] % 24
    wanted = [
        rng.uniform(0.0, 60.0, shape),
        120.0 * ((hour >= 17) & (hour < 23)) * rng.random(shape),
        *(500.0 * (rng.random(shape) < 0.1) for _ in range(groups - 2)),
    ]
    day = np.clip(np.sin((hour - 6) / 12.0 * np.pi), 0.0, None)
    return Offers(
        wanted_w=np.stack(wanted),
        sources=(
            Source("Sun", "sun", 500.0 * day * rng.beta(1.2, 1.2, shape)),
            Source("Engine", "drive", 400.0 * (rng.random((STEPS, 1)) < 0.05)),
            Source("Plug", "shore", 60.0 * (rng.random(shape) < 0.05)),
        ),
        charge_allowed=(rng.random(shape) > 0.1) * 1.0,
        usable=rng.uniform(0.6, 1.0, shape) if cold else None,
        pace=rng.uniform(0.3, 1.0, shape) if cold else None,
    )


def assert_same(one: BankHours, other: BankHours) -> None:
    for name in ("soc", "losses_w", "unserved_w", "lowest_soc", "cut_off_h"):
        np.testing.assert_array_equal(getattr(one, name), getattr(other, name), err_msg=name)
    for taken, theirs in zip(one.taken_w, other.taken_w, strict=True):
        np.testing.assert_array_equal(taken, theirs)
    np.testing.assert_allclose(one.refused_sun_w, other.refused_sun_w, rtol=1e-12, atol=1e-12)


@pytest.mark.parametrize("step_hours", [1.0, 0.25])
@pytest.mark.parametrize("cold", [False, True], ids=["warm", "cold"])
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("many", [False, True], ids=["as few lanes", "as many lanes"])
def test_the_quick_way_is_the_thorough_one(
    bank: MakeBank,
    monkeypatch: pytest.MonkeyPatch,
    many: bool,
    kind: str,
    cold: bool,
    step_hours: float,
) -> None:
    """Of few lanes all that come near a floor go down the floors, and those that taper are picked
    out; of many all taper together."""
    battery = bank(**KINDS[kind])
    offers = job(len(battery.floors), seed=len(kind), cold=cold)
    start_soc = np.linspace(0.0, 1.0, LANES)
    with monkeypatch.context() as quickly:
        quickly.setattr(step, "_FEW", 1 if many else LANES)
        quickly.setattr(charge, "_MOST", 0.0 if many else 1.0)
        quick = run_bank(battery, offers, start_soc=start_soc, step_hours=step_hours)
    monkeypatch.setattr(charge, "_MOST", 1.0)
    monkeypatch.setattr(loop, "serve", slowly)
    thorough = run_bank(battery, offers, start_soc=start_soc, step_hours=step_hours)
    assert_same(quick, thorough)
    # Everything happened: full, tapered, cut off, and without some groups only.
    assert quick.soc.max() > 0.99
    assert quick.refused_sun_w.sum(axis=1).min() > 0.0
    assert np.isfinite(quick.cut_off_h).any()
    assert quick.unserved_w[0].max() > 0.0
    assert quick.unserved_w[-1].max() > 0.0


@pytest.mark.parametrize("cold", [False, True], ids=["warm", "cold"])
def test_what_is_known_of_all_lanes_changes_nothing(bank: MakeBank, cold: bool) -> None:
    """Where no lane is too cold, and none is offered more than its limit, the limit is not asked
    for; a share of the limit that all but is the whole asks for it."""
    offers = replace(job(3, seed=4, cold=cold), charge_allowed=np.ones((STEPS, 1)))
    battery = bank(charge_limit_w=450.0)
    all_but = replace(offers, charge_allowed=np.full((STEPS, 1), 1.0 - 1e-12))
    one, other = (
        run_bank(battery, each, start_soc=0.5, step_hours=1.0) for each in (offers, all_but)
    )
    np.testing.assert_allclose(one.soc, other.soc, rtol=0.0, atol=1e-9)
    for taken, theirs in zip(one.taken_w, other.taken_w, strict=True):
        np.testing.assert_allclose(taken, theirs, rtol=0.0, atol=1e-6)
    # Both happened: within the limit, and beyond it.
    most = sum(source.offered_w.max(axis=1) for source in offers.sources)
    assert most.min() < 450.0 < most.max()


def test_lanes_that_share_draws_are_lanes_of_their_own(bank: MakeBank) -> None:
    """Every third lane has one draw: the same as three lanes with equal rows."""
    offers, draw = job(3, seed=6, cold=True), np.arange(LANES) % 3
    shared = replace(
        offers,
        draw=draw,
        sources=tuple(
            replace(x, column=draw if x.offered_w.shape[1] > 1 else None) for x in offers.sources
        ),
    )
    few = replace(
        offers,
        **{name: getattr(offers, name)[..., :3] for name in ("wanted_w", "charge_allowed")},
        **{name: getattr(offers, name)[:, :3] for name in ("usable", "pace")},
        sources=tuple(replace(x, offered_w=x.offered_w[:, :3]) for x in offers.sources),
    )
    many = run_bank(bank(), shared, start_soc=0.6, step_hours=1.0)
    three = run_bank(bank(), few, start_soc=0.6, step_hours=1.0)
    np.testing.assert_array_equal(many.soc, three.soc[:, draw])
    np.testing.assert_array_equal(many.unserved_w, three.unserved_w[:, :, draw])
    for taken, theirs in zip(many.taken_w, three.taken_w, strict=True):
        np.testing.assert_array_equal(taken, theirs[:, draw])


def test_the_plug_carries_the_rest_of_the_step_once_a_group_is_off(bank: MakeBank) -> None:
    """60 Wh lie above the floor of the extra loads: at 300 W they last 12 minutes, after which
    the plug carries what is left and charges with 100 W for 48 minutes."""
    battery = bank(
        resistance_per_w=0.0, charge_efficiency=1.0, self_discharge_per_h=0.0, reconnect_above=0.0
    )
    wanted = np.zeros((3, 1, 3))
    wanted[2, 0] = 400.0, 0.0, 400.0
    offers = Offers(wanted, (Source("Plug", "shore", np.full((1, 1), 100.0)),), np.ones((1, 1)))
    start = np.array([0.25 + 60.0 / 1280.0, 0.5, 0.9])
    done = run_bank(battery, offers, start_soc=start, step_hours=1.0)
    charged = np.array([80.0 - 60.0, 100.0, -300.0]) / 1280.0
    np.testing.assert_allclose(done.soc[1] - start, charged, rtol=1e-9)
    np.testing.assert_allclose(done.unserved_w[2, 0], [320.0, 0.0, 0.0], atol=1e-9)
    np.testing.assert_allclose(done.taken_w[0][0], [100.0, 100.0, 100.0], rtol=1e-9)


@pytest.mark.parametrize("step_hours", [1.0, 0.25])
def test_what_is_not_served_may_be_asked_for_alone(bank: MakeBank, step_hours: float) -> None:
    offers = replace(job(3, seed=1, cold=False), beyond_w=np.full((3, STEPS, LANES), 2.0))
    whole = run_bank(bank(), offers, start_soc=0.5, step_hours=step_hours)
    alone = unserved_bank(bank(), offers, start_soc=0.5, step_hours=step_hours)
    np.testing.assert_array_equal(alone, whole.unserved_w)
    assert alone.min() >= 2.0
    assert alone.max() > 400.0
