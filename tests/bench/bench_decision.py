"""How long a decision takes: 7 counts x 3 batteries x 12 months x 200 draws x 14 days.

    python tests/bench/bench_decision.py [--jobs N]

Aimed at: 16.9 million lane-hours in at most 5 s on two cores, the sky included; measured on two
idle cores: 2.1 to 2.5 s. The first month is computed once before, so that imports and tables are
not counted; they are shown apart.
"""

from __future__ import annotations

import argparse
import datetime as dt
import resource
from time import perf_counter

from sim.job.model.changes import with_values
from sim.job.model.job import Job, Trip
from sim.job.reading.load import load_job
from sim.resources import profiles_dir

COUNTS, BATTERIES, MONTHS, DRAWS, DAYS = range(7), (1, 2, 3), range(1, 13), 200, 14


def trips_of(job: Job, days: int = DAYS) -> list[Trip]:
    """A stay of so many days at the demo's first stop, in the middle of each month."""
    stop = with_values(job.trips[0].stops[0], {"nights": days, "drive_hours": 0.0})
    trip = with_values(job.trips[0], {"start": None, "stops": (stop,)})
    return [with_values(trip, {"depart": dt.date(2027, month, 10)}) for month in MONTHS]


def measured(
    *, jobs: int, draws: int = DRAWS, days: int = DAYS, months: int = len(MONTHS)
) -> dict[str, float]:
    """Seconds of the whole decision and of its parts, and how many lane-hours it was."""
    from sim.ledger.study import Outcomes, run_designs
    from sim.threads import run_tasks
    from sim.trip.designs import Design
    from sim.trip.prepare import PreparedTrip, prepare_trip

    job = load_job(profiles_dir() / "jobs" / "demo.toml")
    settings = with_values(job.settings, {"draws": draws})
    job = with_values(job, {"settings": settings})
    trips = trips_of(job, days)[:months]
    designs = [Design((count,), units) for count in COUNTS for units in BATTERIES]
    start = perf_counter()
    run_designs(prepare_trip(job, trips[0]), designs[:1])
    first = perf_counter() - start

    def whole(trip: Trip, tell: object) -> Outcomes:
        return run_designs(prepare_trip(job, trip), designs)

    start = perf_counter()
    outcomes = run_tasks(whole, trips, jobs=jobs)
    total = perf_counter() - start

    def prepared(trip: Trip, tell: object) -> PreparedTrip:
        return prepare_trip(job, trip)

    start = perf_counter()
    run_tasks(prepared, trips, jobs=jobs)
    sky = perf_counter() - start
    hours = sum(outcome.lowest_soc.size * outcome.days_long * 24.0 for outcome in outcomes)
    return {"lane_hours": hours, "first_s": first, "total_s": total, "prepare_s": sky}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--jobs", type=int, default=2)
    jobs = parser.parse_args().jobs
    found = measured(jobs=jobs)
    print(f"{found['lane_hours'] / 1e6:.1f} million lane-hours, {jobs} threads")
    print(f"first month, with imports  {found['first_s']:6.2f} s")
    print(f"decision                   {found['total_s']:6.2f} s")
    print(f"  of which sky and loads   {found['prepare_s']:6.2f} s")
    memory_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
    print(f"largest memory             {memory_mb:6.0f} MB")


if __name__ == "__main__":
    main()
