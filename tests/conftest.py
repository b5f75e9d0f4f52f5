"""What all tests share: a small job, and the way from its text to a file."""

from __future__ import annotations

import gc
import os
from collections.abc import Callable, Iterator
from functools import cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:  # what hands out tests to workers needs none of these, and they are slow
    from sim.job.model.job import Job
    from sim.ledger.results import Result
    from sim.sky.files.reader import WeatherYears

# The one small job, from which tests make theirs. Its place is coordinates, so that the table of
# towns is not read.
JOBS = Path(__file__).parent / "data" / "jobs"
SMALL_JOB = (JOBS / "small.toml").read_text("utf-8")
# Every kind of appliance, DC and AC in each priority, flat and tilted panels, three sources,
# shade and a skyline, and a battery small enough to run down.
FULL_JOB = (JOBS / "full.toml").read_text("utf-8")

# The files that take longest, in that order; then the others as they come.
LONGEST = (
    *("test_cli", "fit/test_fit", "interview/test_questions", "cli/test_second_process"),
    *("outside/test_climate_stations", "report/test_first_lines", "places/test_lookup"),
    *("outside/test_climate_odds", "sky/test_draws", "property/test_ledger_property"),
    *("ledger/test_almanac", "sky/files/test_reader", "property/test_steps_converge"),
    *("test_workshop_typed", "report/test_fit_page", "decide/test_panels", "decide/test_what_if"),
    *("decide/test_commands", "ledger/test_study", "test_book", "test_readme"),
    *("outside/test_drives", "report/test_decisions", "outside/test_typical_years"),
)


@pytest.hookimpl(tryfirst=True)
def pytest_configure(config: pytest.Config) -> None:
    if getattr(config.option, "dist", "no") != "no":
        return
    import once
    from hypothesis import settings

    # Quick, and the same on every run: a failure seen once is seen again.
    quick = {"max_examples": 40, "deadline": None, "derandomize": True, "database": None}
    settings.register_profile("quick", **quick)
    settings.load_profile("quick")
    once.remember()


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """With workers, a file goes to one of them: what its tests share is made once. Long files go
    first, that all workers end together."""
    from xdist.scheduler import LoadFileScheduling

    if config.getoption("dist") != "load":
        return None
    config.option.loadscopereorder = False
    return LoadFileScheduling(config, log)


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    order = {f"tests/{name}.py": place for place, name in enumerate(LONGEST)}
    items.sort(key=lambda item: order.get(item.nodeid.split("::")[0], len(order)))


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Iterator[Any]:
    """What modules and tests are made of stays to the end: rubbish is looked for seldom."""
    gc.disable()
    try:
        return (yield)
    finally:
        gc.enable()
        gc.set_threshold(50_000, 20, 50)


@pytest.fixture
def small_job() -> str:
    """Text of a job file with no key more than it needs: one van, one trip, one stop."""
    return SMALL_JOB


@pytest.fixture(scope="session")
def job(tmp_path_factory: pytest.TempPathFactory) -> Job:
    """The small job, loaded."""
    from sim.job.reading.load import load_job

    path = tmp_path_factory.mktemp("small") / "job.toml"
    path.write_text(SMALL_JOB, "utf-8")
    return load_job(path)


@pytest.fixture(scope="session")
def edited(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Job]:
    """A job from a text with parts of it replaced, and lines put in at its end; in a folder of
    its own unless one is named."""
    from sim.job.reading.load import load_job

    def make(
        text: str, *changes: tuple[str, str], end: str = "", folder: Path | None = None
    ) -> Job:
        for old, new in changes:
            assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in the job"
            text = text.replace(old, new)
        path = (folder or tmp_path_factory.mktemp("edited")) / "job.toml"
        path.write_text(text + end, "utf-8")
        return load_job(path)

    return make


@pytest.fixture
def write_job(tmp_path: Path) -> Callable[[str], Path]:
    """Writes a job file's text and gives its path."""

    def write(text: str) -> Path:
        path = tmp_path / "job.toml"
        path.write_text(text, "utf-8", newline="")
        return path

    return write


@pytest.fixture
def changed(small_job: str) -> Callable[[str, str], str]:
    """Text of the small job with one part replaced by another."""

    def change(old: str, new: str) -> str:
        assert small_job.count(old) == 1, f"{old!r} stands {small_job.count(old)} times in the job"
        return small_job.replace(old, new)

    return change


@pytest.fixture
def faults_in() -> Callable[[Path], list[str]]:
    """The sentences on a file that does not load, its folder left out."""
    from sim.errors import JobError
    from sim.job.reading.load import load_job

    def read(path: Path) -> list[str]:
        with pytest.raises(JobError) as caught:
            load_job(path)
        folder = f"{path.parent}{os.sep}"
        return [str(fault).replace(folder, "") for fault in caught.value.faults]

    return read


@pytest.fixture
def faults_of(
    write_job: Callable[[str], Path], faults_in: Callable[[Path], list[str]]
) -> Callable[[str], list[str]]:
    """The sentences on a job file's text that does not load."""
    return lambda text: faults_in(write_job(text))


@pytest.fixture
def make_job(edited: Callable[..., Job], tmp_path: Path) -> Callable[..., Job]:
    """The full job with parts of its text replaced, and lines put in at its end."""
    return partial(edited, FULL_JOB, folder=tmp_path)


@pytest.fixture(scope="session")
def typical_year() -> Callable[[str], WeatherYears]:
    """A typical year of those that pvlib brings, read once."""
    import pvlib

    from sim.sky.files.reader import read_weather

    data = Path(pvlib.__file__).parent / "data"
    return cache(lambda name: read_weather(data / name))


@pytest.fixture(scope="session")
def full_result(edited: Callable[..., Job]) -> Result:
    """The full job as it is, simulated once."""
    import sim

    return sim.simulate(edited(FULL_JOB))
