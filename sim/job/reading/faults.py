"""Faults of a job file in a builder's words: what was found, what would be right."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from sim.errors import Fault, shown
from sim.job import shelf
from sim.job.model.appliances import APPLIANCE_KINDS
from sim.job.model.fields import JobSection, Unit, entry_keys
from sim.job.model.job import SEVERAL, Job
from sim.job.reading.expected import expected, held_sections, is_list, listed, words_of
from sim.job.reading.toml_lines import Path, line_of

# Section of the job file -> section of the shelf that its `use` names.
SHELF_OF = {
    "van": "vans",
    "living": "days",
    "panels": "panels",
    "battery": "batteries",
    "appliances": "appliances",
}
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]{1,40}")
# Nobody corrects more at a time.
MOST_FAULTS = 100
# So many missing keys of a section are one fault: it lacks its profile.
_LACKS_PROFILE = 3
_ADD_ONE = {
    "trips": "the job has no trip; add a [[trips]] section with name, depart and [[trips.stops]]",
    "stops": "this trip has no stop; add a [[trips.stops]] section with place and nights",
}


@dataclass(frozen=True)
class Source:
    """A job file as it was written, to find the line of a fault.

    Attributes
    ----------
    file : str
        Its name.
    lines : dict
        From `key_lines`.
    written : dict
        Path of each key whose unit was converted -> the key and the value as written.
    """

    file: str
    lines: dict[Path, int]
    written: dict[Path, tuple[str, Any]]

    def fault(self, path: Path, rule: str, *value: Any) -> Fault:
        """What is wrong at a path, with the value as it was written if one is given."""
        if path in self.written:
            key, as_written = self.written[path]
            path = (*path[:-1], key)
            value = (as_written,) if value else ()
        # A list or section is no value to print.
        value = tuple(x for x in value if not isinstance(x, (dict, list, tuple)))
        return Fault(rule, self.file, line_of(self.lines, path), path_text(path), *value)

    def has(self, path: Path) -> bool:
        """Whether a key is in the file itself, not only in a profile or a default."""
        if path in self.written:
            path = (*path[:-1], self.written[path][0])
        return path in self.lines


def path_text(path: Path) -> str:
    """``trips[2].stops[1].place`` from a path; list positions count from 1."""
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            name = part if _BARE_KEY.fullmatch(part) else shown(part, 40)
            text += f".{name}" if text else name
    return text


def faults_of(
    error: ValidationError, raw: dict[str, Any], source: Source, unsettled: set[Path]
) -> Iterator[Fault]:
    """One fault per thing that pydantic found wrong.

    Parameters
    ----------
    error : ValidationError
        From validating `Job`.
    raw : dict
        What was validated: profiles merged in, units converted.
    source : Source
        What was written.
    unsettled : set of Path
        Sections whose profile was not found: what they lack is not known.
    """
    found = [
        (_as_written(item["loc"], raw), item)
        for item in error.errors(include_url=False)
        # A list whose entries are wrong is not too short as well.
        if item["type"] != "too_short" or not item["input"]
    ]
    # Near names are slow to find, and nobody reads the thousandth.
    found = sorted(found, key=lambda x: line_of(source.lines, x[0]) or 0)[: MOST_FAULTS + 1]
    strange = {
        path: _nearest(path, raw) for path, item in found if item["type"] == "extra_forbidden"
    }
    # A key that was misspelled or misplaced is not missing too.
    meant = {path for _, path in strange.values() if path}
    lacking: dict[Path, list[str]] = {}
    for path, item in found:
        if item["type"] == "missing" and path not in meant:
            lacking.setdefault(path[:-1], []).append(str(path[-1]))
    for path, item in found:
        section = path[:-1]
        if item["type"] == "missing":
            if path in meant or section in unsettled:
                continue
            if _lacks_profile(section, raw, lacking[section]):
                if path[-1] == lacking[section][0]:
                    yield source.fault(section, _no_profile(section, lacking[section]))
                continue
        if item["type"] == "union_tag_not_found" and path in unsettled:
            continue
        yield _fault(path, item, raw, source, strange.get(path, ("", None))[0])


def _fault(path: Path, item: ErrorDetails, raw: dict[str, Any], source: Source, hint: str) -> Fault:
    kind, value = item["type"], item["input"]
    owner, name = _owner(path, raw)
    if kind == "nightledger":
        return source.fault(path, item["msg"], value)
    if kind == "union_tag_not_found":
        rule = 'say what it is: use = with a profile, such as "fridge-dc", or kind = with one of '
        return source.fault(path, rule + listed(APPLIANCE_KINDS))
    if kind == "union_tag_invalid":
        rule = f"must be {listed(APPLIANCE_KINDS)}"
        return source.fault((*path, "kind"), rule, value.get("kind"))
    if kind == "extra_forbidden" or owner is None or name not in owner.model_fields:
        return source.fault(path, f"no such {_noun(value)} here{hint}", value)
    if kind == "missing":
        return source.fault(path, _missing(path, owner, name))
    if kind in ("too_short", "string_too_short", "too_long", "string_too_long"):
        return source.fault(path, _length(name, item), value)
    unit = entry_keys(name).get(source.written.get(path, ("",))[0])
    rule = "must be " + _expected_at(path, owner, name, unit)
    return source.fault(path, rule + _slip(owner, name, value), value)


def _noun(value: Any) -> str:
    is_section = isinstance(value, dict) or (
        isinstance(value, tuple) and value and all(isinstance(x, dict) for x in value)
    )
    return "section" if is_section else "key"


def _homes(
    part: type[JobSection], section: tuple[str, ...]
) -> Iterator[tuple[tuple[str, ...], str]]:
    """Every section with each key written in it."""
    for name, field in part.model_fields.items():
        inner = list(held_sections(field.annotation))
        if not inner:
            yield section, name
        for below in inner:
            yield from _homes(below, (*section, name))


def _as_written(loc: tuple[int | str, ...], raw: dict[str, Any]) -> Path:
    # A section written once, where several may be, has no number: alternator, 0, 'dcdc_amps'
    if len(loc) > 1 and loc[0] in SEVERAL and isinstance(raw.get(str(loc[0])), dict):
        return (loc[0], *loc[2:])
    # pydantic puts the appliance's kind into the location: appliances, 0, 'steady', 'watts'
    if len(loc) > 2 and loc[0] == "appliances" and isinstance(loc[1], int):
        return (*loc[:2], *loc[3:])
    return loc


def _owner(path: Path, raw: dict[str, Any]) -> tuple[type[JobSection] | None, str]:
    """The model whose key the path's last name is, and that name."""
    names = [part for part in path if isinstance(part, str)]
    cls: type[JobSection] | None = Job
    for name in names[:-1]:
        field = cls.model_fields.get(name) if cls else None
        cls = next(held_sections(field.annotation), None) if field else None
    if len(path) > 2 and path[0] == "appliances" and isinstance(path[1], int):
        cls = APPLIANCE_KINDS.get(raw["appliances"][path[1]].get("kind"))
    return cls, names[-1] if names else ""


