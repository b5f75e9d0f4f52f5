"""Lanes and steps: together as apart, sums as steps, short steps as long ones, energy closes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import pytest

from sim.van.bank.hours import BankHours
from sim.van.bank.lanes import Bank
from sim.van.bank.loop import run_bank
from sim.van.bank.offers import Offers
from sim.van.bank.running import Fuel
from sim.van.bank.totals import UNSERVED_TOLERANCE_W, total_bank

MakeBank = Callable[..., Bank]
MakeOffers = Callable[..., Offers]


def wild(offers: MakeOffers, steps: int, lanes: int, seed: int) -> Offers:
    """A van's days, different in every lane: nights, clouds, drives, a plug now and then."""
    rng = np.random.Generator(np.random.PCG64(seed))
    shape = (steps, lanes)
    hour = np.arange(steps)[:, None] % 24
    day = np.clip(np.sin((hour - 6) / 12.0 * np.pi), 0.0, None)
    return offers(
        steps,
        essential=rng.uniform(20.0, 60.0, shape),
        comfort=120.0 * ((hour >= 17) & (hour < 23)) * rng.random(shape),
        extra=700.0 * (rng.random(shape) < 0.06),
        sun=340.0 * day * rng.beta(1.2, 1.2, shape),
        drive=500.0 * ((hour == 10) & (rng.random(shape) < 0.3)),
        shore=900.0 * ((hour < 8) & (rng.random(shape) < 0.05)),
        allowed=(rng.random(shape) > 0.1) * 1.0,
    )


def lane(offers: Offers, number: slice) -> Offers:
    return changed(offers, lambda values: values[..., number])


def changed(offers: Offers, change: Callable[[np.ndarray], np.ndarray]) -> Offers:
    """The same with all arrays changed alike."""
    return Offers(
        wanted_w=np.stack([change(group) for group in offers.wanted_w]),
        sources=tuple(replace(x, offered_w=change(x.offered_w)) for x in offers.sources),
        charge_allowed=change(offers.charge_allowed),
    )


def in_all(done: BankHours) -> np.ndarray:
    """Taken of all sources. [W]"""
    return sum(done.taken_w, np.zeros(1))


def shorter(offers: Offers, parts: int) -> Offers:
    """The same powers in steps of a part of the length."""
    return changed(offers, lambda values: np.repeat(values, parts, axis=0))


def fields(done: BankHours) -> dict[str, np.ndarray]:
    """What a run leaves, lanes last."""
    taken = {f"taken {k}": watts for k, watts in enumerate(done.taken_w)}
    return {"soc": done.soc, **taken, "losses": done.losses_w, "unserved": done.unserved_w}


def test_lanes_together_are_lanes_apart_bit_for_bit(bank: MakeBank, offers: MakeOffers) -> None:
    many = wild(offers, 24 * 20, 13, seed=1)
    together = run_bank(bank(), many, start_soc=0.6, step_hours=1.0)
    for number in range(13):
        alone = run_bank(
            bank(), lane(many, slice(number, number + 1)), start_soc=0.6, step_hours=1.0
        )
        theirs = fields(together)
        for name, ours in fields(alone).items():
            np.testing.assert_array_equal(ours[..., 0], theirs[name][..., number], err_msg=name)


@pytest.mark.parametrize("spread", [True, False], ids=["a sky for each", "one sky for all"])
def test_banks_that_differ_by_lane_are_banks_apart(
    bank: MakeBank, offers: MakeOffers, spread: bool
) -> None:
    """One run over sizes is the runs of each size, all lanes under the same sky."""
    sky = wild(offers, 24 * 20, 1, seed=2)
    sizes = np.array([300.0, 1280.0, 5120.0])
    skies = changed(sky, lambda values: np.repeat(values, 3 if spread else 1, axis=-1))
    together = run_bank(
        bank(
            capacity_wh=sizes,
            charge_limit_w=sizes / 2.0,
            discharge_limit_w=sizes,
            resistance_per_w=0.04 / sizes,
        ),
        skies,
        start_soc=0.6,
        step_hours=1.0,
    )
    for number, size in enumerate(sizes):
        one = bank(
            capacity_wh=size,
            charge_limit_w=size / 2.0,
            discharge_limit_w=size,
            resistance_per_w=0.04 / size,
        )
        alone = run_bank(one, sky, start_soc=0.6, step_hours=1.0)
        theirs = fields(together)
        for name, ours in fields(alone).items():
            np.testing.assert_array_equal(ours[..., 0], theirs[name][..., number], err_msg=name)
    # A bigger bank sinks less deep.
    assert (np.diff(together.soc.min(axis=0)) > 0.0).all()


