"""From a file's bytes to TOML data, or one sentence on what keeps it from being read."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path as FilePath
from typing import Any

from sim.errors import Fault, JobError
from sim.job.model.job import SEVERAL
from sim.job.reading.expected import expected_by

_MAX_BYTES = 2_000_000
_TWICE = "this section is in the file twice, or as [section] and [[section]] both; keep one"
_KEY_TWICE = "this key is in its section twice; keep one"
_UNCLOSED = "a text is not closed; a quote is missing at its end"
_ODD = "a character that a job file cannot hold; delete it and retype"
_BACKSLASH = "text in double quotes cannot hold a \\; write / in paths, or use single quotes"
_SECTION = re.compile(r"\s*\[{1,2}\s*([^\]\s]+)")
_WHERE = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")
_PART = r"""(?:[A-Za-z0-9_-]+|"(?:[^"\\\n]|\\.)*"|'[^'\n]*')[ \t]*"""
# Comments and long texts, to pass over; else a key, or a text, which is a key of one part.
_PIECE = re.compile(
    rf"""#[^\n]*|\"{{3}}(?:\\.|[^\\])*?\"{{3}}|'{{3}}.*?'{{3}}|({_PART}(?:\.[ \t]*{_PART})*)""",
    re.DOTALL,
)
# A job's deepest key has a handful of parts; the parser's time grows with their square.
_MOST_PARTS = 20
_LONG_NUMBER = re.compile(r"[0-9][0-9_]{3000,}")

# What the parser says, in the words of whoever wrote the file; see also `_SLIPS`.
_SAYINGS = (
    ("Expected '=' after a key", "a key needs = and a value after it"),
    ("Expected ']", "a section's name must end with a bracket: [van], or [[panels]] for a list"),
    ("Invalid statement", "a line must be a key = value, a [section] or a # comment"),
    ("Invalid initial character for a key", "a key has letters, digits, _ and - only"),
    (
        "Unclosed array",
        "a list needs commas between its entries, quotes around text, and a ] at its end",
    ),
    (
        "Unclosed inline table",
        "a {...} needs commas between its keys and a } at its end, all on one line",
    ),
    ("Unterminated string", _UNCLOSED),
    ("Illegal character '\\n'", _UNCLOSED),
    ("Found invalid character '\\n'", _UNCLOSED),
    ("Illegal character", _ODD),
    ("Unescaped", _BACKSLASH),
    ("Invalid hex value", _BACKSLASH),
    ("Escaped character", _BACKSLASH),
    ("Cannot overwrite a value", _KEY_TWICE),
    ("Duplicate inline table key", _KEY_TWICE),
    ("Cannot", _TWICE),
    (
        "Invalid date or datetime",
        "this is not a date of the calendar; write year-month-day, such as 2027-01-09",
    ),
    ("Invalid value", "a value is missing, or cannot be read; text must be in quotes"),
    ("Expected newline or end", "only a # comment may follow a value; text must be in quotes"),
    ("Expected", _UNCLOSED),
    ("Found invalid", _ODD),
)
# What the rest of a line looks like behind its key, and what was probably meant.
_SLIPS = (
    (r"[“”„‘’]", 'use straight quotes, as in "text"'),
    (r"(True|TRUE|False|FALSE|yes|no|Yes|No)\s*$", "write true or false"),
    (r"\d{1,2}:\d{2}", 'put a time of day in quotes, such as "07:30"'),
    (
        r"\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}(?!\d)",
        "write a date of the calendar as year-month-day, such as 2027-01-09",
    ),
    (
        r"[-+]?[1-9]\d{0,2}(?:,\d{3})+(?![\d,])",
        "write a number without a comma: 1240, or 1.24 with a decimal point",
    ),
    (r"[-+]?\d+,\d", "write a decimal point, not a comma"),
    (r"0\d", "a number must not begin with 0"),
    (r"[-+]?[\d_.]+\s*(?:[^\W\d]|[%°\"'′″])", "write the number alone, without a unit"),
    (r"[$€£¥]|[-+]?[\d_.,]+\s*[$€£¥]", "write the number alone, without a sign of currency"),
    (r"'[^'\n]*'\w", "an apostrophe ends a text in single quotes; use double quotes"),
)