def _nearest(path: Path, raw: dict[str, Any]) -> tuple[str, Path | None]:
    """For an unknown key: the end of a sentence that helps, and the path that was meant."""
    owner, name = _owner(path, raw)
    plain = name[:80].lower().replace("-", "_").replace(" ", "_")
    here = _section(path)
    homes = [home for home in _HOMES if plain in _HOMES[home] and home != here]
    # Of several, the one inside the section it was written in is meant.
    homes = [home for home in homes if home[: len(here)] == here] or homes
    if len(homes) == 1 and (owner is None or plain not in owner.model_fields):
        home = homes[0]
        if not home:
            return f"; {plain} belongs at the top of the file, above the first [section]", (plain,)
        is_one = len(home) == 1 and not _header(home).startswith("[[")
        return f"; it belongs into {_header(home)}", (*home, plain) if is_one else None
    if len(path) > 1 and plain in Job.model_fields:
        return f"; {_header((plain,))} is a section of its own", (plain,)
    if owner is not None:
        words = {field: field for field in owner.model_fields}
        words |= {entry: field for field in owner.model_fields for entry in entry_keys(field)}
        near = difflib.get_close_matches(plain, words, n=1, cutoff=0.65)
        if near:
            key = (*_section(path), near[0])
            said = _header(key) if key in _HOMES else near[0]
            return f"; did you mean {said}?", (*path[:-1], words[near[0]])
    return "", None


