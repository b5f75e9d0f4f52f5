"""How far hourly steps are from five-minute ones, on the demo and on ten jobs by dice.

    python tests/bench/bench_convergence.py

Lowest charge in points (the largest difference of three quantiles), energies in per cent of all
that went in; a source apart also in per cent of itself, where two sources of one hour may trade.
"""

from __future__ import annotations

import runpy
import tempfile
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.job.reading.load import load_job
from sim.ledger.results import TripResult
from sim.ledger.simulate import simulate
from sim.resources import profiles_dir

CHECKS = Path(__file__).parents[1] / "property" / "test_steps_converge.py"
SOURCES = ("sun", "drive", "shore")
PARTS = (*SOURCES, "served", "unserved", "losses")
DRAWS = 20


@dataclass(frozen=True)
class Row:
    """Hourly less five-minute steps of one trip.

    Attributes
    ----------
    name : str
    soc_points : float
        Largest difference of the lowest charge, over its quantiles. [points]
    of_input_pct : dict
        Each energy, over all that went in. [%]
    of_itself_pct : dict
        Each source, over what it gave; absent where it gave nothing. [%]
    """

    name: str
    soc_points: float
    of_input_pct: dict[str, float]
    of_itself_pct: dict[str, float]


def apart(name: str, long: TripResult, short: TripResult) -> Row:
    """One row of the table."""
    ours, theirs = (asdict(trip.energy) for trip in (long, short))
    ours, theirs = ({**x.pop("taken"), **x} for x in (ours, theirs))
    pairs = {part: (ours.get(part, 0.0), theirs.get(part, 0.0)) for part in PARTS}
    through = sum(pairs[source][1] for source in SOURCES)
    quantiles = [
        getattr(long.lowest_soc, q) - getattr(short.lowest_soc, q) for q in ("p10", "p50", "p90")
    ]
    return Row(
        name=name,
        soc_points=100.0 * max(quantiles, key=abs),
        of_input_pct={part: 100.0 * (a - b) / through for part, (a, b) in pairs.items()},
        of_itself_pct={
            source: 100.0 * (pairs[source][0] / pairs[source][1] - 1.0)
            for source in SOURCES
            if pairs[source][1] > 1.0
        },
    )


def jobs(seeds: int) -> Iterator[tuple[str, Job]]:
    """The demo, and so many jobs by dice."""
    random_job = runpy.run_path(str(CHECKS))["random_job"]
    yield "demo", load_job(profiles_dir() / "jobs" / "demo.toml")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "job.toml"
        for seed in range(seeds):
            path.write_text(random_job(seed), "utf-8")
            yield f"dice {seed}", load_job(path)


def table(seeds: int = 10, *, draws: int = DRAWS) -> list[Row]:
    """Measure all rows."""
    rows: list[Row] = []
    for name, job in jobs(seeds):
        results = []
        for minutes in (60, 5):
            steps = {"step_minutes": minutes, "draws": draws}
            changed = with_values(job.settings, steps)
            results.append(simulate(with_values(job, {"settings": changed})).trips)
        rows += [
            apart(f"{name} {long.name}", long, short) for long, short in zip(*results, strict=True)
        ]
    return rows


def main() -> None:
    head = "".join(f"{part:>10}" for part in PARTS)
    print(f"{'':<18}{'SOC':>8}{head}   of itself: {', '.join(SOURCES)}")
    for row in table():
        parts = "".join(f"{row.of_input_pct[part]:>10.2f}" for part in PARTS)
        own = ", ".join(
            f"{row.of_itself_pct[source]:.1f}" if source in row.of_itself_pct else "-"
            for source in SOURCES
        )
        print(f"{row.name[:17]:<18}{row.soc_points:>8.2f}{parts}   {own}")


if __name__ == "__main__":
    main()
