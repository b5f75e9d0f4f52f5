"""Whether a file's sun comes when the sun of its position does."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.arrays import Floats
from sim.errors import Fault, WeatherError
from sim.sky.files.rows import Rows
from sim.sky.sun_means import DEGREES_PER_HOUR, SunClock, mean_sun, sun_clock

_WRONG_CLOCK_H = 1.5  # radiation this far from the sun's own noon is refused
_ODD_CLOCK_H = 0.35  # and this far earns a remark
_SPIKE_W_M2 = 1500.0  # no sun, but a mark for a missing value


@dataclass(frozen=True)
class OutsideSun:
    """The sun outside the atmosphere over each of N rows. [W/m2]

    Attributes
    ----------
    ghi, dni : ndarray, shape (N,)
        Mean on the level, and mean facing it.
    brightest_ghi, brightest_dni : ndarray, shape (N,)
        The highest of the row and of an hour before and after: a clock may be a little out.
    cosine : ndarray, shape (N,)
        Mean cosine of the zenith angle, counting 0 while the sun is down.
    """

    ghi: Floats
    dni: Floats
    brightest_ghi: Floats
    brightest_dni: Floats
    cosine: Floats


def outside_sun(rows: Rows, clock: SunClock) -> OutsideSun:
    """The sun outside the atmosphere over a file's rows; `clock` is that of its starts."""
    half = rows.minutes / 120.0
    cosine, up = mean_sun(clock, rows.latitude, rows.longitude, -half, half)
    near, near_up = cosine, up
    for hours in (-1.0, 1.0):
        other, other_up = mean_sun(clock, rows.latitude, rows.longitude, hours - half, hours + half)
        near, near_up = np.maximum(near, other), np.maximum(near_up, other_up)
    extra = clock.dni_extra
    return OutsideSun(cosine * extra, up * extra, near * extra, (near_up > 0.0) * extra, cosine)


def checked_clock(rows: Rows) -> tuple[OutsideSun, list[str]]:
    """The sun over the rows, and a sentence where the file's own comes at another time.

    Raises
    ------
    WeatherError
        If it comes at quite another time, or is not given in W/m2.
    """
    clock = sun_clock(rows.start_utc, rows.minutes)
    outside = outside_sun(rows, clock)
    _check_units(rows, outside)
    slip_h = _slip_h(rows, clock, outside)
    _check_slip(rows, slip_h)
    return outside, _slip_notes(slip_h)


def _check_units(rows: Rows, outside: OutsideSun) -> None:
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


def _slip_h(rows: Rows, clock: SunClock, outside: OutsideSun) -> float | None:
    """How late the radiation comes, against the sun at the station's longitude. [h]

    The mean hour angle of the radiation on the brighter half of days, where the clouds of
    morning and afternoon weigh least; None where the sun tells nothing.
    """
    ghi = np.nan_to_num(np.maximum(rows.values["ghi"], 0.0))
    ghi = np.where(ghi > _SPIKE_W_M2, 0.0, ghi)
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


def _check_slip(rows: Rows, slip_h: float | None) -> None:
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


def _slip_notes(slip_h: float | None) -> list[str]:
    if slip_h is None or abs(slip_h) <= _ODD_CLOCK_H:
        return []
    way = "late" if slip_h > 0 else "early"
    return [
        f"The file's sun comes about {60.0 * abs(slip_h):.0f} minutes {way}: its times may mark "
        "another part of the interval than they should."
    ]
