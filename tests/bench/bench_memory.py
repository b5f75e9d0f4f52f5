"""The largest memory of a year in many lanes, each way in a process of its own.

    python tests/bench/bench_memory.py [--lanes N] [--hours N]

Target: a year in 2,000 lanes under 1 GB, for a study, which keeps sums only and steps its lanes
in blocks. `run_bank` keeps eight numbers of every step and lane, eight bytes each, which alone are
1.1 GB: that is told beside it. One trip and four, in a fifth of the lanes as draws, are reduced as
each ends: three more trips must take little more than one, and any number less than 1.5 GB.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
from functools import partial
from pathlib import Path

from sim.job.model.changes import with_values
from sim.job.model.job import Job

WAYS = ("study", "run_bank", "one trip", "four trips")


def stays(draws: int, hours: int, trips: int) -> Job:
    """The demo's van in so many draws, at one place for so many trips."""
    from sim.job.reading.load import load_job
    from sim.resources import profiles_dir

    job = load_job(profiles_dir() / "jobs" / "demo.toml")
    settings = with_values(job.settings, {"draws": max(draws, 1)})
    stop = job.trips[0].stops[0]
    stop = with_values(stop, {"nights": max(hours // 24, 1), "drive_hours": 0.0})
    trip = with_values(job.trips[0], {"start": None, "stops": (stop,)})
    named = tuple(with_values(trip, {"name": f"Stay {number}"}) for number in range(trips))
    return with_values(job, {"settings": settings, "trips": named})


def study(lanes: int, hours: int) -> None:
    """Ten designs of the demo's van in a tenth of the lanes as draws, at one place."""
    from sim.ledger.study import run_designs
    from sim.trip.designs import Design
    from sim.trip.prepare import prepare_trip

    job = stays(lanes // 10, hours, 1)
    designs = [Design((count,), units) for count in range(1, 6) for units in (1, 2)]
    run_designs(prepare_trip(job, job.trips[0]), designs)


def results(lanes: int, hours: int, trips: int) -> None:
    """What `trip` keeps of so many trips, in a fifth of the lanes as draws."""
    from sim.ledger.simulate import simulate

    simulate(stays(lanes // 5, hours, trips), lean=True)


def run_bank(lanes: int, hours: int) -> None:
    """The kernel alone, every step kept, over invented days that all lanes share."""
    import numpy as np

    from sim.van.bank.lanes import Bank
    from sim.van.bank.loop import run_bank as run
    from sim.van.bank.offers import Offers
    from sim.van.bank.sources import Source

    capacity = np.linspace(1280.0, 5120.0, lanes)
    bank = Bank(
        capacity_wh=capacity,
        charge_limit_w=0.5 * capacity,
        discharge_limit_w=capacity,
        taper_from_soc=0.95,
        tail_share=0.1,
        charge_efficiency=0.995,
        resistance_per_w=0.05 / capacity,
        self_discharge_per_h=4e-5,
        floors=(0.05, 0.15, 0.25),
        reconnect_above=0.05,
    )
    hour = np.arange(hours)[:, None] % 24
    sun = 350.0 * np.clip(np.sin((hour - 6) / 12.0 * np.pi), 0.0, None)
    wanted = np.broadcast_to([[[45.0]], [[25.0]], [[15.0]]], (3, hours, 1)).copy()
    offers = Offers(wanted, (Source("Sun", "sun", sun),), np.ones((hours, 1)))
    run(bank, offers, start_soc=0.7, step_hours=1.0)


def largest_mb() -> float:
    """Largest memory of this process so far. [MB]

    Linux hands `ru_maxrss` of whoever starts a process on to it; its own is ``VmHWM``.
    """
    status = Path("/proc/self/status")
    if status.exists():
        (line,) = (line for line in status.read_text().splitlines() if line.startswith("VmHWM"))
        return float(line.split()[1]) / 1e3
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6


def measured(way: str, lanes: int, hours: int) -> float:
    """Largest memory of one way, imports included. [MB]"""
    command = [sys.executable, str(Path(__file__)), "--way", way]
    command += ["--lanes", str(lanes), "--hours", str(hours)]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    return float(done.stdout)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--lanes", type=int, default=2000)
    parser.add_argument("--hours", type=int, default=8760)
    parser.add_argument("--way", choices=WAYS)
    args = parser.parse_args()
    if args.way is None:
        print(f"{args.lanes} lanes, {args.hours} hours; largest memory")
        for way in WAYS:
            print(f"{way:<10} {measured(way, args.lanes, args.hours):8.0f} MB")
        return
    work = {
        "study": study,
        "run_bank": run_bank,
        "one trip": partial(results, trips=1),
        "four trips": partial(results, trips=4),
    }
    work[args.way](args.lanes, args.hours)
    print(largest_mb())


if __name__ == "__main__":
    main()
