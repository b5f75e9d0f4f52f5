"""How long a book of many jobs of the demo's size takes, and how much memory its processes hold.

python tests/bench/bench_book.py [JOBS]   (100 when left out)
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from pathlib import Path

from sim import __version__
from sim.book import look, run_stale
from sim.resources import profiles_dir

PROCESSES = 2


def main(jobs: int) -> None:
    """Write so many jobs, run them, and say what it took."""
    demo = (profiles_dir() / "jobs" / "demo.toml").read_text("utf-8")
    with tempfile.TemporaryDirectory() as name:
        folder, out = Path(name) / "jobs", Path(name) / "out"
        folder.mkdir()
        for number in range(jobs):
            # Each customer has weather of their own.
            text = demo.replace("seed = 1", f"seed = {number + 1}")
            (folder / f"customer-{number:03d}.toml").write_text(text, "utf-8")
        start = time.perf_counter()
        lines = look(folder, out, {}, __version__)
        looked = time.perf_counter() - start
        ended = run_stale(lines, folder, out, __version__, processes=PROCESSES)
        took = time.perf_counter() - start
        used = resource.getrusage(resource.RUSAGE_CHILDREN)
        failed = [line.error for line in ended if line.error]
        print(f"{jobs} jobs, {PROCESSES} processes: {took:.1f} s, of it looking {looked:.1f} s")
        print(f"CPU of the processes: {(used.ru_utime + used.ru_stime) / jobs:.2f} s a job")
        print(f"largest process: {used.ru_maxrss / 1024.0:.0f} MB; failed: {failed or 'none'}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
