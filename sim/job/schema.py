"""The job file as a JSON Schema, made from the models: what an editor needs to help with it.

The draft is 7, which every editor with TOML support reads.
"""

from __future__ import annotations

import ast
import inspect
import io
import json
import sys
import tokenize
from collections.abc import Iterator
from functools import cache
from types import ModuleType
from typing import Any, get_args

from sim.job import shelf
from sim.job.model.appliance_base import ApplianceBase
from sim.job.model.appliances import APPLIANCE_KINDS
from sim.job.model.fields import JobSection, Unit, entry_keys
from sim.job.model.job import SEVERAL, Job
from sim.job.reading.expected import parts_in
from sim.job.reading.faults import SHELF_OF

# The name of the file that `begin` and `demo` write, and the line that points an editor to it.
SCHEMA_FILE = "nightledger.schema.json"
SCHEMA_LINE = f"#:schema ./{SCHEMA_FILE}\n"

_DRAFT = "http://json-schema.org/draft-07/schema#"
_BOUNDS = ("minimum", "maximum", "exclusiveMinimum", "exclusiveMaximum")
# Comments that speak to a tool, not to a reader.
_TO_TOOLS = ("type:", "fmt:", "noqa")


def job_schema() -> dict[str, Any]:
    """A JSON Schema of the job file: keys with units, bounds, defaults, meanings, and profiles.

    What must hold between sections is not in it; `load_job` checks that.

    Returns
    -------
    dict
        Plain data, ready for JSON.
    """
    raw = Job.model_json_schema()
    parts = {part.__name__: part for part in parts_in(Job)}
    definitions = {
        name: _section(parts[name], raw["$defs"][name]) for name in parts if name in raw["$defs"]
    }
    root = _section(Job, raw)
    return {"$schema": _DRAFT, "title": "Nightledger job file", **root, "definitions": definitions}


def schema_text() -> str:
    """`job_schema` as the text of a file."""
    return json.dumps(job_schema(), indent=1, ensure_ascii=False) + "\n"


@cache
def plain_keys(part: type[JobSection]) -> dict[str, dict[str, Any]]:
    """The keys of one section as the model has them, each with its schema.

    Parameters
    ----------
    part : type of JobSection

    Returns
    -------
    dict
        From keys to JSON Schemas with ``description`` and, where there is one, ``default``.
    """
    return _properties(part, part.model_json_schema())


@cache
def meanings(part: type[JobSection]) -> dict[str, str]:
    """What each key of a section means: the comment above it, and the one behind it.

    Parameters
    ----------
    part : type of JobSection

    Returns
    -------
    dict
        From keys to sentences; a key without a comment is left out.
    """
    found: dict[str, str] = {}
    for base in reversed(part.__mro__):
        if issubclass(base, JobSection) and base is not JobSection:
            found |= _comments(sys.modules[base.__module__]).get(base.__qualname__, {})
    return {key: text for key, text in found.items() if key in part.model_fields}


def profiles_of(part: type[JobSection]) -> dict[str, dict[str, Any]]:
    """The profiles of the shelf that a section may take with ``use``: names and values."""
    if issubclass(part, ApplianceBase):
        section = "appliances"
        kind = next((kind for kind, held in APPLIANCE_KINDS.items() if held is part), None)
    else:
        entries = {key: Job.model_fields[key].annotation for key in SHELF_OF}
        homes = [key for key, held in entries.items() if part is held or part in get_args(held)]
        section, kind = SHELF_OF.get(homes[0], "") if homes else "", None
    if not section:
        return {}
    found = {name: shelf.profile(section, name).values for name in shelf.names(section)}
    return {name: values for name, values in found.items() if kind in (None, values.get("kind"))}


@cache
def _comments(module: ModuleType) -> dict[str, dict[str, str]]:
    """Comments above and behind the fields of a module's classes, as sentences."""
    source = inspect.getsource(module)
    said: dict[int, str] = {}
    alone = set()
    for token in tokenize.generate_tokens(io.StringIO(source).readline):
        if token.type == tokenize.COMMENT:
            text = token.string.lstrip("# ").strip()
            said[token.start[0]] = "" if text.startswith(_TO_TOOLS) else text
            if not token.line[: token.start[1]].strip():
                alone.add(token.start[0])
    found: dict[str, dict[str, str]] = {}
    for section in ast.parse(source).body:
        if isinstance(section, ast.ClassDef):
            found[section.name] = dict(_of_fields(section, said, alone))
    return found


