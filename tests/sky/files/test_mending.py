"""Mending a file's rows: what is put right and said, and what would mislead and is refused."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from sim.arrays import Floats
from sim.errors import WeatherError
from sim.sky.files.mending import mended
from sim.sky.files.rows import Rows
from sim.sky.sun_means import mean_sun, sun_clock

NOON, MIDNIGHT = 180 * 24 + 12, 180 * 24


def whole_year(minutes: int = 60, *, parts: bool = True) -> Rows:
    """A year over Moab, UTC-7: 0.6 of the sun arrives, half of it as beam. Line n is row n."""
    count = 8760 * 60 // minutes
    start = np.datetime64("2019-01-01T07", "s") + np.timedelta64(60 * minutes, "s") * np.arange(
        count
    )
    clock = sun_clock(start, minutes)
    half = minutes / 120.0
    cosine, up = mean_sun(clock, 38.57, -109.55, -half, half)
    ghi = 0.6 * cosine * clock.dni_extra
    air = 10.0 + 8.0 * np.sin(np.arange(count) * np.pi * minutes / 720.0)
    values = {"ghi": ghi, "temp_air": air}
    if parts:
        values |= {"dni": 0.3 * (up > 0.0) * clock.dni_extra, "dhi": 0.5 * ghi}
    return Rows(
        file="w.csv",
        start_utc=start,
        minutes=minutes,
        clock_offset_h=-7.0,
        latitude=38.57,
        longitude=-109.55,
        altitude_m=1227.0,
        values=values,
        columns={name: name for name in values},
        line=np.arange(count),
    )


def changed(rows: Rows, **changes: Callable[[Floats], None]) -> Rows:
    values = {name: value.copy() for name, value in rows.values.items()}
    for name, change in changes.items():
        change(values[name])
    return replace(rows, values=values)


def put(where: object, value: float) -> Callable[[Floats], None]:
    def change(values: Floats) -> None:
        values[where] = value  # type: ignore[call-overload]

    return change


def night(rows: Rows, count: int) -> np.ndarray:
    """Rows of deep night, the first so many of them."""
    clock = sun_clock(rows.start_utc, rows.minutes)
    lit = mean_sun(clock, rows.latitude, rows.longitude, -3.0, 3.0)[0]
    return np.flatnonzero(lit == 0.0)[:count]


WHOLE = whole_year()


def test_a_sound_year_is_left_alone() -> None:
    rows, notes = mended(WHOLE)
    assert notes == ()
    for name, value in WHOLE.values.items():
        np.testing.assert_array_equal(rows.values[name], value)


def test_direct_light_at_night_in_a_thousand_hours() -> None:
    """As the official test reference years of a whole country have it: global light is nought."""
    dark = night(WHOLE, 1043)
    rows, notes = mended(changed(WHOLE, dni=put(dark, 412.0)))
    np.testing.assert_array_equal(rows.values["dni"], WHOLE.values["dni"])
    np.testing.assert_array_equal(rows.values["ghi"], WHOLE.values["ghi"])
    assert notes == ("Direct light in 1,043 hours with the sun down is set to 0.",)


def test_a_little_global_light_at_night_is_set_to_nothing() -> None:
    dark = night(WHOLE, 30)
    rows, notes = mended(changed(WHOLE, ghi=put(dark, 90.0), dhi=put(dark, 90.0)))
    np.testing.assert_array_equal(rows.values["ghi"], WHOLE.values["ghi"])
    assert notes == (
        "Global light in 30 hours with the sun down is set to 0.",
        "Diffuse light in 30 hours with the sun down is set to 0.",
    )


def test_much_global_light_at_night_is_another_clock_or_place() -> None:
    dark = night(WHOLE, 1000)
    with pytest.raises(WeatherError, match=r"the sun is down at this hour \(and 999 more"):
        mended(changed(WHOLE, ghi=put(dark, 90.0)))


@pytest.mark.parametrize(
    ("name", "where", "value", "word"),
    [
        ("ghi", NOON, -80.0, "Global light in 1 hour cannot be right"),
        ("ghi", NOON, -3.0, "irradiance cannot be negative"),
        ("ghi", NOON, 1700.0, "more than 1.2 times"),
        ("dni", NOON, 2400.0, "Direct light in 1 hour cannot be right"),
        ("dni", NOON, -9999.0, "Direct light in 1 hour"),
        ("temp_air", NOON, 61.0, "The temperature in 1 hour"),
        ("temp_air", MIDNIGHT, -273.15, "air on Earth lies between"),
    ],
)
def test_what_cannot_be_is_missing_and_filled(
    name: str, where: int, value: float, word: str
) -> None:
    rows, notes = mended(changed(WHOLE, **{name: put(where, value)}))
    np.testing.assert_allclose(
        rows.values[name], WHOLE.values[name], atol=2.0 if name == "temp_air" else 0.5
    )
    assert word in notes[0]
    assert f"line {where}" in notes[0]
    made = "Global light in 1 hour is made from direct and diffuse light."
    filled = "1 missing hour is filled from the hours beside it."
    assert notes[1] == (made if name == "ghi" else filled)


@pytest.mark.parametrize(
    ("name", "change", "words"),
    [
        ("ghi", lambda v: np.multiply(v, 3.6, out=v), "more than 1.2 times"),  # kJ/m2
        ("temp_air", lambda v: np.add(v * 1.8, 32.0, out=v), "between -90 and 60"),  # deg F
        ("temp_air", lambda v: np.add(v, 273.15, out=v), "between -90 and 60"),  # K
        ("ghi", lambda v: np.multiply(v, 1e-3, out=v), "W/m2 is wanted, not in kW/m2"),
    ],
)
def test_another_unit_is_refused(name: str, change: Callable[[Floats], None], words: str) -> None:
    hot = changed(WHOLE, temp_air=lambda v: np.add(v, 8.0, out=v))
    with pytest.raises(WeatherError, match=words):
        mended(changed(hot, **{name: change}))


def test_marks_for_missing_values_are_missing_however_many() -> None:
    """-999 in every tenth row by day is no reason to refuse; in half of them the filling is."""
    few = np.arange(5, 8760, 14)
    rows, notes = mended(changed(WHOLE, ghi=put(few, -999.0), dni=put(few, -999.0)))
    np.testing.assert_allclose(rows.values["ghi"], WHOLE.values["ghi"], atol=3.0)
    assert any("626 hours" in note for note in notes)
    with pytest.raises(WeatherError, match="4,380 of 8,760 rows lack a value; at most one in ten"):
        mended(changed(WHOLE, temp_air=put(slice(None, None, 2), np.nan)))


def test_a_long_gap_is_left_out_of_all_columns() -> None:
    rows, notes = mended(changed(WHOLE, temp_air=put(slice(5000, 5010), np.nan)))
    for value in rows.values.values():
        assert np.flatnonzero(np.isnan(value)).tolist() == list(range(5000, 5010))
    assert notes == (
        "10 hours are missing in gaps of more than 3 h and left out; the longest is from "
        "28 July 08:00 to 28 July 18:00 (after line 5000).",
    )


def test_gaps_in_quarter_hours_are_counted_in_hours() -> None:
    rows, notes = mended(changed(whole_year(15), temp_air=put(slice(600, 612), np.nan)))
    assert not np.isnan(rows.values["temp_air"]).any()
    assert notes[0].startswith("3 missing hours")


def test_global_light_is_made_from_its_parts() -> None:
    gone = slice(4000, 4100)
    rows, notes = mended(changed(WHOLE, ghi=put(gone, np.nan)))
    np.testing.assert_allclose(rows.values["ghi"], WHOLE.values["ghi"], rtol=1e-9, atol=1e-9)
    assert notes == ("Global light in 100 hours is made from direct and diffuse light.",)


def test_parts_that_are_hardly_there_are_estimated() -> None:
    rows, notes = mended(changed(WHOLE, dni=put(slice(0, 6000), np.nan)))
    alone, _ = mended(whole_year(parts=False))
    np.testing.assert_array_equal(rows.values["dni"], alone.values["dni"])
    assert "estimated from GHI" in notes[0]


def test_nonsense_in_the_parts_is_estimated_too() -> None:
    """Direct light in kJ/m2, whatever its agency calls it."""
    rows, notes = mended(changed(WHOLE, dni=lambda v: np.multiply(v, 12.0, out=v)))
    alone, _ = mended(whole_year(parts=False))
    np.testing.assert_array_equal(rows.values["dni"], alone.values["dni"])
    assert "Direct light in 4," in notes[0]
    assert "estimated from GHI" in notes[1]


def test_parts_beyond_the_global_light_are_cut_to_it() -> None:
    rows, notes = mended(changed(WHOLE, dhi=put(NOON, 900.0), dni=put(NOON + 24, 1100.0)))
    ghi = WHOLE.values["ghi"]
    assert rows.values["dhi"][NOON] == ghi[NOON]
    assert rows.values["dni"][NOON] == 0.0
    clock = sun_clock(WHOLE.start_utc, 60)
    beam = rows.values["dni"] * mean_sun(clock, 38.57, -109.55, -0.5, 0.5)[0]
    assert beam[NOON + 24] == pytest.approx(0.5 * ghi[NOON + 24])
    assert notes == (
        "Direct or diffuse light in 2 hours is more than the global light and is cut to what "
        "that leaves.",
    )


def test_parts_that_never_add_up_are_not_believed() -> None:
    rows, notes = mended(changed(WHOLE, dni=lambda v: np.multiply(v, 0.1, out=v)))
    alone, _ = mended(whole_year(parts=False))
    np.testing.assert_array_equal(rows.values["dni"], alone.values["dni"])
    assert "do not add up" in notes[0]


def test_a_file_without_any_value_is_refused() -> None:
    with pytest.raises(WeatherError, match="no value that could be used"):
        mended(changed(WHOLE, ghi=put(slice(None), np.nan), dni=put(slice(None), np.nan)))
