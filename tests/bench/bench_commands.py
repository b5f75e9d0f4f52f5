"""Processor time of whole commands on the demo, from the first import to the last file, beside
that of `check`, which computes nothing; and how long they take on all cores.

    python tests/bench/bench_commands.py [--repeats N]

Processor time is that of a run on one core, where no second process takes part. Targets on two
idle cores: `trip` with its remedy in 5 s, `levers` in 3 s and `trip --decide` in
10 s of processor time.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter

from sim.resources import profiles_dir

DEMO = str(profiles_dir() / "jobs" / "demo.toml")
COMMANDS = {
    "check": ["check", DEMO],
    "trip": ["trip", DEMO],
    "panels": ["panels", DEMO],
    "levers": ["levers", DEMO],
    "trip --decide": ["trip", DEMO, "--decide"],
}


@dataclass(frozen=True)
class Row:
    """Processor seconds of a command, largest memory [MB], and how many times a `check` it is."""

    name: str
    cpu_s: float
    memory_mb: float
    ratio: float


def spent(arguments: Sequence[str], folder: Path) -> tuple[float, float]:
    """Processor seconds of a command on one core, and its largest memory. [MB]"""
    cores = os.sched_getaffinity(0)
    os.sched_setaffinity(0, {min(cores)})
    try:
        process = subprocess.Popen(_command(arguments, folder), stdout=subprocess.DEVNULL)
    finally:
        os.sched_setaffinity(0, cores)
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode != 0:
        raise RuntimeError(f"{' '.join(arguments)} ended with {process.returncode}")
    # Linux tells kilobytes.
    return used.ru_utime + used.ru_stime, used.ru_maxrss / 1e3


def took(name: str) -> float:
    """How long a command takes on all cores. [s]"""
    with tempfile.TemporaryDirectory() as folder:
        began = perf_counter()
        command = _command(COMMANDS[name], Path(folder))
        subprocess.run(command, stdout=subprocess.DEVNULL, check=True)
        return perf_counter() - began


def _command(arguments: Sequence[str], folder: Path) -> list[str]:
    out = ["--out", str(folder)] if arguments[0] != "check" else []
    return [sys.executable, "-m", "sim", *arguments, *out]


def table(names: Sequence[str] = tuple(COMMANDS), *, repeats: int = 1) -> list[Row]:
    """Measure commands; the best of so many runs counts."""
    rows: list[Row] = []
    with tempfile.TemporaryDirectory() as folder:
        for name in names:
            runs = [spent(COMMANDS[name], Path(folder)) for _ in range(repeats)]
            cpu_s, memory_mb = min(runs)
            least = rows[0].cpu_s if rows else cpu_s
            rows.append(Row(name, cpu_s, memory_mb, cpu_s / least))
    return rows


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--repeats", type=int, default=1)
    repeats = parser.parse_args().repeats
    print(f"{'command':<15} {'processor':>10} {'memory':>9} {'x check':>8} {'takes':>8}")
    for row in table(repeats=repeats):
        cells = f"{row.cpu_s:>8.1f} s {row.memory_mb:>6.0f} MB {row.ratio:>8.1f}"
        print(f"{row.name:<15} {cells} {min(took(row.name) for _ in range(repeats)):>6.1f} s")


if __name__ == "__main__":
    main()
