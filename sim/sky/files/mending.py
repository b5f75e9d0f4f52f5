"""What makes a file's rows fit for use.

Weather files are made by instruments, models and people, and few are without a fault. What can be
mended without guessing is mended and said once with its count: light while the sun is down is
none, a value that cannot be is a missing one, an hour or two are filled from those beside them,
a longer gap is left out. A file is refused only where what remains would mislead.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np

from sim.arrays import Bools, Floats
from sim.errors import Fault, WeatherError
from sim.sky.files.clock_check import OutsideSun, checked_clock
from sim.sky.files.rows import RADIATION, Rows
from sim.sky.sun import position as sun_position
from sim.sky.sun import split_global
from sim.sky.track import Track

# The coldest and the hottest air ever measured, -89.2 and 56.7 deg C (World Meteorological
# Organization, World Weather & Climate Extremes Archive), and a little room.
COLDEST_C, HOTTEST_C = -90.0, 60.0
_TOO_BRIGHT = 1.2  # times what arrives outside the atmosphere; clouds can add to the beam
_TWILIGHT_W_M2 = 20.0  # NREL's typical years hold up to 5 W/m2 with the sun just down
# Pyranometers at night, and pyrheliometers behind clouds, read a little below zero; the classes
# of ISO 9060 bound the night offset at 7 to 30 W/m2 (from memory).
_ZERO_OFFSET_W_M2 = -15.0
_LOW_SUN_W_M2 = 20.0  # below this a ratio to the extraterrestrial says nothing
_LONGEST_FILLED_H = 3.0
# Shares beyond which a fault is no slip of a few rows but says that the whole file is another
# thing than it seems: another unit, another place, another clock.
_MOST_IMPOSSIBLE = {"ghi": 0.03, "temp_air": 0.005}
_MARKS = (99.0, 99.9, 999.0, 999.9, 9900.0, 9999.0, 9999.9, 99999.0)
_MOST_NIGHT_LIGHT = 0.02  # of all its light
_MOST_FILLED = 0.1  # of the rows
# Direct and diffuse light must add up to the global, within what instruments differ by.
_CLOSURE, _CLOSURE_W_M2 = 1.1, 20.0
_MOST_APART = 0.1  # of the rows by day, beyond which they are not believed
_WHAT = {
    "ghi": "Global light",
    "dni": "Direct light",
    "dhi": "Diffuse light",
    "temp_air": "The temperature",
}
Mended = tuple[Rows, list[str]]


def mended(rows: Rows) -> tuple[Rows, tuple[str, ...]]:
    """Mend a file's rows, or refuse it.

    Parameters
    ----------
    rows : Rows
        As read.

    Returns
    -------
    Rows
        With all of ghi, dni, dhi and temp_air, none of it negative but the temperature; nan in
        all of them in gaps of more than three hours.
    tuple of str
        A sentence for each thing that was done or looks odd.

    Raises
    ------
    WeatherError
        With a fault for each thing that would mislead: its first line, its column, how many rows.
    """
    outside, notes = checked_clock(rows)
    faults = _impossible_faults(rows, outside)
    if faults:
        raise WeatherError(*faults)
    notes = [*rows.notes, *notes]
    for step in (_without_night_light, _without_negatives, _possible, _global_made, _filled):
        rows, said = step(rows, outside)
        notes += said
    rows, said = _parts_of_global(rows, outside)
    return rows, (*notes, *said)


def _with(rows: Rows, **values: Floats) -> Rows:
    return replace(rows, values={**rows.values, **values})


def _radiation(rows: Rows) -> list[str]:
    return [name for name in RADIATION if name in rows.values]


def _most(outside: OutsideSun, name: str) -> Floats:
    return outside.brightest_dni if name == "dni" else outside.brightest_ghi


def _hours(rows: Rows, wrong: Bools) -> str:
    """``1,043 hours``, or ``12 rows of 15 minutes``."""
    count = int(wrong.sum())
    if rows.minutes == 60:
        return f"{count:,d} hour{'s' if count != 1 else ''}"
    return f"{count:,d} row{'s' if count != 1 else ''} of {rows.minutes} minutes"


def _impossible(rows: Rows, outside: OutsideSun, name: str) -> tuple[tuple[Bools, str], ...]:
    """Values that cannot be, and why, by day where it is light. Each of shape (N,)"""
    value = rows.values[name]
    if name == "temp_air":
        rule = f"air on Earth lies between {COLDEST_C:g} and {HOTTEST_C:g} deg C"
        return (((value < COLDEST_C) | (value > HOTTEST_C), rule),)
    most = _most(outside, name)
    by_day = (outside.ghi > _LOW_SUN_W_M2) & (name != "dni")
    return (
        (value < np.where(by_day, 0.0, _ZERO_OFFSET_W_M2), "irradiance cannot be negative"),
        (
            (most > 0.0) & (value > _TOO_BRIGHT * most + _TWILIGHT_W_M2),
            "more than 1.2 times what the sun sends to the top of the atmosphere",
        ),
    )


def _impossible_faults(rows: Rows, outside: OutsideSun) -> list[Fault]:
    """Where so many values cannot be that the rest is not to be believed either."""
    faults = []
    # Direct and diffuse light can be estimated where they are nonsense.
    for name, most in _MOST_IMPOSSIBLE.items():
        value = rows.values[name]
        for wrong, rule in _impossible(rows, outside, name):
            marks = _marks(value, wrong)
            if (wrong & ~marks).sum() > most * len(value):
                faults.append(rows.fault(wrong & ~marks, name, rule))
    night = outside.brightest_ghi == 0.0
    ghi = np.nan_to_num(rows.values["ghi"])
    dark = night & (ghi > _TWILIGHT_W_M2)
    if ghi[dark].sum() > _MOST_NIGHT_LIGHT * np.maximum(ghi, 0.0).sum():
        faults.append(rows.fault(dark, "ghi", "the sun is down at this hour"))
    return faults


def _marks(value: Floats, wrong: Bools) -> Bools:
    """Impossible values that mark what was not measured: nines only, such as -999."""
    return np.asarray(np.isin(np.abs(value), _MARKS) & wrong)


def _without_night_light(rows: Rows, outside: OutsideSun) -> Mended:
    """No light while the sun is down; direct light that global light knows nothing of the same."""
    notes = []
    ghi = rows.values["ghi"]
    night = outside.brightest_ghi == 0.0
    values = {}
    for name in _radiation(rows):
        value = rows.values[name]
        down = night & (value > _TWILIGHT_W_M2)
        if name != "ghi":
            down |= (outside.ghi == 0.0) & (ghi <= 0.0) & (value > _TWILIGHT_W_M2)
        if down.any():
            values[name] = np.where(down, 0.0, value)
            notes.append(f"{_WHAT[name]} in {_hours(rows, down)} with the sun down is set to 0.")
    return _with(rows, **values), notes


def _without_negatives(rows: Rows, outside: OutsideSun) -> Mended:
    """What instruments read below zero in the dark is 0."""
    count = 0
    values = {}
    for name in _radiation(rows):
        value = rows.values[name]
        by_day = (outside.ghi > _LOW_SUN_W_M2) & (name != "dni")
        little = (value < 0.0) & (value >= _ZERO_OFFSET_W_M2) & ~by_day
        count += int(little.sum())
        values[name] = np.where(little, 0.0, value)
    if not count:
        return rows, []
    return _with(rows, **values), [
        f"{count:,d} slightly negative values of irradiance are set to 0."
    ]


def _possible(rows: Rows, outside: OutsideSun) -> Mended:
    """What cannot be is missing."""
    notes: list[str] = []
    values: dict[str, Floats] = {}
    for name, value in rows.values.items():
        for wrong, rule in _impossible(rows, outside, name):
            if wrong.any():
                values[name] = np.where(wrong, np.nan, values.get(name, value))
                first = rows.fault(wrong, name, rule).line
                notes.append(
                    f"{_WHAT[name]} in {_hours(rows, wrong)} cannot be right and counts as "
                    f"missing (first in line {first}: {rule})."
                )
    return _with(rows, **values), notes


def _global_made(rows: Rows, outside: OutsideSun) -> Mended:
    """Global light where only its two parts are known, and no parts that are hardly known."""
    if "dni" not in rows.values:
        return rows, []
    ghi, dni, dhi = (rows.values[name] for name in RADIATION)
    made = dhi + dni * outside.cosine
    missing = np.isnan(ghi) & ~np.isnan(made)
    notes = []
    if missing.any():
        rows = _with(rows, ghi=np.where(missing, made, ghi))
        notes.append(
            f"Global light in {_hours(rows, missing)} is made from direct and diffuse light."
        )
    unknown = (np.isnan(dni) | np.isnan(dhi)) & ~np.isnan(rows.values["ghi"])
    if unknown.sum() > _MOST_FILLED * len(dni):
        values = {name: rows.values[name] for name in ("ghi", "temp_air")}
        return replace(rows, values=values), notes
    return rows, notes


def _filled(rows: Rows, outside: OutsideSun) -> Mended:
    """Short gaps filled: irradiance by its share of the extraterrestrial, temperature by itself.

    Rows in longer gaps of any column are nan in all of them.
    """
    most = int(_LONGEST_FILLED_H * 60.0 / rows.minutes)
    long = np.zeros(len(rows.line), dtype=bool)
    short = np.zeros(len(rows.line), dtype=bool)
    for value in rows.values.values():
        for first, length in _gaps(np.isnan(value)):
            (long if length > most else short)[first : first + length] = True
    short &= ~long
    if long.all():
        raise WeatherError(Fault("has no value that could be used", file=rows.file))
    if short.sum() > _MOST_FILLED * (~long).sum():
        rule = (
            f"{int(short.sum()):,d} of {int((~long).sum()):,d} rows lack a value; "
            "at most one in ten can be filled"
        )
        first = int(rows.line[np.argmax(short)])
        raise WeatherError(Fault(rule, file=rows.file, line=first))
    index = np.arange(len(rows.line), dtype=np.float64)
    values = {}
    for name, value in rows.values.items():
        sun = np.ones_like(value)
        if name != "temp_air":
            sun = outside.dni if name == "dni" else outside.ghi
        known = ~np.isnan(value) & ((outside.ghi > _LOW_SUN_W_M2) | (name == "temp_air"))
        out = value
        if known.any():
            share = np.interp(index, index[known], value[known] / sun[known])
            out = np.where(np.isnan(value), share * sun, value)
        values[name] = np.where(long, np.nan, np.nan_to_num(out))
    return replace(rows, values=values), [*_short_notes(rows, short), *_long_notes(rows, long)]


def _short_notes(rows: Rows, short: Bools) -> list[str]:
    if not short.any():
        return []
    hours = short.sum() * rows.minutes / 60.0
    if hours == 1.0:
        return ["1 missing hour is filled from the hours beside it."]
    return [
        f"{hours:g} missing hours, none longer than {_LONGEST_FILLED_H:g} h at a stretch, are "
        "filled from the hours beside them."
    ]


def _long_notes(rows: Rows, long: Bools) -> list[str]:
    gaps = _gaps(long)
    if not gaps:
        return []
    first, length = max(gaps, key=lambda gap: gap[1])
    end = first + length == len(long)
    until = "the end" if end else _clock_time(rows, first + length)
    return [
        f"{long.sum() * rows.minutes / 60.0:,g} hours are missing in gaps of more than "
        f"{_LONGEST_FILLED_H:g} h and left out; the longest is from {_clock_time(rows, first)} to "
        f"{until} (after line {rows.line[first]})."
    ]


def _gaps(missing: Bools) -> list[tuple[int, int]]:
    """First index and length of every run of missing values."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], missing, [False]]).astype(np.int8)))
    return [(int(a), int(b - a)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _clock_time(rows: Rows, index: int) -> str:
    """A row's start in the file's own clock, for a sentence."""
    unix = int(rows.start_utc[index].astype("datetime64[s]").astype(np.int64))
    moment = datetime(1970, 1, 1) + timedelta(seconds=unix, hours=rows.clock_offset_h)
    return f"{moment.day} {moment:%B %H:%M}"


def _parts_of_global(rows: Rows, outside: OutsideSun) -> Mended:
    """Direct and diffuse light that go with the global light: the file's own, or estimated."""
    if "dni" not in rows.values:
        said = "The file has no direct and diffuse irradiance; they are estimated from GHI."
        return _split(rows), [said]
    ghi, dni, dhi = (rows.values[name] for name in RADIATION)
    beam = dni * outside.cosine
    day = outside.ghi > _LOW_SUN_W_M2
    diffuse_too = dhi > _CLOSURE * ghi + _CLOSURE_W_M2
    beam_too = beam > _CLOSURE * ghi + _CLOSURE_W_M2
    apart = day & (np.abs(ghi - dhi - beam) > 0.3 * ghi + 3.0 * _CLOSURE_W_M2)
    if (apart | diffuse_too | beam_too).sum() > _MOST_APART * max(day.sum(), 1):
        said = (
            f"Direct and diffuse light do not add up to the global light in "
            f"{_hours(rows, apart | diffuse_too | beam_too)}; both are estimated from it instead."
        )
        return _split(rows), [said]
    wrong = diffuse_too | beam_too
    if not wrong.any():
        return rows, []
    less = np.where(diffuse_too, ghi, dhi)
    fits = np.maximum(ghi - less, 0.0) / np.maximum(outside.cosine, 0.02)
    said = (
        f"Direct or diffuse light in {_hours(rows, wrong)} is more than the global light and is "
        "cut to what that leaves."
    )
    return _with(rows, dhi=less, dni=np.where(wrong, np.minimum(dni, fits), dni)), [said]


def _split(rows: Rows) -> Rows:
    """DNI and DHI from GHI."""
    here = np.ones(len(rows.line))
    known = ~np.isnan(rows.values["ghi"])
    track = Track(
        rows.start_utc,
        rows.minutes,
        here * rows.latitude,
        here * rows.longitude,
        here * rows.altitude_m,
    )
    dni, dhi = split_global(np.nan_to_num(rows.values["ghi"]), sun_position(track), track)
    return _with(rows, dni=np.where(known, dni, np.nan), dhi=np.where(known, dhi, np.nan))
