"""The keys of the job file in the terminal and as JSON."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from rich.console import Console
from rich.text import Text

from sim.job.key_table import Key, KeySection

_INDENT = " " * 4
_WIDEST = 96
_HOW_TO_READ = (
    "Each key is listed with its other units; bounds are in the unit of the first. A profile is "
    "what use takes from the shelf; without one, what it gives must be written."
)


def print_keys(sections: tuple[KeySection, ...], console: Console) -> None:
    """Each section with its keys: other units, what a key takes, what it means."""
    width = min(console.width, _WIDEST)
    console.print(Text(_wrapped(_HOW_TO_READ, width, "")), style="dim")
    console.print()
    for section in sections:
        console.print(Text(section.header), style="bold")
        console.print(Text(_wrapped(section.about, width, "")))
        for key in section.keys:
            console.print(Text(_wrapped(", ".join((key.name, *key.also)), width, "  ")))
            console.print(Text(_wrapped(f"{key_sentence(key)} {key.meaning}", width, _INDENT)))
        console.print()


def key_sentence(key: Key) -> str:
    """What a key takes, and whether it may be left out, as one sentence."""
    taken = "; ".join(_takes(key.takes))
    if key.by_profile:
        rest = "a profile gives it" if key.must else f"a profile may give it{_default(key)}"
    elif key.must:
        rest = "must be given"
    else:
        rest = "may be left out" + _default(key)
    sentence = f"{taken}; {rest}."
    return sentence[0].upper() + sentence[1:]


def keys_json(sections: tuple[KeySection, ...]) -> dict[str, Any]:
    """The same as plain data."""
    return {"sections": [asdict(section) for section in sections]}


def _wrapped(text: str, width: int, indent: str) -> str:
    return textwrap.fill(
        text,
        width,
        initial_indent=indent,
        subsequent_indent=indent,
        break_on_hyphens=False,
    )


def _default(key: Key) -> str:
    value = key.takes.get("default")
    return "" if value is None else f", then {written(value)}"


def written(value: Any) -> str:
    """A value as the job file writes it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(written(item) for item in value)}]"
    return f"{value:.10g}"


def _takes(takes: dict[str, Any]) -> Iterator[str]:
    """What a value may be; several where one of several will do."""
    if "anyOf" in takes:
        options = [next(iter(_takes(option))) for option in takes["anyOf"]]
        yield " or ".join(options)
    elif "const" in takes:
        yield written(takes["const"])
    elif "enum" in takes:
        *first, last = (written(item) for item in takes["enum"])
        yield f"{', '.join(first)} or {last}"
    elif takes["type"] in ("number", "integer"):
        yield ("whole number " if takes["type"] == "integer" else "") + _range(takes)
    elif takes["type"] == "boolean":
        yield "true or false"
    elif takes["type"] == "array":
        yield f"list of {next(iter(_takes(takes['items'])))}"
    elif takes["type"] == "object":
        yield "keys and values in braces"
    elif "examples" in takes:
        yield f"text such as {' or '.join(written(item) for item in takes['examples'])}"
    else:
        yield "text"


def _range(takes: dict[str, Any]) -> str:
    """From the least to the most."""
    most = written(takes["maximum"])
    if "exclusiveMinimum" in takes:
        return f"more than {written(takes['exclusiveMinimum'])}, up to {most}"
    return f"{written(takes['minimum'])} to {most}"
