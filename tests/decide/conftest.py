"""A small van with one constant load, whose every figure can be worked out by hand."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

from sim.job.model.job import Job
from sim.job.reading.load import load_job

# No losses but those named: what the sun gives and the load takes can be added up on paper.
BALANCE_JOB = """\
title = "Balance"

[van]
use = "small-van"

[living]
people = 1

[[panels]]
count = 1
watts = 100
temp_coeff_pct_c = 0
controller_amps = 500
controller_efficiency = 0.98
soiling_pct = 0
wiring_pct = 0
mismatch_pct = 0
ageing_pct = 0

[battery]
use = "lifepo4-100"
count = 3
coulombic_efficiency = 0.9
charging_v = 12.8
resistance_mohm = 0
self_discharge_pct_month = 0
max_charge_c = 5
charge_above_c = -40
cutoff_soc = 0.02
reserve_soc = 0.02
extras_soc = 0.02

[[appliances]]
name = "Load"
kind = "steady"
watts = 40

[[trips]]
name = "June"
depart = 2027-06-08
leave_at = "06:00"

[[trips.stops]]
place = "38.57, -109.55"
nights = 24

[settings]
draws = 1
weather = "clear"
"""

# A van that holds in some weather and not in other.
UNSURE_JOB = """\
title = "Unsure"

[van]
use = "medium-roof"

[living]
people = 2

[[panels]]
use = "rigid-170"
count = 2
controller_amps = 30
length_m = 1.48
width_m = 0.67
weight_kg = 11

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
idle_watts = 8
runs = "always"

[propane]
tank_l = 20

[[appliances]]
use = "fridge-freezer-ac"

[[appliances]]
use = "lights-led"

[[appliances]]
use = "furnace-propane"

[[appliances]]
use = "coffee-maker"

[[trips]]
name = "March"
depart = 2027-03-05

[[trips.stops]]
place = "38.57, -109.55"
nights = 3

[[trips.stops]]
place = "38.58, -109.56"
nights = 3
local_drive_hours = 0.5

[[trips]]
name = "November"
depart = 2027-11-12

[[trips.stops]]
place = "38.57, -109.55"
nights = 4

[settings]
draws = 40
seed = 11
units = "metric"
"""


@pytest.fixture
def make_job(edited: Callable[..., Job], tmp_path: Path) -> Callable[..., Job]:
    """A job from a text with parts of it replaced, and lines put in at its end."""
    return partial(edited, folder=tmp_path)


@pytest.fixture
def balance_job() -> str:
    """Text of a job without losses but those it names."""
    return BALANCE_JOB


@pytest.fixture(scope="session")
def unsure_job() -> str:
    """Text of a job that holds in some weather and not in other."""
    return UNSURE_JOB


@pytest.fixture(scope="session")
def unsure(tmp_path_factory: pytest.TempPathFactory) -> Job:
    """That job, loaded."""
    path = tmp_path_factory.mktemp("unsure") / "job.toml"
    path.write_text(UNSURE_JOB, "utf-8")
    return load_job(path)
