"""The benchmark of a decision: it counts what it does, and how long it may take."""

from __future__ import annotations

import runpy
from collections.abc import Callable
from pathlib import Path


def test_bench_decision_counts_its_lane_hours() -> None:
    bench = runpy.run_path(str(Path(__file__).parent / "bench_decision.py"))
    found = bench["measured"](jobs=2, draws=2, days=1, months=2)
    # 7 counts, 3 batteries, 2 draws; a stay of a night from ten to ten.
    assert found["lane_hours"] == 7 * 3 * 2 * 24 * 2
    assert found["total_s"] > found["prepare_s"] * 0.2 > 0.0


def test_bench_decision_meets_its_bound(at_most: Callable[[float], float]) -> None:
    """With the battery of 21 designs it takes 2.35 to 2.66 times what sky and loads alone take, in
    one thread."""
    bench = runpy.run_path(str(Path(__file__).parent / "bench_decision.py"))
    runs = [bench["measured"](jobs=1, months=2) for _ in range(3)]
    total_s, prepare_s = (min(run[name] for run in runs) for name in ("total_s", "prepare_s"))
    assert 0.0 < total_s / prepare_s < at_most(3.1)
