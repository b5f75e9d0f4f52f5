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
from sim.errors import Fault, WeatherError
from sim.sky.files.rows import Rows, check_position

HOURS = 8760  # of a year of 365 days
YEAR = 2001  # any year without a leap day
_DAY_OF_MONTH = np.array([0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334])
_NAMES = ("ghi", "dni", "dhi", "temp_air")
_MISSING = {"ghi": (9999.0, -9900.0), "temp_air": (99.9, -9900.0)}


@dataclass(frozen=True)
class _Format:
    """How one format differs from the others.

    Attributes
    ----------
    header : int
        Lines before the first row.
    columns : dict of str to str
        Our name to pvlib's name, which is the file's own for TMY3.
    read : callable
        Text to pvlib's frame and metadata.
    ends : int
        Hours by which the stamps that pvlib gives lie after the start of the hour.
    station : dict of str to int
        Fields of the first line that must be numbers.
    scale_c : float
        Unit of the temperature. [deg C]
    """

    name: str
    header: int
    columns: dict[str, str]
    read: Callable[[str], tuple[pd.DataFrame, dict[str, object]]]
    ends: int
    station: dict[str, int]
    scale_c: float = 1.0


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
    2,
    {
        "ghi": "GHI (W/m^2)",
        "dni": "DNI (W/m^2)",
        "dhi": "DHI (W/m^2)",
        "temp_air": "Dry-bulb (C)",
    },
    _read_tmy3,
    1,
    {"time zone": 3, "latitude": 4, "longitude": 5, "altitude": 6},
)
_TMY2 = _Format(
    "TMY2",
    1,
    {"ghi": "GHI", "dni": "DNI", "dhi": "DHI", "temp_air": "DryBulb"},
    _read_tmy2,
    0,
    {},  # of fixed width, and checked by its shape
    0.1,
)
_EPW = _Format(
    "EPW",
    8,
    {name: name for name in _NAMES},
    _read_epw,
    0,
    {"latitude": 6, "longitude": 7, "time zone": 8, "altitude": 9},
)

_EPW_FIELDS = 35  # EnergyPlus, Auxiliary Programs: weather converter, EPW data dictionary
_EPW_NEEDED = 16  # up to the diffuse irradiance
_TMY2_WIDTH = 142  # TMY2 user's manual, table 3-2
_TMY2_FIELDS = {"GHI": (17, 21), "DNI": (23, 27), "DHI": (29, 33), "DryBulb": (67, 71)}
_TMY2_FIELDS |= {"month": (3, 5), "day": (5, 7), "hour": (7, 9)}
_TMY3_TIMES = ("Date (MM/DD/YYYY)", "Time (HH:MM)")
_TMY2_HEADER = re.compile(r" ?\d{5} .{22} .. +-?\d+ [NS] +\d+ +\d+ [EW] +\d+ +\d+ +-?\d+\s*$")


def kind_of(lines: list[str]) -> str | None:
    """``"EPW"``, ``"TMY3"`` or ``"TMY2"`` by the first lines, None if it is none of them."""
    if lines and lines[0].upper().startswith("LOCATION,"):
        return "EPW"
    if len(lines) > 1 and _TMY3_TIMES[0] in lines[1]:
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
    number = [at for at, line in enumerate(lines, 1) if line.strip()]
    kept = [line for line in lines if line.strip()]
    if fmt is _EPW:
        kept = _epw_lines(file, kept, number)
    elif fmt is _TMY2:
        _check_tmy2(file, kept, number)
    else:
        _check_tmy3(file, kept, number)
    _check_station(file, fmt, kept[0], number[0])
    if len(kept) <= fmt.header:
        raise WeatherError(Fault(f"a {fmt.name} file without a single row", file=file))
    try:
        with warnings.catch_warnings():
            # A column that is not all numbers is refused below, with its line.
            warnings.simplefilter("ignore", pd.errors.DtypeWarning)
            frame, meta = fmt.read("\n".join(kept) + "\n")
        latitude, longitude = float(str(meta["latitude"])), float(str(meta["longitude"]))
        altitude, zone = float(str(meta["altitude"])), float(str(meta["TZ"]))
    except (ValueError, KeyError, TypeError, IndexError, OverflowError) as error:
        reason = " ".join(str(error).split())[:120]
        raise WeatherError(Fault(f"not readable as {fmt.name} ({reason})", file=file)) from error
    check_position(file, latitude, longitude, altitude)
    line = np.array(number[fmt.header :], dtype=np.int64)
    values = {name: _numbers(file, frame[key], key, line) for name, key in fmt.columns.items()}
    hour = _hour_of_year(frame, fmt.ends)
    used = hour >= 0
    _check_order(file, hour[used], line[used])
    grid, grid_line = _on_calendar(hour[used], line[used], values, used)
    grid["temp_air"] = fmt.scale_c * (grid["temp_air"] + np.roll(grid["temp_air"], 1)) / 2.0
    start = np.datetime64(f"{YEAR}-01-01T00", "s") + np.timedelta64(3600, "s") * np.arange(HOURS)
    rows = Rows(
        file=file,
        start_utc=start - np.timedelta64(round(3600 * zone), "s"),
        minutes=60,
        clock_offset_h=zone,
        latitude=latitude,
        longitude=longitude,
        altitude_m=altitude,
        values=grid,
        columns=fmt.columns,
        line=grid_line,
    )
    return rows, f"{fmt.name}, {meta['Name']}"


