"""A job with some of its keys changed: what a lever or a design does.

A key is written as its sections and its name: ``battery.count``, ``panels[1].tilt_deg``,
``appliances[Television].count``, ``trips[*].stops[*].local_drive_hours``. In brackets is
a position counted from 1, a name, or ``*`` for all; without brackets a list has one entry.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any, get_args

from pydantic import ValidationError

from sim.errors import Fault, JobError, join_or
from sim.job import shelf
from sim.job.model.changes import Section, near, said, with_values
from sim.job.model.designs import DesignEntry
from sim.job.model.fields import JobSection, Unit, entry_keys
from sim.job.model.job import SEVERAL, Job, LeverEntry
from sim.job.reading.expected import expected, holds_sections
from sim.job.reading.faults import SHELF_OF
from sim.job.rules.check import between
from sim.job.rules.findings import Finding

# Sections that say how a job is computed, shown or paid for, not what is built or done.
_NOT_LEVERS = (
    "title", "customer", "settings", "prices", "levers", "designs", "wiring", "roof",
    "handover", "log",
)  # fmt: skip
_STEP = re.compile(r"([A-Za-z_0-9]+)(?:\[([^\]]*)\])?(?:\.|$)")
KeyPath = tuple[tuple[str, str | None], ...]


def overridden(job: Job, changes: Mapping[str, Any]) -> Job:
    """A job with some keys changed, checked as a job file is.

    Parameters
    ----------
    job : Job
    changes : mapping
        From keys, dotted or nested, to values as in a job file. ``use`` takes a profile from
        the shelf for its section.

    Returns
    -------
    Job

    Raises
    ------
    JobError
        With a fault for the first key that is wrong: its rule says what would be right.
    """
    grouped: dict[KeyPath, dict[str, Any]] = {}
    for key, value in _flat(changes):
        steps = _steps(key)
        grouped.setdefault(steps[:-1], {})[steps[-1][0]] = value
    for steps, values in grouped.items():
        job = _within(job, steps, _settings(steps, values), "")
    if found := between(job):
        raise JobError(*(Fault(rule, key=_dotted(path)) for path, _, rule in found))
    return job


def change_findings(job: Job) -> Iterator[Finding]:
    """Which levers and designs of a job cannot be: (path, value, rule) as for the rules of a
    job."""
    yield from _set_findings(job, "lever", job.levers)
    if len(job.designs) == 1:
        yield ("designs", 0, "name"), job.designs[0].name, "one design is no choice; add another"
    yield from _set_findings(job, "design", job.designs)


def _set_findings(
    job: Job, what: str, entries: Sequence[LeverEntry | DesignEntry]
) -> Iterator[Finding]:
    names: set[str] = set()
    for index, entry in enumerate(entries):
        if entry.name in names:
            rule = f"another {what} has this name; tell them apart"
            yield (f"{what}s", index, "name"), entry.name, rule
        names.add(entry.name)
        try:
            overridden(job, entry.set)
        except JobError as error:
            fault = error.faults[0]
            said = str(replace(fault, file=None, line=None))
            yield (f"{what}s", index, "set"), None, f"{entry.name}: {said}"


def _dotted(path: tuple[str | int, ...]) -> str:
    parts = [f"[{part + 1}]" if isinstance(part, int) else f".{part}" for part in path]
    return "".join(parts).removeprefix(".")


def _flat(changes: Mapping[str, Any], before: str = "") -> Iterator[tuple[str, Any]]:
    for key, value in changes.items():
        if isinstance(value, Mapping):
            yield from _flat(value, f"{before}{key}.")
        else:
            yield before + key, value


def _steps(key: str) -> KeyPath:
    steps, at = [], 0
    while at < len(key) and (match := _STEP.match(key, at)):
        steps.append((match[1], match[2]))
        at = match.end()
    if at < len(key) or not steps or key.endswith("."):
        rule = 'write a key as "battery.count" or "appliances[Television].count"'
        raise JobError(Fault(rule, key=key))
    # Nobody chooses the weather; its file was looked up when the job was read.
    if steps[0][0] in _NOT_LEVERS or len(steps) < 2 or steps[-1][0] == "weather":
        rule = "a change sets a key of what is built or of a trip, such as battery.count"
        raise JobError(Fault(rule, key=key))
    return tuple(steps)


def _settings(steps: KeyPath, values: dict[str, Any]) -> dict[str, Any]:
    """The values to set, with those of a profile that they name."""
    section = steps[0][0]
    if "use" not in values or len(steps) != 1 or section not in SHELF_OF:
        return values
    profile = shelf.profile(SHELF_OF[section], str(values["use"]))
    # A key in another unit takes the place of the profile's.
    kept = {k: v for k, v in profile.values.items() if not entry_keys(k).keys() & values.keys()}
    return {**kept, **values}


def _within(part: Section, steps: KeyPath, values: dict[str, Any], done: str) -> Section:
    """A section with values set in what `steps` lead to."""
    if not steps:
        return _with(part, values, done)
    (name, which), rest = steps[0], steps[1:]
    here = f"{done}.{name}".removeprefix(".")
    if name not in type(part).model_fields:
        rule = f"no such section{near(name, type(part))}"
        if name.isdigit():
            rule = 'no such section; one of a list is in brackets, as in "panels[1].count"'
        raise JobError(Fault(rule, key=here))
    held = getattr(part, name)
    if held == () and name in SEVERAL and which is None and not rest:
        held = (_new(type(part), name, values, here),)
    elif isinstance(held, tuple) and not holds_sections(type(part), name):
        raise JobError(Fault("this is a list and has no keys; set it whole", key=here))
    elif isinstance(held, tuple):
        change = {
            index: _within(held[index], rest, values, f"{here}[{index + 1}]")
            for index in _chosen(held, which, here)
        }
        held = tuple(change.get(index, item) for index, item in enumerate(held))
    elif held is None and rest:
        raise JobError(Fault(f"the job has no [{name}] so far; set its own keys first", key=here))
    elif held is None:
        held = _new(type(part), name, values, here)
    elif isinstance(held, JobSection) and which is None:
        held = _within(held, rest, values, here)
    else:
        raise JobError(Fault("this is no section with keys", key=here))
    return with_values(part, {name: held})


def _chosen(held: tuple[Any, ...], which: str | None, here: str) -> Iterator[int]:
    if which == "*":
        # Nothing can be done at a stop without nights.
        yield from (i for i, item in enumerate(held) if getattr(item, "nights", 1) > 0)
        return
    if which is None and len(held) == 1:
        yield 0
        return
    if which is not None and which.isdigit() and 1 <= int(which) <= len(held):
        yield int(which) - 1
        return
    if not held:
        raise JobError(Fault("the job has none so far", key=here))
    names = [getattr(item, "name", None) for item in held]
    if which in names:
        yield names.index(which)
        return
    known = [f"[{name}]" for name in names[:6] if name] or [f"[1] to [{len(held)}]"]
    raise JobError(Fault(f"say which: {join_or([*known, '[*] for all'])}", key=here))


def _new(owner: type[JobSection], name: str, values: dict[str, Any], here: str) -> Any:
    """A section the job has not had so far."""
    kinds = get_args(owner.model_fields[name].annotation)
    part = next(
        (kind for kind in kinds if isinstance(kind, type) and issubclass(kind, JobSection)), None
    )
    if part is None:
        raise JobError(Fault("this is no section with keys", key=here))
    try:
        return part.model_validate({name: x for _, name, x in _entered(part, values, here)})
    except ValidationError as error:
        key = f"{here}.{error.errors()[0]['loc'][0]}"
        raise JobError(Fault(f"the job has no [{name}] so far: {said(error)}", key=key)) from None


def _with(part: Section, values: dict[str, Any], here: str) -> Section:
    """A section with values set, each checked by the section's own rule."""
    for key, name, value in _entered(type(part), values, here):
        try:
            part = with_values(part, {name: value})
        except JobError as error:
            rule, cause = error.faults[0].rule, error.__cause__
            if isinstance(cause, ValidationError) and cause.errors()[0]["type"] != "nightledger":
                rule = f"must be {expected(type(part), name, entry_keys(name).get(key))}"
            shown = () if isinstance(value, (tuple, Mapping)) else (value,)
            raise JobError(Fault(rule, None, None, f"{here}.{key}", *shown)) from None
    return part


def _entered(
    cls: type[JobSection], values: Mapping[str, Any], here: str
) -> Iterator[tuple[str, str, Any]]:
    """Each key as written, the model's key, and the value in the model's unit."""
    written: dict[str, str] = {}
    for key, value in values.items():
        name, unit = _known(cls, key, here)
        if name in written:
            raise JobError(Fault(f"give {written[name]} or {key}, not both", key=f"{here}.{key}"))
        written[name] = key
        if isinstance(value, list):
            value = tuple(value)
        if unit is not None and _is_number(value):
            value = unit.to_si(float(value))
        yield key, name, value


def _known(cls: type[JobSection], key: str, here: str) -> tuple[str, Unit | None]:
    """The SI key of a key as written, and the unit it is written in if that is another."""
    if key in cls.model_fields:
        return key, None
    for name in cls.model_fields:
        if key in entry_keys(name):
            return name, entry_keys(name)[key]
    raise JobError(Fault("no such key" + near(key, cls), key=f"{here}.{key}"))


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)
