"""Batteries against published figures: Peukert, cold lead, limits of lithium, a measured system.

Sources beside each table. The measured system is T. Murphy, "Blow-by-blow PV system
efficiency", dothemath.ucsd.edu, September 2012: 30 months of an off-grid house system.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from sim.job.model.power import Battery
from sim.job.shelf import profile
from sim.trip.bank import bank_of
from sim.units import fahrenheit_to_celsius
from sim.van.bank.cells import charge_share, lead_capacity_share, lithium_capacity_share
from sim.van.bank.hours import BankHours
from sim.van.bank.lanes import Bank
from sim.van.bank.loop import run_bank
from sim.van.bank.offers import Offers
from sim.van.bank.sources import Source
from sim.van.chargers import solar_controller_watts
from sim.van.inverter import LossCurve

CHEMISTRIES = ("lifepo4-100", "agm-100", "flooded-225")


def shelf_bank(name: str, **changes: object) -> Bank:
    return bank_of(Battery(**{**profile("batteries", name).values, **changes}))


def offers(load: np.ndarray, sun: np.ndarray, usable: float | np.ndarray = 1.0) -> Offers:
    ones = np.ones((len(load), np.size(usable)))
    wanted = np.stack([load[:, None] * ones, 0.0 * ones, 0.0 * ones])
    return Offers(wanted, (Source("Sun", "sun", sun[:, None]),), ones, usable * ones, ones)


def hours_of(bank: Bank, watts: float, usable: float | np.ndarray = 1.0, most: int = 16) -> Any:
    """How long a full bank carries a load, for each usable share of it. [h]"""
    steps = 60 * most
    load, dark = np.full(steps, watts), np.zeros(steps)
    done = run_bank(bank, offers(load, dark, usable), start_soc=1.0, step_hours=1 / 60)
    assert (done.unserved_w[0, -1] == watts).all()
    return np.squeeze((watts - done.unserved_w[0]).sum(axis=0) / 60.0 / watts)


# Ah, exponent, rated hours, amps; published hours and their last digit.
PEUKERT = [
    # electrotechnik.net, Peukert law (2010): the form for a capacity at 1 A.
    (100.0, 1.2, 100.0, 5.0, 14.5, 0.05),
    # the same form, computed: 250 / 20**1.3.
    (250.0, 1.3, 250.0, 20.0, 5.0886, 0.001),
    # the form for a capacity at 20 hours: 20 * (100 / (10 * 20))**1.2.
    (100.0, 1.2, 20.0, 10.0, 8.71, 0.01),
]


@pytest.mark.parametrize(("ah", "exponent", "rated", "amps", "hours", "digit"), PEUKERT)
def test_peukert_examples(
    ah: float, exponent: float, rated: float, amps: float, hours: float, digit: float
) -> None:
    bank = replace(
        shelf_bank("agm-100", capacity_ah=ah),
        peukert=exponent,
        rated_hours=rated,
        floors=(0.0, 0.0, 0.0),
        resistance_per_w=0.0,
        self_discharge_per_h=0.0,
    )
    assert hours_of(bank, amps * 12.0) == pytest.approx(hours, abs=digit)


# IEEE 485 and 450: cell size multiplier by electrolyte temperature [deg F], base 77 deg F.
SIZE = {40: 1.30, 45: 1.25, 50: 1.19, 55: 1.15, 60: 1.11, 65: 1.08, 70: 1.04, 77: 1.0}
# A winter worksheet of the trade, base 80 deg F.
WINTER_SIZE = {80: 1.00, 70: 1.04, 60: 1.11, 50: 1.19, 40: 1.30, 30: 1.40, 20: 1.59}


@pytest.mark.parametrize("table", [SIZE, WINTER_SIZE], ids=["standard", "worksheet"])
def test_cold_lead_lasts_as_much_shorter_as_the_tables_say(table: dict[int, float]) -> None:
    """Exact at the table's own points; 0.005 is its rounding."""
    bank = replace(shelf_bank("flooded-225"), self_discharge_per_h=0.0)
    usable = lead_capacity_share(np.array([fahrenheit_to_celsius(x) for x in table]))
    assert 1.0 / usable == pytest.approx(list(table.values()), abs=0.005)
    warm, *hours = hours_of(bank, 80.0, np.concatenate([[1.0], usable]), most=30)
    assert warm / np.array(hours) == pytest.approx(list(table.values()), abs=0.005)


# Cell sheet of a LiFePO4 cell (sunlandpower.com, IFR10440): charge rate by temperature.
LITHIUM = [
    (-10.0, 0.0),
    (-0.1, 0.0),
    (0.1, 0.2),
    (10.0, 0.2),
    (14.9, 0.2),
    (15.1, 0.5),
    (40.0, 0.5),
]


