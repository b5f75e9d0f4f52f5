"""What a key of a job file takes, in a builder's words, read from the model itself."""

from __future__ import annotations

import math
import types
from collections.abc import Iterator
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from sim.errors import join_or
from sim.job.model.appliances import APPLIANCE_KINDS
from sim.job.model.fields import JobSection, Unit, entry_keys
from sim.job.model.job import Job


def parts_in(part: type[JobSection]) -> Iterator[type[JobSection]]:
    """The sections that a section holds, at any depth, itself included."""
    yield part
    for field in part.model_fields.values():
        for inner in held_sections(field.annotation):
            yield from parts_in(inner)


def held_sections(annotation: Any) -> Iterator[type[JobSection]]:
    """The sections that a key takes."""
    if isinstance(annotation, type) and issubclass(annotation, JobSection):
        yield annotation
    for argument in get_args(annotation):
        yield from held_sections(argument)


def is_list(annotation: Any) -> bool:
    """Whether a key takes a list."""
    return get_origin(annotation) is tuple or any(map(is_list, get_args(annotation)))


def listed(words: Any) -> str:
    """Words as a sentence offers them: ``"a", "b" or "c"``."""
    return join_or(f'"{word}"' if isinstance(word, str) else str(word) for word in words)


def words_of(annotation: Any) -> tuple[Any, ...]:
    """The words that a list may hold, empty where it holds something else."""
    if get_origin(annotation) is Annotated:
        return words_of(get_args(annotation)[0])
    if get_origin(annotation) is tuple and get_origin(get_args(annotation)[0]) is Literal:
        return get_args(get_args(annotation)[0])
    return ()


def expected(owner: type[JobSection], name: str, unit: Unit | None = None) -> str:
    """What a key of a section takes, as in ``a number from 1.5 to 15``."""
    field = owner.model_fields[name]
    if holds_sections(owner, name):
        return "a list of sections with their keys" if is_list(field.annotation) else "a section"
    return _expected(field.annotation, list(field.metadata), unit)


def expected_by(key: str) -> str | None:
    """What a key takes wherever it is written; `None` where that is not one thing."""
    said = {
        expected(part, name, entry_keys(name).get(key))
        for part in (*parts_in(Job), *APPLIANCE_KINDS.values())
        for name in part.model_fields
        if key == name or key in entry_keys(name)
    }
    return said.pop() if len(said) == 1 else None


def holds_sections(owner: type[JobSection], name: str) -> bool:
    """Whether a key of a section is a section itself, or a list of them."""
    return next(held_sections(owner.model_fields[name].annotation), None) is not None


def _expected(annotation: Any, metadata: list[Any], unit: Unit | None = None) -> str:
    origin = get_origin(annotation)
    if origin is Annotated:
        inner, *more = get_args(annotation)
        return _expected(inner, metadata + more, unit)
    if origin in (Union, types.UnionType):
        real = [arg for arg in get_args(annotation) if arg is not type(None)]
        return _expected(real[0], metadata, unit)
    if origin is Literal:
        return listed(get_args(annotation))
    if origin is tuple:
        if words := words_of(annotation):
            return f'a list of {listed(words)}, such as ["{words[0]}"]'
        return 'a list such as ["18:00-22:30"]'
    limits = _limits(metadata, unit)
    return {
        bool: "true or false",
        int: "a whole number" + limits,
        float: "a number" + limits,
        str: "text in quotes",
    }.get(annotation, _OTHER.get(getattr(annotation, "__name__", ""), "another kind of value"))


_OTHER = {
    "date": "a date such as 2027-01-09",
    "Place": 'a town such as "Moab, UT" or a coordinate such as "38.57, -109.55"',
}


def _limits(metadata: list[Any], unit: Unit | None) -> str:
    low = high = None
    # pydantic keeps bounds as annotated_types members, inside FieldInfo when nested
    for item in (member for entry in metadata for member in getattr(entry, "metadata", [entry])):
        low = getattr(item, "ge", low)
        high = getattr(item, "le", high)
    if low is None or high is None:
        return ""
    if unit:
        # Rounded inwards: what the sentence allows is allowed.
        low = math.ceil(unit.from_si(low) * 10 - 1e-6) / 10
        high = math.floor(unit.from_si(high) * 10 + 1e-6) / 10
    return f" from {low:.10g} to {high:.10g}"
