"""A log's file as a table of cells: text with any usual separator, or a workbook."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sim.errors import Fault, LogError, printable

WORKBOOKS = (".xlsx", ".xlsm", ".xls", ".ods")
_SEPARATORS = ("\t", ";", ",", "|")
_SAMPLE = 200  # lines looked at to find the separator and the headings
_MOST_BYTES = 500_000_000
_MOST_COLUMNS = 500
# Something that begins like a date or like seconds since 1970.
_DATED = re.compile(r"\s*(?:\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}[-/.]\d{1,2}[-/.]\d{2,4}|1\d{9})")


@dataclass(frozen=True)
class Table:
    """Cells of a log.

    Attributes
    ----------
    file : str
        For messages.
    headings : tuple of str
        One for each column; several rows of headings are joined.
    columns : tuple of list
        Cells below the headings: text, or what a workbook holds.
    first_row : int
        Row of the first cells, counted from 1.
    decimal_comma : bool
        Whether a comma may stand for the decimal point.
    """

    file: str
    headings: tuple[str, ...]
    columns: tuple[list[Any], ...]
    first_row: int
    decimal_comma: bool


def read_cells(path: Path) -> Table:
    """The cells of a log.

    Raises
    ------
    LogError
        No such file, nothing in it, or no table with headings and a time.
    """
    file = printable(str(path), 1000)
    try:
        size = path.stat().st_size
        if size > _MOST_BYTES:
            raise _not(file, f"is larger than {_MOST_BYTES // 1_000_000} MB; cut it by years")
        if size == 0:
            raise _not(file, "is empty; export the log anew")
        if path.suffix.lower() in WORKBOOKS:
            return _workbook(path, file)
        data = path.read_bytes()
    except FileNotFoundError:
        raise _not(file, "there is no such file; name the log of the battery monitor") from None
    except OSError as error:
        if path.is_dir():
            raise _not(file, "is a folder; name the log in it") from None
        raise _not(file, f"cannot be read: {error.strerror or error}") from None
    if data[:2] == b"PK":
        raise _not(file, "is a workbook or an archive by its content; name it .xlsx, or unpack it")
    return _text(_decoded(data, file), file)


def _not(file: str, rule: str, row: int | None = None) -> LogError:
    return LogError(Fault(rule, file=file, line=row))


def _decoded(data: bytes, file: str) -> str:
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16", "replace")
    if b"\0" in data[:10_000]:
        raise _not(file, "is not text; a log is a CSV file or a workbook (.xlsx)")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", "replace")


def _text(text: str, file: str) -> Table:
    """Cells of a text, whose separator is the one that cuts most lines alike."""
    import pandas as pd

    head = text[: _SAMPLE * 4000].splitlines()[:_SAMPLE]
    if not any(line.strip() for line in head):
        raise _not(file, "is empty; export the log anew")
    separator = _separator(head)
    if separator is None:
        raise _not(
            file, "is not a table; a log has columns separated by commas, semicolons or tabs"
        )
    rows = list(csv.reader(head, delimiter=separator))
    begin, headings = _headings(rows, file)
    try:
        frame = pd.read_csv(
            io.StringIO(text),
            sep=separator,
            header=None,
            names=list(range(len(headings))),
            index_col=False,
            skiprows=begin,
            dtype=str,
            keep_default_na=False,
            skip_blank_lines=False,
            on_bad_lines="skip",
            encoding_errors="replace",
        )
    except (pd.errors.ParserError, pd.errors.EmptyDataError, ValueError) as error:
        raise _not(file, f"is no longer a table ({printable(str(error), 120)})") from None
    columns = tuple(frame[number].tolist() for number in range(len(headings)))
    return Table(file, headings, columns, begin + 1, separator != ",")


def _separator(lines: list[str]) -> str | None:
    """What parts the columns: cuts most lines into as many cells, and into two at least."""
    best, most = None, 0.0
    for separator in _SEPARATORS:
        counts = Counter(len(row) for row in csv.reader(lines, delimiter=separator) if row)
        wide = {cells: lines for cells, lines in counts.items() if cells > 1}
        if not wide:
            continue
        cells = max(wide, key=lambda n: (wide[n], n))
        # Decimal commas cut lines too: a separator that comes before in the list has the better
        # claim where it cuts as many lines.
        score = wide[cells] / max(sum(counts.values()), 1)
        if score > most + 0.3 or (best is None and score > 0.3):
            best, most = separator, score
    return best


def _headings(rows: list[list[Any]], file: str) -> tuple[int, tuple[str, ...]]:
    """Number of the first row of values, from 0, and the headings above it."""
    first = next((n for n, row in enumerate(rows) if _has_time(row)), None)
    if first is None:
        rule = "has no column of times that can be read, such as 2027-02-04 13:05"
        raise _not(file, rule)
    width = len(rows[first])
    if width > _MOST_COLUMNS:
        raise _not(file, f"has {width} columns; a log of so many is not understood")
    above = [row for row in rows[:first] if sum(bool(str(x).strip()) for x in row) > 1]
    # Rows of headings stand right above the values, as wide as they are.
    heads = [row for row in above[-3:] if abs(len(row) - width) <= 1]
    if not heads and above and 1 < len(above[-1]) < width:
        rule = (
            f"has {width} values under {len(above[-1])} headings; where numbers have a decimal "
            "comma, separate the columns with semicolons or tabs"
        )
        raise _not(file, rule, first + 1)
    if not heads:
        rule = "has no headings above its values; write one over each column, such as time,soc"
        raise _not(file, rule, first + 1)
    names = []
    for column in range(width):
        words = [str(row[column]).strip() for row in heads if column < len(row)]
        names.append(" ".join(dict.fromkeys(word for word in words if word)))
    return first, tuple(names)


def _has_time(row: list[Any]) -> bool:
    """Whether a row begins the values: one of its cells is a date, and it has more than one."""
    if sum(str(cell).strip() != "" for cell in row) < 2:
        return False
    return any(hasattr(c, "year") or (isinstance(c, str) and _DATED.match(c)) for c in row)


def _workbook(path: Path, file: str) -> Table:
    """Cells of the first sheet with something in it."""
    from python_calamine import CalamineError, CalamineWorkbook

    try:
        book = CalamineWorkbook.from_path(str(path))
        sheets = [book.get_sheet_by_index(n).to_python() for n in range(len(book.sheet_names))]
    except (CalamineError, OSError, ValueError) as error:
        rule = f"is not a workbook that can be read ({printable(str(error), 120)})"
        raise _not(file, rule) from None
    rows: list[list[Any]] = next((sheet for sheet in sheets if len(sheet) > 1), [])
    if not rows:
        raise _not(file, "is empty; export the log anew")
    begin, headings = _headings(rows[:_SAMPLE], file)
    body = rows[begin:]
    columns = tuple([row[n] if n < len(row) else "" for row in body] for n in range(len(headings)))
    return Table(file, headings, columns, begin + 1, True)
