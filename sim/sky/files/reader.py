"""Weather files: one reader for all of them, one form behind it.

`read_weather` takes a typical-year file (TMY3, TMY2, EPW) or a plain table and gives
`WeatherYears`: hourly means on calendar years of 365 days. `sim.sky.files.under_trip` lays them
under a trip.
"""

from __future__ import annotations

import calendar
import re
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sim.arrays import Floats, Ints
from sim.errors import Fault, WeatherError, printable
from sim.sky.files.mending import mended
from sim.sky.files.rows import Rows
from sim.sky.files.table import Position, is_table, read_table
from sim.sky.files.typical import HOURS, kind_of, read_typical

_KINDS = "a typical year (EPW, TMY3, TMY2) or a table with the columns time, ghi, temp_air"
_SUFFIXES = {".epw": "EPW", ".tm2": "TMY2", ".tm3": "TMY3"}
_LARGEST_MB = 300
_LONGEST_SOURCE = 400  # letters


@dataclass(frozen=True, eq=False)
class WeatherYears:
    """The weather of one station, hour by hour, over one or more years.

    Attributes
    ----------
    file : str
        Path as the user wrote it.
    source : str
        A sentence for the report: file, format, station.
    notes : tuple of str
        Sentences on what was filled, estimated or looked odd.
    latitude, longitude, altitude_m : float
        The station. [degrees, m]
    clock_offset_h : float
        Hours east of UTC of the clock in which every row starts on a full hour.
    typical : bool
        Whether the one year is put together from months of several.
    years : tuple of int
        Calendar year of each column.
    ghi, dni, dhi : ndarray, shape (8760, Y)
        Means over the hour. Row 0 is the hour from 1 January 00:00 in the file's clock; leap
        days are left out. nan in hours that the file does not cover. [W/m2]
    temp_air : ndarray, shape (8760, Y)
        Mean air temperature of the hour. [deg C]
    """

    file: str
    source: str
    notes: tuple[str, ...]
    latitude: float
    longitude: float
    altitude_m: float
    clock_offset_h: float
    typical: bool
    years: tuple[int, ...]
    ghi: Floats
    dni: Floats
    dhi: Floats
    temp_air: Floats

    def start_utc(self, column: int = 0) -> NDArray[np.datetime64]:
        """Start of every hour of one year. datetime64[s], shape (8760,)"""
        hours = np.arange(HOURS)
        if calendar.isleap(self.years[column]):
            hours = np.where(hours < 24 * 59, hours, hours + 24)
        first = np.datetime64(f"{self.years[column]:04d}-01-01T00", "s")
        offset = np.timedelta64(round(3600 * self.clock_offset_h), "s")
        return np.asarray(first + np.timedelta64(3600, "s") * hours - offset)


def hour_of_year(clock: NDArray[np.datetime64]) -> Ints:
    """Hour of a year of 365 days; those of 29 February count as those of 1 March.

    Parameters
    ----------
    clock : ndarray of datetime64[s]
        In the clock that the hours are counted in.
    """
    year = clock.astype("datetime64[Y]")
    days = (year + np.timedelta64(1, "Y")).astype("datetime64[D]") - year.astype("datetime64[D]")
    hour = (clock - year.astype("datetime64[s]")).astype(np.int64) // 3600
    late = (days == np.timedelta64(366, "D")) & (hour >= 24 * 60)
    return np.asarray(hour - 24 * late, dtype=np.int64)


def read_weather(path: Path, *, place: Position | None = None) -> WeatherYears:
    """Read a weather file of any known kind; its content says which.

    Parameters
    ----------
    path : Path
        TMY3, TMY2, EPW or a plain table (see `sim.sky.files.table`).
    place : (latitude, longitude, altitude), optional
        Where a plain table was recorded if it does not say so itself. [degrees, degrees, m]

    Returns
    -------
    WeatherYears

    Raises
    ------
    WeatherError
        If the file is missing, unreadable, cut short or holds nonsense; each fault names
        line and column.
    """
    file = str(path)
    lines = re.split(r"\r\n|\r|\n", _text(path))
    kind = kind_of(lines)
    promised = _SUFFIXES.get(path.suffix.lower())
    if promised is not None and kind != promised:
        rule = f"ends in {path.suffix} but is no {promised} file inside"
        raise WeatherError(Fault(rule, file=file))
    if kind is not None:
        rows, station = read_typical(file, lines)
        station += f", {_compass(rows)}"
    elif is_table(lines):
        rows, station = read_table(file, lines, place), ""
        station = f"a table recorded at {_compass(rows)}"
    else:
        raise WeatherError(Fault(f"is not a weather file; give {_KINDS}", file=file))
    rows, notes = mended(rows)
    years, values = _by_year(_hourly(rows))
    typical = kind is not None
    span = "" if typical else _span(years)
    return WeatherYears(
        file=file,
        source=printable(f"Weather from {path.name}: {station}{span}.", _LONGEST_SOURCE),
        notes=notes,
        latitude=rows.latitude,
        longitude=rows.longitude,
        altitude_m=rows.altitude_m,
        clock_offset_h=rows.clock_offset_h,
        typical=typical,
        years=years,
        **values,
    )