@pytest.mark.parametrize("step_minutes", [5, 20, 60])
def test_totals_are_the_sums_of_the_steps(
    bank: MakeBank, offers: MakeOffers, step_minutes: int
) -> None:
    dt = step_minutes / 60.0
    many = wild(offers, 500, 40, seed=3)  # the last hour is not whole
    steps = run_bank(bank(), many, start_soc=0.4, step_hours=dt)
    sums = total_bank(bank(), many, start_soc=0.4, step_hours=dt)
    np.testing.assert_array_equal(sums.lowest_soc, steps.soc.min(axis=0))
    np.testing.assert_allclose(sums.sun_wh, steps.taken_w[0].sum(axis=0) * dt, rtol=1e-12)
    np.testing.assert_allclose(
        sums.unserved_wh, steps.unserved_w.sum(axis=1) * dt, rtol=1e-12, atol=1e-9
    )
    missing = steps.unserved_w.sum(axis=0) > UNSERVED_TOLERANCE_W
    per_hour = 60 // step_minutes
    dark = [missing[i : i + per_hour].any(axis=0) for i in range(0, 500, per_hour)]
    np.testing.assert_array_equal(sums.dark_hours, np.sum(dark, axis=0))
    assert sums.dark_hours.max() > 0.0


def balance(bank: Bank, offers: Offers, done: BankHours, dt: float) -> np.ndarray:
    """Wh that a step's ledger leaves over, from nothing but what came out."""
    served = (offers.wanted_w - done.unserved_w).sum(axis=0)
    into = in_all(done)
    return (into - served - done.losses_w) * dt - np.diff(done.soc, axis=0) * bank.capacity_wh


@pytest.mark.parametrize("dt", [1 / 12, 1.0])
def test_energy_closes_in_every_step_and_lane(
    bank: MakeBank, offers: MakeOffers, dt: float
) -> None:
    many = wild(offers, 24 * 30, 200, seed=10)
    done = run_bank(bank(), many, start_soc=0.5, step_hours=dt)
    assert np.abs(balance(bank(), many, done, dt)).max() <= 1e-9 * 1280.0
    # And over the whole trip, against all that went through.
    through = (in_all(done)).sum(axis=0) * dt
    whole = balance(bank(), many, done, dt).sum(axis=0)
    assert (np.abs(whole) <= 1e-9 * through).all()
    # Nobody gets more than wanted, no source gives more than offered.
    assert (done.unserved_w <= many.wanted_w + 1e-9).all()
    for taken, source in zip(done.taken_w, many.sources, strict=True):
        assert (taken <= source.offered_w + 1e-9).all()


