"""The lines of a typical-year file, sorted before pvlib reads them.

A row that is broken counts as missing and is said once; many of them refuse the file. Headings are
brought to the form that pvlib wants, where it is clear what they mean.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from sim.errors import Fault, WeatherError, shown

TMY3_TIMES = ("Date (MM/DD/YYYY)", "Time (HH:MM)")
TMY3_COLUMNS = {
    "ghi": "GHI (W/m^2)",
    "dni": "DNI (W/m^2)",
    "dhi": "DHI (W/m^2)",
    "temp_air": "Dry-bulb (C)",
}
_TIME_SHAPES = (re.compile(r"\d\d?/\d\d?/\d{4}"), re.compile(r"\d\d?:\d\d"))
_TIME_EXAMPLES = ("01/31/1995", "01:00")

_MOST_BROKEN = 0.01  # of the rows
_EPW_FIELDS = 35  # EnergyPlus, Auxiliary Programs: weather converter, EPW data dictionary
_EPW_NEEDED = 16  # up to the diffuse irradiance
_EPW_STATION = {"latitude": 6, "longitude": 7, "time zone": 8, "altitude": 9}
_EPW_HEADER = 8  # lines that pvlib skips
_MOST_HEADER = 30
_TMY3_STATION = {"time zone": 3, "latitude": 4, "longitude": 5, "altitude": 6}
_TMY2_WIDTH = 142  # TMY2 user's manual, table 3-2
_TMY2_FIELDS = {"GHI": (17, 21), "DNI": (23, 27), "DHI": (29, 33), "DryBulb": (67, 71)}
_TMY2_FIELDS |= {"month": (3, 5), "day": (5, 7), "hour": (7, 9)}
_NUMBER = re.compile(r"[+-]?\d+(\.\d*)?")

Numbered = Sequence[tuple[int, str]]


@dataclass(frozen=True)
class Lines:
    """A file's lines, fit for pvlib.

    Attributes
    ----------
    header, rows : list of str
    number : list of int
        Line of the file of each row.
    notes : list of str
        What was mended.
    """

    header: list[str]
    rows: list[str]
    number: list[int]
    notes: list[str] = field(default_factory=list)


def epw_lines(file: str, lines: Numbered) -> Lines:
    """An EPW's station, eight header lines in all, and rows of 35 fields.

    Anything after the 35 fields is cut: pvlib would take the first columns for an index.

    Raises
    ------
    WeatherError
    """
    near = [at for at, (_, line) in enumerate(lines[:_MOST_HEADER]) if _is_periods(line)]
    if not near:
        rule = "an EPW begins with lines from LOCATION to DATA PERIODS"
        raise WeatherError(Fault(rule, file=file))
    last = near[0]
    number, periods = lines[last]
    fields = [part.strip() for part in periods.split(",")]
    if len(fields) > 2 and fields[2] not in ("1", ""):
        rule = f"has {fields[2]} records an hour; an hourly EPW is wanted"
        raise WeatherError(Fault(rule, file=file, line=number, key="DATA PERIODS"))
    station, notes = _station(file, lines[0], _EPW_STATION)
    rows = _kept(file, lines[last + 1 :], _epw_fault)
    cells = [line.rstrip().rstrip(",").split(",")[:_EPW_FIELDS] for line in rows.rows]
    # One length for all rows: pandas takes that of the first.
    padded = [",".join(row + [""] * (_EPW_FIELDS - len(row))) for row in cells]
    header = [station, *["-"] * (_EPW_HEADER - 2), periods]
    return Lines(header, padded, rows.number, [*notes, *rows.notes])


def tmy3_lines(file: str, lines: Numbered) -> Lines:
    """A TMY3 file's two header lines, its columns named as the format names them, and its rows.

    Raises
    ------
    WeatherError
    """
    station, notes = _station(file, lines[0], _TMY3_STATION)
    wanted = {_letters(name): name for name in (*TMY3_TIMES, *TMY3_COLUMNS.values())}
    header = [wanted.get(_letters(name), name) for name in lines[1][1].split(",")]
    needed = (*TMY3_TIMES, TMY3_COLUMNS["ghi"], TMY3_COLUMNS["temp_air"])
    missing = [name for name in needed if name not in header]
    if missing:
        rule = f"this TMY3 file has no column {', '.join(missing)}"
        raise WeatherError(Fault(rule, file=file, line=lines[1][0]))
    where = [header.index(name) for name in TMY3_TIMES]
    least = 1 + max(header.index(name) for name in wanted.values() if name in header)

    def wrong(line: str) -> Fault | None:
        parts = line.split(",")
        if not least <= len(parts) <= len(header):
            return Fault(f"has {len(parts)} fields, the header has {len(header)}")
        for name, at, shape, example in zip(
            TMY3_TIMES, where, _TIME_SHAPES, _TIME_EXAMPLES, strict=True
        ):
            if not shape.fullmatch(parts[at]):
                return Fault(f"must look like {example}", key=name, value=parts[at])
        return None

    rows = _kept(file, lines[2:], wrong)
    return Lines([station, ",".join(header)], rows.rows, rows.number, [*notes, *rows.notes])


def tmy2_lines(file: str, lines: Numbered) -> Lines:
    """A TMY2 file's header line and rows, both of fixed width.

    Raises
    ------
    WeatherError
    """
    rows = _kept(file, lines[1:], _tmy2_fault)
    return Lines([lines[0][1]], rows.rows, rows.number, rows.notes)


def _is_periods(line: str) -> bool:
    return line.upper().lstrip().startswith("DATA PERIODS")


def _letters(name: str) -> str:
    """A column's name without what people write differently: ``GHI (W/m^2)`` as ``ghiwm2``."""
    return "".join(letter for letter in name.lower() if letter.isalnum())


