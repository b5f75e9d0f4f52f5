"""Hourly steps against five-minute ones: the same answer, on the demo and on jobs at random."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import sim
from sim.job.model.appliances import Heater
from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.ledger.results import BALANCE_TOLERANCE, TripResult
from sim.resources import profiles_dir

# Lowest charge of the trip, at each told quantile: 2 points.
LOWEST_SOC = 0.02
# Each energy, over all that went in: 1 % on the demo. Jobs at random may want very little: in the
# ninth a fan, a furnace and a cold box live on 260 Wh a day, and follow a cabin that warms and
# cools within the hour in which people wake and go out more closely in short steps; 1.5 %.
ENERGY, ENERGY_AT_RANDOM = 0.01, 0.015

PLACES = (
    *('"35.2, -111.6"', '"47.6, -122.3"', '"44.1, -121.3"', '"64.1, -21.9"', '"52.4, 4.9"'),
    *('"28.0, -82.0"', '"-33.9, 18.4"', '"39.7, -105.0"', '"45.0, 7.7"', '"36.7, -4.4"'),
)
BANKS = ("lifepo4-100", "lifepo4-200", "lifepo4-300", "agm-200", "flooded-225")
APPLIANCES = (
    *("fridge-dc", "chest-cooler-dc", "lights-led", "laptop", "coffee-maker", "microwave"),
    *("furnace-propane", "roof-fan", "television", "satellite-internet", "water-pump"),
)


def random_job(seed: int) -> str:
    """A job file by dice: bank, panels, appliances, places, season, driving and plugs."""
    rng = np.random.Generator(np.random.PCG64(seed))
    pick = rng.choice
    appliances = pick(APPLIANCES, size=rng.integers(3, 8), replace=False)
    stops = "\n".join(
        f"[[trips.stops]]\nplace = {place}\nnights = {rng.integers(1, 4)}\ndrive_hours = 3\n"
        f'local_drive_hours = {pick([0, 0.5, 1.25])}\nplug_in = "{pick(["never", "nights"])}"\n'
        f'surroundings = "{pick(["open", "some trees", "canyon"])}"\n'
        for place in [pick(PLACES)] * 2
    )
    return f"""
title = "By dice"
[van]
use = "{pick(["small-van", "medium-roof", "long-high-roof"])}"
battery_place = "{pick(["cabin", "outside"])}"
[living]
use = "{pick(["weekend-away", "two-remote-workers"])}"
[[panels]]
use = "rigid-170"
count = {rng.integers(1, 4)}
controller_amps = {pick([15, 30, 50])}
controller = "{pick(["mppt", "pwm"])}"
[battery]
use = "{pick(BANKS)}"
count = {rng.integers(1, 3)}
[alternator]
dcdc_amps = {pick([18, 30, 50])}
[shore]
charger_amps = 30
inlet_volts = 120
inlet_amps = 15
[inverter]
watts = 2000
idle_watts = 10
{"".join(f'[[appliances]]{chr(10)}use = "{name}"{chr(10)}' for name in appliances)}
[water]
fresh_l = 90
open_drains = ["kitchen", "basin", "shower"]
[propane]
tank_l = 20
[[trips]]
name = "Trip"
depart = 2027-{rng.integers(1, 13):02d}-{rng.integers(1, 28):02d}
{stops}
[settings]
draws = 20
seed = {seed}
"""


def with_steps(job: Job, minutes: int, draws: int) -> Job:
    settings = with_values(job.settings, {"step_minutes": minutes, "draws": draws})
    return with_values(job, {"settings": settings})


def compare(long: TripResult, short: TripResult, tolerance: float) -> None:
    for one in (long, short):
        assert one.balance_error() <= BALANCE_TOLERANCE
    for name in ("p10", "p50", "p90"):
        ours, theirs = getattr(long.lowest_soc, name), getattr(short.lowest_soc, name)
        assert ours == pytest.approx(theirs, abs=LOWEST_SOC), name
    ours, theirs = long.energy, short.energy
    through = sum(theirs.taken.values())
    pairs = {
        # Which of two sources of one hour came first is lost in the hour: they are told together.
        "in": (sum(ours.taken.values()), through),
        "served": (ours.served, theirs.served),
        "unserved": (ours.unserved, theirs.unserved),
        "losses": (ours.losses, theirs.losses),
        "sun": (ours.taken["sun"] + ours.unharvested, theirs.taken["sun"] + theirs.unharvested),
    }
    for name, (a, b) in pairs.items():
        scale = max(through, b)
        assert abs(a - b) <= tolerance * scale, f"{name}: {a:.1f} against {b:.1f} Wh a day"


def test_the_demo() -> None:
    job = sim.load_job(profiles_dir() / "jobs" / "demo.toml")
    hourly, fine = (sim.simulate(with_steps(job, minutes, 12)) for minutes in (60, 5))
    for long, short in zip(hourly.trips, fine.trips, strict=True):
        compare(long, short, ENERGY)
        for one, other in zip(long.loads, short.loads, strict=True):
            wanted = other.wanted_wh.mean()
            apart = one.wanted_wh.mean() - wanted
            through = sum(short.energy.taken.values()) * short.days_long
            # Where the set point rises in the morning, five minutes see the heater start; an
            # hour sees only that the sun has warmed the cabin by its end.
            share = 0.0014 if isinstance(one.appliance, Heater) else 0.001
            assert abs(apart) <= ENERGY * wanted + share * through, one.name


@pytest.mark.parametrize("seed", range(6))
def test_a_job_at_random(seed: int, tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(random_job(seed), "utf-8")
    job = sim.load_job(path)
    hourly, fine = (sim.simulate(with_steps(job, minutes, 20)) for minutes in (60, 5))
    compare(hourly.trips[0], fine.trips[0], ENERGY_AT_RANDOM)
