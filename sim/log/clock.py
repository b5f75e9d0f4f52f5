"""Times of a log: every usual way to write them, and the hour that comes twice in autumn."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.arrays import Bools
from sim.errors import Fault, LogError

# Tried in this order where a cell fits several; the one that keeps the log shortest wins.
_DATES = (
    *("%Y-%m-%d", "%d.%m.%Y", "%d.%m.%y", "%m/%d/%Y", "%d/%m/%Y", "%m/%d/%y", "%d/%m/%y"),
    *("%d-%m-%Y", "%m-%d-%Y", "%Y/%m/%d", "%Y.%m.%d"),
)
_CLOCKS = (" %H:%M:%S", " %H:%M", " %I:%M:%S %p", " %I:%M %p", " %H:%M:%S.%f", "")
_OFFSET = re.compile(r"(?:Z|[+-]\d{2}:?\d{2})\s*$")
_MOST_UNREAD = 0.02  # of the rows
_FIRST, _LAST = np.datetime64("2000-01-01"), np.datetime64("2100-01-01")
_HOUR = np.timedelta64(3600, "s")
_SLACK = np.timedelta64(600, "s")


@dataclass(frozen=True)
class Times:
    """Times of a log, in the order of its rows.

    Attributes
    ----------
    at : ndarray of datetime64[s], shape (N,)
        As the log has them, or UTC; NaT where a cell cannot be read.
    is_utc : bool
        Whether the log itself says that they are UTC, or gives their offsets.
    """

    at: NDArray[np.datetime64]
    is_utc: bool


def read_times(cells: list[Any], heading: str, file: str, first_row: int) -> Times:
    """The times of a column.

    Raises
    ------
    LogError
        More than a few cannot be read.
    """
    says_utc = re.search(r"\b(utc|gmt|zulu)\b", heading, re.I) is not None
    if any(isinstance(cell, (dt.datetime, dt.date)) for cell in cells[:50]):
        return _checked(_typed(cells), says_utc, cells, file, first_row)
    texts = [str(cell).strip() for cell in cells]
    if (seconds := _unix(texts)) is not None:
        return _checked(seconds, True, cells, file, first_row)
    sample = [text for text in texts[:500] if text]
    has_offset = bool(sample) and sum(bool(_OFFSET.search(x)) for x in sample) > len(sample) / 2
    # A date alone ends in -04 too: an offset needs a clock before it.
    has_offset = has_offset and sum(":" in text for text in sample) > len(sample) / 2
    at = _iso(texts, has_offset)
    if at is None:
        at = _formatted(texts)
    return _checked(at, says_utc or has_offset, cells, file, first_row)


def _checked(
    at: NDArray[np.datetime64], is_utc: bool, cells: list[Any], file: str, first_row: int
) -> Times:
    at = at.astype("datetime64[s]")
    at = np.where((at >= _FIRST) & (at < _LAST), at, np.datetime64("NaT", "s"))
    unread = np.isnat(at) & np.array([str(cell).strip() != "" for cell in cells])
    if np.isnat(at).all() or unread.sum() > max(_MOST_UNREAD * len(at), 2.0):
        row = int(np.argmax(unread if unread.any() else np.isnat(at)))
        rule = "is not a time that can be read; write times as 2027-02-04 13:05"
        fault = Fault(rule, file=file, line=first_row + row, key="time", value=cells[row])
        raise LogError(fault)
    return Times(at, is_utc)


def _typed(cells: list[Any]) -> NDArray[np.datetime64]:
    """Times that a workbook holds as such; others among them count as unread."""
    nothing = np.datetime64("NaT", "s")
    return np.array(
        [
            np.datetime64(cell.replace(tzinfo=None), "s")
            if isinstance(cell, dt.datetime)
            else np.datetime64(cell, "s")
            if isinstance(cell, dt.date)
            else nothing
            for cell in cells
        ]
    )


def _unix(texts: list[str]) -> NDArray[np.datetime64] | None:
    """Seconds or milliseconds since 1970, None where the cells are none."""
    sample = [text for text in texts[:50] if text]
    if not sample or not all(re.fullmatch(r"1\d{9}(?:\d{3})?(?:\.\d+)?", x) for x in sample):
        return None
    import pandas as pd

    numbers = pd.to_numeric(pd.Series(texts), errors="coerce").to_numpy(np.float64)
    scale = 1000.0 if np.nanmedian(numbers) > 1e11 else 1.0
    whole = np.nan_to_num(numbers / scale, nan=-1e9)
    return whole.astype(np.int64).astype("datetime64[s]")


def _iso(texts: list[str], has_offset: bool) -> NDArray[np.datetime64] | None:
    """Times as ISO 8601, None where they are mostly none."""
    import pandas as pd

    if not re.match(r"\d{4}-\d{2}-\d{2}", next((text for text in texts if text), "")):
        return None
    series = pd.Series(texts).replace("", None)
    found = pd.to_datetime(series, format="ISO8601", utc=has_offset, errors="coerce")
    if getattr(found.dt, "tz", None) is not None:
        found = found.dt.tz_localize(None)
    at = found.to_numpy().astype("datetime64[s]")
    return None if np.isnat(at).mean() > 0.5 else at


def _formatted(texts: list[str]) -> NDArray[np.datetime64]:
    """Times by the format that reads most of them and keeps the log shortest."""
    import pandas as pd

    between = re.compile(r"[T,]\s*|\s+")
    texts = [between.sub(" ", text, count=1) for text in texts]
    series = pd.Series(texts)
    # From all over the log: the days of its first month tell no day from a month.
    sample = pd.Series([text for text in texts[:: max(len(texts) // 300, 1)] if text])
    best: NDArray[np.datetime64] = np.full(len(texts), np.datetime64("NaT", "s"))
    least = np.inf
    for date in _DATES:
        for clock in _CLOCKS:
            tried = pd.to_datetime(sample, format=date + clock, errors="coerce")
            if len(sample) == 0 or tried.isna().mean() > 0.5:
                continue
            at = pd.to_datetime(series, format=date + clock, errors="coerce").to_numpy()
            at = at.astype("datetime64[s]")
            known = at[~np.isnat(at)]
            if not len(known):
                continue
            span = float((known.max() - known.min()) / np.timedelta64(1, "s"))
            cost = span + 1e12 * (np.isnat(at).mean() > _MOST_UNREAD)
            if cost < least:
                best, least = at, cost
    return best


def in_order(at: NDArray[np.datetime64]) -> tuple[NDArray[np.int64], Bools]:
    """Rows in the order of time, and which of them stand in the second pass of a doubled hour.

    Parameters
    ----------
    at : ndarray of datetime64[s], shape (N,)
        None is NaT.

    Returns
    -------
    order : ndarray of int
        Rows, each moment once.
    again : ndarray of bool
        For each of `order`: the clock had been set back and showed this hour a second time.
    """
    rows = np.arange(len(at))
    if len(at) > 1 and np.median(np.diff(at).astype(np.int64)) < 0:
        rows = rows[::-1]  # newest first
    ordered = at[rows]
    again, later = _second_pass(ordered)
    # From where the clock was set back an hour later, so that all keep their order.
    keys = ordered + later * _HOUR
    by_time = np.argsort(keys, kind="stable")
    keys, rows, again = keys[by_time], rows[by_time], again[by_time]
    once = np.concatenate([[True], (np.diff(keys) > np.timedelta64(0, "s"))])
    return rows[once], again[once]


def _second_pass(at: NDArray[np.datetime64]) -> tuple[Bools, NDArray[np.int64]]:
    """Rows after a clock was set back by an hour, until it has passed where it had been; and how
    often it had been set back by each row."""
    again, later = np.zeros(len(at), dtype=np.bool_), np.zeros(len(at), dtype=np.int64)
    usual = np.median(np.abs(np.diff(at))) if len(at) > 1 else _SLACK
    for row in np.flatnonzero(np.diff(at) < -(_HOUR / 2)):
        if abs(at[row] - at[row + 1] - _HOUR) > _SLACK + usual:
            continue  # no clock change: rows that were put together in another order
        past = at[row + 1 :] > at[row]
        ends = int(np.argmax(past)) if past.any() else len(past)
        again[row + 1 : row + 1 + ends] = True
        later[row + 1 :] += 1
    return again, later
