"""How long the climate takes to load and weather takes to draw.

    python tests/bench/bench_draws.py

Targets: 200 draws of 14 days at one place in under 0.5 s after imports, a route of two places at
most twice that; the tables loaded in about 12 ms.
"""

from __future__ import annotations

from collections.abc import Callable
from time import perf_counter

import numpy as np

from sim.resources import profiles_dir
from sim.sky.climate import tables
from sim.sky.climate.draws import climate_draws
from sim.sky.sun import position
from sim.sky.track import Track

DRAWS = 200
REPEATS = 5
MOAB, DURANGO = (38.57, -109.55, 1227.0), (37.28, -107.88, 1990.0)


def route(days: int, minutes: int, drive_hours: float = 0.0) -> Track:
    """One place, or two with a drive between them half way."""
    steps = days * 1440 // minutes
    half = steps // 2
    leg = round(drive_hours * 60 / minutes)
    share = np.clip((np.arange(steps) - half + 0.5) / max(leg, 1), 0.0, 1.0) * (leg > 0)
    axes = (near + (far - near) * share for near, far in zip(MOAB, DURANGO, strict=True))
    start = np.datetime64("2025-01-10T07:00", "s") + np.arange(steps) * np.timedelta64(
        60 * minutes, "s"
    )
    return Track(start, minutes, *axes)


def best(run: Callable[[], object]) -> float:
    """Shortest of some runs. [s]"""
    times = []
    for _ in range(REPEATS):
        start = perf_counter()
        run()
        times.append(perf_counter() - start)
    return min(times)


def main() -> None:
    file = profiles_dir() / "climate" / "climate.npz"
    print(f"tables                              {file.stat().st_size / 1e6:6.2f} MB")

    def load() -> None:
        tables._tables.cache_clear()
        tables._tables()

    print(f"load                                {best(load) * 1e3:6.1f} ms")
    print(f"{DRAWS} draws                          first    best     of one place")
    cases = {
        "14 days, one place, hours": route(14, 60),
        "14 days, two places, hours": route(14, 60, 4.0),
        "14 days, one place, 5 minutes": route(14, 5),
        "14 days, two places, 5 minutes": route(14, 5, 4.0),
        "a year, one place, hours": route(365, 60),
    }
    one_place: dict[int, float] = {}
    for what, track in cases.items():
        sun = position(track)

        def run(track: Track = track, sun: object = sun) -> None:
            climate_draws(track, sun, draws=DRAWS, seed=1)  # type: ignore[arg-type]

        start = perf_counter()
        run()
        first, again = perf_counter() - start, best(run)
        ratio = again / one_place.setdefault(track.step_minutes, again)
        print(f"{what:<34} {first:6.3f} s {again:6.3f} s  x {ratio:.2f}")


if __name__ == "__main__":
    main()
