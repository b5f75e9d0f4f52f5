"""Typical-year files: TMY3, TMY2 and EPW, read by pvlib and brought to one convention.

A typical year is put together from months of different years. Here it lies on one calendar
year of 365 days in the file's own standard time, and every row is known by the start of its
hour. The formats mark the end of the hour; pvlib's readers keep that for TMY3 and count back
one hour for TMY2 and EPW. That difference is settled here and nowhere else.
"""

from __future__ import annotations

import io
import re
import tempfile
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib

from sim.arrays import Bools, Floats, Ints
from sim.errors import Fault, WeatherError, shown
from sim.sky.files.rows import Rows, check_position
from sim.sky.files.typical_lines import (
    TMY3_COLUMNS,
    TMY3_TIMES,
    Lines,
    Numbered,
    epw_lines,
    tmy2_lines,
    tmy3_lines,
)

HOURS = 8760  # of a year of 365 days
YEAR = 2001  # any year without a leap day
_DAY_OF_MONTH = np.array([0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334])
_MOST_NO_NUMBERS = 0.01  # of the cells of a column
_NAMES = ("ghi", "dni", "dhi", "temp_air")
_MISSING = {"ghi": (9999.0, -9900.0), "temp_air": (99.9, -9900.0)}


@dataclass(frozen=True)
class _Format:
    """How one format differs from the others.

    Attributes
    ----------
    lines : callable
        Numbered lines of a file to those that pvlib reads.
    columns : dict of str to str
        Our name to pvlib's name, which is the file's own for TMY3.
    read : callable
        Text to pvlib's frame and metadata.
    ends : int
        Hours by which the stamps that pvlib gives lie after the start of the hour.
    scale_c : float
        Unit of the temperature. [deg C]
    """

    name: str
    lines: Callable[[str, Numbered], Lines]
    columns: dict[str, str]
    read: Callable[[str], tuple[pd.DataFrame, dict[str, object]]]
    ends: int
    scale_c: float = 1.0


@dataclass(frozen=True)
class _Station:
    """Where a file was measured, and how its clock runs ahead of UTC."""

    name: str
    latitude: float
    longitude: float
    altitude_m: float
    zone_h: float


def _read_tmy2(text: str) -> tuple[pd.DataFrame, dict[str, object]]:
    """Through a file of our own: pvlib wants a path, and a city of one word."""
    header, _, body = text.partition("\n")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "station.tm2"
        path.write_text(f"{header[:7]}{'station':<22}{header[29:]}\n{body}", encoding="utf-8")
        frame, meta = pvlib.iotools.read_tmy2(path)
    return frame, {**meta, "Name": header[7:29].strip()}


def _read_epw(text: str) -> tuple[pd.DataFrame, dict[str, object]]:
    frame, meta = pvlib.iotools.read_epw(io.StringIO(text))
    return frame, {**meta, "Name": meta["city"]}


def _read_tmy3(text: str) -> tuple[pd.DataFrame, dict[str, object]]:
    frame, meta = pvlib.iotools.read_tmy3(io.StringIO(text), map_variables=False)
    return frame, {**meta, "Name": str(meta["Name"]).strip('" ')}


_TMY3 = _Format(
    "TMY3",
    tmy3_lines,
    TMY3_COLUMNS,
    _read_tmy3,
    1,
)
_TMY2 = _Format(
    "TMY2",
    tmy2_lines,
    {"ghi": "GHI", "dni": "DNI", "dhi": "DHI", "temp_air": "DryBulb"},
    _read_tmy2,
    0,
    0.1,
)
_EPW = _Format(
    "EPW",
    epw_lines,
    {name: name for name in _NAMES},
    _read_epw,
    0,
)

_TMY2_HEADER = re.compile(r" ?\d{5} .{22} .. +-?\d+ [NS] +\d+ +\d+ [EW] +\d+ +\d+ +-?\d+\s*$")


def kind_of(lines: list[str]) -> str | None:
    """``"EPW"``, ``"TMY3"`` or ``"TMY2"`` by the first lines, None if it is none of them."""
    if lines and lines[0].upper().startswith("LOCATION,"):
        return "EPW"
    if len(lines) > 1 and TMY3_TIMES[0] in lines[1]:
        return "TMY3"
    if lines and _TMY2_HEADER.match(lines[0]):
        return "TMY2"
    return None


