"""A kept promise: the job as it was resolved and its figures, in one JSON file.

The file says by `FORMAT` how it is laid out. A program reads every format up to its own: keys are
only ever added, and what an older file does not hold is not asked of it.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from sim.decide.compare import State, TripFigures, state_of
from sim.errors import Fault, JobError, printable
from sim.job.model.fields import window_text
from sim.job.model.job import Job
from sim.job.reading.toml_errors import read_text
from sim.ledger.results import Result
from sim.ledger.verdict import Verdict
from sim.places.lookup import Place
from sim.report.data.export import json_text

FORMAT = 1
_MARK = "nightledger_promise"
_MOST_BYTES = 50_000_000
_PLACE_KEYS = {"name", "latitude", "longitude", "time_zone"}


class _Trip(BaseModel):
    """A trip's figures in the file; see `TripFigures`."""

    model_config = ConfigDict(extra="ignore", strict=True, allow_inf_nan=False)

    name: str
    verdict: Verdict
    held: int = Field(ge=0)
    draws: int = Field(ge=1)
    lowest_soc: list[float] = Field(min_length=3, max_length=3)
    dark_hours: float
    energy_wh_day: dict[str, float]
    times: list[str]
    soc: list[list[float]] = Field(min_length=3, max_length=3)
    all_held: int | None = None
    medical: list[str] = []
    medical_dark: int | None = None


class _File(BaseModel):
    """The file; what a newer program added is passed over."""

    model_config = ConfigDict(extra="ignore", strict=True)

    program: str
    kept: str
    job: dict[str, Any]
    trips: list[_Trip]


def promise_json(state: State, kept: dt.date) -> dict[str, Any]:
    """A promise as plain data.

    Parameters
    ----------
    state : State
    kept : date
        Day on which it is kept.
    """
    return {
        _MARK: FORMAT,
        "program": state.program,
        "kept": kept.isoformat(),
        "title": state.job["title"],
        "seed": state.job["settings"]["seed"],
        "job": dict(state.job),
        "trips": [asdict(trip) for trip in state.trips],
    }


def promise_text(result: Result, program: str, kept: dt.date) -> str:
    """The promise that a result makes, as the text of its file."""
    return json_text(promise_json(state_of(result, program), kept))


def is_promise(path: Path) -> bool:
    """Whether a file is to be read as a promise and not as a job: it is JSON by its name."""
    return path.suffix.lower() == ".json"


def read_promise(path: Path) -> State:
    """A promise from its file.

    Raises
    ------
    JobError
        No such file, no promise, one of a newer program, or one that was changed by hand.
    """
    name = printable(str(path))
    try:
        data = json.loads(read_text(path, _MOST_BYTES))
    except (ValueError, RecursionError):
        raise JobError(Fault("holds no JSON that can be read", file=name)) from None
    if not isinstance(data, Mapping) or not isinstance(data.get(_MARK), int):
        rule = "is not a kept promise; nightledger trip JOB --keep writes one"
        raise JobError(Fault(rule, file=name))
    if data[_MARK] > FORMAT:
        rule = f"was kept by a newer program, {data.get('program')}; update this one"
        raise JobError(Fault(rule, file=name))
    try:
        file = _File.model_validate(data)
    except ValidationError as error:
        where = ".".join(str(part) for part in error.errors()[0]["loc"])
        rule = "is not as the program wrote it; keep the promise anew"
        raise JobError(Fault(rule, file=name, key=where)) from None
    trips = tuple(
        TripFigures(
            name=trip.name,
            verdict=trip.verdict,
            held=trip.held,
            draws=trip.draws,
            lowest_soc=(trip.lowest_soc[0], trip.lowest_soc[1], trip.lowest_soc[2]),
            dark_hours=trip.dark_hours,
            energy_wh_day=trip.energy_wh_day,
            times=tuple(trip.times),
            soc=tuple(tuple(row) for row in trip.soc),
            all_held=trip.all_held,
            medical=tuple(trip.medical),
            medical_dark=trip.medical_dark,
        )
        for trip in file.trips
    )
    return State(file.job, trips, file.program)


def promised_job(path: Path) -> Job:
    """The job of a kept promise, as it was when it was kept.

    Raises
    ------
    JobError
        As `read_promise`; or the job has keys that this program does not know.
    """
    state = read_promise(path)
    try:
        return Job.model_validate(_as_read(dict(state.job)))
    except ValidationError as error:
        where = ".".join(str(part) for part in error.errors()[0]["loc"])
        rule = "holds a job that this program cannot read; give the job file, or keep it anew"
        raise JobError(Fault(rule, file=printable(str(path)), key=where)) from None


def _as_read(value: Any, key: str = "") -> Any:
    """Plain data of a job as its model takes it: places, times and parts of the day."""
    if isinstance(value, Mapping):
        if set(value) >= _PLACE_KEYS:
            return Place(**value)
        return {name: _as_read(item, name) for name, item in value.items()}
    if isinstance(value, list):
        if value and all(_is_window(item) for item in value):
            return tuple(window_text((item[0], item[1])) for item in value)
        return tuple(_as_read(item) for item in value)
    if key.endswith("_at") and isinstance(value, int):
        return f"{value // 60:02d}:{value % 60:02d}"
    return value


def _is_window(value: Any) -> bool:
    return isinstance(value, list) and len(value) == 2 and all(isinstance(x, int) for x in value)
