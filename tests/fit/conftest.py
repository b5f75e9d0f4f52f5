"""The van of its own making, for the tests of the fit."""

from __future__ import annotations

import importlib
import sys
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any
from unittest import mock

import pytest

from sim.fit.fit import Fit, fit
from sim.job.reading.load import load_job
from sim.log.reading import read_log

sys.path.insert(0, str(Path(__file__).resolve().parent))
import other_van

Fitted = Callable[[other_van.Case], tuple[other_van.Written, Fit]]


@pytest.fixture(scope="session", autouse=True)
def promised_once() -> Iterator[Any]:
    """What a job promises is worked out once for all logs of it; gives what does it anew."""
    module = importlib.import_module("sim.fit.fit")
    anew = module.expected
    known = cache(anew)
    with mock.patch.object(module, "expected", lambda job, trips, tell: known(job, tuple(trips))):
        yield anew


@pytest.fixture(scope="session")
def fitted(tmp_path_factory: pytest.TempPathFactory) -> Fitted:
    """What `fit` says of the log of a case."""

    @cache
    def run(case: other_van.Case) -> tuple[other_van.Written, Fit]:
        log = other_van.written(case)
        folder = tmp_path_factory.mktemp("case")
        (folder / "job.toml").write_text(other_van.job_text(case), "utf-8")
        (folder / "log.csv").write_text(log.csv, "utf-8")
        return log, fit(load_job(folder / "job.toml"), read_log(folder / "log.csv"))

    return run
