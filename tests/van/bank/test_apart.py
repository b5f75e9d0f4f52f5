"""Runs whose steps have different parts, side by side as lanes of one: each as if it were alone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace

import numpy as np
import pytest

from sim.arrays import Floats
from sim.van.bank.apart import Parts, parts_beside, parts_kind
from sim.van.bank.beside import all_beside, beside, lanes_beside
from sim.van.bank.lanes import Bank
from sim.van.bank.loop import run_bank, unserved_bank
from sim.van.bank.offers import Offers
from sim.van.bank.running import ByCharge, Fuel
from sim.van.bank.sources import Source
from sim.van.bank.substeps import Substep
from sim.van.bank.totals import BankTotals, total_bank

STEPS, DRAWS = 72, 40
# What the bank of the battery's tests changes.
LITHIUM = {"charge_limit_w": 500.0, "discharge_limit_w": 600.0}
LEAD = LITHIUM | {"peukert": 1.15, "taper_from_soc": 0.8}
MakeBank = Callable[..., Bank]
NOTHING = np.zeros((3, 1))


def kettle(share: float, watts: float) -> tuple[Substep, ...]:
    """A strong load in the first part of a step, none in the rest; its mean is in the step's."""
    on = np.array([[0.0], [0.0], [watts]])
    whole = (1.0, 1.0, 1.0)
    return (Substep(share, whole, on * (1.0 - share)), Substep(1.0 - share, whole, -on * share))


def engine(share: float) -> tuple[Substep, ...]:
    """The engine in the last part of a step."""
    return (
        Substep(1.0 - share, (1.0, 0.0, 1.0), NOTHING),
        Substep(share, (1.0, 1.0 / share, 1.0), NOTHING),
    )


def offered(seed: int, parts: Parts, **cold: Floats) -> Offers:
    """Three days that run low at night and full at noon."""
    rng = np.random.Generator(np.random.PCG64(seed))
    hour, cloud = np.arange(STEPS)[:, None] % 24, rng.random((1, DRAWS))
    sun = 700.0 * np.clip(np.sin((hour - 6) / 12.0 * np.pi), 0.0, None) * cloud
    drive = np.where(hour == 17, 200.0, 0.0)
    return Offers(
        wanted_w=np.stack(
            [
                30.0 + 20.0 * rng.random((STEPS, DRAWS)),
                90.0 * (hour >= 17) * np.ones(DRAWS),
                np.where(hour == 7, 300.0, 0.0) * np.ones(DRAWS),
            ]
        ),
        sources=(
            Source("Sun", "sun", sun),
            Source("Driving", "drive", drive, share=np.where(drive[:, 0] > 0.0, 0.5, 0.0)),
            Source("Plug", "shore", np.zeros((STEPS, 1))),
        ),
        charge_allowed=np.where(rng.random((STEPS, DRAWS)) < 0.1, 0.3, 1.0),
        parts=parts,
        **cold,
    )


RUNS = (
    {7: kettle(0.2, 1500.0), 31: kettle(0.2, 1500.0), 17: engine(0.5)},
    {7: kettle(0.2, 1500.0), 17: engine(0.25), 41: engine(0.25)},
    {},
    {31: kettle(0.5, 600.0)},
)


def offers(**cold: Floats) -> list[Offers]:
    return [offered(seed, parts, **cold) for seed, parts in enumerate(RUNS)]


def banks(bank: Bank) -> list[Bank]:
    return [replace(bank, capacity_wh=bank.capacity_wh * (1.0 + k / 4.0)) for k in range(len(RUNS))]


@pytest.mark.parametrize("step_hours", [1.0, 0.25])
@pytest.mark.parametrize("changes", [LITHIUM, LEAD], ids=["lithium", "lead"])
@pytest.mark.parametrize("one_bank", [True, False])
def test_each_is_as_if_it_were_alone(
    bank: MakeBank, changes: dict[str, float], step_hours: float, *, one_bank: bool
) -> None:
    cold = {"usable": np.full((STEPS, 1), 0.9), "pace": np.full((STEPS, 1), 0.7)}
    battery = bank(**changes)
    own = [battery] * len(RUNS) if one_bank else banks(battery)
    many = offers(**cold)
    how = {"start_soc": 0.5, "step_hours": step_hours}
    whole = run_bank(beside(own, DRAWS), all_beside(many, DRAWS), **how)
    alone = [run_bank(x, offer, **how) for x, offer in zip(own, many, strict=True)]
    for name in ("soc", "losses_w", "unserved_w", "lowest_soc", "cut_off_h"):
        lanes = np.concatenate([getattr(one, name) for one in alone], axis=-1)
        np.testing.assert_array_equal(getattr(whole, name), lanes)
    for taken, *apart in zip(whole.taken_w, *(one.taken_w for one in alone), strict=True):
        np.testing.assert_array_equal(taken, np.concatenate(apart, axis=-1))
    refused = np.mean([one.refused_sun_w for one in alone], axis=0)
    np.testing.assert_allclose(whole.refused_sun_w, refused, rtol=1e-12, atol=1e-12)
    # Something happens: all groups go off in some lane, and the sun is refused.
    assert (whole.unserved_w.max(axis=(1, 2)) > 1.0).all()
    assert refused.max() > 1.0


