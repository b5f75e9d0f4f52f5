"""A plain table of weather: time, irradiance, air temperature.

::

    # latitude: 38.57
    # longitude: -109.55
    # altitude_m: 1227
    time,ghi,dni,dhi,temp_air
    2019-01-01T00:00-07:00,0,0,0,-4.1

``time`` is the start of the interval (``time_middle`` or ``time_end`` where the file counts
otherwise), ISO 8601 with its offset from UTC or a Z. ``dni`` and ``dhi`` come together or not
at all. Irradiance in W/m2, temperature in deg C, both means over the interval. Commas,
semicolons or tabs part the columns; with the other two a comma may be the decimal point.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
import pvlib

from sim.arrays import Floats, Ints
from sim.errors import Fault, WeatherError
from sim.sky.files.rows import RADIATION, Rows, check_position

Position = tuple[float, float, float]

# Column name to where in the interval its time lies, in intervals after the start.
_TIMES = {"time": 0.0, "time_middle": 0.5, "time_end": 1.0}
_MISSING = {"", "nan", "na", "n/a", "null", "none", "-"}
_ABOUT_PLACE = re.compile(r"#\s*(latitude|longitude|altitude_m)\s*[:=,;]\s*(.*?)[\s,;]*$", re.I)
_FIRST_YEAR, _LAST_YEAR = 1850, 2150  # of any measurement or projection
_MOST_STEPS = 3_000_000  # 28 years of 5-minute values
_MOST_BROKEN = 0.01  # of the rows
_STEPS = (5, 10, 15, 20, 30, 60)  # minutes


def is_table(lines: list[str]) -> bool:
    """Whether some line before the first number looks like our header."""
    for line in lines[:50]:
        text = line.strip()
        if text and not text.startswith("#"):
            names = {part.strip().strip('"').lower() for part in re.split(r"[,;\t]", text)}
            return bool(names & {*_TIMES, *RADIATION, "temp_air"})
    return False


def read_table(file: str, lines: list[str], place: Position | None) -> Rows:
    """Rows of a plain table.

    Parameters
    ----------
    file : str
        For messages.
    lines : list of str
        Whole file.
    place : (latitude, longitude, altitude) or None
        Where it was recorded, if the file does not say. [degrees, degrees, m]

    Returns
    -------
    Rows
        On an even grid, nan where a row or a value is missing.

    Raises
    ------
    WeatherError
    """
    latitude, longitude, altitude = _place(file, lines, place)
    at = next(i for i, line in enumerate(lines) if re.match(r"\s*[^#\s]", line))
    delimiter = max(",;\t", key=lines[at].count)
    names = [name.strip().lower() for name in next(csv.reader([lines[at]], delimiter=delimiter))]
    wanted = _wanted(file, names, at + 1)
    stamp, *columns = wanted
    rows, notes = _cells(file, lines, at + 1, names, wanted, delimiter)
    unix, line = np.array([row.unix for row in rows]), np.array([row.line for row in rows])
    offset = np.array([row.offset for row in rows])
    values = np.array([row.values for row in rows])
    minutes = _interval(file, unix, line)
    unix = unix - round(60 * minutes * _TIMES[stamp])
    slot = _slots(file, unix, minutes, line)
    count = int(slot[-1]) + 1
    grid = {name: np.full(count, np.nan) for name in columns}
    for number, name in enumerate(columns):
        grid[name][slot] = values[:, number]
    where = np.zeros(count, dtype=np.int64)
    where[slot] = line
    return Rows(
        file=file,
        start_utc=(unix[0] + 60 * minutes * np.arange(count)).astype("datetime64[s]"),
        minutes=minutes,
        clock_offset_h=_clock_offset_h(unix[0], offset, minutes),
        latitude=latitude,
        longitude=longitude,
        altitude_m=altitude,
        values=grid,
        columns={name: name for name in columns},
        line=np.maximum.accumulate(where),
        notes=tuple(notes),
    )


def _place(file: str, lines: list[str], place: Position | None) -> Position:
    said: dict[str, float] = {}
    for number, line in enumerate(lines[:50], 1):
        match = _ABOUT_PLACE.match(line.strip())
        if not match:
            continue
        key, text = match.group(1).lower(), match.group(2)
        try:
            said[key] = float(text)
        except ValueError:
            rule = "is not a number; degrees with north and east positive, metres for the altitude"
            raise WeatherError(Fault(rule, file=file, line=number, key=key, value=text)) from None
    if "latitude" in said and "longitude" in said:
        latitude, longitude = said["latitude"], said["longitude"]
        check_position(file, latitude, longitude, 0.0)
        altitude = said.get("altitude_m")
        if altitude is None:
            altitude = float(pvlib.location.lookup_altitude(latitude, longitude))
    elif place is not None and not said:
        latitude, longitude, altitude = place
    else:
        rule = (
            "says not where it was recorded; begin the file with the lines "
            "'# latitude: 38.57' and '# longitude: -109.55' (north and east positive)"
        )
        raise WeatherError(Fault(rule, file=file))
    check_position(file, latitude, longitude, altitude)
    return latitude, longitude, altitude


def _wanted(file: str, names: list[str], line: int) -> list[str]:
    """The time column's name and those of the values that will be read."""
    stamps = [name for name in names if name in _TIMES]
    missing = [] if stamps else ["time"]
    missing += [name for name in ("ghi", "temp_air") if name not in names]
    split = [name for name in ("dni", "dhi") if name in names]
    if len(split) == 1:
        missing += [name for name in ("dni", "dhi") if name not in names]
    found = ", ".join(name or "(empty)" for name in names)[:120]
    if missing:
        rule = f"no column {', '.join(missing)}; the file has {found}"
        raise WeatherError(Fault(rule, file=file, line=line))
    wanted = [stamps[0], "ghi", *split, "temp_air"]
    twice = [name for name in wanted if names.count(name) > 1]
    if twice or len(stamps) > 1:
        rule = f"column {(twice or stamps)[0]} is there twice; the file has {found}"
        raise WeatherError(Fault(rule, file=file, line=line))
    return wanted


