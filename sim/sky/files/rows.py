"""The rows of one weather file, and what makes them fit for use.

Every reader makes `Rows`; `mended` refuses what cannot be true, names the line and column,
and fills what is missing for an hour or two.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from sim.arrays import Bools, Floats, Ints
from sim.errors import Fault, WeatherError
from sim.sky.sun import position as sun_position
from sim.sky.sun import split_global
from sim.sky.sun_means import DEGREES_PER_HOUR, SunClock, mean_sun, sun_clock
from sim.sky.track import Track

Bools = Bools

# The coldest and the hottest air ever measured, -89.2 and 56.7 deg C (World Meteorological
# Organization, World Weather & Climate Extremes Archive), and a little room.
COLDEST_C, HOTTEST_C = -90.0, 60.0
_TOO_BRIGHT = 1.2  # times what arrives outside the atmosphere; clouds can add to the beam
_TWILIGHT_W_M2 = 20.0  # NREL's typical years hold up to 5 W/m2 with the sun just down
# Pyranometers at night, and pyrheliometers behind clouds, read a little below zero; the classes
# of ISO 9060 bound the night offset at 7 to 30 W/m2 (from memory).
_ZERO_OFFSET_W_M2 = -15.0
_LONGEST_FILLED_H = 3.0
_WRONG_CLOCK_H = 1.5  # radiation this far from the sun's own noon is refused
_ODD_CLOCK_H = 0.35  # and this far is told
_LOW_SUN_W_M2 = 20.0  # below this a ratio to the extraterrestrial says nothing
RADIATION = ("ghi", "dni", "dhi")


@dataclass(frozen=True)
class Rows:
    """A weather file's rows on an even grid.

    Attributes
    ----------
    file : str
        Path as the user wrote it.
    start_utc : ndarray of datetime64[s], shape (N,)
        Start of each interval, evenly spaced.
    minutes : int
        Length of an interval. [min]
    clock_offset_h : float
        Hours east of UTC of the clock in which the file counts its hours.
    latitude, longitude, altitude_m : float
        Where the file was recorded. [degrees, m]
    values : dict of str to ndarray, shape (N,)
        ``ghi`` and ``temp_air``, and ``dni`` with ``dhi`` where the file has them. Means over
        the interval, nan where the file has none. [W/m2, deg C]
    columns : dict of str to str
        What the file itself calls each of them.
    line : ndarray of int, shape (N,)
        Line of the file; for a missing row the line before it.
    """

    file: str
    start_utc: NDArray[np.datetime64]
    minutes: int
    clock_offset_h: float
    latitude: float
    longitude: float
    altitude_m: float
    values: dict[str, Floats]
    columns: dict[str, str]
    line: Ints

    @property
    def per_hour(self) -> int:
        """Rows an hour, at least 1."""
        return max(60 // self.minutes, 1)

    def fault(self, wrong: Bools, name: str, rule: str) -> Fault:
        """The first of some wrong values, as a fault that says how many there are."""
        first = int(np.flatnonzero(wrong)[0])
        count = int(wrong.sum())
        more = f" (and {count - 1} more such rows)" if count > 1 else ""
        return Fault(
            rule + more,
            file=self.file,
            line=int(self.line[first]),
            key=self.columns[name],
            value=f"{self.values[name][first]:g}",
        )


@dataclass(frozen=True)
class _Outside:
    """The sun outside the atmosphere over each row: mean on the level, mean facing it."""

    ghi: Floats
    dni: Floats
    brightest_ghi: Floats  # of the row and an hour before and after
    brightest_dni: Floats


def check_position(file: str, latitude: float, longitude: float, altitude_m: float) -> None:
    """Refuse a station that is nowhere on Earth.

    Raises
    ------
    WeatherError
    """
    bounds = (
        ("latitude", latitude, -90.0, 90.0),
        ("longitude", longitude, -180.0, 180.0),
        ("altitude_m", altitude_m, -430.0, 8850.0),  # the Dead Sea's shore, the highest summit
    )
    faults = [
        Fault(f"must lie between {low:g} and {high:g}", file=file, key=name, value=f"{value:g}")
        for name, value, low, high in bounds
        if not low <= value <= high
    ]
    if faults:
        raise WeatherError(*faults)


def mended(rows: Rows) -> tuple[Rows, tuple[str, ...]]:
    """Refuse nonsense, fill short gaps, split global irradiance where need be.

    Parameters
    ----------
    rows : Rows
        As read.

    Returns
    -------
    Rows
        With no nan, nothing negative, and all of ghi, dni, dhi and temp_air.
    tuple of str
        A sentence for each thing that was done or looks odd.

    Raises
    ------
    WeatherError
        With a fault for each kind of nonsense: its first line, its column, how many rows.
    """
    clock = sun_clock(rows.start_utc, rows.minutes)
    outside = _outside(rows, clock)
    _check_units(rows, outside)
    slip = _slip_h(rows, clock, outside)
    _check_clock(rows, slip)
    faults = [*_range_faults(rows, outside), *_gap_faults(rows)]
    if faults:
        raise WeatherError(*faults)
    notes = [*_clock_notes(slip), *_negative_notes(rows), *_gap_notes(rows)]
    filled = _filled(rows, outside)
    if "dni" not in filled.values:
        filled = _split(filled)
        notes.append("The file has no direct and diffuse irradiance; they are estimated from GHI.")
    return filled, tuple(notes)


def _outside(rows: Rows, clock: SunClock) -> _Outside:
    half = rows.minutes / 120.0
    cosine, up = mean_sun(clock, rows.latitude, rows.longitude, -half, half)
    near, near_up = cosine, up
    for hours in (-1.0, 1.0):
        other, other_up = mean_sun(clock, rows.latitude, rows.longitude, hours - half, hours + half)
        near, near_up = np.maximum(near, other), np.maximum(near_up, other_up)
    extra = clock.dni_extra
    return _Outside(cosine * extra, up * extra, near * extra, (near_up > 0.0) * extra)


def _check_units(rows: Rows, outside: _Outside) -> None:
    ghi = rows.values["ghi"]
    known = ~np.isnan(ghi)
    if not known.any() or outside.ghi[known].max() < 100.0:
        return
    brightest = float(ghi[known].max())
    if brightest < 2.0:
        rule = (
            "has no sun at all: the largest value is "
            f"{brightest:g}; irradiance in W/m2 is wanted, not in kW/m2"
        )
        raise WeatherError(Fault(rule, file=rows.file, key=rows.columns["ghi"]))


def _slip_h(rows: Rows, clock: SunClock, outside: _Outside) -> float | None:
    """How late the radiation comes, against the sun at the station's longitude. [h]

    The mean hour angle of the radiation on the brighter half of days, where the clouds of
    morning and afternoon weigh least; None where the sun tells nothing.
    """
    ghi = np.nan_to_num(np.maximum(rows.values["ghi"], 0.0))
    solar_s = rows.start_utc.astype("datetime64[s]").astype(np.int64) + 240.0 * rows.longitude
    day = np.floor(solar_s / 86400.0).astype(np.int64)
    day -= day[0]
    sun_of_day = np.bincount(day, outside.ghi)
    light_of_day = np.bincount(day, ghi)
    clearness = light_of_day / np.maximum(sun_of_day, 1e-9)
    usable = (sun_of_day > 0.2 * sun_of_day.max()) & (light_of_day > 0.0)
    if not usable.any():
        return None
    bright = usable & (clearness >= np.median(clearness[usable]))
    weight = ghi * bright[day]
    centre = np.sum(weight * np.exp(1j * clock.hour_angle(rows.longitude))) / weight.sum()
    if abs(centre) < 0.1:  # a polar summer: nearly as bright at midnight
        return None
    return float(np.degrees(np.angle(centre)) / DEGREES_PER_HOUR)


def _check_clock(rows: Rows, slip_h: float | None) -> None:
    if slip_h is None or abs(slip_h) <= _WRONG_CLOCK_H:
        return
    # Radiation that comes late by the sun was stamped too far west: the true clock is east.
    likely = round((rows.clock_offset_h + slip_h + 12.0) % 24.0 - 12.0)
    way = "late" if slip_h > 0 else "early"
    rule = (
        f"its sun comes {abs(slip_h):.1f} h {way} for longitude {rows.longitude:g}: the times say "
        f"UTC{rows.clock_offset_h:+g}, UTC{likely:+d} would fit; "
        "give the right offset from UTC, or the right longitude"
    )
    raise WeatherError(Fault(rule, file=rows.file))


def _clock_notes(slip_h: float | None) -> list[str]:
    if slip_h is None or abs(slip_h) <= _ODD_CLOCK_H:
        return []
    way = "late" if slip_h > 0 else "early"
    return [
        f"The file's sun comes about {60.0 * abs(slip_h):.0f} minutes {way}: its times may mark "
        "another part of the interval than they should."
    ]


def _range_faults(rows: Rows, outside: _Outside) -> list[Fault]:
    faults = []
    for name in RADIATION:
        if name not in rows.values:
            continue
        value = rows.values[name]
        most = outside.brightest_dni if name == "dni" else outside.brightest_ghi
        night = most == 0.0
        by_day = (outside.ghi > _LOW_SUN_W_M2) & (name != "dni")
        tests = (
            (
                value < np.where(by_day, 0.0, _ZERO_OFFSET_W_M2),
                "irradiance cannot be negative",
            ),
            (night & (value > _TWILIGHT_W_M2), "the sun is down at this hour"),
            (
                ~night & (value > _TOO_BRIGHT * most + _TWILIGHT_W_M2),
                "more than 1.2 times what the sun sends to the top of the atmosphere",
            ),
        )
        faults += [rows.fault(wrong, name, rule) for wrong, rule in tests if wrong.any()]
    air = rows.values["temp_air"]
    wrong = (air < COLDEST_C) | (air > HOTTEST_C)
    if wrong.any():
        rule = f"air on Earth lies between {COLDEST_C:g} and {HOTTEST_C:g} deg C"
        faults.append(rows.fault(wrong, "temp_air", rule))
    return faults


def _negative_notes(rows: Rows) -> list[str]:
    count = sum(int((rows.values[name] < 0.0).sum()) for name in RADIATION if name in rows.values)
    if not count:
        return []
    return [f"{count} slightly negative values of irradiance are set to 0."]


def _gaps(missing: Bools) -> list[tuple[int, int]]:
    """First index and length of every run of missing values."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], missing, [False]]).astype(np.int8)))
    return [(int(a), int(b - a)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _gap_faults(rows: Rows) -> list[Fault]:
    """A fault for whole rows that are missing too long, and one for each column."""
    missing = {name: np.isnan(value) for name, value in rows.values.items()}
    whole = np.all(list(missing.values()), axis=0)
    faults = [_gap_fault(rows, whole, None)]
    faults += [
        _gap_fault(rows, gone & ~whole, rows.columns[name]) for name, gone in missing.items()
    ]
    return [fault for fault in faults if fault is not None]


def _gap_fault(rows: Rows, missing: Bools, key: str | None) -> Fault | None:
    most = int(_LONGEST_FILLED_H * 60.0 / rows.minutes)
    long = [gap for gap in _gaps(missing) if gap[1] > most]
    if not long:
        return None
    first, length = long[0]
    end = first + length == len(rows.line)
    what = "values" if key else "rows"
    rule = (
        f"{what} of {length * rows.minutes / 60.0:g} h are missing, from "
        f"{_clock_time(rows, first)} to {'the end' if end else _clock_time(rows, first + length)}; "
        f"at most {_LONGEST_FILLED_H:g} h can be filled"
    )
    if len(long) > 1:
        rule += f" ({len(long)} such gaps)"
    # A row that is there is named itself; of missing rows, the one before.
    return Fault(rule, file=rows.file, line=int(rows.line[first]), key=key)


def _clock_time(rows: Rows, index: int) -> str:
    """A row's start in the file's own clock, for a sentence."""
    unix = int(rows.start_utc[index].astype("datetime64[s]").astype(np.int64))
    moment = datetime(1970, 1, 1) + timedelta(seconds=unix, hours=rows.clock_offset_h)
    return f"{moment.day} {moment:%B %H:%M}"


def _gap_notes(rows: Rows) -> list[str]:
    missing = [np.isnan(value) for value in rows.values.values()]
    count = int(np.any(missing, axis=0).sum())
    if not count:
        return []
    return [
        f"{count * rows.minutes / 60.0:g} missing hours, none longer than "
        f"{_LONGEST_FILLED_H:g} h at a stretch, are filled from the hours beside them."
    ]


def _filled(rows: Rows, outside: _Outside) -> Rows:
    """Gaps filled: irradiance by its share of the extraterrestrial, temperature by itself."""
    index = np.arange(len(rows.line), dtype=np.float64)
    values = {}
    for name, value in rows.values.items():
        missing = np.isnan(value)
        out = value if name == "temp_air" else np.maximum(value, 0.0)
        if missing.any():
            sun = np.ones_like(value)
            if name != "temp_air":
                sun = outside.dni if name == "dni" else outside.ghi
            known = ~missing & ((outside.ghi > _LOW_SUN_W_M2) | (name == "temp_air"))
            if known.any():
                share = np.interp(index, index[known], value[known] / sun[known])
                out = np.where(missing, share * sun, out)
            out = np.nan_to_num(out)
        values[name] = out
    return replace(rows, values=values)


def _split(rows: Rows) -> Rows:
    """DNI and DHI from GHI."""
    here = np.ones(len(rows.line))
    track = Track(
        rows.start_utc,
        rows.minutes,
        here * rows.latitude,
        here * rows.longitude,
        here * rows.altitude_m,
    )
    dni, dhi = split_global(rows.values["ghi"], sun_position(track), track)
    return replace(rows, values={**rows.values, "dni": dni, "dhi": dhi})
