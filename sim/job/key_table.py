"""Every key of the job file as a table, made from the models: what `shelf --keys` shows."""

from __future__ import annotations

import difflib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, get_origin

from sim.errors import Fault, JobError, join_or
from sim.job.model.appliance_base import ApplianceBase
from sim.job.model.appliances import APPLIANCE_KINDS
from sim.job.model.fields import JobSection, entry_keys
from sim.job.model.job import SEVERAL, Job
from sim.job.reading.expected import held_sections
from sim.job.schema import meanings, plain_keys, profiles_of

TOP = "title and customer"


@dataclass(frozen=True)
class Key:
    """One key of the job file.

    Attributes
    ----------
    name : str
    also : tuple of str
        The keys under which it may be entered in another unit.
    takes : dict
        JSON Schema of its value, in the unit of `name`.
    must : bool
        It must be given.
    by_profile : bool
        A profile of the shelf may give it.
    meaning : str
    """

    name: str
    also: tuple[str, ...]
    takes: dict[str, Any]
    must: bool
    by_profile: bool
    meaning: str


@dataclass(frozen=True)
class KeySection:
    """One section of the job file with its keys.

    Attributes
    ----------
    names : tuple of str
        As one asks for it, such as ``trips.stops``; sections with the same keys together.
    header : str
        As the file writes it, such as ``[[trips.stops]]``.
    about : str
        What it is.
    keys : tuple of Key
    """

    names: tuple[str, ...]
    header: str
    about: str
    keys: tuple[Key, ...]


def key_sections(asked: str | None = None) -> tuple[KeySection, ...]:
    """The sections of the job file, in the order in which the models have them.

    Parameters
    ----------
    asked : str, optional
        Only this section, with those inside it; or a kind of appliance.

    Raises
    ------
    JobError
        No such section.
    """
    every = (_section((TOP,), "Top of the file", Job), *_within(Job, ""))
    if asked is None:
        return every
    plain = asked.strip().strip("[]").lower()
    found = tuple(
        section
        for section in every
        if any(name == plain or name.startswith(f"{plain}.") for name in section.names)
    )
    if not found:
        names = [name for section in every for name in section.names]
        near = difflib.get_close_matches(plain[:80], names, n=3, cutoff=0.5)
        hint = f"did you mean {join_or(near)}?" if near else "nightledger shelf --keys lists all"
        raise JobError(Fault(f"no such section of the job file; {hint}", key="NAME", value=asked))
    return found


def _within(part: type[JobSection], path: str) -> Iterator[KeySection]:
    """The sections inside one, each followed by its own."""
    done: dict[type[JobSection], list[str]] = {}
    for key, entry in part.model_fields.items():
        for inner in _held(entry.annotation):
            done.setdefault(inner, []).append(path + key)
    for inner, names in done.items():
        if inner is ApplianceBase:
            yield from _appliances()
            continue
        lists = _is_list(part, names[0].rpartition(".")[2])
        header = ", ".join(f"[[{name}]]" if lists else f"[{name}]" for name in names)
        if names[0] in SEVERAL:
            header = f"[{names[0]}] once, or [[{names[0]}]] several times"
        yield _section(tuple(names), header, inner)
        if len(names) == 1:
            yield from _within(inner, f"{names[0]}.")


def _appliances() -> Iterator[KeySection]:
    """What all appliances have, then what each kind has of its own."""
    shared = _section(("appliances",), "[[appliances]] of every kind", ApplianceBase)
    yield shared
    known = {(key.name, key.meaning) for key in shared.keys}
    for kind, part in APPLIANCE_KINDS.items():
        whole = _section((f"appliances.{kind}", kind), f'[[appliances]] kind = "{kind}"', part)
        own = tuple(
            key for key in whole.keys if key.name != "kind" and (key.name, key.meaning) not in known
        )
        yield KeySection(whole.names, whole.header, whole.about, own)


def _section(names: tuple[str, ...], header: str, part: type[JobSection]) -> KeySection:
    said = meanings(part)
    profiles = profiles_of(part)
    by_profile = {key for values in profiles.values() for key in values}
    taken = plain_keys(part)
    keys = tuple(
        Key(
            name=key,
            also=tuple(entry_keys(key)),
            takes=taken[key],
            must=entry.is_required(),
            by_profile=key in by_profile,
            meaning=said[key],
        )
        for key, entry in part.model_fields.items()
        if not tuple(_held(entry.annotation))
    )
    about = " ".join((part.__doc__ or "").split("\n\n")[0].split())
    return KeySection(names, header, about, keys)


def _held(annotation: Any) -> Iterator[type[JobSection]]:
    """The sections that a key holds, appliances as one."""
    found = dict.fromkeys(
        ApplianceBase if issubclass(part, ApplianceBase) else part
        for part in held_sections(annotation)
    )
    yield from found


def _is_list(part: type[JobSection], key: str) -> bool:
    return get_origin(part.model_fields[key].annotation) is tuple