def _station(file: str, first: tuple[int, str], where: dict[str, int]) -> tuple[str, list[str]]:
    """The first line with numbers where the position and the time zone belong.

    A comma in the station's name moves them all; words behind a number are cut.
    """
    number, line = first
    parts = line.split(",")
    begin = min(where.values())
    fours = range(begin, len(parts) - 3)
    # The last four numbers: a station's number may stand before them.
    moved = max((at - begin for at in fours if all(map(_leading, parts[at : at + 4]))), default=0)
    if moved:
        name = " ".join(part.strip() for part in parts[1 : 2 + moved])
        parts = [parts[0], name, *parts[2 + moved :]]
    notes = []
    for key, index in where.items():
        text = parts[index].strip() if index < len(parts) else ""
        found = _leading(text)
        if not found:
            raise WeatherError(
                Fault("must be a number", file=file, line=number, key=key, value=text)
            )
        if found != text:
            notes.append(f"The {key} in line {number} is read as {found}, from {shown(text, 30)}.")
            parts[index] = found
        if key == "time zone" and not -12.0 <= float(found) <= 14.0:
            rule = "the offset from UTC must lie between -12 and +14 hours"
            raise WeatherError(Fault(rule, file=file, line=number, key=key, value=text))
    return ",".join(parts), notes


def _leading(text: str) -> str:
    """The number that a text begins with, alone or before a space; else nothing."""
    first = (text.split() or [""])[0]
    return first if _NUMBER.fullmatch(first) else ""


def _kept(file: str, lines: Numbered, wrong: Callable[[str], Fault | None]) -> Lines:
    """The rows that are whole.

    Raises
    ------
    WeatherError
        If more than one in a hundred is broken, with the first of them.
    """
    faults = [(number, line, wrong(line)) for number, line in lines]
    broken = [(number, fault) for number, _, fault in faults if fault is not None]
    whole = [(number, line) for number, line, fault in faults if fault is None]
    notes = []
    if broken:
        number, fault = broken[0]
        if len(broken) > _MOST_BROKEN * len(faults):
            more = f" (and {len(broken) - 1} more such rows)" if len(broken) > 1 else ""
            rule = fault.rule + more
            placed = WeatherError(fault).at(file=file, line=number)[0]
            raise WeatherError(Fault(rule, placed.file, placed.line, placed.key, placed.value))
        rows = "row is broken and counts" if len(broken) == 1 else "rows are broken and count"
        notes.append(f"{len(broken)} {rows} as missing (first in line {number}: {fault}).")
    return Lines([], [line for _, line in whole], [number for number, _ in whole], notes)


def _epw_fault(line: str) -> Fault | None:
    parts = line.rstrip().rstrip(",").split(",")
    if len(parts) < _EPW_NEEDED:
        return Fault(f"cut short: {len(parts)} of {_EPW_FIELDS} fields")
    if not all(part.strip().isdigit() for part in parts[:4]):
        return Fault("must begin with year, month, day and hour", value=",".join(parts[:4]))
    return None


def _tmy2_fault(line: str) -> Fault | None:
    if len(line.rstrip()) < _TMY2_WIDTH:
        return Fault(f"cut short: {len(line.rstrip())} of {_TMY2_WIDTH} characters")
    for key, (begin, end) in _TMY2_FIELDS.items():
        if not re.fullmatch(r" *-?\d+", line[begin:end]):
            return Fault("is no whole number", key=key, value=line[begin:end])
    return None