def _section(path: Path) -> tuple[str, ...]:
    """The names of the section that holds a path's last name."""
    return tuple(part for part in path if isinstance(part, str))[:-1]


def _header(path: Path) -> str:
    """The line that opens a section: ``[van]`` or ``[[trips.stops]]``."""
    names = [part for part in path if isinstance(part, str)]
    cls: type[JobSection] = Job
    annotation: Any = None
    for name in names:
        annotation = cls.model_fields[name].annotation
        cls = next(held_sections(annotation), cls)
    return f"[[{'.'.join(names)}]]" if is_list(annotation) else f"[{'.'.join(names)}]"


def _lacks_profile(section: Path, raw: dict[str, Any], keys: list[str]) -> bool:
    if not section or section[0] not in SHELF_OF or len(keys) < _LACKS_PROFILE:
        return False
    part = raw[section[0]][section[1]] if len(section) > 1 else raw[section[0]]
    return "use" not in part and section[0] != "appliances"


def _no_profile(section: Path, keys: list[str]) -> str:
    names = listed(shelf.names(SHELF_OF[str(section[0])]))
    return f"{', '.join(keys)} are missing: give them, or take a profile with use = {names}"


def _missing(path: Path, owner: type[JobSection], name: str) -> str:
    if name in _ADD_ONE:
        return _ADD_ONE[name]
    if owner is Job and name in SHELF_OF:
        names = listed(shelf.names(SHELF_OF[name]))
        return f"this section is missing: write {_header(path)} and below it use = {names}"
    return f"this key is missing; give {_expected_at(path, owner, name, None)}"


def _length(name: str, item: ErrorDetails) -> str:
    is_text = isinstance(item["input"], str)
    if item["type"].endswith("too_short"):
        return "must not be empty" if is_text else _ADD_ONE.get(name, "must have an entry")
    what = "characters" if is_text else "entries"
    return f"must have at most {item['ctx']['max_length']} {what}"


def _slip(owner: type[JobSection], name: str, value: Any) -> str:
    """What was probably meant, as the end of a sentence."""
    field = owner.model_fields[name]
    if next(held_sections(field.annotation), None):
        return ""
    what = expected(owner, name)
    if isinstance(value, str) and what.startswith(("a number", "a whole", "true")):
        return ", without quotes or a unit"
    if isinstance(value, (dict, tuple)):
        return ", not a list" if isinstance(value, tuple) else ", not a section"
    is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
    if what == "a number from 0 to 1" and is_number and 1 < value <= 100:
        return f"; {value:g} % is {value / 100:g}"
    return ""


def _expected_at(path: Path, owner: type[JobSection], name: str, unit: Unit | None) -> str:
    """What a key takes, as in ``a number from 1.5 to 15``."""
    field = owner.model_fields[name]
    if next(held_sections(field.annotation), None):
        header = _header(path)
        if header.startswith("[["):
            return f"a section of its own: write {header}, in double brackets, once for each"
        return f"a section: write {header}, in single brackets, once, and its keys below it"
    if isinstance(path[-1], int) and (words := words_of(field.annotation)):
        # One entry of a list of words.
        return listed(words)
    return expected(owner, name, unit)


_HOMES: dict[tuple[str, ...], set[str]] = {}
for _home, _key in _homes(Job, ()):
    _HOMES.setdefault(_home, set()).update((_key, *entry_keys(_key)))
