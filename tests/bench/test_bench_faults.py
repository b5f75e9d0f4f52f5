"""The fuzzer of models and the stopped runs, on little; NIGHTLEDGER_FUZZ_JOBS says how much."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
JOBS = int(os.environ.get("NIGHTLEDGER_FUZZ_JOBS", "12"))
needs_fork = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that can fork")


def run(script: str, *arguments: str) -> str:
    done = subprocess.run(
        [sys.executable, str(HERE / script), *arguments],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@needs_fork
def test_jobs_made_from_the_models_run_or_are_refused_in_sentences(tmp_path: Path) -> None:
    said = run("fuzz_models.py", "--count", str(JOBS), "--keep", str(tmp_path))
    assert said.startswith(f"{JOBS} jobs in ")
    # Two of five jobs run; were it fewer, it would test nothing but sentences.
    ran = sum(int(line.split()[0]) for line in said.splitlines()[1:] if line.endswith(": 0"))
    assert ran >= JOBS / 5


@needs_fork
def test_stopped_runs_lose_nothing() -> None:
    count = max(4, JOBS // 12)
    assert run("kill_runs.py", "--count", str(count)).startswith(f"{count} runs stopped")
