"""Which line of a TOML text a key stands on: the parser keeps values, not their lines."""

from __future__ import annotations

import re
import tomllib

Path = tuple[str | int, ...]

_HEADER = re.compile(r"\s*(\[\[?)\s*([^\[\]]+?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"""\s*((?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')(?:\s*\.\s*[A-Za-z0-9_-]+)*)\s*=""")
_LONG_TEXT = re.compile(r'"""|' + "'''")


def key_lines(text: str) -> dict[Path, int]:
    """Map every key and table header of a TOML text to its line.

    Parameters
    ----------
    text : str
        A TOML document.

    Returns
    -------
    dict
        From paths such as ``("trips", 0, "stops", 1, "nights")`` to lines counted from 1.
        Keys inside inline tables are found through the key that holds them, see `line_of`.
    """
    lines: dict[Path, int] = {}
    counts: dict[Path, int] = {}
    table: Path = ()
    inside_text = False
    for number, line in enumerate(text.splitlines(), 1):
        if inside_text or len(_LONG_TEXT.findall(line)) % 2:
            was_inside = inside_text
            inside_text ^= bool(len(_LONG_TEXT.findall(line)) % 2)
            if was_inside:
                continue
        if header := _HEADER.match(line):
            table = _enter(header[2], header[1] == "[[", counts)
            lines[table] = number
        elif key := _KEY.match(line):
            lines.setdefault(table + _parts(key[1]), number)
    return lines


def line_of(lines: dict[Path, int], path: Path) -> int | None:
    """The line of a key, or of the nearest table or key that holds it."""
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return None


def _parts(dotted: str) -> tuple[str, ...]:
    """``a."b c".d`` to its parts, with TOML's own rules for quotes."""
    try:
        value = tomllib.loads(f"{dotted} = 0")
    except tomllib.TOMLDecodeError:
        return (dotted,)
    parts = []
    while isinstance(value, dict):
        key, value = next(iter(value.items()))
        parts.append(key)
    return tuple(parts)


def _enter(dotted: str, is_item: bool, counts: dict[Path, int]) -> Path:
    """The path a header opens; items of an array of tables are counted from 0."""
    path: Path = ()
    names = _parts(dotted)
    for depth, name in enumerate(names):
        path = (*path, name)
        if is_item and depth == len(names) - 1:
            counts[path] = counts.get(path, -1) + 1
        if path in counts:
            path = (*path, counts[path])
    return path