def read_typical(file: str, lines: list[str]) -> tuple[Rows, str]:
    """Rows of a typical year on the calendar of `YEAR`, and a name for the station.

    Parameters
    ----------
    file : str
        For messages.
    lines : list of str
        Whole file, `kind_of` which is not None.

    Returns
    -------
    Rows
        8760 rows from 1 January 00:00 in the file's standard time; nan where a row is
        missing. Irradiance is the hour's mean, temperature the mean of the readings at both
        ends of the hour.
    str
        Format and station.

    Raises
    ------
    WeatherError
    """
    fmt = {"TMY3": _TMY3, "TMY2": _TMY2, "EPW": _EPW}[str(kind_of(lines))]
    sorted_lines = fmt.lines(file, [(at, x) for at, x in enumerate(lines, 1) if x.strip()])
    if not sorted_lines.rows:
        raise WeatherError(Fault(f"a {fmt.name} file without a single row", file=file))
    frame, station = _parsed(file, fmt, sorted_lines)
    line = np.array(sorted_lines.number, dtype=np.int64)
    notes = sorted_lines.notes
    values = {
        name: _numbers(file, frame[key], key, line, notes)
        for name, key in fmt.columns.items()
        if key in frame
    }
    if "dni" not in values or "dhi" not in values:
        values = {name: values[name] for name in ("ghi", "temp_air")}
    hour = _hour_of_year(frame, fmt.ends)
    used = hour >= 0
    _check_order(file, hour[used], line[used])
    grid, grid_line = _on_calendar(hour[used], line[used], values, used)
    grid["temp_air"] = fmt.scale_c * _hour_mean(grid["temp_air"])
    start = np.datetime64(f"{YEAR}-01-01T00", "s") + np.timedelta64(3600, "s") * np.arange(HOURS)
    rows = Rows(
        file=file,
        start_utc=start - np.timedelta64(round(3600 * station.zone_h), "s"),
        minutes=60,
        clock_offset_h=station.zone_h,
        latitude=station.latitude,
        longitude=station.longitude,
        altitude_m=station.altitude_m,
        values=grid,
        columns=fmt.columns,
        line=grid_line,
        notes=tuple(notes),
    )
    return rows, f"{fmt.name}, {station.name}"


def _parsed(file: str, fmt: _Format, lines: Lines) -> tuple[pd.DataFrame, _Station]:
    """The rows as pvlib reads them, and where they were measured.

    Raises
    ------
    WeatherError
        If pvlib cannot read them, or the position is not on Earth.
    """
    try:
        with warnings.catch_warnings():
            # What is no number in a column is found below, with its line.
            warnings.simplefilter("ignore", pd.errors.DtypeWarning)
            frame, meta = fmt.read("\n".join([*lines.header, *lines.rows]) + "\n")
        station = _Station(
            str(meta["Name"]),
            *(float(str(meta[key])) for key in ("latitude", "longitude", "altitude", "TZ")),
        )
    except (ValueError, KeyError, TypeError, IndexError, OverflowError) as error:
        reason = " ".join(str(error).split())[:120]
        raise WeatherError(Fault(f"not readable as {fmt.name} ({reason})", file=file)) from error
    check_position(file, station.latitude, station.longitude, station.altitude_m)
    return frame, station


def _numbers(file: str, column: pd.Series, key: str, line: Ints, notes: list[str]) -> Floats:
    """A column as numbers, nan where the format says that a value is missing, or a cell is none.

    Raises
    ------
    WeatherError
        If more than one cell in a hundred is no number.
    """
    numbers = pd.to_numeric(column, errors="coerce").to_numpy(dtype=np.float64)
    wrong = np.isnan(numbers) & column.notna().to_numpy()
    wrong |= np.isinf(numbers)
    if wrong.any():
        first = int(np.flatnonzero(wrong)[0])
        count = int(wrong.sum())
        where, value = int(line[first]), str(column.iloc[first])
        if count > _MOST_NO_NUMBERS * len(numbers):
            raise WeatherError(
                Fault("is not a number", file=file, line=where, key=key, value=value)
            )
        cells = (
            "cell is not a number and counts" if count == 1 else "cells are not numbers and count"
        )
        notes.append(f"{count} {cells} as missing (first in line {where}: {key} {shown(value)}).")
        numbers = np.where(wrong, np.nan, numbers)
    temperature = key in ("temp_air", "Dry-bulb (C)", "DryBulb")
    flags = _MISSING["temp_air" if temperature else "ghi"]
    return np.where(np.isin(numbers, flags), np.nan, numbers)


def _hour_mean(reading: Floats) -> Floats:
    """Means of the hours from the readings at their ends; one end alone where the other fails."""
    before = np.roll(reading, 1)
    return np.asarray(np.where(np.isnan(before), reading, (reading + before) / 2.0))


def _hour_of_year(frame: pd.DataFrame, ends: int) -> Ints:
    """Hour of a 365-day year in which each row starts, -1 for a leap day. shape (N,)"""
    index = pd.DatetimeIndex(frame.index)
    month, day = index.month.to_numpy(), index.day.to_numpy()
    hour = 24 * (_DAY_OF_MONTH[month - 1] + day - 1) + index.hour.to_numpy()
    return np.where((month == 2) & (day == 29), -1, (hour - ends) % HOURS).astype(np.int64)


def _check_order(file: str, hour: Ints, line: Ints) -> None:
    """Every row must come after the one before, once round the year at most."""
    passed = (hour - hour[0]) % HOURS
    wrong = np.flatnonzero(np.diff(passed) <= 0)
    if len(wrong):
        first = int(line[wrong[0] + 1])
        rule = (
            "out of order: the hours of a typical year must follow one another, "
            "each of the 8760 once"
        )
        raise WeatherError(Fault(rule, file=file, line=first))


def _on_calendar(
    hour: Ints, line: Ints, values: dict[str, Floats], used: Bools
) -> tuple[dict[str, Floats], Ints]:
    """Values by the hour of the year; a missing hour has the line before it."""
    grid = {name: np.full(HOURS, np.nan) for name in values}
    for name, value in values.items():
        grid[name][hour] = value[used]
    lines = np.zeros(HOURS, dtype=np.int64)
    lines[hour] = line
    filled = np.maximum.accumulate(np.where(lines > 0, np.arange(HOURS), -1))
    return grid, np.where(filled >= 0, lines[filled], line[0])
