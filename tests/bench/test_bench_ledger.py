"""The benchmarks of kernel and pipeline run, on little."""

from __future__ import annotations

import runpy
from collections.abc import Callable
from pathlib import Path

HERE = Path(__file__).parent


def test_bench_kernel_meets_its_bounds(at_most: Callable[[float], float]) -> None:
    """Ratios of one run, idle and beside two other processes: at 20 lanes 13 to 14 bare loops, at
    200 15 to 18, at 2,000 10 to 13; sums alone take 0.67 to 0.81 of what every step kept does, and
    a lane-hour of 2,000 lanes 0.17 to 0.21 of one of 200."""
    bench = runpy.run_path(str(HERE / "bench_kernel.py"))
    few, some, many = bench["table"]((20, 200, 2000), hours=240, repeats=10)
    assert [row.lanes for row in (few, some, many)] == [20, 200, 2000]
    assert 1.0 < few.ratio < at_most(16.5)
    assert 1.0 < some.ratio < at_most(21.0)
    assert 1.0 < many.ratio < at_most(15.0)
    for row in (few, some, many):
        assert 0.0 < row.total_ns < at_most(0.93) * row.run_ns
    assert 0.0 < many.run_ns < at_most(0.25) * some.run_ns


def test_bench_kernel_meets_every_limit() -> None:
    """The bench is of a bank that fills, tapers, runs down and freezes."""
    bench = runpy.run_path(str(HERE / "bench_kernel.py"))
    offers = bench["invented"](24 * 30, 40)
    done = bench["run_bank"](bench["BANK"], offers, start_soc=0.7, step_hours=1.0)
    assert done.soc.max() > 0.97
    assert done.soc.min() < 0.06
    for group in done.unserved_w:
        assert group.max() > 1.0
    assert (offers.charge_allowed == 0.0).any()


def test_bench_pipeline_names_every_part() -> None:
    bench = runpy.run_path(str(HERE / "bench_pipeline.py"))
    first, best = bench["timings"](repeats=1, draws=2)
    assert list(best) == ["timeline", "sun", "weather", "demand", "sources", "simulate"]
    assert set(first) == {"load", *best}
    assert all(value > 0.0 for value in best.values())


def test_bench_memory_tells_each_way() -> None:
    bench = runpy.run_path(str(HERE / "bench_memory.py"))
    for way in bench["WAYS"]:
        # An interpreter with numpy, and no more than that on little.
        assert 20.0 < bench["measured"](way, 10, 48) < 600.0


def test_trips_that_have_ended_take_little_memory() -> None:
    """Two months in 1,200 draws: three more trips take 28 to 69 MB; with the charge of every draw
    kept they take 163 to 176 MB."""
    bench = runpy.run_path(str(HERE / "bench_memory.py"))
    one, four = (bench["measured"](way, 6000, 1440) for way in ("one trip", "four trips"))
    assert four - one < 80.0


def test_bench_commands_meets_its_bounds(at_most: Callable[[float], float]) -> None:
    """Ratios of one run. Levers that share nothing took eleven checks; 3.7 to 6.9 are measured, and
    8 to 12 of a trip, most of which is its what-if grid."""
    bench = runpy.run_path(str(HERE / "bench_commands.py"))
    check, levers, trip = bench["table"](("check", "levers", "trip"))
    assert check.ratio == 1.0
    assert 1.0 < levers.ratio < at_most(8.0)
    assert 1.0 < trip.ratio < at_most(13.5)


def test_bench_convergence_tells_each_trip() -> None:
    bench = runpy.run_path(str(HERE / "bench_convergence.py"))
    rows = bench["table"](1, draws=2)
    assert [row.name.split()[0] for row in rows] == ["demo", "demo", "dice"]
    for row in rows:
        assert set(row.of_input_pct) == set(bench["PARTS"])
        # Two runs of different steps are not the same run.
        assert row.soc_points != 0.0


def test_bench_seeds_meets_its_target() -> None:
    """The share of the demo's January hangs on the seed by no more than a point or so."""
    bench = runpy.run_path(str(HERE / "bench_seeds.py"))
    (january,) = bench["moved"](None, trips=slice(1))
    assert january.draws == 1000.0
    assert january.points.max() <= bench["TARGET_POINTS"]
