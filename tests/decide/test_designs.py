"""Designs: the same answers as the jobs they stand for; sums and weights by hand."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest

import sim
from sim.decide.fitted import cost_of, smallest_coin
from sim.decide.levers.lever_catalogue import lever_list
from sim.errors import JobError
from sim.job.model.changes import with_values
from sim.job.model.designs import DesignEntry, PriceItem
from sim.job.model.job import Job, Prices
from sim.job.model.power import Alternator
from sim.job.model.tanks import GreyTank, Water
from sim.job.weights import load_of

MakeJob = Callable[..., Job]
DESIGNS = """
[[designs]]
name = "As drawn"

[[designs]]
name = "Winter pack"
price = 7400.5
set = { "battery.count" = 2, "panels.count" = 4, "panels.controller_amps" = 60 }
"""


@pytest.fixture
def two(make_job: MakeJob, unsure_job: str) -> Job:
    return make_job(unsure_job, end=DESIGNS)


def test_a_design_does_what_a_job_with_its_keys_does(
    two: Job, make_job: MakeJob, unsure_job: str
) -> None:
    found = sim.decide.designs(two, jobs=2)
    assert [option.name for option in found.options] == ["As drawn", "Winter pack"]
    other = make_job(
        unsure_job,
        ('use = "lifepo4-100"', 'use = "lifepo4-100"\ncount = 2'),
        ("count = 2\ncontroller_amps = 30", "count = 4\ncontroller_amps = 60"),
    )
    for job, option in ((two, found.options[0]), (other, found.options[1])):
        trips = sim.simulate(job).trips
        for trip, answer in zip(trips, option.trips, strict=True):
            assert answer.trip == trip.name
            assert answer.verdict == trip.verdict
            assert answer.all_held == int(trip.promise.all_hold.sum())
            assert answer.lowest_soc.p10 == pytest.approx(trip.lowest_soc.p10, abs=1e-9)
    drawn, winter = found.options
    assert winter.lowest_soc > drawn.lowest_soc


def test_a_design_may_move_a_trip_and_call_it_otherwise(make_job: MakeJob, unsure_job: str) -> None:
    sets = 'set = { "trips[2].name" = "July", "trips[2].depart" = "2027-07-12" }'
    end = f'[[designs]]\nname = "A"\n[[designs]]\nname = "B"\n{sets}\n'
    drawn, moved = sim.decide.designs(make_job(unsure_job, end=end)).options
    assert [answer.trip for answer in moved.trips] == ["March", "November"]
    assert moved.trips[0] == drawn.trips[0]
    assert moved.trips[1].held > drawn.trips[1].held


def test_without_designs_the_job_is_the_only_one(unsure: Job) -> None:
    (option,) = sim.decide.designs(unsure).options
    assert (option.name, option.job) == ("", unsure)
    assert option.cost.total is None


def test_the_numbers_do_not_depend_on_the_threads(two: Job) -> None:
    assert sim.decide.designs(two, jobs=1) == sim.decide.designs(two, jobs=3)


WRONG = [
    ('set = { "battery.count" = 0 }', "Winter: battery.count = 0: must be a whole number"),
    ('set = { "batery.count" = 2 }', "did you mean battery?"),
    ('set = { "prices.panel" = 2 }', "prices.panel: a change sets a key of what is built"),
    ('set = { "panels.mount" = "tilted" }', "a tilted group needs tilt_deg too"),
]


@pytest.mark.parametrize(("line", "says"), WRONG)
def test_a_design_that_breaks_the_job_names_file_key_and_value(
    make_job: MakeJob, unsure_job: str, line: str, says: str
) -> None:
    end = f'[[designs]]\nname = "Plain"\n[[designs]]\nname = "Winter"\n{line}\n'
    with pytest.raises(JobError) as caught:
        make_job(unsure_job, end=end)
    (fault,) = caught.value.faults
    assert fault.key == "designs[2].set"
    assert fault.line is not None
    assert "job.toml" in str(fault)
    assert says in str(fault)


@pytest.mark.parametrize(
    ("end", "says"),
    [
        ('[[designs]]\nname = "One"\n', "one design is no choice"),
        ('[[designs]]\nname = "One"\n' * 2, "another design has this name"),
        ("".join(f'[[designs]]\nname = "{n}"\n' for n in range(5)), "designs"),
    ],
)
def test_two_to_four_with_names_of_their_own(
    make_job: MakeJob, unsure_job: str, end: str, says: str
) -> None:
    with pytest.raises(JobError, match=says):
        make_job(unsure_job, end=end)


# --- what it costs ------------------------------------------------------------------------------


def test_a_sum_is_that_of_its_lines_and_the_tax_on_it(unsure: Job) -> None:
    items = (PriceItem(name="Work", price=12.335, count=3),)
    prices = Prices(panel=190.1, battery=850, dcdc=320, tax_pct=7.7, items=items)
    job = with_values(unsure, {"prices": prices})
    cost = cost_of(job, job)
    amounts = {part.kind: part.amount for part in cost.parts}
    assert amounts["panels"] == Decimal("380.20")
    # Each is rounded before it is multiplied: what stands on the line is what is added.
    assert amounts["item"] == Decimal("37.02")
    assert cost.subtotal == sum(x for x in amounts.values() if x is not None)
    assert cost.subtotal == Decimal("1587.22")
    assert cost.tax == Decimal("122.22")
    assert cost.total == Decimal("1709.44")
    assert {part.kind for part in cost.unpriced} == {"controller", "shore", "inverter", "propane"}


def test_a_price_of_the_whole_design_goes_before_those_of_its_parts(two: Job) -> None:
    job = with_values(two, {"prices": Prices(panel=190.0, battery=850.0)})
    drawn, winter = sim.decide.designs(job).options
    assert drawn.cost.subtotal == Decimal("1230.00")
    assert winter.cost.whole == winter.cost.total == Decimal("7400.50")
    assert winter.cost.unpriced == ()


def test_a_price_is_that_of_the_jobs_own_panel_and_battery(unsure: Job) -> None:
    job = with_values(unsure, {"prices": Prices(panel=190.0, battery=850.0)})
    larger = with_values(job.panels[0], {"watts": 220.0})
    bank = with_values(job.battery, {"capacity_ah": 300.0})
    other = with_values(job, {"panels": (larger,), "battery": bank})
    missing = {part.kind for part in cost_of(job, other).unpriced}
    assert {"panels", "battery"} <= missing
    assert cost_of(job, other).total is None


def test_the_smallest_coin_of_a_currency() -> None:
    assert smallest_coin("USD") == Decimal("0.01")
    assert smallest_coin("JPY") == Decimal(1)
    assert smallest_coin("shells") == Decimal("0.01")


def test_items_of_a_design_are_its_alone(unsure: Job) -> None:
    item = PriceItem(name="Second vent", price=100.0, weight_kg=3.0, count=2)
    entry = DesignEntry(name="X", items=(item,))
    assert cost_of(unsure, unsure, entry).total == Decimal(200)
    assert load_of(unsure, unsure, entry).known_kg == pytest.approx(
        load_of(unsure, unsure).known_kg + 6.0
    )


# --- what it weighs -----------------------------------------------------------------------------


def test_weights_by_hand(unsure: Job) -> None:
    grey = GreyTank(name="Grey", capacity_l=60.0, takes=("kitchen",))
    van = with_values(unsure.van, {"payload_kg": 400.0})
    job = with_values(unsure, {"water": Water(fresh_l=100.0, grey=(grey,)), "van": van})
    load = load_of(job, job)
    # two panels of 11 kg, a battery of 12 kg, 20 L of propane filled to 80 % at 0.506 kg/L
    assert load.known_kg == pytest.approx(22.0 + 12.0 + 100.0 + 60.0 + 20 * 0.8 * 0.506)
    assert load.left_kg == pytest.approx(400.0 - load.known_kg)
    assert load.unknown == ()


def test_an_unknown_weight_is_said_and_is_not_nothing(unsure: Job) -> None:
    bank = with_values(unsure.battery, {"weight_kg": None})
    job = with_values(unsure, {"battery": bank})
    load = load_of(job, job)
    assert [weight.kind for weight in load.unknown] == ["battery"]
    assert load.known_kg == pytest.approx(load_of(unsure, unsure).known_kg - 12.0)
    assert load.left_kg is None


def test_what_is_left_at_home_has_no_weight_that_is_known(unsure: Job) -> None:
    (coffee,) = (x for x in lever_list(unsure)[0] if x.name == "Left at home: Coffee maker")
    assert coffee.price == 0.0
    assert coffee.weight_kg is None


def test_each_charger_from_the_engine_is_priced_once(unsure: Job) -> None:
    one, other = Alternator(dcdc_amps=30.0), Alternator(dcdc_amps=20.0)
    job = with_values(unsure, {"prices": Prices(dcdc=320), "alternator": (one, other)})
    chargers = [part for part in cost_of(job, job).parts if part.kind == "dcdc"]
    assert [(part.index, part.amount) for part in chargers] == [(0, 320), (1, 320)]
