"""Tanks, drains and fuels: each slip in one sentence."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from sim.errors import JobError
from sim.job.reading.load import load_job

Write = Callable[[str], Path]
WATER = """
[water]
fresh_l = 80

[[water.grey]]
name = "Grey"
capacity_l = 40
takes = ["kitchen", "basin", "shower"]
"""
FURNACE = '\n[[appliances]]\nuse = "furnace-propane"\n'


def faults(write_job: Write, text: str) -> list[str]:
    with pytest.raises(JobError) as caught:
        load_job(write_job(text))
    return [str(fault).split(": ", 1)[1] for fault in caught.value.faults]


SLIPS = {
    "a hob without power": (
        '\n[[appliances]]\nkind = "cooking"\nname = "Hob"\nfuel = "electricity"\n'
        + "meal_wh_person = 0\nwatts = 0\n",
        "appliances[2].watts = 0: must be more than 0: it cooks with electricity",
    ),
    "a tank of nothing": (
        WATER.replace("fresh_l = 80", "fresh_l = 0"),
        "water.fresh_l = 0: must be a number from 1 to 2000",
    ),
    "a grey tank of nothing": (
        WATER.replace("capacity_l = 40", "capacity_gal = 0"),
        "water.grey[1].capacity_gal = 0: must be a number from 0.3 to 528.3",
    ),
    "a drain taken twice": (
        WATER + '[[water.grey]]\nname = "More"\ncapacity_l = 9\ntakes = ["basin"]\n',
        'water.grey[2].takes = "basin": the basin drain runs into Grey already; name it once',
    ),
    "a drain in a tank and open": (
        WATER.replace("fresh_l = 80", 'fresh_l = 80\nopen_drains = ["basin"]'),
        'water.grey[1].takes = "basin": the basin drain runs into open_drains already',
    ),
    "two tanks of one name": (
        WATER.replace(', "shower"]', "]")
        + '[[water.grey]]\nname = "Grey"\ncapacity_l = 9\ntakes = ["shower"]\n',
        'water.grey[2].name = "Grey": another tank has this name',
    ),
    "a drain of that name there is not": (
        WATER.replace('"basin"', '"bassin"'),
        'water.grey[1].takes[2] = "bassin": must be "kitchen", "basin" or "shower"',
    ),
    "a drain that is no list": (
        WATER.replace('["kitchen", "basin", "shower"]', '"kitchen"'),
        'must be a list of "kitchen", "basin" or "shower", such as ["kitchen"]',
    ),
    "both units": (
        WATER.replace("fresh_l = 80", "fresh_l = 80\nfresh_gal = 20"),
        "give fresh_l or fresh_gal, not both",
    ),
    "a misspelt key": (
        WATER.replace("fresh_l", "fresh_litres"),
        "water.fresh_litres",
    ),
    "a heater without fuel": (
        '\n[[appliances]]\nname = "Stove"\nkind = "heater"\nheat_watts = 2000\nblower_watts = 9\n'
        "day_c = 19\nnight_c = 13\n",
        "appliances[2].fuel: this key is missing",
    ),
    "diesel in a petrol van": (
        '\n[[appliances]]\nuse = "air-heater-fuel"\nfuel = "petrol"\n',
        'appliances[2].fuel = "petrol": the van\'s own tank holds diesel (engine_fuel of [van])',
    ),
    "a fan that never starts": (
        '\n[[appliances]]\nname = "Fan"\nkind = "fan"\nwatts = 20\n',
        "appliances[2].on_above_c: this key is missing: a fan starts at on_above_c, or by hand",
    ),
    "a plugged heater without a plug": (
        '\n[[appliances]]\nuse = "heater-electric"\n',
        "Electric heater runs only on the plug, but the job has no [shore]; add it",
    ),
    "overfilled propane": (
        "\n[propane]\ntank_l = 20\nfill_pct = 95\n",
        "propane.fill_pct = 95",
    ),
}


@pytest.mark.parametrize("slip", SLIPS)
def test_one_slip_one_sentence(slip: str, small_job: str, write_job: Write) -> None:
    more, sentence = SLIPS[slip]
    told = faults(write_job, small_job + more)
    assert len(told) == 1
    assert sentence in told[0]


def test_gallons_and_litres_mean_the_same(small_job: str, write_job: Write) -> None:
    litres = load_job(write_job(small_job + WATER.replace("fresh_l = 80", "fresh_l = 75.70823568")))
    gallons = load_job(write_job(small_job + WATER.replace("fresh_l = 80", "fresh_gal = 20")))
    assert litres.water is not None
    assert gallons.water is not None
    assert gallons.water.fresh_l == pytest.approx(litres.water.fresh_l)


def test_a_drain_that_runs_dry_needs_no_tank(small_job: str, write_job: Write) -> None:
    text = small_job.replace(
        'use = "weekend-away"', 'use = "weekend-away"\nshowers_person_week = 0'
    )
    job = load_job(write_job(text + WATER.replace(', "shower"]', "]")))
    assert job.water is not None


def test_what_is_not_fitted_needs_nothing(small_job: str, write_job: Write) -> None:
    job = load_job(write_job(small_job + FURNACE + "count = 0\n"))
    assert job.appliances[-1].count == 0


def test_tanks_may_be_changed_by_a_lever(small_job: str, write_job: Write) -> None:
    from sim.job.overrides import overridden

    job = load_job(write_job(small_job + WATER))
    more = overridden(job, {"water.fresh_gal": 40, "water.grey[Grey].capacity_l": 90})
    assert more.water is not None
    assert more.water.fresh_l == pytest.approx(151.41647)
    assert more.water.grey[0].capacity_l == 90.0
