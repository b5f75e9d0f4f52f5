"""Levers on strong loads and on the cold: each is offered only where it can work."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace

import pytest

import sim
from sim.decide.levers import use_levers
from sim.decide.levers.effect import LeverDecision
from sim.decide.levers.lever import Lever
from sim.decide.levers.lever_catalogue import lever_list
from sim.job.model.appliances import Heater
from sim.job.model.changes import with_values
from sim.job.model.job import Job

MakeJob = Callable[..., Job]
CHARGE = "only above 50 % charge"
HOT = '\n[[appliances]]\nuse = "hot-water-electric"\n'


def named(job: Job) -> dict[str, Lever]:
    return {lever.name: lever for lever in lever_list(job)[0]}


def about(job: Job, name: str) -> set[str]:
    """What is offered of one appliance."""
    return {lever[len(name) + 1 :] for lever in named(job) if lever.startswith(name)}


def test_a_morning_kettle_cannot_wait_for_the_sun(make_job: MakeJob, unsure_job: str) -> None:
    job = make_job(unsure_job)
    assert about(job, "Coffee maker") == {"half as long", CHARGE}
    # In the afternoon it can.
    noon = make_job(unsure_job, end='\n[[appliances]]\nuse = "coffee-maker"\nname = "Pot"\n'
                    'at = ["13:00-13:10"]\n')  # fmt: skip
    assert about(noon, "Pot") == {"half as long", "only while the sun is high", CHARGE}
    held = named(noon)["Pot only while the sun is high"].change(noon).appliances[-1]
    assert held.runs == "sun"


def test_a_comfort_is_held_to_a_charge_where_the_battery_is_still_half_full(
    make_job: MakeJob, unsure_job: str
) -> None:
    job = make_job(unsure_job)
    held = named(job)[f"Coffee maker {CHARGE}"].change(job).appliances[-1]
    assert held.above_soc == 0.5
    # Nothing is held below the charge at which extras go off; and nothing twice.
    high = with_values(job, {"battery": with_values(job.battery, {"extras_soc": 0.6})})
    assert "only above 60 % charge" in about(high, "Coffee maker")
    assert CHARGE not in about(named(job)[f"Coffee maker {CHARGE}"].change(job), "Coffee maker")
    # It takes less from the battery where that is low, and not the same as none at all.
    base, tried = (sim.simulate(x) for x in (job, with_values(job, {"appliances": (
        *job.appliances[:-1], held)})))  # fmt: skip
    (pot,), (waits,) = (
        [x for x in result.trips[1].loads if x.name == "Coffee maker"] for result in (base, tried)
    )
    assert 0.0 < waits.served_wh.sum() < pot.served_wh.sum()


def test_only_the_plug_where_every_trip_has_one(make_job: MakeJob, unsure_job: str) -> None:
    one = make_job(unsure_job, ("nights = 4", 'nights = 4\nplug_in = "nights"'))
    assert "only on the plug" not in about(one, "Coffee maker")
    both = make_job(
        unsure_job,
        ("nights = 4", 'nights = 4\nplug_in = "nights"'),
        ("local_drive_hours = 0.5", 'local_drive_hours = 0.5\nplug_in = "nights"'),
    )
    assert "only on the plug" in about(both, "Coffee maker")
    assert named(both)["Coffee maker only on the plug"].change(both).appliances[3].runs == "plugged"


def test_hot_water_waits_or_goes_by_a_timer(make_job: MakeJob, unsure_job: str) -> None:
    job = make_job(
        unsure_job,
        ("nights = 4", "nights = 4\nlocal_drive_hours = 1"),
        end=HOT + "\n[water]\nfresh_l = 80\n",
    )
    timer = "on a timer, 11:00 to 13:00"
    offered = about(job, "Electric hot water")
    assert offered == {"only while the sun is high", "only while driving", timer}
    tank = named(job)[f"Electric hot water {timer}"].change(job).appliances[-1]
    assert tank.at == ((11 * 60, 13 * 60),)
    # Nobody drives on one of the trips: nothing waits for a drive there.
    parked = make_job(unsure_job, end=HOT + "\n[water]\nfresh_l = 80\n")
    assert "only while driving" not in about(parked, "Electric hot water")


def test_neither_food_nor_health_nor_the_only_heat_waits(
    make_job: MakeJob, unsure_job: str
) -> None:
    heater = '\n[[appliances]]\nuse = "heater-electric"\nruns = "always"\n'
    assert about(make_job(unsure_job), "Household refrigerator-freezer") == set()
    spare = about(make_job(unsure_job, end=heater), "Electric heater")
    alone = about(
        make_job(unsure_job, ('[[appliances]]\nuse = "furnace-propane"\n', heater)),
        "Electric heater",
    )
    assert "of half the power" in spare
    assert alone == {"of half the power"}
    aid = make_job(
        unsure_job,
        end='\n[[appliances]]\nkind = "timed"\nname = "Aid"\nwatts = 400\nmedical = true\n'
        'at = ["12:00-13:00"]\n',
    )
    assert about(aid, "Aid") == set()


def test_the_inverter_is_off_at_night_only_where_nothing_needs_it(
    make_job: MakeJob, unsure_job: str
) -> None:
    lever = "Inverter off at night, 22:00 to 06:00"
    assert lever not in named(make_job(unsure_job))
    dc = make_job(unsure_job, ('use = "fridge-freezer-ac"', 'use = "fridge-dc"'))
    switched = named(dc)[lever].change(dc).inverter
    assert switched is not None
    assert (switched.runs, switched.at) == ("by hand", ((6 * 60, 22 * 60),))
    late = make_job(
        unsure_job,
        ('use = "fridge-freezer-ac"', 'use = "fridge-dc"'),
        end='\n[[appliances]]\nkind = "timed"\nname = "Screen"\nsupply = "ac"\nwatts = 90\n'
        'at = ["21:00-23:00"]\n',
    )
    assert lever not in named(late)


def test_a_battery_in_the_cold_gets_a_warm_place_or_a_pad(
    make_job: MakeJob, unsure_job: str
) -> None:
    warm = "Battery moved into the cabin"
    pad = "A heating pad of 60 W on each battery"
    assert not {warm, pad} & set(named(make_job(unsure_job)))
    outside = make_job(
        unsure_job, ('use = "medium-roof"', 'use = "medium-roof"\nbattery_place = "outside"')
    )
    levers = named(outside)
    assert levers[warm].change(outside).van.battery_place == "cabin"
    assert levers[pad].change(outside).battery.heating_watts == 60.0
    unheated = make_job(unsure_job, ('[[appliances]]\nuse = "furnace-propane"\n', ""))
    assert pad in named(unheated)
    assert warm not in named(unheated)


@pytest.fixture(scope="module")
def polar(request: pytest.FixtureRequest) -> LeverDecision:
    """Panels that gain by a tilt in March and lose by it under a high summer sun."""
    unsure: Job = request.getfixturevalue("unsure")
    settings = with_values(unsure.settings, {"draws": 12})
    march, november = unsure.trips
    june = with_values(november, {"name": "June", "depart": march.depart.replace(month=6)})
    job = with_values(unsure, {"settings": settings, "trips": (november, june)})
    return sim.decide.levers(job)


def test_panels_that_may_be_tilted_may_also_lie_flat(polar: LeverDecision) -> None:
    (tilt,) = [x for x in polar.effects if x.name.startswith("Panels tilted")]
    november, june = tilt.trips
    assert not november.is_left
    assert november.lowest_gain > 0.0
    assert june.is_left
    assert june.answer == polar.base[1]
    assert not june.is_worse


def test_a_pair_is_shown_only_where_one_is_not_enough_and_two_do_more(
    polar: LeverDecision,
) -> None:
    if polar.enough:
        assert polar.best_pair is None
        assert not polar.pairs
    else:
        assert polar.pairs
        if polar.best_pair is not None:
            assert polar.best_pair.order > polar.effects[0].order


@pytest.mark.parametrize(
    ("fuel", "count", "spare"),
    [("propane", 1, True), ("propane", 0, False), ("electricity", 1, False)],
)
def test_an_electric_heater_may_wait_where_another_burns_fuel(
    fuel: str, count: int, spare: bool
) -> None:
    item, other = (
        Heater.model_construct(fuel=x, count=n) for x, n in (("electricity", 1), (fuel, count))
    )
    job = SimpleNamespace(appliances=(item, other))
    assert use_levers._is_spare(item, job) == spare  # type: ignore[arg-type]