def _of_fields(
    section: ast.ClassDef, said: dict[int, str], alone: set[int]
) -> Iterator[tuple[str, str]]:
    """The fields of a class that have a comment, each with it."""
    for node in section.body:
        if not isinstance(node, ast.AnnAssign) or not isinstance(node.target, ast.Name):
            continue
        first = node.lineno
        while first - 1 in alone:
            first -= 1
        lines = range(first, (node.end_lineno or node.lineno) + 1)
        if text := " ".join(said[line] for line in lines if said.get(line)):
            yield node.target.id, text[0].upper() + text[1:].rstrip(".") + "."


def _section(part: type[JobSection], raw: dict[str, Any]) -> dict[str, Any]:
    """The schema of one section, with every form of its keys."""
    profiles = profiles_of(part)
    properties: dict[str, Any] = {}
    for key, entry in _properties(part, raw).items():
        if key == "use":
            entry = {**entry, "enum": list(profiles)}
        properties[key] = entry
        for other, unit in entry_keys(key).items():
            properties[other] = _in_unit(entry, unit) | {
                "description": f"{entry.get('description', '')} Written in place of {key}.".strip()
            }
    made = {
        "type": "object",
        "description": raw.get("description", "").split("\n\n")[0].replace("\n", " "),
        "properties": properties,
        "additionalProperties": False,
    }
    return made | _needed(raw.get("required", []), profiles)


def _needed(required: list[str], profiles: dict[str, dict[str, Any]]) -> dict[str, Any]:
    """Which keys must be there: always, or where no profile may bring them."""
    brought = {key for values in profiles.values() for key in values}
    always = [key for key in required if key not in brought]
    plain = [key for key in always if not entry_keys(key)]
    rules = [_one_form(key) for key in always if entry_keys(key)]
    own = [_one_form(key) for key in required if key in brought]
    if own:
        rules.append({"anyOf": [{"required": ["use"]}, {"allOf": own}]})
    return ({"required": plain} if plain else {}) | ({"allOf": rules} if rules else {})


def _one_form(key: str) -> dict[str, Any]:
    """That a key is there, in any of its units."""
    forms = [{"required": [form]} for form in (key, *entry_keys(key))]
    return forms[0] if len(forms) == 1 else {"anyOf": forms}


def _properties(part: type[JobSection], raw: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """The keys of a section as the model has them, cleaned and explained."""
    said = meanings(part)
    found = {}
    for key, entry in raw["properties"].items():
        entry = _cleaned(entry)
        if part is Job and key in SEVERAL:
            entry = {"anyOf": [entry["items"], entry]}
        if key in said:
            entry["description"] = said[key]
        found[key] = entry
    return found


def _cleaned(entry: Any) -> Any:
    """A schema without titles, nulls and defaults that say nothing; references as draft 7 has."""
    if isinstance(entry, list):
        return [_cleaned(item) for item in entry]
    if not isinstance(entry, dict):
        return entry
    kept = {key: item for key, item in entry.items() if key not in ("title", "discriminator")}
    if kept.get("default") in (None, []) or isinstance(kept.get("default"), dict):
        kept.pop("default", None)
    options = [item for item in kept.get("anyOf", ()) if item != {"type": "null"}]
    if len(options) == 1:
        del kept["anyOf"]
        kept = {**options[0], **kept}
    elif options:
        kept["anyOf"] = options
    if "$ref" in kept:
        # Beside a reference draft 7 reads nothing else.
        where = kept.pop("$ref").replace("#/$defs/", "#/definitions/")
        kept = {"allOf": [{"$ref": where}], **kept} if kept else {"$ref": where}
    return {
        key: item if key in ("default", "enum", "const", "examples") else _cleaned(item)
        for key, item in kept.items()
    }


def _in_unit(entry: dict[str, Any], unit: Unit) -> dict[str, Any]:
    """A key's schema in another unit."""
    made = dict(entry)
    for key in (*_BOUNDS, "default"):
        if isinstance(made.get(key), (int, float)):
            made[key] = round(unit.from_si(float(made[key])), 4)
    if "anyOf" in made:
        made["anyOf"] = [_in_unit(option, unit) for option in made["anyOf"]]
    return made
