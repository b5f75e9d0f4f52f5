"""Reading weather files: one good year of every kind, and every kind of bad one."""

from __future__ import annotations

import random
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib
import pytest

from sim.errors import WeatherError
from sim.sky.files.reader import WeatherYears, read_weather
from sim.sky.sun_means import mean_sun, sun_clock

DATA = Path(pvlib.__file__).parent / "data"
TMY3 = DATA / "723170TYA.CSV"
TMY2 = DATA / "12839.tm2"
MOAB = (38.57, -109.55, 1227.0)
# Of a table that tells as much as a whole year.
SPELL_H = 24 * 60
HEAD = "# latitude: 38.57\n# longitude: -109.55\n# altitude_m: 1227\n"


def write(folder: Path, text: str | bytes, name: str = "weather.csv") -> Path:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def refusal(path: Path, **place: object) -> WeatherError:
    """The error that reading raises; every fault of it names the file."""
    with pytest.raises(WeatherError) as caught:
        read_weather(path, **place)
    assert all(fault.file == str(path) for fault in caught.value.faults)
    assert all("\n" not in str(fault) for fault in caught.value.faults)
    return caught.value


# --- the kinds of file ----------------------------------------------------------------------


def epw_text(frame: pd.DataFrame, meta: dict[str, object]) -> str:
    """An EPW of a TMY3 frame, after the data dictionary of EnergyPlus (Auxiliary Programs).

    Hour 1 is the hour to 01:00, as in TMY3. Fields that nothing here reads hold the
    dictionary's own values for missing.
    """
    lines = [
        f"LOCATION,Greensboro,NC,USA,TMY3,723170,{meta['latitude']},{meta['longitude']},"
        f"{meta['TZ']},{meta['altitude']}",
        "DESIGN CONDITIONS,0",
        "TYPICAL/EXTREME PERIODS,0",
        "GROUND TEMPERATURES,0",
        "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0",
        "COMMENTS 1,",
        "COMMENTS 2,",
        "DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31",
    ]
    rest = "999999,999999,999999,9999,999,999,99,99,9999,99999,9,999999999,999,.999,999,99,999,999"
    for stamp, row in zip(frame.index, frame.itertuples(), strict=True):
        start = stamp - pd.Timedelta(hours=1)
        if (start.month, start.day) == (2, 29):  # pvlib moves the 24th hour of 28 February
            start -= pd.Timedelta(days=1)
        lines.append(
            f"{start.year},{start.month},{start.day},{start.hour + 1},0,?9?9?9?9,"
            f"{row.temp_air},99.9,999,999999,9999,9999,9999,{row.ghi},{row.dni},{row.dhi},{rest}"
        )
    return "\n".join(lines) + "\n"


@pytest.fixture(scope="module")
def tmy3() -> WeatherYears:
    return read_weather(TMY3)


@pytest.fixture(scope="module")
def epw() -> str:
    return epw_text(*pvlib.iotools.read_tmy3(TMY3))


def test_epw_reads_the_same_as_the_tmy3_it_was_made_of(
    tmp_path: Path, tmy3: WeatherYears, epw: str
) -> None:
    years = read_weather(write(tmp_path, epw, "greensboro.epw"))
    for name in ("ghi", "dni", "dhi", "temp_air"):
        np.testing.assert_array_equal(getattr(years, name), getattr(tmy3, name))
    for name in ("latitude", "longitude", "altitude_m", "clock_offset_h", "years", "typical"):
        assert getattr(years, name) == getattr(tmy3, name)
    assert "EPW, Greensboro" in years.source


def test_rows_are_the_hours_that_begin_at_the_calendar_hour(tmy3: WeatherYears) -> None:
    """The file's first row, stamped 01:00, is the hour from midnight in standard time."""
    frame, _ = pvlib.iotools.read_tmy3(TMY3)
    np.testing.assert_array_equal(tmy3.ghi[:, 0], frame["ghi"].to_numpy())
    assert tmy3.start_utc()[0] == np.datetime64("2001-01-01T05:00:00")
    assert tmy3.start_utc()[-1] == np.datetime64("2002-01-01T04:00:00")


def test_temperature_is_the_mean_of_the_readings_at_both_ends(tmy3: WeatherYears) -> None:
    frame, _ = pvlib.iotools.read_tmy3(TMY3)
    reading = frame["temp_air"].to_numpy()
    np.testing.assert_allclose(tmy3.temp_air[1:, 0], (reading[1:] + reading[:-1]) / 2.0)
    assert tmy3.temp_air[0, 0] == pytest.approx((reading[0] + reading[-1]) / 2.0)


