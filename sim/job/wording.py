"""Faults of a job file in a builder's words: what stands there, what would be right."""

from __future__ import annotations

import difflib
import types
from collections.abc import Iterator
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from sim.errors import Fault, join_or
from sim.job.fields import ENTRY_UNITS, Part, Unit
from sim.job.lines import Path, line_of
from sim.job.model import Job, appliance_class

_SAID_IN_FULL = {"nightledger"}
_LENGTH_ERRORS = {"too_short", "too_long", "string_too_short", "string_too_long"}


def path_text(path: Path) -> str:
    """``trips[2].stops[1].place`` from a path; list positions count from 1."""
    text = ""
    for part in path:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else part
    return text


def faults_of(
    error: ValidationError,
    raw: dict[str, Any],
    renamed: dict[Path, str],
    lines: dict[Path, int],
    file: str,
) -> Iterator[Fault]:
    """One fault per error pydantic found.

    Parameters
    ----------
    error : ValidationError
        From validating `Job`.
    raw : dict
        What was validated: profiles merged in, units converted.
    renamed : dict
        Path of each key that was converted -> the key the user wrote.
    lines : dict
        From `key_lines`.
    file : str
        Name of the job file.
    """
    for detail in error.errors(include_url=False):
        path = _without_tags(detail["loc"], raw)
        owner, name = _owner(path, raw)
        unit = None
        written = path
        if path in renamed:
            written = (*path[:-1], renamed[path])
            unit = _unit_of(renamed[path])
        fault = Fault(
            rule=_rule(detail, owner, name, unit),
            file=file,
            line=line_of(lines, written),
            key=path_text(written),
        )
        if detail["type"] != "missing" and not isinstance(detail["input"], (dict, tuple)):
            value = detail["input"]
            if unit and isinstance(value, float):
                value = round(unit.from_si(value), 6)
            fault = Fault(fault.rule, fault.file, fault.line, fault.key, value)
        yield fault


def expected(cls: type[Part], name: str, unit: Unit | None = None) -> str:
    """What a key takes, as in ``a number from 1.5 to 15``."""
    field = cls.model_fields[name]
    return _expected(field.annotation, list(field.metadata), unit)


def nearest(word: str, words: list[str]) -> str | None:
    """The most similar of `words`, or None when none is close."""
    found = difflib.get_close_matches(word[:80], words, n=1, cutoff=0.6)
    return found[0] if found else None


def _without_tags(loc: tuple[int | str, ...], raw: dict[str, Any]) -> Path:
    # pydantic puts the appliance's kind into the location: appliances, 0, 'steady', 'watts'
    if len(loc) > 2 and loc[0] == "appliances" and isinstance(loc[1], int):
        return (*loc[:2], *loc[3:])
    return loc


def _owner(path: Path, raw: dict[str, Any]) -> tuple[type[Part] | None, str]:
    """The model whose key the path's last name is, and that name."""
    names = [part for part in path if isinstance(part, str)]
    if not names:
        return None, ""
    cls: type[Part] | None = Job
    for name in names[:-1]:
        if cls is None:
            break
        cls = _part_of(cls, name)
    if len(path) > 2 and path[0] == "appliances" and isinstance(path[1], int):
        cls = appliance_class(raw["appliances"][path[1]].get("kind"))
    return cls, names[-1]


def _part_of(cls: type[Part], name: str) -> type[Part] | None:
    field = cls.model_fields.get(name)
    return next(_parts_in(field.annotation), None) if field else None


def _parts_in(annotation: Any) -> Iterator[type[Part]]:
    if isinstance(annotation, type) and issubclass(annotation, Part):
        yield annotation
    for argument in get_args(annotation):
        yield from _parts_in(argument)


def _rule(detail: ErrorDetails, owner: type[Part] | None, name: str, unit: Unit | None) -> str:
    kind = detail["type"]
    if kind in _SAID_IN_FULL:
        return detail["msg"]
    if kind == "union_tag_not_found":
        return "say what it is: take a profile with use, or give its kind"
    if kind == "union_tag_invalid":
        return f"give one of {detail['ctx']['expected_tags']}"
    if kind == "extra_forbidden":
        near = nearest(name, list(owner.model_fields)) if owner else None
        return f"no such key here; did you mean {near}?" if near else "no such key here"
    known = owner is not None and name in owner.model_fields
    what = expected(owner, name, unit) if known and owner else "something else"
    if kind == "missing":
        return f"this key is missing; give {what}"
    if kind in _LENGTH_ERRORS:
        return f"give {what}"
    return f"must be {what}"


def _expected(annotation: Any, metadata: list[Any], unit: Unit | None) -> str:
    if get_origin(annotation) is Annotated:
        inner, *more = get_args(annotation)
        return _expected(inner, metadata + more, unit)
    if get_origin(annotation) in (Union, types.UnionType):
        real = [arg for arg in get_args(annotation) if arg is not type(None)]
        if len(real) == 1:
            return _expected(real[0], metadata, unit)
    if get_origin(annotation) is Literal:
        words = get_args(annotation)
        return join_or(f'"{word}"' if isinstance(word, str) else str(word) for word in words)
    limits = _limits(metadata, unit)
    if annotation is bool:
        return "true or false"
    if annotation is int:
        return "a whole number" + limits
    if annotation is float:
        return "a number" + limits
    if annotation is str:
        return "text in quotes" + (" of reasonable length" if "max_length" in str(metadata) else "")
    if get_origin(annotation) is tuple:
        return "a list with at least one entry"
    if next(_parts_in(annotation), None):
        return "a section of its own"
    return _OTHER.get(getattr(annotation, "__name__", ""), "a value of the right kind")


_OTHER = {
    "date": "a date such as 2027-01-09",
    "Place": 'a town such as "Moab, UT" or a coordinate such as "38.57, -109.55"',
}


def _limits(metadata: list[Any], unit: Unit | None) -> str:
    low = high = None
    above = False
    # pydantic keeps bounds as annotated_types members, inside FieldInfo when nested
    for item in (member for entry in metadata for member in getattr(entry, "metadata", [entry])):
        if hasattr(item, "ge"):
            low = item.ge
        if hasattr(item, "gt"):
            low, above = item.gt, True
        if hasattr(item, "le"):
            high = item.le
    if unit:
        low, high = (None if x is None else round(unit.from_si(x), 1) for x in (low, high))
    if low is None or high is None:
        return ""
    if above:
        return f" above {low:g}, at most {high:g}"
    return f" from {low:g} to {high:g}"


def _unit_of(key: str) -> Unit | None:
    return next((unit for unit in ENTRY_UNITS if key.endswith(unit.suffix)), None)
