"""The benchmark of a decision runs, on little."""

from __future__ import annotations

import runpy
from pathlib import Path


def test_bench_decision_counts_its_lane_hours() -> None:
    bench = runpy.run_path(str(Path(__file__).parent / "bench_decision.py"))
    found = bench["measured"](jobs=2, draws=2, days=1, months=2)
    # 7 counts, 3 batteries, 2 draws; a stay of a night from ten to ten.
    assert found["lane_hours"] == 7 * 3 * 2 * 24 * 2
    assert found["total_s"] > found["prepare_s"] * 0.2 > 0.0