def test_tmy2_of_a_city_of_two_words(tmp_path: Path) -> None:
    head, *hours = TMY2.read_text().splitlines()[: 1 + SPELL_H]
    text = "\n".join([head.replace("MIAMI         ", "MIAMI BEACH 2 ", 1), *hours])
    years = read_weather(write(tmp_path, text, "miami.tm2"))
    assert "TMY2, MIAMI BEACH 2, 25.80 N 80.27 W" in years.source
    # Tenths of a degree, in the format's columns 68 to 71.
    tenths = np.mean([int(hour[67:71]) for hour in hours])
    assert np.nanmean(years.temp_air) == pytest.approx(tenths / 10.0, abs=0.05)


@pytest.mark.parametrize(
    "dress",
    [
        lambda text: b"\xef\xbb\xbf" + text.encode(),
        lambda text: text.replace("\n", "\r\n").encode(),
        lambda text: text.encode("utf-16"),
        lambda text: text.replace("GREENSBORO", "GREENSBÖRÖ").encode("latin-1"),
        lambda text: (text + "\n\n").encode(),
    ],
    ids=["BOM", "CRLF", "UTF-16", "Latin-1", "blank lines at the end"],
)
def test_what_editors_do_to_a_file_does_no_harm(
    tmp_path: Path, tmy3: WeatherYears, dress: Callable[[str], bytes]
) -> None:
    years = read_weather(write(tmp_path, dress(TMY3.read_text()), "station.csv"))
    np.testing.assert_array_equal(years.ghi, tmy3.ghi)
    np.testing.assert_array_equal(years.temp_air, tmy3.temp_air)


def test_tmy3_whose_midnight_is_the_next_days_0_oclock(tmp_path: Path, tmy3: WeatherYears) -> None:
    """The other way of writing midnight that pvlib knows of, moved to one calendar year."""
    frame = pd.read_csv(TMY3, skiprows=1)
    head = TMY3.read_text().splitlines()[0]
    end = pd.Timestamp("1995-01-01 01:00") + pd.to_timedelta(np.arange(8760), unit="h")
    frame["Date (MM/DD/YYYY)"] = end.strftime("%m/%d/%Y")
    frame["Time (HH:MM)"] = end.strftime("%H:%M")
    text = head + "\n" + frame.to_csv(index=False)
    years = read_weather(write(tmp_path, text))
    np.testing.assert_array_equal(years.ghi, tmy3.ghi)


# --- plain tables ---------------------------------------------------------------------------


def cloudy_sun(start: np.ndarray, minutes: int, share: float = 0.6) -> np.ndarray:
    """A steady share of the extraterrestrial irradiance over Moab. [W/m2]"""
    clock = sun_clock(start, minutes)
    half = minutes / 120.0
    return share * clock.dni_extra * mean_sun(clock, *MOAB[:2], -half, half)[0]


@cache
def steady_sun(first: np.datetime64, count: int, minutes: int) -> np.ndarray:
    """`cloudy_sun` of so many steps, worked out once."""
    return cloudy_sun(first + np.timedelta64(60 * minutes, "s") * np.arange(count), minutes)


def table(
    first: str = "2019-01-01T00:00",
    hours: int = SPELL_H,
    *,
    minutes: int = 60,
    offset_h: float = -7.0,
    change: Callable[[list[str]], None] = lambda rows: None,
    head: str = HEAD,
    header: str = "time,ghi,temp_air",
) -> str:
    """A table of steady weather; `first` is in the file's own clock."""
    count = hours * 60 // minutes
    local = np.datetime64(first, "s") + np.timedelta64(60 * minutes, "s") * np.arange(count)
    ghi = steady_sun(local[0] - np.timedelta64(round(3600 * offset_h), "s"), count, minutes)
    zone = f"{'-' if offset_h < 0 else '+'}{abs(offset_h):02.0f}:00" if offset_h else "Z"
    rows = [
        f"{str(time)[:16]}{zone},{value:.2f},{10.0 + (index % 24) / 8:.2f}"
        for index, (time, value) in enumerate(zip(local, ghi, strict=True))
    ]
    change(rows)
    return head + header + "\n" + "\n".join(rows) + "\n"


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> WeatherYears:
    """The table of one year as it is."""
    return read_weather(write(tmp_path_factory.mktemp("plain"), table(hours=8760)))


def test_table_of_one_year(plain: WeatherYears) -> None:
    years = plain
    assert (years.latitude, years.longitude, years.altitude_m) == MOAB
    assert (years.years, years.typical, years.clock_offset_h) == ((2019,), False, -7.0)
    expected = cloudy_sun(years.start_utc(), 60)
    np.testing.assert_allclose(years.ghi[:, 0], expected, atol=0.0051)
    # Split by the correlation, and closing over the mid-hour sun.
    assert years.dhi.sum() > 0.2 * years.ghi.sum()
    assert any("estimated from GHI" in note for note in years.notes)