@pytest.mark.parametrize(
    ("size", "sun", "each_lane", "all_lanes"),
    [
        # A big bank and much sun: full on most days, never at a floor.
        (8.0, 2.5, 0.002, 0.0005),
        # The loads of one day in twelve cannot be served, and of one in three. A group that fell
        # off comes back at the start of a step: one lane may differ by what it wants in an hour
        # now and then, all together by hardly anything.
        (1.0, 2.2, 0.035, 0.01),
        (1.0, 1.0, 0.035, 0.01),
    ],
)
def test_hourly_and_five_minute_steps_agree(
    bank: MakeBank,
    offers: MakeOffers,
    size: float,
    sun: float,
    each_lane: float,
    all_lanes: float,
) -> None:
    """Lowest charge within 2 points, energies within 1 % of what is wanted; the lanes in three
    parts, each of which must hold what is asked of all."""
    many = wild(offers, 24 * 14, 120, seed=23)
    first, *rest = many.sources
    many = replace(many, sources=(replace(first, offered_w=first.offered_w * sun), *rest))
    battery = bank(
        capacity_wh=1280.0 * size,
        charge_limit_w=640.0 * size,
        discharge_limit_w=1280.0 * size,
        resistance_per_w=3e-5 / size,
    )
    hourly = run_bank(battery, many, start_soc=0.8, step_hours=1.0)
    short = run_bank(battery, shorter(many, 12), start_soc=0.8, step_hours=1 / 12)
    lowest = np.abs(hourly.soc.min(axis=0) - short.soc.min(axis=0))
    assert lowest.max() <= 0.02
    assert (short.soc.min() > 0.25) == (size > 1.0)
    wanted = many.wanted_w.sum(axis=(0, 1))

    def in_parts(watts: np.ndarray) -> np.ndarray:
        """Largest mean of a part of the lanes, over what is wanted in it."""
        mean, whole = (x.reshape(3, 40).mean(axis=1) for x in (watts, wanted))
        return np.abs(mean / whole).max()

    others = fields(short)
    apart = {
        name: (one.sum(axis=-2) - others[name].sum(axis=-2) / 12.0).reshape(-1, 120).sum(axis=0)
        for name, one in fields(hourly).items()
    }
    sources = [name for name in apart if name.startswith("taken")]
    energies = {name: apart[name] for name in ("losses", "unserved")}
    energies["taken"] = np.sum([apart[name] for name in sources], axis=0)
    for name, difference in energies.items():
        assert np.abs(difference / wanted).max() <= each_lane, name
        assert in_parts(difference) <= all_lanes, name
    # Which source gave way in the hour in which the bank became full is told from the hour's
    # means: sun and engine may trade a little.
    for name in sources:
        assert in_parts(apart[name]) <= 0.01, name


@dataclass
class Reference:
    """One lane integrated in short equal slices by the plain rules, apart from the kernel."""

    soc: list[float]
    taken_wh: float
    served_wh: float
    losses_wh: float


def reference(bank: Bank, offers: Offers, start_soc: float, slices: int) -> Reference:
    full, r = float(bank.capacity_wh), float(bank.resistance_per_w)
    limit, eta = float(bank.charge_limit_w), bank.charge_efficiency
    most = eta * limit - r * limit**2
    level, on, dt = start_soc * full, [True] * 3, 1.0 / slices
    out = Reference([start_soc], 0.0, 0.0, 0.0)
    for step in range(offers.steps):
        level *= 1.0 - bank.self_discharge_per_h
        wanted = [float(x) for x in offers.wanted_w[:, step, 0]]
        offered = sum(float(x.offered_w[step, 0]) for x in offers.sources)
        for group in range(3):
            on[group] |= level >= (bank.floors[group] + bank.reconnect_above) * full
        for _ in range(slices):
            for group in range(3):
                on[group] &= level > bank.floors[group] * full
            load = sum(x for x, active in zip(wanted, on, strict=True) if active)
            net = offered - load
            if net < 0.0:
                given = min(-net, float(bank.discharge_limit_w))
                level -= (given + r * given**2) * dt
                out.losses_wh += r * given**2 * dt
                out.served_wh += (offered + given) * dt
                out.taken_wh += offered * dt
                continue
            power = min(net, limit * float(offers.charge_allowed[step, 0]))
            stored = eta * power - r * power**2
            fall = (level / full - bank.taper_from_soc) / (1.0 - bank.taper_from_soc)
            accepted = most * (1.0 - (1.0 - bank.tail_share) * max(fall, 0.0))
            if stored > accepted:
                stored = accepted
                power = (eta - np.sqrt(eta**2 - 4.0 * r * stored)) / (2.0 * r)
            if level + stored * dt > full:
                power *= (full - level) / (stored * dt)
                stored = (full - level) / dt
            level += stored * dt
            out.losses_wh += (power - stored) * dt
            out.served_wh += load * dt
            out.taken_wh += (load + power) * dt
        out.soc.append(level / full)
    return out