def _text(path: Path) -> str:
    """The file's text, whatever wrote it.

    UTF-8 with or without a byte-order mark, UTF-16 with one; anything else is taken for
    Latin-1, in which old station names are written.
    """
    file = str(path)
    try:
        if path.is_dir():
            raise WeatherError(Fault(f"is a folder; give {_KINDS}", file=file))
        if not path.is_file():
            raise WeatherError(Fault("there is no such weather file", file=file))
        if path.stat().st_size > _LARGEST_MB * 1e6:
            rule = f"larger than {_LARGEST_MB} MB; hourly values are enough"
            raise WeatherError(Fault(rule, file=file))
        data = path.read_bytes()
    except OSError as error:
        reason = error.strerror or "not readable"
        raise WeatherError(Fault(f"cannot be read ({reason})", file=file)) from error
    if not data.strip():
        raise WeatherError(Fault(f"is empty; give {_KINDS}", file=file))
    try:
        text = data.decode("utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
    if "\0" in text:
        rule = f"is not text (an archive or a spreadsheet?); give {_KINDS}"
        raise WeatherError(Fault(rule, file=file))
    return text


def _compass(rows: Rows) -> str:
    north = "N" if rows.latitude >= 0 else "S"
    east = "E" if rows.longitude >= 0 else "W"
    return (
        f"{abs(rows.latitude):.2f} {north} {abs(rows.longitude):.2f} {east}, "
        f"{rows.altitude_m:.0f} m"
    )


def _span(years: tuple[int, ...]) -> str:
    return f", {years[0]}" if len(years) == 1 else f", {years[0]} to {years[-1]}"


def _hourly(rows: Rows) -> Rows:
    """Means over the full hours of the file's clock; a broken first or last hour is dropped."""
    if rows.minutes == 60:
        return rows
    clock = _clock_s(rows)
    first = int(np.argmax(clock % 3600 == 0))
    count = (len(clock) - first) // rows.per_hour
    kept = slice(first, first + count * rows.per_hour)
    values = {
        name: value[kept].reshape(count, rows.per_hour).mean(axis=1)
        for name, value in rows.values.items()
    }
    return replace(
        rows,
        start_utc=rows.start_utc[kept][:: rows.per_hour],
        line=rows.line[kept][:: rows.per_hour],
        minutes=60,
        values=values,
    )


def _clock_s(rows: Rows) -> Ints:
    """Start of each row in the file's own clock. [s since 1970-01-01], shape (N,)"""
    unix = rows.start_utc.astype("datetime64[s]").astype(np.int64)
    return np.asarray(unix + round(3600 * rows.clock_offset_h), dtype=np.int64)


def _by_year(rows: Rows) -> tuple[tuple[int, ...], dict[str, Floats]]:
    """Hours laid out by calendar year without leap days. shape (8760, Y)"""
    clock = _clock_s(rows).astype("datetime64[s]")
    year = clock.astype("datetime64[Y]").astype(np.int64) + 1970
    month = clock.astype("datetime64[M]")
    day = (clock.astype("datetime64[D]") - month.astype("datetime64[D]")).astype(np.int64) + 1
    kept = ~((month.astype(np.int64) % 12 == 1) & (day == 29))
    hour = hour_of_year(clock)
    years = tuple(range(int(year[0]), int(year[-1]) + 1))
    values = {}
    for name, value in rows.values.items():
        table = np.full((HOURS, len(years)), np.nan)
        table[hour[kept], year[kept] - years[0]] = value[kept]
        values[name] = table
    return years, values
