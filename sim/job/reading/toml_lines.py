"""The line of everything in a TOML text: the parser keeps values, not their lines."""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_left
from dataclasses import dataclass, field

Path = tuple[str | int, ...]

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_PART = r"""(?:[A-Za-z0-9_-]+|"(?:[^"\\]|\\.)*"|'[^']*')"""
_KEY = re.compile(rf"{_PART}(?:[ \t]*\.[ \t]*{_PART})*")
_TEXT = re.compile(
    r'"""(?:\\.|[^\\])*?"""(?:"{0,2})'
    r"|'''.*?'''(?:'{0,2})"
    r'|"(?:[^"\\]|\\.)*"'
    r"|'[^']*'",
    re.DOTALL,
)
_PLAIN = re.compile(r"[^,\]}\n#]*")


def key_lines(text: str) -> dict[Path, int]:
    """Map every key, table header and list entry of a TOML text to its line.

    Parameters
    ----------
    text : str
        A TOML document that the parser has accepted.

    Returns
    -------
    dict
        From paths such as ``("trips", 0, "stops", 1, "nights")`` to lines counted from 1.
    """
    scan = _Scan(text, [at for at, letter in enumerate(text) if letter == "\n"])
    table: Path = ()
    while scan.skip() < len(text):
        if text[scan.at] == "[":
            is_item = text.startswith("[[", scan.at)
            scan.at += 1 + is_item
            table = scan.enter(is_item)
            scan.at += 1 + is_item
        else:
            scan.pair(table)
    return scan.lines


def line_of(lines: dict[Path, int], path: Path) -> int | None:
    """The line of a key, or of the nearest table or key that holds it."""
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return None


@dataclass
class _Scan:
    """A walk through a TOML text.

    Attributes
    ----------
    text : str
    breaks : list of int
        Where the line breaks stand.
    at : int
        Where the walk has come to.
    lines : dict
        What it has found.
    counts : dict
        Index of the last entry of each array of tables.
    """

    text: str
    breaks: list[int]
    at: int = 0
    lines: dict[Path, int] = field(default_factory=dict)
    counts: dict[Path, int] = field(default_factory=dict)

    def skip(self) -> int:
        """Pass blanks, line breaks and comments."""
        return self.past(_BLANK)

    def past(self, pattern: re.Pattern[str]) -> int:
        """Pass what the pattern matches here, if it does."""
        if match := pattern.match(self.text, self.at):
            self.at = match.end()
        return self.at

    def note(self, path: Path) -> None:
        """This line is where a key, and each table it opens on the way, is written."""
        line = bisect_left(self.breaks, self.at) + 1
        for length in range(1, len(path) + 1):
            self.lines.setdefault(path[:length], line)

    def name(self) -> tuple[str, ...]:
        """Pass a key with its dots and quotes; its parts."""
        self.skip()
        start = self.at
        return _parts(self.text[start : self.past(_KEY)])

    def enter(self, is_item: bool) -> Path:
        """Pass a table's header up to its bracket; the path of the table."""
        path: Path = ()
        names = self.name()
        for depth, name in enumerate(names):
            path = (*path, name)
            if is_item and depth == len(names) - 1:
                self.counts[path] = self.counts.get(path, -1) + 1
            if path in self.counts:
                path = (*path, self.counts[path])
        self.note(path)
        self.skip()
        return path

    def pair(self, table: Path) -> None:
        """Pass ``key = value``."""
        path = table + self.name()
        self.note(path)
        self.skip()
        self.at += 1
        self.value(path)

    def value(self, path: Path) -> None:
        """Pass a value and note what is inside it."""
        self.skip()
        opening = self.text[self.at : self.at + 1]
        if opening == "[":
            self.inside("]", path, is_list=True)
        elif opening == "{":
            self.inside("}", path, is_list=False)
        else:
            self.past(_TEXT if opening in ('"', "'") else _PLAIN)

    def inside(self, closing: str, path: Path, *, is_list: bool) -> None:
        """Pass a list or an inline table, brackets included."""
        self.at += 1
        index = 0
        while self.text[self.skip()] != closing:
            if self.text[self.at] == ",":
                self.at += 1
                index += 1
            elif is_list:
                self.note((*path, index))
                self.value((*path, index))
            else:
                self.pair(path)
        self.at += 1


def _parts(dotted: str) -> tuple[str, ...]:
    """``a."b c".d`` to its parts."""
    if '"' not in dotted and "'" not in dotted:
        return tuple(part.strip() for part in dotted.split("."))
    value = tomllib.loads(f"{dotted} = 0")
    parts = []
    while isinstance(value, dict):
        key, value = next(iter(value.items()))
        parts.append(key)
    return tuple(parts)
