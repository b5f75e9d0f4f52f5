"""A job with everything aboard, and the ways to change and run it."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

import sim
from sim.job.model.job import Job
from sim.ledger.results import Result

# Every kind of appliance, DC and AC in each priority, flat and tilted panels, three sources,
# shade and a skyline, and a battery small enough to run down.
FULL_JOB = """\
title = "Everything aboard"

[van]
use = "medium-roof"

[living]
people = 2
wake_at = "07:00"
sleep_at = "22:30"
out = ["10:30-12:00"]

[[panels]]
use = "rigid-170"
controller_amps = 8
count = 1

[[panels]]
use = "rigid-170"
count = 1
mount = "tilted"
tilt_deg = 30
controller_amps = 20

[battery]
use = "lifepo4-100"

[alternator]
dcdc_amps = 30

[shore]
charger_amps = 20
inlet_volts = 120
inlet_amps = 15

[inverter]
watts = 1500
idle_watts = 12
runs = "when needed"

[[appliances]]
name = "Monitor"
kind = "steady"
watts = 5
priority = "essential"

[[appliances]]
name = "Dish"
kind = "timed"
watts = 60
at = ["18:00-01:00"]
supply = "ac"
priority = "comfort"

[[appliances]]
name = "Kettle"
kind = "timed"
watts = 1000
at = ["07:10-07:20"]
supply = "ac"
priority = "extra"

[[appliances]]
name = "Lamps"
kind = "lights"
watts = 20
priority = "essential"

[[appliances]]
name = "Box"
kind = "cold box"
rated_wh_day = 450
rated_ambient_c = 25
inside_c = 4
max_watts = 60
supply = "ac"
priority = "essential"

[[appliances]]
name = "Heater"
kind = "heater"
fuel = "diesel"
heat_watts = 3000
blower_watts = 40
day_c = 20
night_c = 14
priority = "essential"

[[appliances]]
name = "Fan"
kind = "fan"
watts = 30
on_above_c = 22
priority = "comfort"
count = 2

[[trips]]
name = "Spring"
depart = 2027-03-30
start = "39.0, -109.0"

[[trips.stops]]
place = "38.57, -109.55"
nights = 2
drive_hours = 2
local_drive_hours = 0.5
horizon_deg = 10

[[trips.stops]]
place = "37.30, -110.00"
nights = 2
drive_hours = 3.5
plug_in = "nights"
shade_pct = 40

[[trips]]
name = "Summer"
depart = 2027-07-10

[[trips.stops]]
place = "38.57, -109.55"
nights = 3

[settings]
draws = 6
seed = 4
"""


@pytest.fixture
def make_job(edited: Callable[..., Job], tmp_path: Path) -> Callable[..., Job]:
    """The full job with parts of its text replaced, and lines put in at its end."""
    return partial(edited, FULL_JOB, folder=tmp_path)


@pytest.fixture(scope="session")
def full_result(edited: Callable[..., Job]) -> Result:
    """The full job as it stands, simulated once."""
    return sim.simulate(edited(FULL_JOB))