@pytest.mark.parametrize("offset_h", [0.0, 2.0, -7.0])
def test_the_offset_moves_the_clock_and_not_the_sun(tmp_path: Path, offset_h: float) -> None:
    years = read_weather(write(tmp_path, table(hours=SPELL_H, offset_h=offset_h)))
    assert years.clock_offset_h == offset_h
    here = ~np.isnan(years.ghi[:, 0])
    assert here.sum() == SPELL_H
    expected = cloudy_sun(years.start_utc()[here], 60)
    np.testing.assert_allclose(years.ghi[here, 0], expected, atol=0.0051)


def test_direct_and_diffuse_are_taken_as_they_stand(tmp_path: Path) -> None:
    def split(rows: list[str]) -> None:
        for index, row in enumerate(rows):
            time, ghi, air = row.split(",")
            beam = 0.36 * 1361.0 if float(ghi) > 0.0 else 0.0  # 0.6 of the global light
            rows[index] = f"{air},{0.4 * float(ghi):.3f},{ghi},{beam:.3f},{time}"

    text = table(hours=8760, change=split, header="Temp_Air,DHI,ghi,dni,time")
    years = read_weather(write(tmp_path, text))
    np.testing.assert_allclose(years.dhi, 0.4 * years.ghi, atol=0.01)
    np.testing.assert_allclose(years.dni, np.where(years.ghi > 0.0, 489.96, 0.0), atol=0.01)
    assert years.notes == ()


def test_semicolons_with_decimal_commas(tmp_path: Path, plain: WeatherYears) -> None:
    text = HEAD + table(head="").replace(",", ";").replace(".", ",")
    years = read_weather(write(tmp_path, text, "excel.csv"))
    np.testing.assert_array_equal(years.ghi[:SPELL_H], plain.ghi[:SPELL_H])
    # The first hour of a whole year begins with the last reading.
    np.testing.assert_array_equal(years.temp_air[1:SPELL_H], plain.temp_air[1:SPELL_H])


@pytest.mark.parametrize(("name", "part"), [("time_end", 60), ("time_middle", 30)])
def test_times_that_mark_another_part_of_the_hour(
    tmp_path: Path, plain: WeatherYears, name: str, part: int
) -> None:

    def later(rows: list[str]) -> None:
        for index, row in enumerate(rows):
            time, _, rest = row.partition(",")
            moved = np.datetime64(time[:16], "m") + np.timedelta64(part, "m")
            rows[index] = f"{moved}{time[16:]},{rest}"

    text = table(hours=SPELL_H, change=later, header=f"{name},ghi,temp_air")
    years = read_weather(write(tmp_path, text))
    np.testing.assert_array_equal(years.ghi[:SPELL_H], plain.ghi[:SPELL_H])
    assert years.years == (2019,)
    # The same stamps called plain `time` are told as odd.
    odd = read_weather(write(tmp_path, text.replace(name, "time"), "odd.csv"))
    assert any(f"{part} minutes late" in note for note in odd.notes)


@pytest.mark.parametrize("minutes", [5, 15, 30])
def test_finer_tables_become_hourly_means(tmp_path: Path, minutes: int) -> None:
    hourly = read_weather(write(tmp_path, table("2019-06-01T00:00", 480)))
    text = table("2019-06-01T00:00", 480, minutes=minutes)
    years = read_weather(write(tmp_path, text, "fine.csv"))
    np.testing.assert_allclose(years.ghi, hourly.ghi, atol=0.02)
    assert np.isnan(years.ghi).sum() == 8760 - 480


def test_a_table_that_begins_within_an_hour_begins_with_the_next(tmp_path: Path) -> None:
    hourly = read_weather(write(tmp_path, table("2019-06-01T01:00", 479)))
    text = table("2019-06-01T00:20", 480, minutes=20)
    years = read_weather(write(tmp_path, text, "fine.csv"))
    np.testing.assert_allclose(years.ghi, hourly.ghi, atol=0.02)


def test_summer_time_in_the_stamps(tmp_path: Path, plain: WeatherYears) -> None:
    """Stamps that change to UTC-6 in summer lie where they say; the clock stays standard."""

    def summer(rows: list[str]) -> None:
        for index in range(24 * 18, len(rows)):
            time, _, rest = rows[index].partition(",")
            later = np.datetime64(time[:16], "m") + np.timedelta64(60, "m")
            rows[index] = f"{later}-06:00,{rest}"

    text = table("2019-02-20T00:00", change=summer)
    years = read_weather(write(tmp_path, text, "summer.csv"))
    assert years.clock_offset_h == -7.0
    here = slice(24 * 50, 24 * 50 + SPELL_H)
    np.testing.assert_array_equal(years.ghi[here], plain.ghi[here])