@pytest.mark.parametrize("changes", [LITHIUM, LEAD], ids=["lithium", "lead"])
def test_their_sums_are_as_if_each_were_alone(bank: MakeBank, changes: dict[str, float]) -> None:
    own, many, how = banks(bank(**changes)), offers(), {"start_soc": 0.4, "step_hours": 1.0}
    whole = total_bank(beside(own, DRAWS), all_beside(many, DRAWS), **how)
    for one, x, offer in zip(whole.apart(len(many)), own, many, strict=True):
        same(one, total_bank(x, offer, **how))


def test_designs_that_share_draws_lie_side_by_side_too(bank: MakeBank) -> None:
    battery = bank(**LITHIUM)
    draw = np.repeat([np.arange(DRAWS)], 2, axis=0).reshape(-1)
    many = [
        replace(one, draw=draw, sources=tuple(source.on_lanes(draw) for source in one.sources))
        for one in offers()
    ]
    how = {"start_soc": 0.4, "step_hours": 1.0}
    whole = total_bank(battery, lanes_beside(many, DRAWS), **how)
    for one, offer in zip(whole.apart(len(many)), many, strict=True):
        same(one, total_bank(battery, offer, **how))


def test_a_source_that_starts_by_the_charge_runs_on(bank: MakeBank) -> None:
    battery = bank(**LITHIUM)
    burns = Fuel("petrol", 0.3, 0.0004, 3.0, 3.0, np.zeros(STEPS, dtype=bool))
    starts = {"starts": ByCharge(0.3, 0.6), "fuel": burns, "offered_w": np.full((STEPS, 1), 150.0)}
    many = [
        replace(one, sources=(*one.sources[:2], replace(one.sources[2], **starts)))
        for one in offers()
    ]
    how = {"start_soc": 0.35, "step_hours": 1.0}
    whole = run_bank(battery, all_beside(many, DRAWS), **how)
    alone = [run_bank(battery, one, **how) for one in many]
    np.testing.assert_array_equal(whole.soc, np.concatenate([x.soc for x in alone], axis=1))
    np.testing.assert_array_equal(
        whole.runs[2].offered_w, np.concatenate([x.runs[2].offered_w for x in alone], axis=1)
    )
    assert whole.runs[2].offered_w.max() > 0.0


def test_a_part_of_the_trip_keeps_its_parts(bank: MakeBank) -> None:
    battery = bank(**LITHIUM)
    many, how = offers(), {"start_soc": 0.5, "step_hours": 1.0}
    whole = unserved_bank(battery, all_beside(many, DRAWS).between(5, 40), **how)
    alone = [unserved_bank(battery, one.between(5, 40), **how) for one in many]
    np.testing.assert_array_equal(whole, np.concatenate(alone, axis=2))
    assert whole.max() > 1.0


def test_lanes_that_begin_below_their_floor_are_cut_off_at_once(bank: MakeBank) -> None:
    battery = bank(**LITHIUM)
    many = [one.between(7, 40) for one in offers()]
    how = {"start_soc": 0.02, "step_hours": 1.0}
    beside = all_beside(many, DRAWS)
    assert 0 in beside.apart
    whole = run_bank(battery, beside, **how)
    alone = np.concatenate([run_bank(battery, one, **how).cut_off_h for one in many])
    np.testing.assert_array_equal(whole.cut_off_h, alone)
    assert (alone == 1.0).any()


def test_parts_that_all_share_stay_shared() -> None:
    shared, apart = parts_beside(RUNS, [DRAWS] * len(RUNS))
    assert not shared
    assert set(apart) == {7, 17, 31, 41}
    assert [len(group.lanes) for group in apart[7]] == [2 * DRAWS, 2 * DRAWS]
    assert [group.parts for group in apart[31]] == [RUNS[0][31], (), RUNS[3][31]]
    for groups in apart.values():
        lanes = np.concatenate([group.lanes for group in groups])
        assert sorted(lanes.tolist()) == list(range(len(RUNS) * DRAWS))
    again = {7: kettle(0.2, 1500.0)}
    shared, apart = parts_beside([again, {7: kettle(0.2, 1500.0)}], [3, 5])
    assert shared == {7: again[7]}
    assert not apart


def test_parts_that_differ_are_of_another_kind() -> None:
    assert parts_kind({7: kettle(0.2, 1500.0)}) == parts_kind({7: kettle(0.2, 1500.0)})
    assert len({parts_kind(parts) for parts in (*RUNS, {7: kettle(0.2, 1400.0)})}) == 5


def same(one: BankTotals, other: BankTotals) -> None:
    for field in fields(BankTotals):
        np.testing.assert_array_equal(getattr(one, field.name), getattr(other, field.name))
