"""Ways of a trip in which some draws go alike: these are carried through once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest

from sim.arrays import Floats
from sim.job.model.job import Job
from sim.ledger.answer import answer_of
from sim.ledger.lacking import Lacking
from sim.ledger.simulate import tried_on
from sim.ledger.tried import TriedTrip
from sim.ledger.twins import WayLanes
from sim.trip.designs import Design, Suns, design_of
from sim.trip.prepare import PreparedTrip, prepare_trip

MakeJob = Callable[..., Job]
DESIGNS = [Design((0, 0), 1), Design((2, 1), 2)]


@pytest.fixture
def way(make_job: MakeJob) -> PreparedTrip:
    """Six draws of a trip with a generator that burns fuel."""
    generator = """[generator]
watts = 1600
charger_amps = 20
tank_l = 3
start_below_soc = 0.4

[inverter]"""
    job = make_job(("[inverter]", generator))
    return prepare_trip(job, job.trips[0])


def more_wanted(way: PreparedTrip, draws: Sequence[int], watts: float = 15.0) -> PreparedTrip:
    """With a comfort more in some draws."""
    wanted_w = way.wants.wanted_w.copy()
    wanted_w[1][:, draws] += watts
    return replace(way, wants=replace(way.wants, wanted_w=wanted_w))


def lanes_of(*ways: PreparedTrip) -> WayLanes:
    suns = Suns([*DESIGNS, design_of(ways[0].job)])
    return WayLanes.of(ways, DESIGNS, suns)


def assert_same(one: TriedTrip, other: TriedTrip) -> None:
    """To the last digit."""
    for name in ("soc", "unserved_w", "lowest"):
        np.testing.assert_array_equal(getattr(one, name), getattr(other, name))
    for name in (field.name for field in fields(Lacking)):
        np.testing.assert_array_equal(getattr(one.lacking, name), getattr(other.lacking, name))
    for mine, theirs in zip(one.taken_each_w(), other.taken_each_w(), strict=True):
        np.testing.assert_array_equal(mine, theirs)
    for mine, theirs in zip(one.tanks, other.tanks, strict=True):
        np.testing.assert_array_equal(mine.out_at_h, theirs.out_at_h)
    for mine, theirs in zip(one.lines(), other.lines(), strict=True):
        np.testing.assert_array_equal(mine.served_wh, theirs.served_wh)
    assert answer_of(one) == answer_of(other)


def test_each_way_is_itself_alone(way: PreparedTrip) -> None:
    """Two that are another in most draws, one that is it in none, and one that is it in all."""
    ways = [way, more_wanted(way, [1, 4]), more_wanted(way, [1, 2], 30.0)]
    ways += [more_wanted(way, range(6)), replace(way)]
    lanes = lanes_of(*ways)
    # The fourth goes like the second where that is not the first.
    assert len(lanes.design) == 2 * (6 + 2 + 2 + 4 + 0)
    (run,) = tried_on(ways, DESIGNS)
    alone = [one for way in ways for (both,) in [[*tried_on([way], DESIGNS)]] for one in both]
    assert len(run) == len(alone) == 10
    for one, other in zip(run, alone, strict=True):
        assert_same(one, other)
    # What is more is noticed; the fifth way is the first.
    sums = [float(one.soc.sum()) for one in run]
    assert len(set(sums)) == 8
    assert sums[8:] == sums[:2]


def test_a_draw_is_the_first_that_goes_alike(way: PreparedTrip) -> None:
    """The third way goes like the second in its first draw, and like the first in the others."""
    second, third = more_wanted(way, [0, 1]), more_wanted(way, [0])
    lanes = lanes_of(way, second, third)
    assert len(lanes.design) == 2 * (6 + 2)
    first, second_own, third_own = lanes.own[0], lanes.own[2], lanes.own[4]
    assert first == slice(0, 6)
    np.testing.assert_array_equal(second_own, [12, 13, 2, 3, 4, 5])
    np.testing.assert_array_equal(third_own, [12, 1, 2, 3, 4, 5])


def changed(values: Floats | None, draw: int, by: float) -> Floats:
    assert values is not None
    values = np.array(values) if values.shape[-1] == 6 else np.repeat(values, 6, axis=-1)
    values[..., -1, draw] += by
    return values


def of_bank(way: PreparedTrip, **values: Any) -> PreparedTrip:
    return replace(way, bank=replace(way.bank, **values))


def of_source(way: PreparedTrip, number: int) -> PreparedTrip:
    source = way.others[number]
    others = [*way.others]
    others[number] = replace(source, offered_w=changed(source.offered_w, 2, 1.0))
    return replace(way, others=tuple(others))


def with_all(way: PreparedTrip) -> PreparedTrip:
    """With all that the cold may do to a bank, and loads that nothing reaches."""
    half = np.full(way.wants.cabin_c.shape, 0.5)
    warm = of_bank(way, usable=half, pace=half, heating_w=10.0 * half)
    return replace(warm, wants=replace(way.wants, beyond_w=np.stack([half] * 3)))


CHANGES: dict[str, Callable[[PreparedTrip], PreparedTrip]] = {
    "the cold": lambda x: of_bank(x, charge_allowed=changed(x.bank.charge_allowed, 2, -0.1)),
    "what the cold leaves": lambda x: of_bank(x, usable=changed(x.bank.usable, 2, 0.1)),
    "its pace": lambda x: of_bank(x, pace=changed(x.bank.pace, 2, 0.1)),
    "its heating": lambda x: of_bank(x, heating_w=changed(x.bank.heating_w, 2, 1.0)),
    "what is beyond reach": lambda x: replace(
        x, wants=replace(x.wants, beyond_w=changed(x.wants.beyond_w, 2, 1.0))
    ),
    "the first source": lambda x: of_source(x, 0),
    "the last source": lambda x: of_source(x, -1),
    "what is wanted": lambda x: more_wanted(x, [2]),
}


@pytest.mark.parametrize("what", CHANGES)
def test_whatever_differs_is_carried_through(way: PreparedTrip, what: str) -> None:
    whole = with_all(way)
    assert len(lanes_of(whole, replace(whole)).design) == 2 * 6
    lanes = lanes_of(whole, CHANGES[what](whole))
    assert len(lanes.design) == 2 * (6 + 1)
    np.testing.assert_array_equal(lanes.own[2], [0, 1, 12, 3, 4, 5])


def test_under_another_sun_all_is_another(way: PreparedTrip) -> None:
    units = tuple(replace(unit, watts=unit.watts.copy()) for unit in way.units)
    assert len(lanes_of(way, replace(way, units=units)).design) == 2 * 12
