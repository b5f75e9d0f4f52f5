"""What an appliance of the shelf takes on a plain day, worked out by hand where it can be."""

from __future__ import annotations

import math
from typing import Any

import pytest

from sim.job import shelf
from sim.job.model.appliances import appliance_of
from sim.ledger.sample_day import AMBIENTS_C, day_use, over_ambient

APPLIANCES = [shelf.profile("appliances", name) for name in shelf.names("appliances")]


def values(name: str, **changes: Any) -> dict[str, Any]:
    return {**shelf.profile("appliances", name).values, **changes}


def electric(name: str, **changes: Any) -> float:
    return day_use(values(name, **changes)).electric_wh


def test_by_the_clock() -> None:
    assert electric("gas-and-co-alarm") == pytest.approx(24 * 1.2)
    assert electric("coffee-maker") == pytest.approx(900 / 6)
    assert electric("medical-night-device") == pytest.approx(35 * 8)
    # From nine to twelve and one to five, at 70 %.
    assert electric("laptop") == pytest.approx(40 * 0.7 * 7)
    # Dusk is at 18:12 by a sun that sinks 15 degrees an hour; lights out at 22:30, on again at
    # seven, when it is day.
    assert electric("lights-led") == pytest.approx(18 * 4.3, rel=0.06)


def test_by_use() -> None:
    assert electric("phones") == pytest.approx(20)
    assert electric("small-devices") == pytest.approx(2 * 60)
    assert electric("induction-hob") == pytest.approx(2 * 2 * 160)
    # 2 x (6 + 3) litres less the hour on the road, and 2 x 3/7 showers of 12.
    litres = 18 * 14.5 / 15.5 + 2 * 3 / 7 * 12
    assert electric("water-pump") == pytest.approx(75 * litres / 10 / 60)
    stove = day_use(values("propane-stove"))
    assert stove.fuel_wh == pytest.approx(2 * 2 * 350)
    assert stove.electric_wh < 2.0


def test_a_cold_box_by_the_air_around_it() -> None:
    fridge = values("fridge-dc")
    assert day_use(fridge, 25.0).electric_wh == pytest.approx(420)
    assert day_use(fridge, 5.0).electric_wh == 0.0
    # Never more than its compressor draws.
    assert day_use({**fridge, "max_watts": 20}, 60.0).electric_wh == pytest.approx(24 * 20)
    rising = [use.electric_wh for use in over_ambient(fridge)]
    assert rising == sorted(rising)


def test_a_heater_in_the_van_it_heats() -> None:
    uses = over_ambient(values("furnace-propane"))
    fuel = [use.fuel_wh for use in uses]
    assert fuel == sorted(fuel, reverse=True)
    assert fuel[0] > fuel[1] > fuel[2] > 0.0 == fuel[-1]
    # The blower follows the burner: 42 W at 4,000 W of heat, of 78 % of the fuel.
    for use in uses:
        assert use.electric_wh == pytest.approx(42 / 4000 * 0.78 * use.fuel_wh)


@pytest.mark.parametrize("name", ["roof-fan", "air-conditioner"])
def test_cooling_runs_when_it_is_warm(name: str) -> None:
    uses = [use.electric_wh for use in over_ambient(values(name))]
    assert uses == sorted(uses)
    assert uses[:3] == [0.0] * 3
    assert uses[-1] > 500.0


def test_hot_water_takes_the_same_heat_from_any_source() -> None:
    """22 litres kept at 60 deg C: what leaks and what is drawn, over the efficiency."""
    tank = {"tank_l": 22, "standing_w_k": 1.2, "hot_c": 60, "efficiency_pct": 80}
    by_gas = day_use(values("hot-water-propane", **tank)).fuel_wh
    by_wire = electric("hot-water-electric", **tank)
    assert by_gas == pytest.approx(by_wire, rel=0.02)
    as_it_flows = day_use(values("hot-water-propane-instant")).fuel_wh
    leak = 24 * 1.2 * (60 - 18)
    assert by_gas - as_it_flows == pytest.approx(leak / 0.8, rel=0.05)


@pytest.mark.parametrize("profile", APPLIANCES, ids=lambda profile: profile.name)
def test_every_appliance_has_a_day(profile: shelf.Profile) -> None:
    most = 24.0 * appliance_of(profile.values).most_watts
    uses = over_ambient(profile.values)
    for ambient_c, use in zip(AMBIENTS_C, uses, strict=True):
        assert math.isfinite(use.electric_wh), ambient_c
        assert 0.0 <= use.electric_wh <= most + 1e-6, ambient_c
        assert use.fuel_wh >= 0.0
    assert max(use.electric_wh + use.fuel_wh for use in uses) > 0.0