def test_years_of_a_long_table(tmp_path: Path) -> None:
    """July 2019 to June 2021: three columns, leap day left out, nan where nothing is."""
    years = read_weather(write(tmp_path, table("2019-07-01T00:00", 24 * 731)))
    assert years.years == (2019, 2020, 2021)
    known = ~np.isnan(years.ghi)
    assert known.sum(axis=0).tolist() == [184 * 24, 8760, 181 * 24]
    for column in range(3):
        here = known[:, column]
        expected = cloudy_sun(years.start_utc(column), 60)
        np.testing.assert_allclose(years.ghi[here, column], expected[here], atol=0.0051)


def test_a_table_that_says_not_where_takes_the_place_given(tmp_path: Path) -> None:
    path = write(tmp_path, table(head=""))
    assert "latitude" in str(refusal(path))
    years = read_weather(path, place=MOAB)
    assert (years.latitude, years.longitude, years.altitude_m) == MOAB


def test_altitude_of_a_table_that_says_only_where(tmp_path: Path) -> None:
    head = "# latitude: 38.57\n# longitude: -109.55\n"
    years = read_weather(write(tmp_path, table(head=head)))
    assert years.altitude_m == pytest.approx(1227.0, abs=150.0)  # pvlib's altitude map


# --- gaps -----------------------------------------------------------------------------------


def test_short_gaps_are_filled_by_clearness(tmp_path: Path, plain: WeatherYears) -> None:
    """Missing rows and empty cells; the steady weather comes back in full."""

    def gaps(rows: list[str]) -> None:
        rows[12] = rows[12].split(",")[0] + ",,nan"
        rows[36] = rows[36].split(",")[0] + ",NaN,1"
        del rows[1000:1003]

    years = read_weather(write(tmp_path, table(change=gaps), "gaps.csv"))
    np.testing.assert_allclose(years.ghi[:SPELL_H], plain.ghi[:SPELL_H], atol=0.05)
    assert any(note.startswith("5 missing hours") for note in years.notes)


def test_long_gaps_are_left_out(tmp_path: Path) -> None:
    def gap(rows: list[str]) -> None:
        del rows[5000:5004]

    years = read_weather(write(tmp_path, table(hours=8760, change=gap)))
    for name in ("ghi", "dni", "dhi", "temp_air"):
        gone = np.isnan(getattr(years, name)[:, 0])
        assert np.flatnonzero(gone).tolist() == [5000, 5001, 5002, 5003]
    # 3 lines of place, 1 header, 5000 rows.
    assert "from 28 July 08:00 to 28 July 12:00 (after line 5004)" in years.notes[0]


def test_a_column_that_is_empty_for_long_is_left_out_too(tmp_path: Path) -> None:
    def hollow(rows: list[str]) -> None:
        for index in range(100, 110):
            rows[index] = rows[index].rsplit(",", 1)[0] + ","

    years = read_weather(write(tmp_path, table(change=hollow)))
    gone = np.flatnonzero(np.isnan(years.ghi[:SPELL_H, 0]))
    assert gone.tolist() == list(range(100, 110))


@pytest.mark.parametrize("kind", ["TMY3", "EPW"])
def test_missing_values_of_a_typical_year(tmp_path: Path, epw: str, kind: str) -> None:
    """The formats' own marks for missing: -9900 in TMY3, 9999 in EPW; global light comes from
    its parts."""
    lines = (epw if kind == "EPW" else TMY3.read_text()).splitlines()[: 8 + SPELL_H]
    first, columns, mark = (8, (13, 15), "9999") if kind == "EPW" else (2, (4, 10), "-9900")

    def without(count: int, columns: tuple[int, ...]) -> str:
        changed = list(lines)
        for index in range(first + 1000, first + 1000 + count):
            parts = changed[index].split(",")
            for column in columns:
                parts[column] = mark
            changed[index] = ",".join(parts)
        return "\n".join(changed)

    name = f"x.{'epw' if kind == 'EPW' else 'csv'}"
    years = read_weather(write(tmp_path, without(3, columns), name))
    assert any(note.startswith("3 missing hours") for note in years.notes)
    years = read_weather(write(tmp_path, without(4, columns), name))
    assert np.isnan(years.ghi[:SPELL_H]).sum() == 4
    years = read_weather(write(tmp_path, without(40, columns[:1]), name))
    assert "Global light in 40 hours is made" in years.notes[0]


