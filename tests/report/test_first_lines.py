"""The first lines of a trip: verdict, what holds, why, and what mends it; the same in JSON."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import sim
from sim.decide.remedy import remedies
from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.report.data.export import trip_json
from sim.report.terminal.answer import answer_lines
from sim.report.words.numbers import Manner
from sim.resources import profiles_dir

Edited = Callable[..., Job]
# What a program that reads the JSON goes by.
KEYS = {"verdict", "essentials", "comforts", "stores", "because", "remedy"}
BASE = (Path(__file__).parents[1] / "data" / "jobs" / "parked-in-january.toml").read_text("utf-8")


def use(*names: str) -> str:
    return "".join(f'\n[[appliances]]\nuse = "{name}"\n' for name in names)


def said(job: Job) -> tuple[str, dict[str, Any], list[str]]:
    """All first lines in one, the trip in JSON, and the lines themselves."""
    result = sim.simulate(job)
    mends = remedies(job, result)
    lines = answer_lines(result.trips[0], mends[0], Manner("us"))
    (trip,) = trip_json(result, mends)["trips"]
    assert len(lines) <= 6
    assert max(map(len, lines)) <= 80
    assert set(trip) >= KEYS
    return " ".join(line.strip() for line in lines), trip, lines


def test_far_north_in_december(edited: Edited) -> None:
    """200 W and 2.6 kWh for ten nights at 69 degrees north: heater, refrigerator, lights and
    alarm go dark, and they are what is named, not the coffee maker."""
    job = edited(
        BASE,
        ('use = "rigid-170"\ncount = 2', 'use = "rigid-170"\nwatts = 200\ncount = 1'),
        ("36.91, -111.45, 1310 m", "69.65, 18.96, 10 m"),
        ("2027-01-09", "2027-12-05"),
        ("nights = 8", "nights = 10"),
        end=use("air-heater-fuel", "coffee-maker")
        + "\n[inverter]\nwatts = 1500\nidle_watts = 10\n",
    )
    text, trip, lines = said(job)
    assert len(lines) <= 6
    assert all(len(line) <= 80 for line in lines)
    assert text.startswith("SHORT  Trip: everything holds in 0 of 24 simulated trips")
    assert "In all 24 simulated trips" in text
    assert "Coffee maker" not in text
    assert trip["verdict"] == "short"
    assert trip["essentials"]["share"] == 0.0
    assert trip["essentials"]["hours"] > 24.0
    assert "Wh wanted" in trip["because"]
    # Driving brings the electricity; a heater that keeps up brings the rest.
    assert "It takes 3 hours of driving a day and insulation" in text
    assert trip["remedy"]["verdict"] == "ample"
    assert trip["remedy"]["need"] == {"kind": "driving", "amount": 3.0}


def test_a_battery_in_the_frost_is_brought_inside_first(edited: Edited) -> None:
    """Outside at 69 degrees north no driving fills the bank: its cells take no charge."""
    outside = ('use = "medium-roof"', 'use = "medium-roof"\nbattery_place = "outside"')
    job = edited(
        BASE,
        outside,
        ("36.91, -111.45, 1310 m", "69.65, 18.96, 10 m"),
        ("2027-01-09", "2027-12-05"),
        ("nights = 8", "nights = 10"),
        end=use("air-heater-fuel"),
    )
    text, trip, lines = said(job)
    assert len(lines) <= 6
    assert "hours of driving a day" in text
    assert "battery moved into the cabin" in text
    assert trip["remedy"]["verdict"] == "ample"


def test_an_inverter_that_is_off_is_named_not_the_sun(edited: Edited) -> None:
    """A refrigerator on AC beside an inverter of two hours a day: the battery stays full."""
    by_hand = (
        '\n[inverter]\nwatts = 2000\nidle_watts = 15\nruns = "by hand"\nat = ["18:00-20:00"]\n'
    )
    job = edited(
        BASE,
        ('use = "fridge-dc"', 'use = "fridge-freezer-ac"'),
        ("2027-01-09", "2027-06-05"),
        end=by_hand,
    )
    text, trip, lines = said(job)
    assert len(lines) <= 6
    assert trip["verdict"] == "short"
    assert trip["because"].endswith("the inverter is off then, or at its limit.")
    assert "A day there brings" not in text


def test_driving_needs_a_charger_where_there_is_none(edited: Edited) -> None:
    job = edited(
        BASE,
        ("\n[alternator]\ndcdc_amps = 30\n", ""),
        ("36.91, -111.45, 1310 m", "69.65, 18.96, 10 m"),
        ("2027-01-09", "2027-12-05"),
        ("nights = 8", "nights = 14"),
        end=use("air-heater-fuel"),
    )
    text, trip, _ = said(job)
    assert trip["verdict"] == "short"
    assert "a DC-DC charger (30 A)" in text


def test_where_nothing_is_enough_it_says_what_was_tried(edited: Edited) -> None:
    """Three kilowatts day and night: the most that was tried is named, not passed over."""
    job = edited(
        BASE,
        end='\n[[appliances]]\nname = "Furnace"\nkind = "steady"\nwatts = 3000\n'
        'priority = "essential"\n',
    )
    text, trip, _ = said(job)
    assert trip["remedy"]["verdict"] == "short"
    assert "not even 8 hours of driving a day or 39 panels" in text


def test_what_driving_does_not_mend_is_left(edited: Edited) -> None:
    """The engine brings the electricity; a stove of 500 W does not warm a van in January, nor do
    two of them."""
    job = edited(
        BASE,
        end='\n[[appliances]]\nname = "Stove"\nkind = "heater"\nfuel = "diesel"\n'
        "heat_watts = 500\nblower_watts = 10\nday_c = 20\nnight_c = 16\n"
        '\n[[appliances]]\nname = "Load"\nkind = "steady"\nwatts = 60\npriority = "essential"\n',
    )
    (remedy,) = remedies(job, sim.simulate(job))
    assert remedy is not None
    assert remedy.need is not None
    assert (remedy.need.kind, remedy.verdict, remedy.held) == ("driving", "tight", 0)
    assert ("warmth", 24) in {(x.kind, x.count) for x in remedy.left}


def test_two_gallons_of_propane_in_january(edited: Edited) -> None:
    job = edited(BASE, end=use("furnace-propane") + "\n[propane]\ntank_gal = 2\n")
    text, trip, lines = said(job)
    assert trip["verdict"] == "short"
    assert "Propane runs out in all 24 simulated trips" in text
    assert trip["comforts"]["share"] == 1.0
    assert trip["remedy"]["verdict"] == "ample"
    assert "Propane filled at" in trip["remedy"]["change"]
    assert trip["remedy"]["price"] == 0.0
    assert len(lines) <= 6


FAMILY = """
[water]
fresh_l = 60
[[water.grey]]
name = "Grey"
capacity_l = 45
takes = ["kitchen", "basin", "shower"]
"""


def test_tanks_alone_are_mended_by_tanks(edited: Edited) -> None:
    """The electricity is ample, and four people empty the fresh tank; filled on the way it fills
    the grey one. Driving would do nothing for either, and is not asked for."""
    job = edited(
        BASE,
        ("2027-01-09", "2027-07-09"),
        ('use = "weekend-away"', 'use = "family-of-four"'),
        ("nights = 8", "nights = 4"),
        end=use("water-pump") + FAMILY,
    )
    text, trip, _ = said(job)
    assert trip["verdict"] == "short"
    assert trip["remedy"]["verdict"] == "ample"
    assert trip["remedy"]["need"] is None
    assert "driving" not in text
    for change in trip["remedy"]["change"].split(", and "):
        assert re.match(r"(Fresh water|A fresh tank|Grey tanks|A grey tank) ", change)


def test_a_breathing_aid_is_named_first(edited: Edited) -> None:
    job = edited(BASE, ("nights = 8", "nights = 9"), end=use("medical-night-device"))
    text, trip, _ = said(job)
    if not trip["medical"]:
        pytest.fail("the aid is meant to go without in some weather")
    assert trip["because"].startswith("Breathing aid misses up to")
    assert "Breathing aid misses up to" in text


def test_hot_water_on_the_plug_alone(edited: Edited) -> None:
    """No stop has a plug: nothing goes dark, and no water gets hot."""
    plug = "\n[shore]\ncharger_amps = 30\ninlet_volts = 120\ninlet_amps = 15\n"
    inverter = "\n[inverter]\nwatts = 2000\nidle_watts = 10\n"
    job = edited(
        BASE,
        ("2027-01-09", "2027-07-09"),
        ("nights = 8", "nights = 4"),
        end=use("hot-water-electric") + 'runs = "plugged"\n' + plug + inverter,
    )
    text, trip, _ = said(job)
    assert trip["verdict"] == "tight"
    assert trip["essentials"]["share"] == 1.0
    assert "Hot water falls short" in trip["because"]
    change = "Propane instead of electricity: Electric hot water, with a tank of 5 gal"
    assert f"Enough: {change[0].lower()}{change[1:]}" in text
    assert trip["remedy"]["change"] == change


def test_the_television_off_is_no_short_trip(edited: Edited) -> None:
    """A comfort that takes all it can get: the essentials hold by the floors of the bank."""
    job = edited(
        BASE,
        ("2027-01-09", "2027-07-09"),
        end='\n[[appliances]]\nname = "Screen"\nkind = "steady"\nwatts = 160\npriority = "extra"\n',
    )
    text, trip, _ = said(job)
    assert trip["verdict"] == "tight"
    assert trip["essentials"]["share"] == 1.0
    assert "Screen goes without" in text
    assert trip["remedy"]["verdict"] == "ample"


def test_what_holds_everywhere_says_so(edited: Edited) -> None:
    job = edited(BASE, ("2027-01-09", "2027-07-09"), ("nights = 8", "nights = 1"))
    text, trip, lines = said(job)
    assert trip["verdict"] == "ample"
    assert trip["remedy"] is None
    assert text == (
        "AMPLE  Trip: everything holds in 24 of 24 simulated trips "
        "Nothing falls behind in any of 24 simulated trips."
    )
    assert len(lines) == 2


def test_the_demo_in_six_lines_a_trip() -> None:
    """Both trips within six lines of 80 columns, the first of them the verdict with its counts."""
    job = sim.load_job(profiles_dir() / "jobs" / "demo.toml")
    job = with_values(job, {"settings": with_values(job.settings, {"draws": 120})})
    result = sim.simulate(job)
    mends = remedies(job, result)
    for trip, mend in zip(result.trips, mends, strict=True):
        lines = answer_lines(trip, mend, Manner("us"))
        assert len(lines) <= 6
        assert max(map(len, lines)) <= 80
        assert lines[0].startswith(f"{trip.verdict.upper()}  {trip.name}: ")
        assert f" of {trip.draws} " in lines[0]
        assert "comp…" not in " ".join(lines)
    (winter, _) = trip_json(result, mends)["trips"]
    assert winter["verdict"] == "short"
    assert winter["remedy"]["verdict"] == "ample"
