"""How far the demo's shares move from seed to seed, and how far dice would move them.

    python tests/bench/bench_seeds.py [--seeds FIRST LAST] [DRAWS ...]

Over seeds 1 to 20, in points: standard deviation of the share of simulated trips in which the
essentials, the appliances and everything hold; beside it that of as many independent draws. First
in as many as the program takes by itself, then in the numbers named.
Target for January, by itself: 1.2 points.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from time import process_time

import numpy as np

from sim.arrays import Floats
from sim.job.model.changes import with_values
from sim.job.reading.load import load_job
from sim.ledger.simulate import simulate
from sim.resources import profiles_dir

SEEDS = range(1, 21)
DRAWS = (None, 200)
TARGET_POINTS = 1.2
WHAT = ("essentials", "no dark hour", "everything")


@dataclass(frozen=True)
class Moved:
    """Shares of one trip over S seeds.

    Attributes
    ----------
    name : str
    draws : float
        Mean over the seeds.
    shares : ndarray, shape (S, 3)
        0 to 1, in the order of `WHAT`.
    """

    name: str
    draws: float
    shares: Floats

    @property
    def mean_pct(self) -> Floats:
        """Mean over the seeds, shape (3,)."""
        return np.asarray(100.0 * self.shares.mean(axis=0))

    @property
    def points(self) -> Floats:
        """Standard deviation over the seeds, shape (3,)."""
        return np.asarray(100.0 * self.shares.std(axis=0, ddof=1))

    @property
    def dice_points(self) -> Floats:
        """The same of independent draws, shape (3,)."""
        mean = self.shares.mean(axis=0)
        return np.asarray(100.0 * np.sqrt(mean * (1.0 - mean) / self.draws))


def moved(draws: int | None, seeds: range = SEEDS, trips: slice = slice(None)) -> list[Moved]:
    """Trips of the demo over some seeds."""
    job = load_job(profiles_dir() / "jobs" / "demo.toml")
    job = with_values(job, {"trips": job.trips[trips]})
    shares: list[list[list[float]]] = [[] for _ in job.trips]
    counts: list[list[int]] = [[] for _ in job.trips]
    for seed in seeds:
        settings = with_values(job.settings, {"draws": draws, "seed": seed})
        result = simulate(with_values(job, {"settings": settings}), lean=True)
        for number, trip in enumerate(result.trips):
            held = trip.promise
            counts[number].append(trip.draws)
            shares[number].append(
                [
                    float(held.essentials_hold.mean()),
                    trip.share_without_dark,
                    float(held.all_hold.mean()),
                ]
            )
    return [
        Moved(trip.name, float(np.mean(drawn)), np.array(own))
        for trip, drawn, own in zip(job.trips, counts, shares, strict=True)
    ]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, nargs=2, default=(SEEDS[0], SEEDS[-1]))
    parser.add_argument("draws", type=int, nargs="*")
    args = parser.parse_args()
    seeds = range(args.seeds[0], args.seeds[1] + 1)
    print(f"{'':<32}{'':>6}" + "".join(f"{what:>26}" for what in WHAT) + "   s a seed")
    print(f"{'':<32}{'draws':>6}" + f"{'mean %':>12}{'moves':>7}{'dice':>7}" * len(WHAT))
    for draws in args.draws or DRAWS:
        start = process_time()
        trips = moved(draws, seeds)
        seconds = (process_time() - start) / len(seeds)
        for trip in trips:
            figures = zip(trip.mean_pct, trip.points, trip.dice_points, strict=True)
            said = "".join(f"{mean:>12.1f}{own:>7.2f}{dice:>7.2f}" for mean, own, dice in figures)
            print(f"{trip.name:<32}{trip.draws:>6.0f}{said}{seconds:>11.2f}")


if __name__ == "__main__":
    main()