@pytest.mark.parametrize("kind", ["TMY3", "EPW"])
def test_half_the_rows_of_a_typical_year_missing(tmp_path: Path, epw: str, kind: str) -> None:
    """Refused, and each missing row counted once: its neighbour has a temperature of its own."""
    lines = (epw if kind == "EPW" else TMY3.read_text()).splitlines()
    first = 8 if kind == "EPW" else 2
    name = f"x.{'epw' if kind == 'EPW' else 'csv'}"
    half = "\n".join([*lines[:first], *lines[first::2]])
    assert "4,380 of 8,760 rows lack a value" in str(refusal(write(tmp_path, half, name)))
    few = [line for index, line in enumerate(lines) if index < first or index % 20]
    gone = len(lines) - len(few)
    years = read_weather(write(tmp_path, "\n".join(few), name))
    assert any(note.startswith(f"{gone} missing hours") for note in years.notes)


# --- bad files ------------------------------------------------------------------------------


def test_no_file_a_folder_nothing_inside_no_weather(tmp_path: Path) -> None:
    assert "no such" in str(refusal(tmp_path / "missing.epw"))
    assert "folder" in str(refusal(tmp_path))
    assert "empty" in str(refusal(write(tmp_path, "")))
    assert "empty" in str(refusal(write(tmp_path, " \n\n")))
    assert "is not a weather file" in str(refusal(write(tmp_path, "dear reader,\nno weather\n")))
    assert "is not text" in str(refusal(write(tmp_path, b"PK\x03\x04\0\0\0\0" + bytes(200))))
    assert "no EPW" in str(refusal(write(tmp_path, table(), "weather.epw")))
    assert "no rows" in str(refusal(write(tmp_path, HEAD + "time,ghi,temp_air\n")))
    assert "less than a day" in str(refusal(write(tmp_path, table(hours=20))))


def test_columns_that_are_missing_are_named(tmp_path: Path) -> None:
    error = refusal(write(tmp_path, table(header="time,irradiance,temp_air")))
    assert error.faults[0].line == 4
    assert "no column ghi" in str(error)
    assert "irradiance" in str(error)
    assert "dhi" in str(refusal(write(tmp_path, table(header="time,ghi,temp_air,dni"))))
    assert "twice" in str(refusal(write(tmp_path, table(header="time,ghi,temp_air,ghi"))))
    assert "time" in str(refusal(write(tmp_path, table(header="when,ghi,temp_air"))))
    text = TMY3.read_text().replace("GHI (W/m^2)", "Sun")
    assert "GHI (W/m^2)" in str(refusal(write(tmp_path, text)))


Change = Callable[[list[str]], None]


def cell(row: int, column: int, text: str) -> Change:
    """A change of one cell of a table."""

    def change(rows: list[str]) -> None:
        parts = rows[row].split(",")
        parts[column] = text
        rows[row] = ",".join(parts)

    return change


def swapped(rows: list[str]) -> None:
    rows[100], rows[101] = rows[101], rows[100]


def shuffled(rows: list[str]) -> None:
    random.Random(3).shuffle(rows)


def doubled(rows: list[str]) -> None:
    rows.insert(100, rows[100])


def two_in_a_hundred(rows: list[str]) -> None:
    for index in range(0, len(rows), 50):
        cell(index, 1, "x")(rows)


MIDNIGHT = 40 * 24

MENDED_ROWS: list[tuple[str, Change, str]] = [
    ("words", cell(77, 1, "sunny"), 'line 82: ghi = "sunny": is not a number'),
    ("infinite", cell(77, 1, "inf"), "is not a number"),
    ("no offset", cell(77, 0, "2019-01-04T05:00"), "has no offset from UTC"),
    ("no time", cell(77, 0, "4 Jan, 5 am"), "line 82: has 4 fields, the header has 3"),
    ("no such day", cell(77, 0, "2019-02-30T05:00Z"), "is no time"),
    ("far year", cell(77, 0, "9019-01-04T05:00Z"), "between the years 1850 and 2150"),
]


@pytest.mark.parametrize(
    ("change", "words"), [row[1:] for row in MENDED_ROWS], ids=[row[0] for row in MENDED_ROWS]
)
def test_a_broken_row_counts_as_missing(
    tmp_path: Path, plain: WeatherYears, change: Change, words: str
) -> None:
    years = read_weather(write(tmp_path, table(hours=SPELL_H, change=change), "x.csv"))
    np.testing.assert_allclose(years.ghi[:SPELL_H], plain.ghi[:SPELL_H], atol=0.1)
    assert years.notes[0].startswith("1 row is broken and counts as missing (first in line 82")
    assert words in years.notes[0]
    # In a table of two days it is one row in fifty.
    fault = refusal(write(tmp_path, table(hours=90, change=change), "short.csv")).faults[0]
    assert fault.line == 82