@pytest.mark.parametrize(("cell_c", "rate"), LITHIUM)
def test_lithium_charges_no_faster_than_its_cell_sheet_allows(cell_c: float, rate: float) -> None:
    bank = shelf_bank("lifepo4-100", max_charge_c=0.5, charge_above_c=0.0)
    allowed = charge_share(np.array([[cell_c]]), above_c=0.0, cool_below_c=15.0, cool_share=0.4)
    given = replace(offers(np.zeros(1), np.full(1, 5000.0)), charge_allowed=allowed)
    done = run_bank(bank, given, start_soc=0.3, step_hours=1.0)
    assert done.taken_w[0][0, 0] == pytest.approx(rate * float(bank.capacity_wh), abs=1e-9)


def sunny_days(days: int, wh_day: float) -> np.ndarray:
    """Days of half a sine from 7 to 17 o'clock. [W]"""
    hour = np.arange(24 * days) % 24 + 0.5
    shape = np.clip(np.sin((hour - 7.0) / 10.0 * np.pi), 0.0, None)
    return np.asarray(shape * wh_day / shape[:24].sum())


@pytest.mark.parametrize("name", CHEMISTRIES)
def test_behaviour_in_the_order_of_the_stand_alone_standard(name: str) -> None:
    """The sequence of IEC 62124: charge, carry, run empty, recover; its figures are ours.

    A load of 12 % of the bank a day, a sunny day that brings three times as much.
    """
    bank = shelf_bank(name)
    full, cutoff = float(bank.capacity_wh), bank.floors[0]
    sun_wh, load_w = 0.36 * full, 0.12 * full / 24.0
    parts = {"charge": 5, "autonomy": 3, "empty": 8, "recovery": 7}
    sun = np.concatenate(
        [sunny_days(n, sun_wh * (key in ("charge", "recovery"))) for key, n in parts.items()]
    )
    done = run_bank(bank, offers(np.full(len(sun), load_w), sun), start_soc=cutoff, step_hours=1.0)
    ends = dict(zip(parts, np.cumsum([24 * n for n in parts.values()]), strict=True))
    soc, dark = done.soc[:, 0], done.unserved_w[0, :, 0] > 1e-6
    # Full by an afternoon of the first days, and again after it was empty.
    assert soc[: ends["charge"]].max() > 0.99
    assert soc[ends["empty"] : ends["recovery"]].max() > 0.99
    # Three days without sun are carried from there; eight more are not, and stop at the cut-off.
    assert not dark[24 : ends["autonomy"]].any()
    assert dark[ends["autonomy"] : ends["empty"]].any()
    # Empty for some days it leaks on: 5 % a month of half the charge is 0.6 points in 8 days.
    assert cutoff - 0.007 <= soc[ends["empty"]] <= cutoff + 1e-9
    # The load returns within a day of sun.
    assert not dark[ends["empty"] + 24 :].any()
    check_energy(bank, sun, load_w, done)


def check_energy(bank: Bank, sun: np.ndarray, load_w: float, done: BankHours) -> None:
    """Each hour's ledger closes to 1e-9 and nothing leaves its bounds but by self-discharge."""
    served = load_w - done.unserved_w[0, :, 0]
    change = np.diff(done.soc[:, 0]) * float(bank.capacity_wh)
    left = done.taken_w[0][:, 0] - served - done.losses_w[:, 0] - change
    assert np.abs(left).max() <= 1e-9 * float(bank.capacity_wh)
    assert done.soc.max() <= 1.0
    assert done.soc.min() >= bank.floors[0] - 0.007
    assert (done.taken_w[0][:, 0] <= sun + 1e-9).all()


# Shares of the energy into the controller [%]. The article parts the inverter's conversion
# (11.2) from its idle draw (9.3); its own 0.885 and 20 W give another parting, so the two are
# taken together. A delivered share is told to 3 points, a loss to 2.
MEASURED = {"controller": 4.8, "inverter": 11.2 + 9.3, "battery": 8.0, "dc auxiliaries": 4.4}
DELIVERED = 62.2
INTO_CONTROLLER_WH = 4300.0


