"""The benchmarks of kernel and pipeline run, on little."""

from __future__ import annotations

import runpy
from pathlib import Path

HERE = Path(__file__).parent


def test_bench_kernel_measures_every_row() -> None:
    bench = runpy.run_path(str(HERE / "bench_kernel.py"))
    rows = bench["table"]((1, 20), hours=72, repeats=1)
    assert [row.lanes for row in rows] == [1, 20]
    for row in rows:
        assert min(row.run_ns, row.total_ns, row.bare_ns) > 0.0
        # Many limits against none: it cannot be faster than the bare loop.
        assert row.ratio > 1.0


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
    assert best["simulate"] > best["sources"]


def test_bench_memory_tells_each_way() -> None:
    bench = runpy.run_path(str(HERE / "bench_memory.py"))
    for way in bench["WAYS"]:
        # An interpreter with numpy, and no more than that on little.
        assert 20.0 < bench["measured"](way, 10, 48) < 600.0


def test_trips_that_have_ended_take_little_memory() -> None:
    """Two months in 1,200 draws: with every charge kept three more trips took 135 MB, with what is
    shown of them 41 MB."""
    bench = runpy.run_path(str(HERE / "bench_memory.py"))
    one, four = (bench["measured"](way, 6000, 1440) for way in ("one trip", "four trips"))
    assert four - one < 80.0


def test_bench_commands_meets_its_bounds() -> None:
    """Ratios of one run. Levers that share nothing took eleven checks; half of them is measured.
    Most of a trip is its what-if grid."""
    bench = runpy.run_path(str(HERE / "bench_commands.py"))
    check, levers, trip = bench["table"](("check", "levers", "trip"))
    assert check.ratio == 1.0
    assert 1.0 < levers.ratio < 9.0
    assert levers.ratio < trip.ratio < 18.0


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
