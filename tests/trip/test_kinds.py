"""The table of kinds: every kind has its row, and a new one needs nothing else."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

import numpy as np
import pytest

import sim
from sim.arrays import Floats
from sim.decide.wiring.ticks import burns_fuel
from sim.job.model.appliance_base import ApplianceBase, HeatFrom
from sim.job.model.appliances import APPLIANCE_KINDS
from sim.job.model.job import Job
from sim.ledger.audit import audit
from sim.ledger.results import Result
from sim.sky.sun import Sun
from sim.trip.kinds.by_cabin import HeatSource
from sim.trip.kinds.load import ApplianceLoad, CabinInputs, ClockInputs, each, electric
from sim.trip.kinds.table import KINDS, Kind
from sim.trip.timeline import Timeline

JOB = """\
title = "A van with something new"

[van]
use = "medium-roof"

[living]
people = 2

[battery]
use = "lifepo4-200"
count = 20

[inverter]
watts = 1500
idle_watts = 12

[[appliances]]
use = "battery-monitor"

[[appliances]]
use = "fridge-dc"

[[appliances]]
use = "heater-electric"
name = "Heater"
supply = "dc"
runs = "always"
heat_watts = 300
day_c = 18
night_c = 14

[[trips]]
name = "Winter"
depart = 2027-01-10

[[trips.stops]]
place = "38.57, -109.55"
nights = 2

[[trips]]
name = "Summer"
depart = 2027-07-10

[[trips.stops]]
place = "38.57, -109.55"
nights = 2

[settings]
draws = 3
seed = 4
"""


class Aquarium(ApplianceBase):
    """A made-up kind by the clock: its lamp burns by day, its pump all day."""

    kind: Literal["aquarium"] = "aquarium"
    watts: float = 40.0


class Vent(ApplianceBase):
    """A made-up kind by the cabin: the warmer it is, the more it draws."""

    kind: Literal["vent"] = "vent"
    watts_per_k: float = 2.0


class Stove(ApplianceBase):
    """A made-up kind that heats with wood, which no tank of the job holds."""

    kind: Literal["stove"] = "stove"
    watts: float = 3.0
    heat_watts: float = 4000.0

    @property
    def heat_from(self) -> HeatFrom:
        return "diesel"


def aquarium(item: Aquarium, inputs: ClockInputs) -> ApplianceLoad:
    day = (inputs.sun.apparent_zenith < 90.0).astype(np.float64)[:, None]
    return electric(item.watts * day, day)


def vent_at(item: Vent, around_c: Floats) -> Floats:
    return np.maximum(around_c, 0.0) * item.watts_per_k


def vent(item: Vent, inputs: CabinInputs) -> ApplianceLoad:
    watts = vent_at(item, inputs.climate.temp_c)
    return electric(watts, np.ones_like(watts))


def stoves(items: list[Stove], inputs: CabinInputs) -> list[ApplianceLoad]:
    return [
        ApplianceLoad(item.watts * heat_w / item.heat_watts, heat_w / item.heat_watts, 0.0 * heat_w)
        for item, heat_w in zip(items, inputs.heat_w, strict=True)
    ]


def stove_holds(item: Stove, timeline: Timeline, sun: Sun) -> HeatSource:
    steps = len(timeline)
    return HeatSource(np.full(steps, 25.0), np.full(steps, item.heat_watts * item.count))


@pytest.fixture
def rows(monkeypatch: pytest.MonkeyPatch) -> None:
    """The rows of the made-up kinds, and nothing else."""
    monkeypatch.setitem(
        KINDS, Aquarium, Kind(by_clock=each(aquarium), answers_to=lambda item: (("night", -1),))
    )
    monkeypatch.setitem(
        KINDS,
        Vent,
        Kind(by_cabin=each(vent), at_cabin_c=vent_at, answers_to=lambda item: (("inside", 1),)),
    )
    monkeypatch.setitem(
        KINDS,
        Stove,
        Kind(by_cabin=stoves, heats=stove_holds, answers_to=lambda item: (("outside", -1),)),
    )


@pytest.fixture
def job(edited: Callable[..., Job]) -> Job:
    return edited(JOB)


def with_new(job: Job, *items: ApplianceBase, first: bool = False) -> Result:
    old = job.appliances
    return sim.simulate(
        job.model_copy(update={"appliances": (*items, *old) if first else (*old, *items)})
    )


def test_every_kind_of_the_model_has_its_row() -> None:
    assert set(KINDS) == set(APPLIANCE_KINDS.values())
    for row in KINDS.values():
        assert (row.by_clock is None) != (row.by_cabin is None)


@pytest.mark.usefixtures("rows")
@pytest.mark.parametrize("first", [False, True])
def test_a_new_kind_by_the_clock_is_in_ledger_and_audit(job: Job, first: bool) -> None:
    item = Aquarium(name="Fish", supply="ac", count=2)
    result = with_new(job, item, first=first)
    found = audit(result)
    (row,) = [x for x in found.rows if x.name == "Fish"]
    for wh_day, trip in zip(row.wh_day, result.trips, strict=True):
        (line,) = [x for x in trip.loads if x.appliance is item]
        assert wh_day == pytest.approx(2 * 40.0 * 24.0 * trip.sun_up.mean())
        np.testing.assert_allclose(line.wanted_wh, wh_day * trip.days_long)
        np.testing.assert_allclose(line.served_wh, line.wanted_wh)
        assert trip.balance_error() < 1e-9
    (change,) = [x for x in found.changes if x.name == "Fish"]
    assert (change.cause, change.warm_wh > change.cold_wh) == ("night", True)
    # The inverter is on while it is.
    (own,) = [x for x in result.trips[0].loads if x.supply == "inverter"]
    assert own.wanted_wh.min() > 12.0 * 24.0 * result.trips[0].sun_up.mean()
    # Others keep their line: the refrigerator is the one that warms up in the dark.
    assert [box.name for box in result.trips[0].boxes] == [job.appliances[1].name]


@pytest.mark.usefixtures("rows")
def test_a_new_kind_by_the_cabin_warms_it_too(job: Job) -> None:
    plain, vented = sim.simulate(job), with_new(job, Vent(name="Vent", count=3))
    for before, after in zip(plain.trips, vented.trips, strict=True):
        (line,) = [x for x in after.loads if x.name == "Vent"]
        wanted = 3 * 2.0 * np.maximum(after.cabin_c, 0.0).sum(axis=0)
        np.testing.assert_allclose(line.wanted_wh, wanted)
        assert after.cabin_c.mean() > before.cabin_c.mean()
    (change,) = [x for x in audit(vented).changes if x.name == "Vent"]
    assert change.cause == "inside"


@pytest.mark.usefixtures("rows")
@pytest.mark.parametrize("first", [False, True])
def test_a_new_kind_that_heats_takes_its_turn(job: Job, first: bool) -> None:
    """In the order of the job: the heater has nothing left to do behind the stove."""
    result = with_new(job, Stove(name="Stove"), first=first)
    winter = result.trips[0]
    lines = {x.name: float(x.wanted_wh.mean()) for x in winter.loads}
    assert winter.cabin_c[6:].min() > 18.0
    assert lines["Stove"] > 0.0
    assert (lines["Heater"] == 0.0) is first
    assert burns_fuel(result.job)
    assert not burns_fuel(job)
