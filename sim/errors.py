"""The program's errors, all of which are the user's to mend.

    NightledgerError
    ├── JobError        the job file, or a profile it uses
    ├── PlaceError      a town or coordinate that cannot be found
    ├── WeatherError    a weather file, or a place without climate
    ├── LogError        a battery monitor's log that cannot be used
    └── OutputError     a folder or file that cannot be written

Every error carries one or more `Fault`s: file, line, key, value and the rule that was
broken. The command layer prints them, one line each, and exits with code 2; nothing else
in the program prints an error.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

_NOTHING = object()


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong, and what would be right.

    Attributes
    ----------
    rule : str
        What would be right, as the end of a sentence.
    file : str or None
        The file with the fault.
    line : int or None
        Line in that file, counted from 1.
    key : str or None
        The key, such as ``battery.capacity_ah`` or ``trips[2].stops[1].place``; list
        positions count from 1, as a reader counts.
    value : object
        What was found there; left out of the sentence when not given.
    """

    rule: str
    file: str | None = None
    line: int | None = None
    key: str | None = None
    value: Any = _NOTHING

    @property
    def has_value(self) -> bool:
        """Whether a value was found, `None` included."""
        return self.value is not _NOTHING

    def __str__(self) -> str:
        where = printable(self.file or "", 1000)
        if self.line is not None:
            where += f", line {self.line}" if where else f"line {self.line}"
        what = self.key or ""
        if what and self.has_value:
            what += f" = {shown(self.value)}"
        text = ": ".join(part for part in (where, what, self.rule) if part)
        return printable(text, len(text))


def shown(value: Any, limit: int = 60) -> str:
    """A value as the user wrote it, near enough, cut to `limit` characters."""
    if isinstance(value, str):
        text = as_typed(value)
        text = text if text.isprintable() else text.encode("unicode_escape").decode("ascii")
        return f'"{_cut(text, limit - 2)}"'
    return _cut(("true" if value else "false") if isinstance(value, bool) else str(value), limit)


def _cut(text: str, limit: int) -> str:
    return text if len(text) <= limit else text[: limit - 1] + "…"


def as_typed(text: str) -> str:
    """An argument, or a file's name, as it was typed in UTF-8, where the locale could not read
    it."""
    if text.isascii() or not any("\udc80" <= char <= "\udcff" for char in text):
        return text
    return text.encode("utf-8", "surrogateescape").decode("utf-8", "replace")


def printable(text: str, limit: int = 200) -> str:
    """Text from a user for a terminal: no control characters, not endless."""
    clean = "".join(
        char if char.isprintable() else "\ufffd" for char in as_typed(text)[: limit + 1]
    )
    return clean if len(clean) <= limit else clean[: limit - 1] + "…"


class NightledgerError(Exception):
    """Base of all errors a user can mend.

    Parameters
    ----------
    *faults : Fault or str
        At least one; a plain string is a fault without a file or key.
    """

    def __init__(self, *faults: Fault | str) -> None:
        self.faults: tuple[Fault, ...] = tuple(
            Fault(fault) if isinstance(fault, str) else fault for fault in faults
        )
        super().__init__("\n".join(str(fault) for fault in self.faults))

    def at(self, **where: Any) -> tuple[Fault, ...]:
        """The faults with file, line, key or value filled in where they say nothing."""
        return tuple(_fill(fault, where) for fault in self.faults)


def _fill(fault: Fault, where: dict[str, Any]) -> Fault:
    gaps = {
        name: value
        for name, value in where.items()
        if getattr(fault, name) is None or getattr(fault, name) is _NOTHING
    }
    return replace(fault, **gaps)


class JobError(NightledgerError):
    """The job file, or a profile that it uses, is not right."""


class PlaceError(NightledgerError):
    """A town or coordinate cannot be found, or is ambiguous.

    Parameters
    ----------
    *faults : Fault or str
    choices : iterable of str
        Places that may be meant, each in words that find it.
    """

    def __init__(self, *faults: Fault | str, choices: Iterable[str] = ()) -> None:
        super().__init__(*faults)
        self.choices = tuple(dict.fromkeys(choices))


class WeatherError(NightledgerError):
    """A weather file cannot be used, or a place has no climate."""


class LogError(NightledgerError):
    """A battery monitor's log cannot be used."""


class OutputError(NightledgerError):
    """A result cannot be written."""


def join_or(words: Iterable[str]) -> str:
    """``a, b or c`` for a sentence."""
    items = list(words)
    if len(items) < 2:
        return "".join(items)
    return ", ".join(items[:-1]) + " or " + items[-1]
