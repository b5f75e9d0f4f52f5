"""The shelf as it is printed: every profile, its watts, a day's use, what warmth does to it."""

from __future__ import annotations

import io
import json

import pytest
from rich.console import Console

from sim.job import shelf
from sim.job.shelf import Profile, everything
from sim.ledger.sample_day import AMBIENTS_C, day_use
from sim.report.data.export import json_text
from sim.report.terminal.shelf_list import print_profile, print_shelf, shelf_json, typical_c


def printed(*profiles: Profile, whole: bool = False) -> str:
    console = Console(file=io.StringIO(), width=80, color_system=None, highlight=False)
    if whole:
        print_profile(profiles[0], console)
    else:
        print_shelf(profiles, console)
    return console.file.getvalue()  # type: ignore[attr-defined, no-any-return]


def of(name: str) -> Profile:
    return shelf.profile("appliances", name)


def test_the_list_has_every_profile_with_computed_figures() -> None:
    text = printed(*everything())
    rows = {line.split()[0]: line.split() for line in text.splitlines() if line.strip()}
    for profile in everything():
        assert profile.name in rows
        if profile.section == "appliances":
            use = day_use(profile.values, typical_c(profile))
            assert rows[profile.name][2] == f"{use.electric_wh:,.0f}"
    assert max(len(line.rstrip()) for line in text.splitlines()) <= 80


def test_what_the_trade_needs_is_on_it() -> None:
    """The appliances that a lived-in van may hold."""
    assert set(shelf.names("appliances")) >= {
        *("fridge-freezer-ac", "fridge-dc", "freezer-dc", "chest-cooler-dc"),
        *("propane-stove", "propane-oven", "induction-hob", "microwave", "coffee-maker", "kettle"),
        *("furnace-propane", "air-heater-fuel", "heater-electric", "electric-blanket"),
        *("roof-fan", "roof-fan-by-hand", "air-conditioner", "toilet-vent"),
        *("lights-led", "reading-lights", "laptop", "phones", "tablet", "television"),
        *("satellite-internet", "mobile-internet", "e-bike-charger", "medical-night-device"),
        *("water-pump", "hot-water-electric", "hot-water-propane", "hot-water-engine"),
        *("gas-and-co-alarm", "battery-monitor", "vacuum"),
    }


def test_one_whole_with_its_source_and_a_row_for_each_warmth() -> None:
    profile = of("furnace-propane")
    text = printed(profile, whole=True)
    flat = " ".join(text.split())
    assert profile.title in flat
    assert profile.source in flat
    assert profile.limits in flat
    assert "4000" in flat
    assert "kg of propane a day" in flat
    rows = [line for line in text.splitlines() if "°C (" in line]
    assert len(rows) == len(AMBIENTS_C)
    cold = day_use(profile.values, -10.0)
    assert rows[0].split()[:2] == ["-10", "°C"]
    assert f"{cold.electric_wh:,.0f}" in rows[0].split()


def test_keys_left_to_the_program_are_told() -> None:
    text = printed(of("fridge-dc"), whole=True)
    assert any("holds_hours" in line and "14" in line for line in text.splitlines())


@pytest.mark.parametrize("name", ["coffee-maker", "propane-stove", "e-bike-charger"])
def test_where_warmth_makes_no_difference_one_line_says_so(name: str) -> None:
    text = printed(of(name), whole=True)
    assert "whatever the warmth" in text
    assert "-10 °C" not in text


def test_a_litre_of_diesel_is_a_litre() -> None:
    text = printed(of("air-heater-fuel"), whole=True)
    assert "litres of diesel a day" in text


def test_as_data() -> None:
    data = json.loads(json_text(shelf_json(everything())))
    by_name = {row["name"]: row for row in data["profiles"]}
    fridge = by_name["fridge-dc"]
    assert fridge["most_watts"] == 50.0
    assert [day["ambient_c"] for day in fridge["days"]] == list(AMBIENTS_C)
    uses = [day["electric_wh"] for day in fridge["days"]]
    assert uses == sorted(uses)
    assert "days" not in by_name["lifepo4-100"]
