"""From a job file to a `Job`: units, profiles and overrides, checks; every fault at once."""

from __future__ import annotations

from pathlib import Path as FilePath
from typing import Any

from pydantic import ValidationError

from sim.errors import Fault, JobError
from sim.job import shelf
from sim.job.model.fields import Unit, Unknown, entry_keys
from sim.job.model.job import Job
from sim.job.overrides import change_findings
from sim.job.reading.expected import parts_in
from sim.job.reading.faults import MOST_FAULTS, SHELF_OF, Source, faults_of
from sim.job.reading.toml_errors import read_toml
from sim.job.reading.toml_lines import Path, key_lines
from sim.job.rules.check import checked

_ENTRY_KEYS: dict[str, tuple[str, Unit]] = {
    key: (si_key, unit)
    for part in parts_in(Job)
    for si_key in part.model_fields
    for key, unit in entry_keys(si_key).items()
}
_LARGEST_WHOLE = 2**63  # what TOML promises to keep


def load_job(path: str | FilePath) -> Job:
    """Read, complete and check a job file.

    Parameters
    ----------
    path : str or Path
        A TOML file; `sim.job.key_table` lists its keys.

    Returns
    -------
    Job
        Frozen, with profiles merged in, places found and weather paths made absolute.

    Raises
    ------
    JobError
        With one fault for each thing that is wrong, in the order of the file. What must hold
        between sections is checked when each key is right by itself.
    """
    path = FilePath(path)
    try:
        text, data = read_toml(path)
        draft = _Draft(Source(str(path), key_lines(text), {}))
        raw = draft.part(data, ())
    except RecursionError:
        raise JobError(Fault("nested too deeply for a job file", file=str(path))) from None
    job, faults = None, draft.faults
    try:
        job = Job.model_validate(raw, context=Unknown())
    except ValidationError as error:
        told = {fault.key for fault in faults}
        more = faults_of(error, raw, draft.source, draft.unsettled)
        faults += [fault for fault in more if fault.key not in told]
    if job is not None and not faults:
        job, found = checked(job, path.resolve().parent)
        found = found or list(change_findings(job))
        faults += [_between(draft.source, raw, *finding) for finding in found]
    if job is None or faults:
        raise JobError(*_first(sorted(faults, key=lambda fault: fault.line or 0), str(path)))
    return job


def _first(faults: list[Fault], file: str) -> list[Fault]:
    """As many faults as somebody will read, and that there are more."""
    if len(faults) <= MOST_FAULTS:
        return faults
    return [*faults[:MOST_FAULTS], Fault("there are more; mend these first", file=file)]


class _Draft:
    """What becomes of a file's data on its way to the model.

    Attributes
    ----------
    source : Source
        What was written.
    faults : list of Fault
    unsettled : set of Path
        Sections whose profile was not found.
    """

    def __init__(self, source: Source) -> None:
        self.source = source
        self.faults: list[Fault] = []
        self.unsettled: set[Path] = set()

    def part(self, table: dict[str, Any], path: Path) -> dict[str, Any]:
        """A table with SI keys, its profile merged in, and tuples for lists."""
        done: dict[str, Any] = {}
        for key, item in table.items():
            si_key, unit = _ENTRY_KEYS.get(key, (key, None))
            if unit is not None:
                other = si_key if si_key in table else self._entered(path, si_key)
                if other is not None:
                    rule = f"give {other} or {key}, not both"
                    self.faults.append(self.source.fault((*path, key), rule, item))
                    continue
                self.source.written[(*path, si_key)] = (key, item)
            done[si_key] = self._value(item, (*path, key))
            if unit is not None and _is_number(done[si_key]):
                done[si_key] = unit.to_si(float(item))
        return self._with_profile(done, path)

    def _entered(self, path: Path, si_key: str) -> str | None:
        written = self.source.written.get((*path, si_key))
        return written[0] if written else None

    def _value(self, item: Any, path: Path) -> Any:
        if isinstance(item, dict):
            return self.part(item, path)
        if isinstance(item, list):
            return tuple(self._value(entry, (*path, i)) for i, entry in enumerate(item))
        if isinstance(item, int) and not -_LARGEST_WHOLE <= item < _LARGEST_WHOLE:
            self.faults.append(self.source.fault(path, "this number is far too large"))
            return None
        return item

    def _with_profile(self, part: dict[str, Any], path: Path) -> dict[str, Any]:
        sections = [name for name in path if isinstance(name, str)]
        if len(sections) != 1 or "use" not in part or sections[0] not in SHELF_OF:
            return part
        name = part["use"]
        if name is None:  # a number too large, which is told already
            self.unsettled.add(path)
            return part
        try:
            if not isinstance(name, str):
                raise JobError("must be the name of a profile in quotes")
            found = shelf.profile(SHELF_OF[sections[0]], name)
        except JobError as error:
            rule = error.faults[0].rule
            self.faults.append(self.source.fault((*path, "use"), rule, name))
            self.unsettled.add(path)
            return part
        kind = found.values.get("kind")
        if kind is not None and part.get("kind", kind) != kind:
            rule = f'the profile {name} is a "{kind}"; leave kind out, or use another profile'
            self.faults.append(self.source.fault((*path, "kind"), rule, part["kind"]))
            part = {**part, "kind": kind}
        values = {key: tuple(v) if isinstance(v, list) else v for key, v in found.values.items()}
        return {**values, **part}


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _between(source: Source, raw: dict[str, Any], path: Path, value: Any, rule: str) -> Fault:
    """The fault of a rule between keys; a value that is not in the file is told apart."""
    if value is None:
        return source.fault(path, rule)
    if not source.has(path):
        holder: Any = raw
        for part in path[:-1]:
            holder = holder.get(part, {}) if isinstance(part, str) else holder[part]
        from_profile = "use" in holder and path[-1] in holder
        origin = f"from the profile {holder['use']}" if from_profile else "taken when left out"
        rule = f"{origin}; {rule}"
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    return source.fault(path, rule, value)
