"""From a job file to a `Job`: TOML, units, profiles and overrides, checks; every fault at once."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path as FilePath
from typing import Any

from pydantic import ValidationError

from sim.errors import Fault, JobError
from sim.job import rules, shelf
from sim.job.fields import ENTRY_UNITS
from sim.job.lines import Path, key_lines, line_of
from sim.job.model import (
    Alternator,
    Battery,
    ColdBox,
    Fan,
    Heater,
    Inverter,
    Job,
    Living,
    PanelGroup,
    Shore,
    Stop,
    Trip,
    Van,
)
from sim.job.wording import faults_of, path_text

# Section of the job file -> section of the shelf that its `use` names.
_SHELF = {
    "van": "vans",
    "living": "days",
    "panels": "panels",
    "battery": "batteries",
    "appliances": "appliances",
}
_SI_KEYS = frozenset(
    name
    for cls in (
        Van, PanelGroup, Battery, Alternator, Shore, Inverter, Living, ColdBox, Heater, Fan, Trip,
        Stop,
    )
    for name in cls.model_fields
)  # fmt: skip
_MAX_BYTES = 2_000_000


def load_job(path: str | FilePath) -> Job:
    """Read, complete and check a job file.

    Parameters
    ----------
    path : str or Path
        A TOML file, see the README for its keys.

    Returns
    -------
    Job
        Frozen, with profiles merged in, places found and weather paths made absolute.

    Raises
    ------
    JobError
        With one fault for each thing that is wrong, in the order of the file.
    """
    path = FilePath(path)
    text = _read(path)
    lines = key_lines(text)
    data = _parse(text, str(path))
    faults: list[Fault] = []
    renamed: dict[Path, str] = {}
    raw = _completed(data, lines, faults, renamed)
    job = None
    try:
        job = Job.model_validate(raw)
    except ValidationError as error:
        known = {fault.key for fault in faults}
        faults += [
            fault
            for fault in faults_of(error, raw, renamed, lines, str(path))
            if fault.key not in known
        ]
    if job is not None and not faults:
        job, found = rules.checked(job, path.resolve().parent)
        faults += [
            Fault(rule, key=path_text(where), line=line_of(lines, where), value=value)
            for where, value, rule in found
        ]
    if faults or job is None:
        placed = JobError(*faults).at(file=str(path))
        raise JobError(*sorted(placed, key=lambda fault: fault.line or 0))
    return job


def _read(path: FilePath) -> str:
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        raise JobError(Fault("there is no such file", file=str(path))) from None
    except IsADirectoryError:
        raise JobError(Fault("this is a folder; name the job file in it", file=str(path))) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "this is no file name"
        raise JobError(Fault(f"cannot be read: {reason}", file=str(path))) from None
    if len(raw) > _MAX_BYTES:
        raise JobError(Fault("too large for a job file (over 2 MB)", file=str(path)))
    try:
        return raw.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        rule = "not UTF-8 text; save the file as UTF-8"
        raise JobError(Fault(rule, file=str(path), line=line)) from None


def _parse(text: str, file: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        what = str(error)
        at = re.search(r" \(at line (\d+), column (\d+)\)$", what)
        line = int(at[1]) if at else text.count("\n") + 1
        column = f"column {at[2]}: " if at else ""
        what = re.sub(r" \(at [^()]*\)$", "", what)
        hint = ""
        if "date or time" in what.lower() or "datetime" in what.lower():
            hint = "; this is no date of the calendar"
        rule = f"{column}not valid TOML: {what[:1].lower()}{what[1:]}{hint}"
        raise JobError(Fault(rule, file=file, line=line)) from None
    except RecursionError:
        raise JobError(Fault("nested too deeply for a job file", file=file)) from None


def _completed(
    data: dict[str, Any],
    lines: dict[Path, int],
    faults: list[Fault],
    renamed: dict[Path, str],
) -> dict[str, Any]:
    """The file's data with SI keys, profiles merged in, and tuples for lists."""

    def note(path: Path, value: Any, rule: str) -> None:
        fault = Fault(rule, key=path_text(path), line=line_of(lines, path), value=value)
        faults.append(fault)

    def walk(value: Any, path: Path) -> Any:
        if isinstance(value, list):
            return tuple(walk(item, (*path, i)) for i, item in enumerate(value))
        if not isinstance(value, dict):
            return value
        done = {}
        for key, item in value.items():
            si_key, si_item = _to_si(key, item)
            if si_key != key:
                if si_key in value:
                    note((*path, key), item, f"give {key} or {si_key}, not both")
                    continue
                renamed[(*path, si_key)] = key
            done[si_key] = walk(si_item, (*path, key))
        return _with_profile(done, path, note)

    return walk(data, ())  # type: ignore[no-any-return]


def _to_si(key: str, value: Any) -> tuple[str, Any]:
    for unit in ENTRY_UNITS:
        si_key = key.removesuffix(unit.suffix) + unit.si_suffix
        if key.endswith(unit.suffix) and key not in _SI_KEYS and si_key in _SI_KEYS:
            is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
            return si_key, unit.to_si(float(value)) if is_number else value
    return key, value


def _with_profile(part: dict[str, Any], path: Path, note: Any) -> dict[str, Any]:
    sections = [name for name in path if isinstance(name, str)]
    if len(sections) != 1 or "use" not in part or sections[0] not in _SHELF:
        return part
    name = part["use"]
    if not isinstance(name, str):
        note((*path, "use"), name, "must be the name of a profile in quotes")
        return part
    try:
        found = shelf.profile(_SHELF[sections[0]], name)
    except JobError as error:
        note((*path, "use"), name, error.faults[0].rule)
        return part
    values = {key: tuple(v) if isinstance(v, list) else v for key, v in found.values.items()}
    return {**values, **part}