BAD_TABLES: list[tuple[str, Change, int | None, str | None, str]] = [
    ("between the steps", cell(77, 0, "2019-01-04T05:10-07:00"), 82, None, "60-minute"),
    ("swapped", swapped, 106, None, "forward in time"),
    ("shuffled", shuffled, None, None, "forward in time"),
    ("doubled", doubled, 106, None, "same time"),
    ("two rows in a hundred", two_in_a_hundred, 5, "ghi", "and 28 more such rows"),
]


@pytest.mark.parametrize(
    ("change", "line", "key", "words"),
    [bad[1:] for bad in BAD_TABLES],
    ids=[bad[0] for bad in BAD_TABLES],
)
def test_bad_tables_are_refused_by_line_and_column(
    tmp_path: Path, change: Change, line: int | None, key: str | None, words: str
) -> None:
    fault = refusal(write(tmp_path, table(change=change))).faults[0]
    assert words in str(fault)
    assert fault.key == key
    if line is not None:
        assert fault.line == line


def test_all_kinds_of_nonsense_are_told_at_once(tmp_path: Path) -> None:
    def several(rows: list[str]) -> None:
        for index in range(12, len(rows), 24):
            cell(index, 2, str(70 + index % 90))(rows)
            cell(index, 1, str(1600 + index % 90))(rows)

    error = refusal(write(tmp_path, table(change=several)))
    assert [fault.key for fault in error.faults] == ["ghi", "temp_air"]
    assert "more such rows" in str(error)


def test_a_little_below_zero_at_night_is_what_instruments_do(tmp_path: Path) -> None:
    years = read_weather(write(tmp_path, table(change=cell(MIDNIGHT, 1, "-2.5"))))
    assert np.nanmin(years.ghi) == 0.0
    assert any(note.startswith("1 slightly negative") for note in years.notes)


def test_kilowatts_are_told_from_watts(tmp_path: Path) -> None:
    def kilowatts(rows: list[str]) -> None:
        for index, row in enumerate(rows):
            time, ghi, air = row.split(",")
            rows[index] = f"{time},{float(ghi) / 1000:.4f},{air}"

    error = refusal(write(tmp_path, table(change=kilowatts)))
    assert "kW/m2" in str(error)
    assert error.faults[0].key == "ghi"


@pytest.mark.parametrize(("said", "likely"), [("Z", "UTC-7"), ("+01:00", "UTC-7")])
def test_a_wrong_zone_is_refused_with_the_likely_one(
    tmp_path: Path, said: str, likely: str
) -> None:
    error = refusal(write(tmp_path, table().replace("-07:00", said)))
    assert len(error.faults) == 1
    assert likely in str(error)


def test_a_wrong_longitude_is_refused(tmp_path: Path) -> None:
    error = refusal(write(tmp_path, table().replace("longitude: -109", "longitude: 109")))
    assert "longitude" in str(error)


def test_a_wrong_zone_in_a_typical_year(tmp_path: Path, epw: str) -> None:
    text = epw.replace("36.1,-79.95,-5.0", "36.1,-79.95,5.0")
    assert "UTC-5 would fit" in str(refusal(write(tmp_path, text, "x.epw")))


@pytest.mark.parametrize("minutes", [180, 1440, 1])
def test_steps_that_are_no_part_of_an_hour(tmp_path: Path, minutes: int) -> None:
    times = np.datetime64("2019-01-01T00:00") + np.timedelta64(minutes, "m") * np.arange(2000)
    rows = [f"{time}Z,0,5" for time in times]
    text = HEAD + "time,ghi,temp_air\n" + "\n".join(rows)
    assert f"{minutes} minutes apart" in str(refusal(write(tmp_path, text)))


@pytest.mark.parametrize(
    ("head", "words"),
    [
        ("# latitude: 95\n# longitude: 3\n", "between -90 and 90"),
        ("# latitude: north\n# longitude: 3\n", "not a number"),
        ("# latitude: 38.57\n", "longitude"),
        ("# latitude: nan\n# longitude: 3\n", "between -90 and 90"),
    ],
)
def test_a_station_that_is_nowhere(tmp_path: Path, head: str, words: str) -> None:
    assert words in str(refusal(write(tmp_path, table(hours=48, head=head)), place=MOAB))


def epw_row(index: int, change: Callable[[str], str]) -> Callable[[list[str]], None]:
    def apply(lines: list[str]) -> None:
        lines[index] = change(lines[index])

    return apply


def shuffled_rows(lines: list[str]) -> None:
    body = lines[8:]
    random.Random(1).shuffle(body)
    lines[8:] = body


def swapped_rows(lines: list[str]) -> None:
    lines[20], lines[21] = lines[21], lines[20]