def read_toml(path: FilePath) -> tuple[str, dict[str, Any]]:
    """A file's text, with Unix line ends, and the data in it.

    Raises
    ------
    JobError
        No such file, no text, or not TOML: one fault, with its line and column if it has one.
    """
    text = read_text(path)
    for piece in _PIECE.finditer(text):
        key = piece[1] or ""
        if key.count(".") >= _MOST_PARTS and len(re.findall(_PART, key)) > _MOST_PARTS:
            rule = f"a key with more than {_MOST_PARTS} parts"
            raise JobError(Fault(rule, str(path), text.count("\n", 0, piece.end()) + 1))
    try:
        return text, tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise JobError(_syntax_fault(str(error), text, str(path))) from None
    except RecursionError:
        raise JobError(Fault("nested too deeply for a job file", file=str(path))) from None
    except ValueError:
        # Python's own limit on the digits of a number comes through the parser.
        number = _LONG_NUMBER.search(text)
        line = text.count("\n", 0, number.start()) + 1 if number else None
        raise JobError(Fault("a number is far too long", file=str(path), line=line)) from None


def read_text(path: FilePath, most_bytes: int | None = None) -> str:
    """A file's text, with Unix line ends.

    Parameters
    ----------
    path : Path
    most_bytes : int, optional
        What is larger is not read; a job file's bound when left out.

    Raises
    ------
    JobError
        No such file, too large, or no UTF-8 text.
    """
    what = "a job file" if most_bytes is None else "what it should be"
    most_bytes = most_bytes or _MAX_BYTES
    try:
        with path.open("rb") as file:
            raw = file.read(most_bytes + 1)
    except FileNotFoundError:
        raise JobError(Fault("there is no such file", file=str(path))) from None
    except IsADirectoryError:
        raise JobError(Fault("this is a folder; name the job file in it", file=str(path))) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "this is not a file name"
        raise JobError(Fault(f"cannot be read: {reason}", file=str(path))) from None
    if len(raw) > most_bytes:
        rule = f"too large for {what} (over {most_bytes // 1_000_000} MB)"
        raise JobError(Fault(rule, file=str(path)))
    try:
        return raw.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        rule = "not UTF-8 text; save the file as UTF-8"
        raise JobError(Fault(rule, file=str(path), line=line)) from None


def _syntax_fault(said: str, text: str, file: str) -> Fault:
    where = _WHERE.search(said)
    said = said[: where.start()] if where else said
    if where and where[1]:
        line, column = int(where[1]), f"column {where[2]}: "
        written = text.split("\n")[line - 1]
    else:
        line, column, written = text.rstrip("\n").count("\n") + 1, "", ""
    rule = next((rule for start, rule in _SAYINGS if said.startswith(start)), None)
    if said.startswith(("Expected newline or end", "Invalid value")):
        value = (written.partition("=")[2] or written).strip()
        rule = next((slip for look, slip in _SLIPS if re.match(look, value)), rule)
        key = re.sub(r".*\.", "", written.partition("=")[0]).strip()
        if re.match(r"\w+\s*(#|$)", value) and (takes := expected_by(key)):
            # A bare word: say what this key takes.
            rule = f"{key} takes {takes}"
    if said.startswith("Cannot") and (match := _SECTION.match(written)):
        rule = _several(match[1]) if match[1] in SEVERAL else _TWICE
    return Fault(f"{column}{rule or 'not valid TOML: ' + said}", file=file, line=line)


def _several(section: str) -> str:
    """What to do about a second of what a van may have several of."""
    return f"a job with several of [{section}] has [[{section}]] above each, the first one too"
