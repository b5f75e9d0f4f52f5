"""A battery monitor's log: from its file to arrays in volts, amps and watts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sim.arrays import Bools, Floats
from sim.errors import Fault, LogError
from sim.log.clock import in_order, read_times
from sim.log.columns import ROLES, Column, recognised
from sim.log.signs import charging_sign
from sim.log.table import Table, read_cells
from sim.units import fahrenheit_to_celsius

_MOST_ROWS = 6_000_000
# Rows further apart say too little of an hour.
_MOST_APART_MIN = 60.0
_FEWEST_ROWS = 48
# What no van has; cells beyond are slips of the monitor.
_LIMITS = {
    "current": 3000.0,
    "solar_current": 1000.0,
    "load_current": 3000.0,
    "power": 60_000.0,
    "solar": 30_000.0,
    "load": 60_000.0,
    "voltage": 100.0,
    "temperature": 150.0,
}


@dataclass(frozen=True)
class Log:
    """What a monitor wrote down, in the order of time. Arrays have shape (N,).

    Attributes
    ----------
    file : str
    at : ndarray of datetime64[s]
        UTC where `is_utc`, else by a clock that the log does not name.
    is_utc : bool
    again : ndarray of bool
        Whether a row is in the second pass of an hour that came twice.
    values : dict
        From roles of `columns.ROLES` to values, nan where there is none: charge 0 to 1, volts,
        amps and watts (into the battery positive), degrees Celsius.
    headings : dict
        From roles to the heading in the log.
    """

    file: str
    at: NDArray[np.datetime64]
    is_utc: bool
    again: Bools
    values: dict[str, Floats]
    headings: dict[str, str]

    @property
    def apart_min(self) -> float:
        """How far rows usually lie apart. [min]"""
        return float(np.median(np.diff(self.at).astype(np.float64))) / 60.0

    @property
    def days_long(self) -> float:
        """From the first row to the last. [days]"""
        return float((self.at[-1] - self.at[0]) / np.timedelta64(86400, "s"))


def read_log(path: Path, asked: Mapping[str, str] | None = None) -> Log:
    """Read a log.

    Parameters
    ----------
    path : Path
        Text with any usual separator, or a workbook.
    asked : mapping, optional
        Headings that the user names, by what they are.

    Raises
    ------
    LogError
        It is no log, or what it says is not clear.
    """
    table = read_cells(path)
    columns = recognised(table.headings, asked or {}, table.file)
    stamps = table.columns[columns["time"].number]
    stamps = _with_clock(table, columns["time"], stamps)
    times = read_times(stamps, columns["time"].heading, table.file, table.first_row)
    known = np.flatnonzero(~np.isnat(times.at))
    if len(known) > _MOST_ROWS:
        raise LogError(Fault(f"has more than {_MOST_ROWS:,} rows; cut it", file=table.file))
    order, again = in_order(times.at[known])
    rows = known[order]
    values = {
        role: _values(role, table, column)[rows]
        for role, column in columns.items()
        if role != "time"
    }
    headings = {role: column.heading for role, column in columns.items()}
    log = Log(table.file, times.at[rows], times.is_utc, again, values, headings)
    _expect_usable(log)
    for role in ("current", "power"):
        if role in values:
            sign = charging_sign(role, values, is_discharge=columns[role].is_discharge)
            values[role] = sign * values[role]
    for role in ("load", "load_current", "solar", "solar_current"):
        if role in values and np.nanmean(values[role]) < 0.0:
            values[role] = -values[role]
    return log


def _with_clock(table: Table, time: Column, stamps: list[Any]) -> list[Any]:
    """Dates joined with a clock in a column of its own."""
    sample = [str(cell) for cell in stamps[:50] if str(cell).strip()]
    if not sample or any(":" in text or text.replace(".", "").isdigit() for text in sample):
        return stamps
    for number, heading in enumerate(table.headings):
        cells = table.columns[number]
        seen = [str(cell).strip() for cell in cells[:50] if str(cell).strip()]
        is_clock = bool(seen) and all(text[:1].isdigit() and ":" in text[:3] for text in seen)
        if number != time.number and "time" in heading.lower() and is_clock:
            pairs = zip(stamps, cells, strict=True)
            return [f"{str(date).strip().split(' ')[0]} {clock}" for date, clock in pairs]
    return stamps


def _values(role: str, table: Table, column: Column) -> Floats:
    """A column's numbers in the unit of its role; nan where a cell holds none."""
    import pandas as pd

    cells = table.columns[column.number]
    if table.decimal_comma:
        cells = [x.replace(",", ".") if isinstance(x, str) else x for x in cells]
    series = pd.Series(cells, dtype=object)
    numbers = pd.to_numeric(series, errors="coerce").to_numpy(np.float64, copy=True)
    lost = np.flatnonzero(np.isnan(numbers))
    rest = series.iloc[lost].astype(str).str.strip()
    rest = rest[rest != ""].str.replace("\N{MINUS SIGN}", "-", regex=False)
    if len(rest):
        # A unit may stand behind the number.
        plain = rest.str.extract(r"^([-+]?\d+(?:\.\d+)?)\s*[A-Za-z%°]{0,3}$", expand=False)
        numbers[rest.index] = pd.to_numeric(plain, errors="coerce").to_numpy(np.float64)
    if np.isnan(numbers).all():
        rule = f"holds no number in the column that is taken as {ROLES[role]}"
        raise LogError(Fault(rule, file=table.file, key=column.heading or None))
    numbers = numbers * column.scale
    if role == "soc":
        if np.nanquantile(numbers, 0.99) > 1.5:
            numbers = numbers / 100.0
        return np.where((numbers >= -0.01) & (numbers <= 1.05), np.clip(numbers, 0, 1), np.nan)
    if role == "temperature" and column.is_fahrenheit:
        numbers = np.asarray(fahrenheit_to_celsius(numbers))  # type: ignore[arg-type]
    return np.where(np.abs(numbers) <= _LIMITS[role], numbers, np.nan)


def _expect_usable(log: Log) -> None:
    """Rows enough, and near enough to one another."""
    if len(log.at) < _FEWEST_ROWS or log.days_long < 2.0:
        rule = "covers less than two days; a log of a week or more tells something"
        raise LogError(Fault(rule, file=log.file))
    if log.apart_min > _MOST_APART_MIN:
        rule = f"has a row every {log.apart_min / 60.0:.3g} hours; export it by the hour, or finer"
        raise LogError(Fault(rule, file=log.file))