def _check_station(file: str, fmt: _Format, line: str, number: int) -> None:
    """Refuse a first line without numbers where the position and the time zone belong."""
    parts = line.split(",")
    for key, index in fmt.station.items():
        text = parts[index].strip() if index < len(parts) else ""
        if not re.fullmatch(r"[+-]?\d+(\.\d*)?", text):
            raise WeatherError(
                Fault("must be a number", file=file, line=number, key=key, value=text)
            )
        if key == "time zone" and not -12.0 <= float(text) <= 14.0:
            rule = "the offset from UTC must lie between -12 and +14 hours"
            raise WeatherError(Fault(rule, file=file, line=number, key=key, value=text))


def _epw_lines(file: str, lines: list[str], number: list[int]) -> list[str]:
    """Check an EPW's rows and cut what stands behind its 35 fields.

    pvlib would take the first columns for an index if a row had more fields.
    """
    periods = [line for line in lines[:8] if line.upper().startswith("DATA PERIODS")]
    if not periods or not lines[min(7, len(lines) - 1)].upper().startswith("DATA PERIODS"):
        rule = "an EPW has 8 header lines, from LOCATION to DATA PERIODS"
        raise WeatherError(Fault(rule, file=file))
    fields = [part.strip() for part in periods[0].split(",")]
    if len(fields) > 2 and fields[2] not in ("1", ""):
        rule = f"has {fields[2]} records an hour; an hourly EPW is wanted"
        raise WeatherError(Fault(rule, file=file, line=number[7], key="DATA PERIODS"))
    out = lines[:8]
    for at, line in zip(number[8:], lines[8:], strict=True):
        parts = line.rstrip().rstrip(",").split(",")[:_EPW_FIELDS]
        if len(parts) < _EPW_NEEDED:
            rule = f"cut short: {len(parts)} of {_EPW_FIELDS} fields"
            raise WeatherError(Fault(rule, file=file, line=at))
        if not all(part.strip().isdigit() for part in parts[:4]):
            rule = "must begin with year, month, day and hour"
            raise WeatherError(Fault(rule, file=file, line=at, value=",".join(parts[:4])))
        # One length for all rows: pandas takes that of the first.
        out.append(",".join(parts + [""] * (_EPW_FIELDS - len(parts))))
    return out


def _check_tmy2(file: str, lines: list[str], number: list[int]) -> None:
    for at, line in zip(number[1:], lines[1:], strict=True):
        if len(line.rstrip()) < _TMY2_WIDTH:
            rule = f"cut short: {len(line.rstrip())} of {_TMY2_WIDTH} characters"
            raise WeatherError(Fault(rule, file=file, line=at))
        for key, (begin, end) in _TMY2_FIELDS.items():
            text = line[begin:end]
            if not re.fullmatch(r" *-?\d+", text):
                rule = "is no whole number"
                raise WeatherError(Fault(rule, file=file, line=at, key=key, value=text))


def _check_tmy3(file: str, lines: list[str], number: list[int]) -> None:
    header = lines[1].split(",")
    wanted = (*_TMY3_TIMES, *_TMY3.columns.values())
    missing = [name for name in wanted if name not in header]
    if missing:
        rule = f"this TMY3 file has no column {', '.join(missing)}"
        raise WeatherError(Fault(rule, file=file, line=number[1]))
    times = {
        name: (header.index(name), re.compile(shape), example)
        for name, shape, example in zip(
            _TMY3_TIMES, (r"\d\d?/\d\d?/\d{4}", r"\d\d?:\d\d"), ("01/31/1995", "01:00"), strict=True
        )
    }
    needed = 1 + max(header.index(name) for name in wanted)
    for at, line in zip(number[2:], lines[2:], strict=True):
        parts = line.split(",")
        if not needed <= len(parts) <= len(header):
            rule = f"has {len(parts)} fields, the header has {len(header)}"
            raise WeatherError(Fault(rule, file=file, line=at))
        for name, (column, shape, example) in times.items():
            if not shape.fullmatch(parts[column]):
                rule = f"must look like {example}"
                raise WeatherError(Fault(rule, file=file, line=at, key=name, value=parts[column]))


def _numbers(file: str, column: pd.Series, key: str, line: Ints) -> Floats:
    """A column as numbers, nan where the format says that a value is missing."""
    numbers = pd.to_numeric(column, errors="coerce").to_numpy(dtype=np.float64)
    wrong = np.isnan(numbers) & column.notna().to_numpy()
    wrong |= np.isinf(numbers)
    if wrong.any():
        first = int(np.flatnonzero(wrong)[0])
        value = str(column.iloc[first])
        raise WeatherError(
            Fault("is no number", file=file, line=int(line[first]), key=key, value=value)
        )
    temperature = key in ("temp_air", "Dry-bulb (C)", "DryBulb")
    flags = _MISSING["temp_air" if temperature else "ghi"]
    return np.where(np.isin(numbers, flags), np.nan, numbers)


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
