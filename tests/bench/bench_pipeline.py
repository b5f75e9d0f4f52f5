"""How long a job takes from its file to its results, part by part.

    python tests/bench/bench_pipeline.py [JOB]

Without a job file the demo's trips are run. The first run of a process is told apart: it loads
the tables and the libraries.
"""

from __future__ import annotations

import sys
from itertools import pairwise
from pathlib import Path
from time import perf_counter

from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.job.reading.load import load_job
from sim.resources import profiles_dir
from sim.trip.timeline import build_timeline

DEMO = profiles_dir() / "jobs" / "demo.toml"
REPEATS = 3


def seconds(job: Job) -> dict[str, float]:
    """Seconds of each part of the pipeline, over all trips, and of `simulate` as a whole."""
    from sim.ledger.simulate import simulate
    from sim.sky.sun import position
    from sim.trip.demand import demand
    from sim.trip.sources import other_sources, panel_unit
    from sim.trip.weather import track_of, trip_weather

    names = ("timeline", "sun", "weather", "demand", "sources", "simulate")
    spent = dict.fromkeys(names, 0.0)
    for trip in job.trips:
        marks = [perf_counter()]
        timeline = build_timeline(job, trip)
        marks.append(perf_counter())
        track = track_of(timeline)
        sun = position(track)
        marks.append(perf_counter())
        weather = trip_weather(job, trip, timeline, track, sun, range(job.settings.first_draws))
        marks.append(perf_counter())
        wants = demand(job, timeline, weather, sun)
        marks.append(perf_counter())
        for group in job.panels:
            panel_unit(group, job, timeline, weather, sun)
        other_sources(job, trip, timeline, track, weather.temp_air, wants)
        marks.append(perf_counter())
        for name, (start, end) in zip(names, pairwise(marks), strict=False):
            spent[name] += end - start
    start = perf_counter()
    simulate(job)
    spent["simulate"] = perf_counter() - start
    return spent


def timings(
    path: Path = DEMO, *, repeats: int = REPEATS, draws: int | None = None
) -> list[dict[str, float]]:
    """Seconds by part: the first run with its imports, then the best of each part after it.

    Parameters
    ----------
    path : Path
        A job file.
    repeats : int
        Runs after the first.
    draws : int, optional
        Instead of the job's own.
    """
    start = perf_counter()
    job = load_job(path)
    load_s = perf_counter() - start
    if draws is not None:
        changed = with_values(job.settings, {"draws": draws})
        job = with_values(job, {"settings": changed})
    first = {"load": load_s, **seconds(job)}
    runs = [seconds(job) for _ in range(repeats)]
    best = {name: min(run[name] for run in runs) for name in runs[0]}
    return [first, best]


def main() -> None:
    path = Path(sys.argv[1]) if len(sys.argv) > 1 else DEMO
    first, best = timings(path)
    print(f"{path.name}; milliseconds")
    print(f"{'':<10} {'first':>8} {'best':>8}")
    for name, value in first.items():
        later = f"{best[name] * 1e3:8.0f}" if name in best else ""
        print(f"{name:<10} {value * 1e3:8.0f} {later}")


if __name__ == "__main__":
    main()