def broken_rows(lines: list[str]) -> None:
    lines[99:299] = ["1988,1,1"] * 200


def worded(lines: list[str]) -> None:
    for index in range(107, len(lines), 50):
        lines[index] = lines[index].replace(",9999,9999,9999,", ",9999,9999,9999,x", 1)


BAD_EPWS: list[tuple[str, Change, int | None, str]] = [
    ("shuffled", shuffled_rows, None, "out of order"),
    ("swapped", swapped_rows, 22, "out of order"),
    (
        "broken rows",
        lambda lines: lines.__setitem__(slice(99, 299), ["1988,1,1"] * 200),
        100,
        "cut",
    ),
    ("no rows", lambda lines: lines.__delitem__(slice(8, None)), None, "without a single row"),
    ("no periods", lambda lines: lines.__delitem__(7), None, "DATA PERIODS"),
    ("half-hourly", epw_row(7, lambda row: row.replace("1,1,", "1,2,", 1)), 8, "2 records an hour"),
    ("words", worded, 108, "not a number"),
    ("no latitude", epw_row(0, lambda row: row.replace("36.1", "north")), 1, "must be a number"),
    ("latitude 136", epw_row(0, lambda row: row.replace("36.1", "136.1")), None, "latitude"),
    ("zone 55", epw_row(0, lambda row: row.replace(",-5.0,", ",55,")), 1, "offset from UTC"),
    ("month 13", epw_row(99, lambda row: row.replace(",1,4,", ",13,4,", 1)), None, "not readable"),
]


@pytest.mark.parametrize(
    ("change", "line", "words"), [bad[1:] for bad in BAD_EPWS], ids=[bad[0] for bad in BAD_EPWS]
)
def test_bad_epws(tmp_path: Path, epw: str, change: Change, line: int | None, words: str) -> None:
    lines = epw.splitlines()[: 8 + SPELL_H]
    change(lines)
    fault = refusal(write(tmp_path, "\n".join(lines), "x.epw")).faults[0]
    assert words in str(fault)
    if line is not None:
        assert fault.line == line


def test_more_fields_than_an_epw_has_move_nothing(
    tmp_path: Path, tmy3: WeatherYears, epw: str
) -> None:
    lines = epw.splitlines()[: 8 + SPELL_H]
    text = "\n".join([*lines[:8], *(f"{line},1,2,3," for line in lines[8:])])
    years = read_weather(write(tmp_path, text, "x.epw"))
    np.testing.assert_array_equal(years.ghi[:SPELL_H], tmy3.ghi[:SPELL_H])


def test_a_broken_row_of_an_epw_counts_as_missing(
    tmp_path: Path, tmy3: WeatherYears, epw: str
) -> None:
    lines = epw.splitlines()[: 8 + SPELL_H]
    lines[107] = lines[107][:30]
    lines[208] = lines[208].replace(",9999,9999,9999,", ",9999,9999,9999,x", 1)
    years = read_weather(write(tmp_path, "\n".join(lines), "x.epw"))
    assert years.notes[0] == (
        "1 row is broken and counts as missing (first in line 108: cut short: 8 of 35 fields)."
    )
    assert years.notes[1].startswith(
        "1 cell is not a number and counts as missing (first in line 209"
    )
    others = np.setdiff1d(np.arange(SPELL_H), [99, 100, 200])
    np.testing.assert_allclose(years.ghi[others], tmy3.ghi[others])


def test_half_a_typical_year_is_what_it_is(tmp_path: Path, epw: str) -> None:
    years = read_weather(write(tmp_path, "\n".join(epw.splitlines()[:4000]), "x.epw"))
    assert np.flatnonzero(np.isnan(years.ghi[:, 0])).tolist() == list(range(3992, 8760))
    assert "4,768 hours are missing" in years.notes[-1]
    assert "to the end (after line 4000)" in years.notes[-1]


def test_headers_as_people_write_them(tmp_path: Path, tmy3: WeatherYears, epw: str) -> None:
    """Words behind the altitude, a comma in the station's name, a comment more or less."""
    lines = epw.splitlines()[: 8 + SPELL_H]
    first = lines[0].replace("Greensboro", "Greensboro, Piedmont") + "  morphed: 10 models"
    for rest in (lines[1:8], [*lines[1:6], lines[7]], lines[6:8]):
        text = "\n".join([first, *rest, *lines[8:]])
        years = read_weather(write(tmp_path, text, "x.epw"))
        np.testing.assert_array_equal(years.ghi[:SPELL_H], tmy3.ghi[:SPELL_H])
        assert (years.latitude, years.altitude_m) == (tmy3.latitude, tmy3.altitude_m)
        assert years.notes[0].startswith("The altitude in line 1 is read as 273.0, from")
    text = TMY3.read_text().replace("DNI (W/m^2)", "DNI (W/m^2))", 1)
    np.testing.assert_array_equal(read_weather(write(tmp_path, text)).dni, tmy3.dni)