@dataclass(frozen=True)
class _Row:
    """One row as read: when [s since 1970 UTC], the clock's offset [s], its values, its line."""

    unix: int
    offset: float
    values: list[float]
    line: int


def _cells(
    file: str, lines: list[str], begin: int, names: list[str], wanted: list[str], delimiter: str
) -> tuple[list[_Row], list[str]]:
    """All whole rows, and a sentence on those that are not.

    Raises
    ------
    WeatherError
        If more than one row in a hundred is broken, or none is left.
    """
    rows, broken, count = [], [], 0
    for line, cells in _cut(file, lines, begin, delimiter):
        if not any(cell.strip() for cell in cells) or cells[0].lstrip().startswith("#"):
            continue
        count += 1
        try:
            rows.append(_row(file, cells, names, wanted, delimiter, line))
        except WeatherError as error:
            broken.append(error.faults[0])
    if broken and len(broken) > _MOST_BROKEN * count:
        more = f" (and {len(broken) - 1} more such rows)" if len(broken) > 1 else ""
        raise WeatherError(replace(broken[0], rule=broken[0].rule + more))
    if len(rows) < 2:
        raise WeatherError(Fault("has no rows under its header", file=file))
    if not broken:
        return rows, []
    word = "row is broken and counts" if len(broken) == 1 else "rows are broken and count"
    said = replace(broken[0], file=None)
    return rows, [f"{len(broken)} {word} as missing (first in {said})."]


