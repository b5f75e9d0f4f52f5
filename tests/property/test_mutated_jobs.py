"""Job files broken in many ways: a result or clear errors. The long run is bench/fuzz_jobs.py."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

COUNT, SEED, RUN_EVERY = 160, 20_270_109, 16


@pytest.fixture(scope="module")
def fuzz() -> ModuleType:
    """The benchmark's own module: one fuzzer, tried shortly here and at length there."""
    path = Path(__file__).parents[1] / "bench" / "fuzz_jobs.py"
    spec = importlib.util.spec_from_file_location("fuzz_jobs", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    # Dataclasses look their module up by name.
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def test_many_broken_files(fuzz: ModuleType) -> None:
    counts, broken = fuzz.examine(range(COUNT), SEED, RUN_EVERY)
    assert [(item.number, item.what) for item in broken] == []
    assert counts.total() == COUNT
    # Were all refused, nothing had been run; were none, nothing had been broken.
    assert counts["runs"] > COUNT / RUN_EVERY / 10
    assert counts["JobError"] > COUNT / 5


def test_the_unbroken_file_runs(fuzz: ModuleType, tmp_path: Path) -> None:
    assert fuzz.outcome(fuzz.BASE.encode(), tmp_path, run=True, page=False) == "runs"


def test_the_same_number_is_the_same_file(fuzz: ModuleType) -> None:
    files = [fuzz.mutated(number, SEED) for number in range(50)]
    assert files == [fuzz.mutated(number, SEED) for number in range(50)]
    assert len(set(files)) > 45


@pytest.mark.parametrize(
    ("rule", "complaint"),
    [
        ("short", "says too little"),
        ("Input should be int, see pydantic", "jargon"),
    ],
)
def test_the_fuzzer_sees_a_poor_error(fuzz: ModuleType, rule: str, complaint: str) -> None:
    from sim.errors import Fault, JobError

    with pytest.raises(AssertionError, match=complaint):
        fuzz._assert_clear(JobError(Fault(rule)))


@pytest.mark.parametrize("rule", ["first line\nsecond line", "a bell \x07 in the sentence"])
def test_a_fault_is_one_printable_line_whatever_its_rule(fuzz: ModuleType, rule: str) -> None:
    from sim.errors import Fault, JobError

    fuzz._assert_clear(JobError(Fault(rule)))