def test_a_tmy3_without_direct_light_has_it_estimated(tmp_path: Path) -> None:
    text = TMY3.read_text().replace("DNI (W/m^2)", "something else", 1)
    assert "estimated from GHI" in read_weather(write(tmp_path, text)).notes[0]


def test_bad_tmy2(tmp_path: Path) -> None:
    lines = TMY2.read_text().splitlines()
    short = [*lines[:50], lines[50][:90]]
    assert refusal(write(tmp_path, "\n".join(short), "a.tm2")).faults[0].line == 51
    words = [*lines[:50], lines[50][:17] + " abc" + lines[50][21:]]
    fault = refusal(write(tmp_path, "\n".join(words), "a.tm2")).faults[0]
    assert (fault.line, fault.key) == (51, "GHI")
    cut = [*lines[:50], lines[50][:90], *lines[51:SPELL_H]]
    years = read_weather(write(tmp_path, "\n".join(cut), "a.tm2"))
    assert "first in line 51: cut short: 90 of 142 characters" in years.notes[0]


def test_bad_tmy3(tmp_path: Path) -> None:
    lines = TMY3.read_text().splitlines()
    for old, new, key in (
        ("01:00", "noon", "Time (HH:MM)"),
        ("01/01/1988", "1988-01-01", "Date (MM/DD/YYYY)"),
    ):
        text = "\n".join([*lines[:2], lines[2].replace(old, new, 1), *lines[3:80]])
        fault = refusal(write(tmp_path, text)).faults[0]
        assert (fault.line, fault.key) == (3, key)
    assert "fields" in str(refusal(write(tmp_path, "\n".join([*lines[:99], lines[99][:40]]))))


def test_nothing_in_a_file_moves_a_terminals_cursor(tmp_path: Path) -> None:
    """Names of columns and files come into messages without their control characters."""
    odd = "w\x1b[31m.csv"
    said = str(refusal(write(tmp_path, table(header="time,\x1b]0;x\x07,temp_air"), odd)))
    assert "no column ghi" in said
    assert said.isprintable()
    years = read_weather(write(tmp_path, table(), odd))
    assert years.source.isprintable()
    name = TMY3.read_text().replace("GREENSBORO", "GREEN\x1b[2JBORO", 1)
    assert read_weather(write(tmp_path, name)).source.isprintable()


def days_of(text: str, days: int) -> bytes:
    """The head of a typical year's file and so many days."""
    lines = text.splitlines(keepends=True)
    head = 8 if text.startswith("LOCATION") else 2
    return "".join(lines[: head + 24 * days]).encode()


@pytest.fixture(scope="module")
def sound_files(epw: str) -> tuple[bytes, ...]:
    """Forty days of each kind."""
    return days_of(TMY3.read_text(), 40), days_of(epw, 40), table(hours=24 * 40).encode()


@pytest.mark.parametrize("seed", range(60))
def test_any_damage_gives_an_answer_or_one_clear_error(
    tmp_path: Path, sound_files: tuple[bytes, ...], seed: int
) -> None:
    """Bytes overwritten, cut out or cut off, anywhere; nothing but WeatherError comes out."""
    chance = random.Random(seed)
    data = bytearray(sound_files[seed % 3])
    for _ in range(chance.choice([1, 5, 200])):
        at = chance.randrange(len(data)) if chance.random() < 0.7 else chance.randrange(2000)
        how = chance.random()
        if how < 0.6:
            data[at] = chance.choice(b"0123456789,;.-\n\r\t \"'/:abc\xff\xe9")
        elif how < 0.8:
            del data[at : at + chance.randrange(1, 60)]
        else:
            data[at:at] = bytes(chance.choices(range(1, 256), k=chance.randrange(1, 20)))
    if chance.random() < 0.3:
        del data[chance.randrange(len(data)) :]
    path = write(tmp_path, bytes(data))
    answer = attempt(path)
    if isinstance(answer, WeatherError):
        assert all(len(str(fault)) < 600 for fault in answer.faults)
        return
    values = [answer.ghi, answer.dni, answer.dhi, answer.temp_air]
    known = ~np.isnan(answer.ghi)
    assert all((np.isnan(value) == ~known).all() for value in values)
    assert answer.ghi[known].min() >= 0.0


def attempt(path: Path) -> WeatherYears | WeatherError:
    try:
        return read_weather(path)
    except WeatherError as error:
        return error