def _row(
    file: str, cells: list[str], names: list[str], wanted: list[str], delimiter: str, line: int
) -> _Row:
    if len(cells) < len(names) or any(cell.strip() for cell in cells[len(names) :]):
        rule = f"has {len(cells)} fields, the header has {len(names)}"
        raise WeatherError(Fault(rule, file=file, line=line))
    moment = _moment(file, cells[names.index(wanted[0])], wanted[0], line)
    offset = moment.utcoffset() or timedelta()
    values = []
    for name in wanted[1:]:
        text = cells[names.index(name)].strip()
        text = text.replace(",", ".") if delimiter != "," else text
        values.append(_number(file, text, name, line))
    return _Row(round(moment.timestamp()), offset.total_seconds(), values, line)


def _cut(
    file: str, lines: list[str], begin: int, delimiter: str
) -> Iterator[tuple[int, list[str]]]:
    """Line number and cells of every line under the header."""
    reader = csv.reader(lines[begin:], delimiter=delimiter)
    try:
        for row in reader:
            yield begin + reader.line_num, row
    except csv.Error as error:
        rule = f"no table any more ({error})"
        raise WeatherError(Fault(rule, file=file, line=begin + reader.line_num)) from error


def _moment(file: str, text: str, name: str, line: int) -> datetime:
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError:
        moment = None
    if moment is not None and not _FIRST_YEAR < moment.year < _LAST_YEAR:
        rule = f"must lie between the years {_FIRST_YEAR} and {_LAST_YEAR}"
        raise WeatherError(Fault(rule, file=file, line=line, key=name, value=text))
    if moment is None or moment.tzinfo is None:
        what = "is no time" if moment is None else "has no offset from UTC"
        rule = f"{what}; write 2019-01-31T14:00-07:00, or 2019-01-31T21:00Z"
        raise WeatherError(Fault(rule, file=file, line=line, key=name, value=text))
    return moment


def _number(file: str, text: str, name: str, line: int) -> float:
    if text.lower() in _MISSING:
        return float("nan")
    try:
        number = float(text)
    except ValueError:
        number = float("inf")
    if not np.isfinite(number):
        raise WeatherError(Fault("is not a number", file=file, line=line, key=name, value=text))
    return number


def _interval(file: str, unix: Ints, line: Ints) -> int:
    """Length of an interval. [min]"""
    apart = np.diff(unix)
    back = np.flatnonzero(apart <= 0)
    if len(back):
        first = int(back[0])
        word = "the same time as" if apart[first] == 0 else "earlier than"
        rule = f"{word} the row before (line {line[first]}); rows must run forward in time"
        raise WeatherError(Fault(rule, file=file, line=int(line[first + 1])))
    kinds, counts = np.unique(apart, return_counts=True)
    usual = int(kinds[np.argmax(counts)])
    if usual not in [60 * step for step in _STEPS]:
        rule = f"its rows are {usual / 60.0:g} minutes apart; 60 are wanted, or 5, 10, 15, 20 or 30"
        raise WeatherError(Fault(rule, file=file))
    return usual // 60


def _slots(file: str, unix: Ints, minutes: int, line: Ints) -> Ints:
    """Number of each row on the even grid."""
    passed = unix - unix[0]
    odd = np.flatnonzero(passed % (60 * minutes))
    if len(odd):
        rule = f"does not fit the {minutes}-minute step of the other rows"
        raise WeatherError(Fault(rule, file=file, line=int(line[odd[0]])))
    if passed[-1] < 86400:
        raise WeatherError(Fault("covers less than a day", file=file))
    if passed[-1] > _MOST_STEPS * 60 * minutes:
        rule = f"covers more than {_MOST_STEPS:,} steps of {minutes} minutes"
        raise WeatherError(Fault(rule, file=file))
    return np.asarray(passed // (60 * minutes), dtype=np.int64)


def _clock_offset_h(first: int, offset: Floats, minutes: int) -> float:
    """The clock in which the file counts: its most common offset, moved to even steps. [h]"""
    kinds, counts = np.unique(offset, return_counts=True)
    # The summer half has as many rows as the winter half; the standard time is the smaller.
    usual = float(kinds[counts > 0.4 * counts.max()].min())
    return (usual - (first + usual) % (60 * minutes)) / 3600.0
