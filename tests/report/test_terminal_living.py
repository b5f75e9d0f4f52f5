"""What the terminal tells of living in the van: dark hours, warm food, cold showers, audit."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

import sim
from sim.ledger.audit import audit
from sim.ledger.results import Result
from sim.report.data.export import json_text, trip_json
from sim.report.terminal import answer
from sim.report.terminal.grid import print_table
from sim.report.terminal.lines import bare

Lived = Callable[[str], Result]
# Nothing but a small full battery in a warm July; no sun, no driving, no plug.
JOB = """
title = "Lived in"
[van]
use = "medium-roof"
[living]
use = "weekend-away"
[battery]
use = "lifepo4-100"
[alternator]
dcdc_amps = 20
[water]
fresh_l = 90
open_drains = ["kitchen", "basin", "shower"]
{appliances}
[[trips]]
name = "July"
depart = 2027-07-05
[[trips.stops]]
place = "38.57, -109.55"
nights = 4
[settings]
draws = 4
weather = "clear"
units = "metric"
"""


@pytest.fixture
def lived(tmp_path: Path) -> Lived:
    def run(appliances: str) -> Result:
        path = tmp_path / "job.toml"
        text = JOB.format(appliances=appliances)
        if "[[water.grey]]" in text:
            text = text.replace('open_drains = ["kitchen", "basin", "shower"]\n', "")
        path.write_text(text, "utf-8")
        return sim.simulate(sim.load_job(path))

    return run


def used(*names: str, more: str = "") -> str:
    return "".join(f'[[appliances]]\nuse = "{name}"\n' for name in names) + more


def rows(result: Result) -> dict[str, str]:
    """Rows of the table of the first trip, by their label."""
    _, found = answer.trip_table(result.trips[:1], result.job.settings.units)
    return {bare(label): bare(cell) for label, cell in found}


def test_dark_hours_by_priority_and_what_they_do_to_food(lived: Lived) -> None:
    result = lived(used("fridge-dc", "laptop"))
    trip = result.trips[0]
    told = rows(result)
    by_priority = trip.dark_by_priority()
    assert by_priority["essential"] > 0.0
    assert f"essential {by_priority['essential']:.1f} h" in told["Dark by priority"]
    (box,) = trip.boxes
    assert box.warm_hours.mean() > 1.0
    assert (
        f"Refrigerator, 12 V compressor {box.warm_hours.mean():.1f} h" == told["Warm refrigerator"]
    )
    data = json.loads(json_text(trip_json(result)))["trips"][0]
    (as_data,) = data["cold_boxes"]
    assert as_data["limit_c"] == 9.0
    assert as_data["warmest_c_p90"] == pytest.approx(float(np.quantile(box.warmest_c, 0.9)))


def test_rows_without_anything_to_tell_are_absent(lived: Lived) -> None:
    told = rows(lived(used("battery-monitor")))
    absent = {"Dark by priority", "Warm refrigerator", "Not charged", "Hot water short"}
    assert not absent & set(told)


def test_devices_without_time_are_told(lived: Lived) -> None:
    """Phones that charge on the road alone, in a van that stands."""
    result = lived(used("phones", more='runs = "driving"\n'))
    assert rows(result)["Not charged"] == "Phone charging 20 Wh a day"
    data = json.loads(json_text(trip_json(result)))["trips"][0]
    assert data["uncharged_wh_per_day"]["Phone charging"] == pytest.approx(20.0)


def test_a_cold_shower_is_told(lived: Lived) -> None:
    """The engine never runs: what the tank started with is all there is."""
    result = lived(used("hot-water-engine", more="tank_l = 5\n"))
    short = result.trips[0].hot_short_wh_day
    assert short > 100.0
    assert rows(result)["Hot water short"] == f"{short:,.0f} Wh a day"


TANKS = """
[[water.grey]]
name = "Sinks"
capacity_l = 30
takes = ["kitchen", "basin"]
[[water.grey]]
name = "Shower"
capacity_gal = 100
takes = ["shower"]
[propane]
tank_l = 10
"""


def test_tanks_are_told_by_when_they_give_out_or_how_long_they_last(lived: Lived) -> None:
    result = lived(used("water-pump") + TANKS)
    trip = result.trips[0]
    fresh, sinks, shower, propane = trip.stores
    told = rows(result)
    night = int(sinks.out_at_h[0] / 24.0) + 1
    assert (
        told["Sinks, 30 L"] == f"full on night {night}, then {sinks.short_h[0]:.0f} h without room"
    )
    lowest = 100.0 * fresh.levels.level.min() / 90.0
    nights = int(fresh.nights_until[0])
    assert told["Fresh water, 90 L"] == f"at least {lowest:.0f} % full, would last {nights} nights"
    assert told["Shower, 379 L"].startswith("at most ")
    assert told["Propane, 4.0 kg"] == "not used"
    assert shower.out_share == propane.out_share == 0.0
    assert (
        told["First to run out"] == f"Sinks full on night {night} (first in 4 of 4 simulated trips)"
    )


def test_tanks_in_gallons_and_pounds(lived: Lived) -> None:
    result = lived(used("water-pump") + TANKS)
    console = Console(file=io.StringIO(), width=200, color_system=None, highlight=False)
    print_table(*answer.trip_table(result.trips, "us"), console)
    text = console.file.getvalue()  # type: ignore[attr-defined]
    for label in ("Fresh water, 23.8 gal", "Shower, 100.0 gal", "Propane, 8.9 lb"):
        assert label in text


def test_fuel_from_the_vans_own_tank(lived: Lived) -> None:
    result = lived(used("air-heater-fuel", more="day_c = 30\nnight_c = 30\n"))
    (litres,) = result.trips[0].engine_fuel_l_day.values()
    told = rows(result)["From the van's own tank"]
    assert litres > 0.05
    assert told == f"Air heater {litres:.2f} L a day"


def test_a_long_list_of_appliances_ends_in_a_sum(lived: Lived) -> None:
    many = "".join(
        f'[[appliances]]\nname = "Thing {n}"\nkind = "steady"\nwatts = {n}\n' for n in range(1, 31)
    )
    result = lived(many)
    console = Console(file=io.StringIO(), width=80, color_system=None, highlight=False)
    answer.print_audit(audit(result), "metric", console)
    lines = [x.rstrip() for x in console.file.getvalue().splitlines()]  # type: ignore[attr-defined]
    assert len(lines) < 25
    assert lines[2].split() == ["Thing", "30", "DC", "720"]
    assert lines[-2].split() == ["14", "smaller", "ones", f"{24 * sum(range(1, 15)):,}"]
    assert lines[-1].split() == ["Together", f"{24 * sum(range(1, 31)):,}"]


def test_what_freezes_is_told_with_its_habit(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    winter = JOB.format(appliances="").replace("2027-07-05", "2027-01-05")
    path.write_text(winter.replace("fresh_l = 90", 'fresh_l = 90\nplace = "outside"'), "utf-8")
    result = sim.simulate(sim.load_job(path))
    told = rows(result)["Could freeze"]
    assert "of 4 simulated trips, keep the heater on, or drain and blow out" in told
    pipes, fresh = trip_json(result)["trips"][0]["frost"]["spots"]
    assert pipes["habit"] == "keep the heater on, or drain and blow out"
    assert (
        fresh["habit"] == f"drain it or fit a pad of {result.trips[0].frost.spots[1].pad_watts} W"
    )
    # The pad of that many watts is enough in nine draws of ten.
    assert fresh["needed_watts_p90"] <= result.trips[0].frost.spots[1].pad_watts
    path.write_text(JOB.format(appliances=""), "utf-8")
    july = sim.simulate(sim.load_job(path))
    assert [spot["habit"] for spot in trip_json(july)["trips"][0]["frost"]["spots"]] == [None, None]


def test_every_tank_that_freezes_is_told_to_the_end(lived: Lived, tmp_path: Path) -> None:
    tanks = "".join(
        f'[[water.grey]]\nname = "Grey of the {drain}"\ncapacity_l = 60\ntakes = ["{drain}"]\n'
        'place = "outside"\n'
        for drain in ("kitchen", "basin", "shower")
    )
    lived(tanks)
    path = tmp_path / "job.toml"
    path.write_text(path.read_text("utf-8").replace("2027-07-05", "2027-01-05"), "utf-8")
    result = sim.simulate(sim.load_job(path))
    console = Console(file=io.StringIO(), width=800, color_system=None, highlight=False)
    print_table(*answer.trip_table(result.trips[:1], "metric"), console)
    printed = console.file.getvalue()  # type: ignore[attr-defined]
    spot = result.trips[0].frost.spots[-1]
    habit, freezes = spot.habit, spot.hours > 0.0
    assert habit is not None
    assert not freezes.all()
    assert (
        f"Grey of the shower {spot.hours[freezes].mean():.0f} h in {freezes.sum()} of 4 simulated "
        f"trips, {habit}" in printed
    )
