"""The benchmark of the page runs, once."""

from __future__ import annotations

import os
import runpy
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

NAMES = ("chromium", "chromium-browser", "google-chrome")
# What a page may ask of its thread before anyone touches it. With the chart library drawn at once
# it was more than ten times as much script.
MOST_SCRIPT_MS = 50.0


@pytest.mark.skipif(
    not any(map(shutil.which, NAMES)) and os.environ.get("NIGHTLEDGER_NEEDS_BROWSER") != "1",
    reason="no chromium on this machine: the page was not timed",
)
def test_bench_page_wakes_nothing_before_a_touch(at_most: Callable[[float], float]) -> None:
    pytest.importorskip("playwright")
    bench = runpy.run_path(str(Path(__file__).parent / "bench_page.py"))
    size, visits, asked = bench["measure"](1)
    assert size <= 2_500_000
    (visit,) = visits
    assert 0.0 < visit["first curve"] < visit["first curve"] + visit["library woken"]
    assert asked["script"] < at_most(MOST_SCRIPT_MS)