def measured_system(ac_w: float, days: int) -> tuple[dict[str, float], float, float]:
    """Shares, delivered share [%], and change of the charge a day, of the rebuilt system."""
    panels = sunny_days(days, INTO_CONTROLLER_WH)
    # Efficiency 0.991 - 13.5 / P.
    given, clipped = solar_controller_watts(
        panels, efficiency=0.991, amps=60.0, charging_v=27.6, standby_watts=13.5
    )
    assert not clipped.any()
    # Three quarters more by day than by night: then half of the load passes the battery.
    hour = np.arange(24 * days) % 24
    by_day = (hour >= 7) & (hour < 17)
    ac = ac_w * np.where(by_day, 1.75, 1.0)
    # The article names one efficiency beside the idle draw.
    into_inverter = LossCurve(idle_w=20.0, slope=1.0 / 0.885 - 1.0, bend_per_w=0.0).input_w(ac)
    own = into_inverter - ac
    load = into_inverter + 9.0
    # 150 Ah at 24 V; the efficiency is that of the profile, the resistance of two in series.
    bank = shelf_bank(
        "flooded-225",
        capacity_ah=150.0,
        nominal_v=24.0,
        charging_v=27.6,
        max_charge_c=0.25,
        resistance_mohm=15.0,
        cutoff_soc=0.2,
        reserve_soc=0.2,
        extras_soc=0.2,
    )
    done = run_bank(bank, offers(load, given), start_soc=0.65, step_hours=1.0)
    assert not done.unserved_w.any()
    per_day = 100.0 / INTO_CONTROLLER_WH / days
    shares = {
        "controller": (panels - given).sum() * per_day,
        "inverter": own.sum() * per_day,
        "battery": done.losses_w.sum() * per_day,
        "dc auxiliaries": 9.0 * 24 * days * per_day,
    }
    shares["refused"] = done.refused_sun_w.sum() * per_day
    shares["through battery"] = (
        100.0 * np.maximum(load - done.taken_w[0][:, 0], 0.0).sum() / load.sum()
    )
    return shares, float(ac.sum() * per_day), float(done.soc[-1, 0] - 0.65) / days


def test_a_measured_system_rebuilt_delivers_what_it_did() -> None:
    low, high = 40.0, 110.0
    for _ in range(30):
        middle = (low + high) / 2.0
        gains = measured_system(middle, days=2)[2] > 0.0
        low, high = (middle, high) if gains else (low, middle)
    shares, delivered, _ = measured_system(low, days=2)
    # 50.2 % of the load went through the battery; what it could not take never was counted.
    assert shares.pop("through battery") == pytest.approx(50.2, abs=4.0)
    assert shares.pop("refused") <= 0.1
    assert delivered == pytest.approx(DELIVERED, abs=3.0)
    assert delivered + sum(shares.values()) == pytest.approx(100.0, abs=0.3)
    for name, measured in MEASURED.items():
        assert shares[name] == pytest.approx(measured, abs=2.0), name


# LiFePO4 units with their cables and management: 3 to 6 % of the energy is lost on the round trip
# at a tenth to a fifth of the capacity an hour; cells alone give 92 to 98 % back (data sheets and
# reviews, from memory, fairly sure).
ROUND_TRIP_LOSS = (0.03, 0.065)


@pytest.mark.parametrize("name", ["lifepo4-100", "lifepo4-200", "lifepo4-300"])
@pytest.mark.parametrize("rate", [0.1, 0.2])
def test_a_lithium_bank_loses_what_is_published_on_the_round_trip(name: str, rate: float) -> None:
    bank = shelf_bank(name)
    watts = rate * float(bank.capacity_wh)
    steps = int(0.5 / rate * 60)
    sun = np.r_[np.full(steps, watts), np.zeros(3 * steps)]
    load = np.r_[np.zeros(steps), np.full(3 * steps, watts)]
    done = run_bank(bank, offers(load, sun), start_soc=0.3, step_hours=1 / 60)
    back = int(np.argmax(done.soc[steps:, 0] <= 0.3))
    given = float((load - done.unserved_w[0, :, 0])[steps : steps + back].sum())
    assert ROUND_TRIP_LOSS[0] < 1.0 - given / (watts * steps) < ROUND_TRIP_LOSS[1]


@pytest.mark.parametrize("name", ["lifepo4-200", "agm-200", "flooded-225"])
def test_a_charger_moves_ampere_hours(name: str) -> None:
    """Hand calculation: 20 A for an hour are 20 Ah at any voltage, less what the cells lose."""
    battery = Battery(**{**profile("batteries", name).values, "resistance_mohm": 0.0})
    done = run_bank(
        bank_of(battery),
        offers(np.zeros(1), np.full(1, 20.0 * battery.charging_v)),
        start_soc=0.4,
        step_hours=1.0,
    )
    stored_ah = float(done.soc[-1, 0] - 0.4) * battery.capacity_ah
    assert stored_ah == pytest.approx(20.0 * battery.coulombic_efficiency, rel=1e-3)


@pytest.mark.parametrize(("cell_c", "low", "high"), [(-20.0, 0.55, 0.70), (-10.0, 0.75, 0.85)])
def test_lithium_gives_less_in_the_cold(cell_c: float, low: float, high: float) -> None:
    """The bands of cell data sheets at a moderate rate (from memory, fairly sure)."""
    assert low <= float(lithium_capacity_share(np.array(cell_c))) <= high