@pytest.mark.parametrize("seed", range(4))
def test_against_plain_integration(bank: MakeBank, offers: MakeOffers, seed: int) -> None:
    """Four days with everything on, in slices of seven seconds."""
    battery = bank(capacity_wh=800.0, charge_limit_w=250.0, discharge_limit_w=500.0)
    many = wild(offers, 96, 1, seed=40 + seed)
    many = replace(many, wanted_w=many.wanted_w * 1.3)
    done = run_bank(battery, many, start_soc=0.4, step_hours=1.0)
    plain = reference(battery, many, 0.4, slices=500)
    # A slice of the largest power, 0.7 kW * 7 s, is 1.4 Wh in 800; it seldom adds up.
    np.testing.assert_allclose(done.soc[:, 0], plain.soc, atol=4e-3)
    taken = float((in_all(done)).sum())
    served = float((many.wanted_w - done.unserved_w).sum())
    leak = sum(plain.soc[:-1]) * 800.0 * battery.self_discharge_per_h
    assert taken == pytest.approx(plain.taken_wh, rel=3e-3)
    assert served == pytest.approx(plain.served_wh, rel=3e-3)
    # The kernel takes the loss of a taper's mean power, which is a little less than the mean loss.
    assert float(done.losses_w.sum()) == pytest.approx(plain.losses_wh + leak, rel=0.02)
    # The case shows what it should: hunger, a full bank and a tapered charge.
    assert done.unserved_w.max() > 1.0
    assert done.soc.min() < 0.2
    assert done.soc.max() > 0.9


@pytest.mark.parametrize("start_soc", [0.9, 0.3])
def test_a_discharge_loses_what_plain_integration_loses(
    bank: MakeBank, offers: MakeOffers, start_soc: float
) -> None:
    """No source and no leak: all that is lost is lost by what is given, above floors and at
    them."""
    battery = bank(capacity_wh=5120.0, self_discharge_per_h=0.0)
    many = offers(6, essential=180.0, comfort=[0, 250, 90, 0, 400, 0], extra=[0, 0, 600, 0, 0, 0])
    done = run_bank(battery, many, start_soc=start_soc, step_hours=1.0)
    plain = reference(battery, many, start_soc, slices=2000)
    assert float(done.losses_w.sum()) == pytest.approx(plain.losses_wh, rel=2e-3)
    assert (done.unserved_w.max() > 1.0) == (start_soc < 0.5)


def test_a_source_alone_gives_way_alone(bank: MakeBank, offers: MakeOffers) -> None:
    """The plug fills the bank within the hour: sun and engine, which offer nothing, take nothing,
    and the plug gives its power until the bank is full and nothing after."""
    battery = bank(tail_share=0.9, self_discharge_per_h=0.0)
    done = run_bank(battery, offers(1, shore=60.0), start_soc=0.97, step_hours=1.0)
    assert done.soc[-1, 0] == 1.0
    assert done.taken_w[0][0, 0] == pytest.approx(0.0, abs=1e-12)
    assert done.taken_w[1][0, 0] == 0.0
    # 60 W are within what the taper lets in: at that power to the very end.
    stored_w = 0.99 * 60.0 - 3e-5 * 60.0**2
    hours = 0.03 * 1280.0 / stored_w
    assert done.taken_w[2][0, 0] == pytest.approx(60.0 * hours, rel=1e-9)


def test_offers_lie_side_by_side_where_only_the_power_differs(offers: MakeOffers) -> None:
    few, many = offers(3, drive=100.0), offers(3, drive=200.0)
    assert few.kind == many.kind

    def with_tank(tank_l: float) -> Offers:
        burns = Fuel("diesel", 0.1, 0.0003, tank_l, tank_l, np.zeros(3, dtype=bool))
        return replace(few, sources=tuple(replace(x, fuel=burns) for x in few.sources))

    assert with_tank(5.0).kind == with_tank(5.0).kind
    assert len({few.kind, with_tank(5.0).kind, with_tank(8.0).kind}) == 3
