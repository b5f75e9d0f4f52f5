"""A small job, simulated once for all tests of the report."""

from __future__ import annotations

from pathlib import Path

import pytest

import sim
from sim.ledger.results import Result

JOB = """
title = "Small <test> van & more"

[van]
use = "medium-roof"

[living]
use = "weekend-away"

[[panels]]
use = "rigid-170"
count = 1
controller_amps = 20

[battery]
use = "lifepo4-100"

[alternator]
dcdc_amps = 20

[shore]
charger_amps = 20
inlet_volts = 120
inlet_amps = 15

[inverter]
watts = 1000
idle_watts = 10

[[appliances]]
use = "fridge-dc"

[[appliances]]
use = "lights-led"

[[appliances]]
use = "coffee-maker"
name = "=SUM(A1)"

[[trips]]
name = "Winter [red]week[/red]"
depart = 2027-01-04
start = "Portland, Oregon"
stops = [
    { place = "Klamath Falls, Oregon", nights = 3, drive_hours = 4 },
    { place = "Bend, Oregon", nights = 2, drive_hours = 2, plug_in = "nights" },
]

[[trips]]
name = "Summer"
depart = 2027-07-05
stops = [{ place = "Bend, Oregon", nights = 3 }]

[settings]
draws = 12
seed = 3
"""


@pytest.fixture(scope="session")
def report_job() -> str:
    """The job file of `small_result`."""
    return JOB


@pytest.fixture(scope="session")
def small_result(tmp_path_factory: pytest.TempPathFactory) -> Result:
    """Two short trips in twelve draws; a tight build, so that there are dark hours."""
    path: Path = tmp_path_factory.mktemp("job") / "small.toml"
    path.write_text(JOB, "utf-8")
    return sim.simulate(sim.load_job(path))
