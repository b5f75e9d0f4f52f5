"""Whatever the bank, the loads and the way: bounds hold, nothing is lost, more is never less."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.job.model.job import Job
from sim.ledger.simulate import simulate
from sim.van import appliances, chargers, panels
from sim.van.bank.hours import BankHours
from sim.van.bank.lanes import Bank
from sim.van.bank.loop import run_bank
from sim.van.bank.offers import Offers
from sim.van.bank.running import ByCharge, Fuel
from sim.van.bank.sources import Source, together
from sim.van.bank.totals import total_bank
from sim.van.cabin import Cabin, Devices
from sim.van.cabin_run import cabin_hours
from sim.van.shell import Shell

SOURCE_KINDS = ("sun", "drive", "shore", "generator", "wind")


def numbers(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high).map(lambda value: round(value, 3))


@st.composite
def banks(draw: st.DrawFn, *, leak: bool = True) -> Bank:
    """Any bank that a job file may describe."""
    capacity = draw(numbers(50.0, 50_000.0))
    charge_c = draw(numbers(0.02, 2.0))
    cutoff = draw(numbers(0.0, 0.4))
    reserve = cutoff + draw(numbers(0.0, 0.2))
    extras = reserve + draw(numbers(0.0, 0.2))
    eta = draw(numbers(0.5, 1.0))
    # The loss at the charge limit is at most a quarter of what goes in.
    most_r = eta / 4.0 / (charge_c * capacity)
    return Bank(
        capacity_wh=capacity,
        charge_limit_w=charge_c * capacity,
        discharge_limit_w=draw(numbers(0.02, 3.0)) * capacity,
        taper_from_soc=draw(numbers(0.3, 0.99)),
        tail_share=draw(numbers(0.01, 0.95)),
        charge_efficiency=eta,
        resistance_per_w=draw(numbers(0.0, 1.0)) * most_r,
        self_discharge_per_h=draw(numbers(0.0, 5e-4)) if leak else 0.0,
        floors=(cutoff, reserve, extras),
        reconnect_above=draw(numbers(0.0, 0.15)),
        peukert=draw(st.sampled_from((1.0, 1.1, 1.4))),
        rated_hours=draw(st.sampled_from((5.0, 20.0, 100.0))),
    )


@dataclass(frozen=True)
class Case:
    offers: Offers
    start_soc: float
    step_hours: float


def cold(rng: np.random.Generator, steps: int, lanes: int) -> dict[str, np.ndarray]:
    """What cold leaves of a lead-acid bank."""
    shape = (steps, lanes)
    return {"usable": rng.uniform(0.5, 1.0, shape), "pace": rng.uniform(0.2, 1.0, shape)}


@st.composite
def cases(draw: st.DrawFn, *, charge_only: bool = False) -> Case:
    """Loads and sources from nothing to far too much, now and then or all the time."""
    rng = np.random.Generator(np.random.PCG64(draw(st.integers(0, 2**31))))
    steps, lanes = draw(st.integers(1, 60)), draw(st.integers(1, 7))

    def power(often: float, largest: float) -> np.ndarray:
        here = rng.random((steps, lanes)) < often
        return rng.exponential(1.0, (steps, lanes)) * here * largest

    share, largest = numbers(0.0, 1.0), numbers(0.0, 3000.0)
    groups = 0 if charge_only else 3
    wanted = [power(draw(share), draw(largest)) for _ in range(groups)]
    return Case(
        offers=Offers(
            np.stack(wanted) if wanted else np.zeros((3, steps, lanes)),
            # Any list of sources: none, one kind twice, or kinds that nobody knows.
            tuple(
                Source(kind, kind, power(draw(share), draw(largest)))
                for kind in draw(st.lists(st.sampled_from(SOURCE_KINDS), max_size=5))
            ),
            charge_allowed=np.where(rng.random((steps, lanes)) < draw(share), 0.0, 1.0),
            **(draw(st.sampled_from((True, False))) and cold(rng, steps, lanes)) or {},
        ),
        start_soc=draw(numbers(0.0, 1.0)),
        step_hours=draw(st.sampled_from((1 / 12, 0.25, 0.5, 1.0))),
    )


def run(bank: Bank, case: Case) -> BankHours:
    return run_bank(bank, case.offers, start_soc=case.start_soc, step_hours=case.step_hours)


def assert_closed(done: BankHours, bank: Bank, case: Case) -> None:
    """Energy closes in each step and lane, and nothing is negative."""
    dt, offers = case.step_hours, case.offers
    served = offers.wanted_w - done.unserved_w
    taken = together(done.taken_w)
    left = (taken - served.sum(axis=0) - done.losses_w) * dt
    left -= np.diff(done.soc, axis=0) * bank.capacity_wh
    through = (taken + offers.wanted_w.sum(axis=0)) * dt + float(bank.capacity_wh)
    assert (np.abs(left) <= 1e-9 * through).all()
    tiny = 1e-9 * (1.0 + through / dt)
    assert (done.losses_w >= -tiny).all()
    assert (done.unserved_w >= 0.0).all()
    assert (served >= -tiny).all()
    for got, source in zip(done.taken_w, offers.sources, strict=True):
        assert (got >= -tiny).all()
        assert (got <= source.offered_w + tiny).all()


def assert_summed(done: BankHours, bank: Bank, case: Case) -> None:
    """Sums asked for alone are the sums of the steps."""
    sums = total_bank(bank, case.offers, start_soc=case.start_soc, step_hours=case.step_hours)
    np.testing.assert_array_equal(sums.lowest_soc, done.soc.min(axis=0))
    sun_w = sum((done.taken_w[k] for k in case.offers.suns), np.zeros_like(done.losses_w))
    np.testing.assert_allclose(
        sums.sun_wh, sun_w.sum(axis=0) * case.step_hours, rtol=1e-9, atol=1e-6
    )
    np.testing.assert_allclose(
        sums.unserved_wh, done.unserved_w.sum(axis=1) * case.step_hours, rtol=1e-9, atol=1e-6
    )


def assert_refused(done: BankHours, bank: Bank, case: Case) -> None:
    """Sun that is not taken has its cause."""
    suns = [(case.offers.sources[k], done.taken_w[k]) for k in case.offers.suns]
    left = sum((source.offered_w - taken for source, taken in suns), 0.0 * done.losses_w)
    scale = (
        1.0
        + sum(source.offered_w.max() for source, _ in suns)
        + float(bank.capacity_wh) / case.step_hours
    )
    np.testing.assert_allclose(done.refused_sun_w.sum(axis=0), left.mean(axis=1), atol=1e-9 * scale)
    assert (done.refused_sun_w >= -1e-9 * scale).all()


@settings(max_examples=150)
@given(bank=banks(), case=cases())
def test_energy_closes_sums_are_right_and_refused_sun_has_its_cause(bank: Bank, case: Case) -> None:
    done = run(bank, case)
    assert_closed(done, bank, case)
    assert_summed(done, bank, case)
    assert_refused(done, bank, case)


@given(
    bank=banks(),
    case=cases(),
    watts=numbers(0.0, 3000.0),
    below=st.none() | numbers(0.0, 0.9),
    burns=st.tuples(numbers(0.0, 1.0), numbers(0.0, 1e-3)),
    tank_l=numbers(0.1, 20.0),
    seed=st.integers(0, 99),
)
def test_a_source_with_a_tank_closes_both(
    bank: Bank,
    case: Case,
    watts: float,
    below: float | None,
    burns: tuple[float, float],
    tank_l: float,
    seed: int,
) -> None:
    """Started by the charge or not, whatever else there is: energy and litres close."""
    rng = np.random.Generator(np.random.PCG64(seed))
    steps = case.offers.steps
    share = rng.choice([0.0, 0.5, 1.0], steps)
    fuel = Fuel("petrol", burns[0], burns[1], tank_l, tank_l / 2.0, rng.random(steps) < 0.1)
    starts = None if below is None else ByCharge(below, below + 0.1)
    own = Source("Set", "set", (watts * share)[:, None], share=share, starts=starts, fuel=fuel)
    offers = replace(case.offers, sources=(*case.offers.sources, own))
    done = run(bank, replace(case, offers=offers))
    ran, got = done.runs[len(offers.sources) - 1], done.taken_w[-1]
    dt, tank = case.step_hours, ran.tank
    assert tank is not None
    moved = together(done.taken_w) - (offers.wanted_w - done.unserved_w).sum(axis=0)
    left = (moved - done.losses_w) * dt - np.diff(done.soc, axis=0) * bank.capacity_wh
    through = (together(done.taken_w) + offers.wanted_w.sum(axis=0)) * dt
    assert (np.abs(left) <= 1e-9 * (through + float(bank.capacity_wh))).all()
    assert (got <= ran.offered_w + 1e-9 * (1.0 + through / dt + float(bank.capacity_wh))).all()
    assert (ran.offered_w <= own.offered_w + 1e-12).all()
    assert (ran.share <= share[:, None] + 1e-12).all()
    assert (tank.level >= 0.0).all()
    assert (tank.level <= tank_l + 1e-9).all()
    burnt = (burns[0] * ran.share + burns[1] * got) * dt
    np.testing.assert_allclose(tank.moved, burnt, atol=1e-9)
    again = np.append(tank.renewed[1:], np.zeros_like(tank.renewed[:1]), axis=0)
    np.testing.assert_allclose(np.diff(tank.level, axis=0), again - tank.moved, atol=1e-9)
    totals = total_bank(bank, offers, start_soc=case.start_soc, step_hours=dt)
    np.testing.assert_array_equal(totals.lowest_soc, done.lowest_soc)


@given(bank=banks(leak=False), case=cases())
def test_the_charge_stays_in_its_bounds(bank: Bank, case: Case) -> None:
    """Between the cut-off, or where it began below it, and full; never faster than its limits."""
    done = run(bank, case)
    assert done.soc.max() <= 1.0
    assert done.soc.min() >= min(bank.floors[0], case.start_soc) - 1e-12
    change = np.diff(done.soc, axis=0) * bank.capacity_wh / case.step_hours
    assert change.max() <= float(bank.charge_limit_w) * (1.0 + 1e-9)
    given_w = float(bank.discharge_limit_w)
    fastest = given_w + float(bank.resistance_per_w) * given_w**2
    assert change.min() >= -fastest * (1.0 + 1e-9)
    # Too cold to charge: the charge does not rise.
    assert change[case.offers.charge_allowed == 0.0].max(initial=0.0) <= 1e-9


@given(bank=banks(), case=cases(), seed=st.integers(0, 99))
def test_lanes_may_be_shuffled(bank: Bank, case: Case, seed: int) -> None:
    offers = case.offers
    order = np.random.Generator(np.random.PCG64(seed)).permutation(offers.charge_allowed.shape[1])
    shuffled = Offers(
        offers.wanted_w[:, :, order],
        tuple(source.on_lanes(order) for source in offers.sources),
        offers.charge_allowed[:, order],
        None if offers.usable is None else offers.usable[:, order],
        None if offers.pace is None else offers.pace[:, order],
    )
    one, other = run(bank, case), run(bank, replace(case, offers=shuffled))
    for mine, theirs in zip(one.taken_w, other.taken_w, strict=True):
        np.testing.assert_array_equal(mine[:, order], theirs)
    for name in ("soc", "losses_w", "unserved_w"):
        np.testing.assert_array_equal(
            getattr(one, name)[..., order], getattr(other, name), err_msg=name
        )


@given(bank=banks(leak=False), case=cases(charge_only=True), size=numbers(1.0, 20.0))
def test_a_bigger_battery_never_stores_less_of_a_day_of_charge(
    bank: Bank, case: Case, size: float
) -> None:
    """More units of the same kind, from the same state of charge, with no loads."""
    bigger = replace(
        bank,
        capacity_wh=bank.capacity_wh * size,
        charge_limit_w=bank.charge_limit_w * size,
        discharge_limit_w=bank.discharge_limit_w * size,
        resistance_per_w=bank.resistance_per_w / size,
    )
    stored = [(run(one, case).soc[-1] - case.start_soc) * one.capacity_wh for one in (bank, bigger)]
    assert (stored[1] >= stored[0] - 1e-9 * bigger.capacity_wh).all()


@given(bank=banks(leak=False), case=cases(), more=numbers(0.0, 500.0))
def test_more_sun_never_ends_lower(bank: Bank, case: Case, more: float) -> None:
    """In a bank too large to reach a floor: below one, a load that is off lets it charge."""
    large = replace(bank, capacity_wh=1e7, discharge_limit_w=1e9, resistance_per_w=0.0)
    half_full = replace(case, start_soc=0.7)
    sun = Source("more", "sun", np.full((case.offers.steps, 1), more))
    brighter = replace(half_full, offers=replace(case.offers, sources=(sun, *case.offers.sources)))
    one, other = run(large, half_full), run(large, brighter)
    assert (other.soc >= one.soc - 1e-12).all()


@given(
    light=st.lists(numbers(0.0, 1400.0), min_size=1, max_size=20),
    cell_c=numbers(-30.0, 90.0),
    rated=numbers(1.0, 2000.0),
    more=numbers(0.0, 2000.0),
    coeff=numbers(-1.0, 0.0),
    amps=numbers(1.0, 200.0),
)
def test_more_panel_watts_never_offer_less(
    light: list[float], cell_c: float, rated: float, more: float, coeff: float, amps: float
) -> None:
    def offered(watts: float) -> np.ndarray:
        power = panels.panel_watts(
            np.array(light)[:, None],
            np.full((len(light), 1), cell_c),
            rated_watts=watts,
            temp_coeff_pct_c=coeff,
            kept=0.9,
        )
        return chargers.solar_controller_watts(power, efficiency=0.96, amps=amps, charging_v=13.6)[
            0
        ]

    small, large = offered(rated), offered(rated + more)
    assert (large >= small - 1e-9).all()
    assert (small >= 0.0).all()
    assert (large <= amps * 13.6 + 1e-9).all()


@given(
    seed=st.integers(0, 10_000),
    mean=numbers(-30.0, 40.0),
    colder=numbers(0.0, 20.0),
    ua=numbers(5.0, 300.0),
    mass=numbers(10.0, 500.0),
    heater=numbers(200.0, 10_000.0),
    step_hours=st.sampled_from((1 / 12, 0.5, 1.0)),
)
def test_a_colder_trip_never_needs_less_heat(
    seed: int,
    mean: float,
    colder: float,
    ua: float,
    mass: float,
    heater: float,
    step_hours: float,
) -> None:
    rng = np.random.Generator(np.random.PCG64(seed))
    air = rng.normal(mean, 6.0, (72, 3))
    shell = Shell(ua, 40.0, 8.0, 1.5, 0.4, 1.0, mass, 100.0, 24.0)
    set_point = np.where(rng.random(72) < 0.2, -np.inf, rng.uniform(8.0, 22.0, 72))
    gain, aboard = rng.exponential(200.0, (72, 3)), rng.random(72)
    # A second heater helps when the first cannot hold its own set point.
    devices = Devices(
        set_point_c=np.stack([set_point, set_point - 2.0]),
        heat_w=np.full((2, 72), heater / 2.0),
        wind_m_s=np.full(72, 4.0),
        fresh_l_s=7.0 * aboard,
        hand_w_k=np.zeros(72),
        fan_w_k=50.0,
        fan_above_c=25.0,
        cool_w=np.full(72, 800.0),
        cool_above_c=26.0,
    )
    mild, cold = (
        cabin_hours([Cabin(outside, gain, aboard, shell, devices)], step_hours=step_hours)[0]
        for outside in (air, air - colder)
    )
    assert (cold.heat_w.sum(axis=0) >= mild.heat_w.sum(axis=0) - 1e-6).all()
    assert (cold.temp_c <= mild.temp_c + 1e-6).all()
    assert cold.heat_w.max() <= heater / 2.0 * (1.0 + 1e-12)
    assert cold.heat_w.min() >= 0.0


@given(ambient=numbers(-40.0, 60.0), warmer=numbers(0.0, 30.0), inside=numbers(-25.0, 10.0))
def test_a_cold_box_never_draws_less_in_a_warmer_cabin(
    ambient: float, warmer: float, inside: float
) -> None:
    watts = appliances.cold_box_watts(
        np.array([ambient, ambient + warmer]),
        rated_wh_day=600.0,
        rated_ambient_c=25.0,
        inside_c=inside,
        max_watts=70.0,
    )
    assert 0.0 <= watts[0] <= watts[1] <= 70.0


PLACES = ("38.57, -109.55", "64.15, -21.94", "-33.87, 151.21", "0.35, 32.58", "68.44, 17.43")
KINDS: dict[str, dict[str, Any]] = {
    "steady": {"watts": 20.0},
    "timed": {"watts": 400.0, "at": ("22:00-01:30", "06:50-07:05"), "duty": 0.7},
    "lights": {"watts": 25.0},
    "cold box": {
        "rated_wh_day": 500.0,
        "rated_ambient_c": 25.0,
        "inside_c": 4.0,
        "max_watts": 60.0,
    },
    "heater": {
        "fuel": "diesel",
        "heat_watts": 2000.0,
        "blower_watts": 30.0,
        "day_c": 19.0,
        "night_c": 12.0,
    },
    "fan": {"watts": 30.0, "on_above_c": 24.0},
    "air conditioner": {"cool_watts": 1500.0, "cop": 2.5, "on_above_c": 25.0},
    "cooking": {"fuel": "electricity", "watts": 1500.0, "meal_wh_person": 150.0},
    "hot water": {
        "source": "electricity",
        "tank_l": 15.0,
        "heat_watts": 800.0,
        "standing_w_k": 1.0,
    },
    "pump": {"watts": 60.0, "flow_l_min": 8.0},
    "device charging": {"watts": 100.0, "runs": "sun"},
}


@st.composite
def jobs(draw: st.DrawFn) -> Job:
    """Any short trip with any part left out or doubled."""
    kinds = draw(st.lists(st.sampled_from(sorted(KINDS)), min_size=1, max_size=8, unique=True))
    supply, priority, runs = (
        st.sampled_from(("dc", "ac")),
        st.sampled_from(("essential", "comfort", "extra")),
        st.sampled_from(("always", "always", "plugged", "driving", "sun")),
    )
    stop = {
        "nights": draw(st.integers(1, 3)),
        "drive_hours": draw(numbers(0.0, 5.0)),
        "local_drive_hours": draw(numbers(0.0, 2.0)),
        "plug_in": draw(st.sampled_from(("never", "nights", "always"))),
        "shade_pct": draw(numbers(0.0, 100.0)),
        "horizon_deg": draw(numbers(0.0, 60.0)),
    }
    mount = draw(st.sampled_from(({}, {"mount": "tilted", "tilt_deg": 35.0})))
    panel = {"watts": 200.0, "temp_coeff_pct_c": -0.35, "controller_amps": 12.0}
    return Job.model_validate(
        {
            "title": "Any",
            "van": {
                "length_m": 3.0,
                "width_m": 1.7,
                "height_m": 1.6,
                "shell_u_w_m2k": 2.0,
                "skin_absorptance": 0.4,
                "glass_m2": 1.5,
                "thermal_mass_kj_k": 250.0,
                "battery_place": draw(st.sampled_from(("cabin", "outside"))),
            },
            "living": {"people": draw(st.integers(1, 4)), "out": ("11:20-12:10",)},
            "panels": ({**panel, **mount, "count": draw(st.integers(0, 3))},),
            "battery": {
                "chemistry": "lifepo4",
                "capacity_ah": draw(numbers(10.0, 300.0)),
                "nominal_v": 12.8,
                "charging_v": 13.6,
                "max_charge_c": 0.5,
                "max_discharge_c": 1.0,
                "taper_from_soc": 0.95,
                "tail_c": 0.05,
                "coulombic_efficiency": 0.99,
                "resistance_mohm": 5.0,
                "self_discharge_pct_month": 3.0,
                "charge_above_c": 0.0,
            },
            "alternator": {"dcdc_amps": 30.0},
            "water": {"fresh_l": 90.0, "open_drains": ("kitchen", "basin", "shower")},
            "shore": {
                "charger_amps": 20.0,
                "inlet_volts": 120.0,
                "inlet_amps": draw(numbers(1, 15)),
            },
            "inverter": {
                "watts": 2000.0,
                "idle_watts": 10.0,
                "runs": draw(st.sampled_from(("always", "when needed"))),
            },
            "appliances": tuple(
                {
                    "name": kind,
                    "kind": kind,
                    "count": draw(st.integers(0, 2)),
                    "supply": draw(supply),
                    "priority": draw(priority),
                    "runs": draw(runs),
                    "at": draw(st.sampled_from(((), (), ("21:40-06:10",)))),
                    **KINDS[kind],
                }
                for kind in kinds
            ),
            "trips": (
                {
                    "name": "Any trip",
                    "depart": f"2027-{draw(st.integers(1, 12)):02d}-20",
                    "start_soc": draw(numbers(0.0, 1.0)),
                    "stops": ({"place": draw(st.sampled_from(PLACES)), **stop},),
                },
            ),
            "settings": {"draws": 2, "step_minutes": draw(st.sampled_from((10, 30, 60)))},
        }
    )


@settings(max_examples=25)
@given(job=jobs())
def test_any_job_has_a_ledger_that_adds_up(job: Job) -> None:
    """`simulate` itself raises when a step does not close; here the lines and days are added."""
    trip = simulate(job).trips[0]
    hours = trip.timeline.step_hours
    unserved = trip.unserved_w.sum(axis=(0, 1)) * hours
    wanted = sum(load.wanted_wh for load in trip.loads)
    served = sum(load.served_wh for load in trip.loads)
    np.testing.assert_allclose(wanted - served, unserved, rtol=1e-9, atol=1e-6)
    np.testing.assert_allclose(served, trip.served_w.sum(axis=0) * hours, rtol=1e-9, atol=1e-6)
    assert (trip.soc <= 1.0).all()
    assert trip.unharvested_w.min() >= 0.0
    assert (trip.dark_hours <= np.ceil(trip.hours_long)).all()
    per_day = trip.days()["served_wh"].sum() / trip.days_long
    np.testing.assert_allclose(per_day, trip.energy.served, rtol=1e-9, atol=1e-9)
