"""Nanoseconds a lane-hour of the battery takes, beside a bare numpy loop over the same arrays.

    python tests/bench/bench_kernel.py

Aimed at: 50 ns at 2,000 lanes with all limits on, every step kept. Measured on one core of a
small virtual machine, beside other work: `run_bank`, which keeps every step, takes 73 to 106 ns
there, nine to thirteen times the bare loop, and does not meet it; `total_bank`, which keeps sums
alone, takes 53 to 55 ns. At 200 lanes `run_bank` takes 370 to 385 ns, at one 27,000 to 36,000,
because a step costs much before its first lane.

The bare loop does what no battery can do without: one load, one source, a clip to full and empty.
The ratio to it says more than the nanoseconds, which are the machine's; all are processor time of
this thread, in turns, and the best of several runs, so that what else the machine does counts
little.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from time import thread_time

import numpy as np

from sim.van.bank.lanes import Bank
from sim.van.bank.loop import run_bank
from sim.van.bank.offers import Offers
from sim.van.bank.sources import Source
from sim.van.bank.totals import total_bank

LANES = (1, 200, 2000)
HOURS = 24 * 90
# With losses, a taper, limits, floors, a leak and days too cold to charge.
BANK = Bank(
    capacity_wh=2560.0,
    charge_limit_w=1280.0,
    discharge_limit_w=2560.0,
    taper_from_soc=0.95,
    tail_share=0.1,
    charge_efficiency=0.995,
    resistance_per_w=2.5e-5,
    self_discharge_per_h=4e-5,
    floors=(0.05, 0.15, 0.25),
    reconnect_above=0.05,
)


@dataclass(frozen=True)
class Row:
    """Nanoseconds a lane-hour at a number of lanes."""

    lanes: int
    run_ns: float
    total_ns: float
    bare_ns: float

    @property
    def ratio(self) -> float:
        """How much longer `run_bank` takes than the bare loop."""
        return self.run_ns / self.bare_ns


def invented(hours: int, lanes: int) -> Offers:
    """A van's days in different weather: full by noon on some, hungry at night on others."""
    rng = np.random.Generator(np.random.PCG64(1))
    hour = np.arange(hours)[:, None] % 24
    cloud = np.repeat(rng.beta(1.5, 1.0, (hours // 24 + 1, lanes)), 24, axis=0)[:hours]
    shape = (hours, lanes)
    return Offers(
        wanted_w=np.stack(
            [
                35.0 + 10.0 * rng.random(shape),
                90.0 * ((hour >= 17) & (hour < 23)) * np.ones(shape),
                150.0 * (hour == 7) * np.ones(shape),
            ]
        ),
        sources=(
            Source(
                "Sun", "sun", 400.0 * np.clip(np.sin((hour - 6) / 12.0 * np.pi), 0.0, None) * cloud
            ),
            Source("Driving", "drive", 500.0 * ((hour == 10) & (rng.random((hours, 1)) < 0.3))),
            Source("Plug", "shore", 400.0 * ((hour < 8) & (rng.random((hours, 1)) < 0.05))),
        ),
        charge_allowed=(rng.random(shape) > 0.02) * 1.0,
    )


def bare(offers: Offers) -> np.ndarray:
    """Add, subtract and clip, hour by hour."""
    load = offers.wanted_w.sum(axis=0)
    steps, lanes = load.shape
    soc, level = np.empty((steps, lanes)), np.full(lanes, 0.7 * 2560.0)
    for step in range(steps):
        level = level + offers.sources[0].offered_w[step] - load[step]
        np.clip(level, 0.0, 2560.0, out=level)
        soc[step] = level
    return soc


def best_seconds(works: Sequence[Callable[[], object]], repeats: int) -> list[float]:
    """The shortest of several runs of each, which take turns: what slows one slows all."""
    times: list[list[float]] = [[] for _ in works]
    for _ in range(repeats):
        for work, taken in zip(works, times, strict=True):
            start = thread_time()
            work()
            taken.append(thread_time() - start)
    return [min(taken) for taken in times]


def measured(lanes: int, hours: int, repeats: int) -> Row:
    """One row of the table."""
    offers = invented(hours, lanes)
    works = (
        lambda: run_bank(BANK, offers, start_soc=0.7, step_hours=1.0),
        lambda: total_bank(BANK, offers, start_soc=0.7, step_hours=1.0),
        lambda: bare(offers),
    )
    seconds = best_seconds(works, repeats)
    return Row(lanes, *(each * 1e9 / (lanes * hours) for each in seconds))


def table(lanes: Sequence[int] = LANES, *, hours: int = HOURS, repeats: int = 3) -> tuple[Row, ...]:
    """Measure all rows.

    Parameters
    ----------
    lanes : sequence of int
    hours : int
        Length of the trip.
    repeats : int
        The best of so many runs counts.
    """
    return tuple(measured(count, hours, repeats) for count in lanes)


def main() -> None:
    print(f"{HOURS} hours; nanoseconds a lane-hour")
    print(f"{'lanes':>6} {'run_bank':>10} {'total_bank':>11} {'bare loop':>10} {'ratio':>7}")
    for row in table():
        print(
            f"{row.lanes:>6} {row.run_ns:>10.1f} {row.total_ns:>11.1f} {row.bare_ns:>10.1f} "
            f"{row.ratio:>7.1f}"
        )


if __name__ == "__main__":
    main()
