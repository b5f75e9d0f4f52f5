"""Logs of monitors, written in the ways that monitors write them."""

from __future__ import annotations

import datetime as dt
import time
import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from sim.errors import LogError
from sim.log.clock import in_order
from sim.log.reading import Log, read_log

HOURS = 72
START = dt.datetime(2027, 2, 1)
Rows = Callable[[str], str]


def moments() -> list[dt.datetime]:
    return [START + dt.timedelta(hours=n) for n in range(HOURS)]


def amps(hour: int) -> float:
    return 8.0 if 9 <= hour % 24 < 15 else -2.5


def charge(count: int) -> float:
    """Percent, of 200 Ah, after so many hours."""
    return 60.0 + sum(amps(n) for n in range(count)) / 2.0


def table(heads: str, form: str = "%Y-%m-%d %H:%M", separator: str = ",", sign: float = 1.0) -> str:
    rows = [
        separator.join(
            (
                moment.strftime(form),
                f"{charge(n):.1f}",
                f"{sign * amps(n):.2f}",
                "13.2",
            )
        )
        for n, moment in enumerate(moments())
    ]
    return "\n".join([heads, *rows]) + "\n"


def read(tmp_path: Path, text: str, **asked: str) -> Log:
    path = tmp_path / "log.csv"
    path.write_text(text, "utf-8")
    return read_log(path, asked)


def expect_same(log: Log) -> None:
    assert log.at.astype("datetime64[m]").tolist() == moments()
    assert np.allclose(log.values["soc"], [charge(n) / 100.0 for n in range(HOURS)], atol=1e-3)
    assert np.allclose(log.values["current"], [amps(n) for n in range(HOURS)])
    assert np.allclose(log.values["voltage"], 13.2)


HEADS = "Time,SOC (%),Battery current (A),Battery voltage (V)"


@pytest.mark.parametrize(
    "text",
    [
        table(HEADS),
        table("Timestamp;SoC;Current [A];Voltage [V]", separator=";"),
        table("Date time\tState of charge\tAmps\tVolts", separator="\t"),
        table(HEADS.replace(",", ";"), "%d.%m.%Y %H:%M:%S", ";").replace(".5", ",5"),
        table(HEADS, "%m/%d/%Y %I:%M %p"),
        table(HEADS, "%d/%m/%y %H:%M"),
        table(HEADS, sign=-1.0),
        table(HEADS.replace("(A)", "discharging (A)"), sign=-1.0),
        "Monitor in the van\nSerial 12\n" + table(HEADS),
        table("Time,State of charge,Battery,Battery\n,%,Current A,Voltage V"),
        table("time,soc,batteryCurrent,batteryVoltage"),
        "\n".join([HEADS, *reversed(table(HEADS).splitlines()[1:])]) + "\n",
        table(HEADS) + table("", "%Y-%m-%d %H:%M").lstrip(),
    ],
    ids=[
        "plain",
        "semicolons",
        "tabs",
        "decimal commas",
        "halves of the day",
        "day before month",
        "other sign",
        "discharge positive",
        "preamble",
        "two rows of headings",
        "joined words",
        "newest first",
        "twice the same rows",
    ],
)
def test_ways_to_write_a_log(tmp_path: Path, text: str) -> None:
    expect_same(read(tmp_path, text))


def test_a_month_is_told_from_a_day_by_the_length_of_the_log(tmp_path: Path) -> None:
    text = table(HEADS, "%d/%m/%Y %H:%M")
    assert read(tmp_path, text).days_long == pytest.approx(HOURS / 24, abs=0.1)


def test_offsets_and_seconds_since_1970_are_utc(tmp_path: Path) -> None:
    text = table(HEADS, "%Y-%m-%dT%H:%M:00-07:00")
    log = read(tmp_path, text)
    assert log.is_utc
    assert log.at[0] == np.datetime64("2027-02-01T07:00")
    rows = table(HEADS).splitlines()
    epoch = [
        f"{int((START - dt.datetime(1970, 1, 1)).total_seconds()) + 3600 * n},{x.split(',', 1)[1]}"
        for n, x in enumerate(rows[1:])
    ]
    log = read(tmp_path, "\n".join([rows[0], *epoch]))
    assert log.is_utc
    assert log.at[0] == np.datetime64("2027-02-01T00:00")
    assert not read(tmp_path, table(HEADS)).is_utc
    assert read(tmp_path, table(HEADS.replace("Time", "Time (UTC)"))).is_utc


def test_units_of_headings(tmp_path: Path) -> None:
    text = table("Time,SOC,Battery current (mA),Battery voltage (mV)")
    log = read(tmp_path, text)
    assert log.values["voltage"][0] == pytest.approx(0.0132)
    assert log.values["current"][10] == pytest.approx(0.008)


def test_asked_for_columns(tmp_path: Path) -> None:
    text = table("Time,Fuel,Strom,Spannung")
    with pytest.raises(LogError, match=r'--column soc="\.\.\."'):
        read(tmp_path, text)
    expect_same(read(tmp_path, text, soc="fuel", current="Strom", voltage="Spannung"))
    with pytest.raises(LogError, match=r'"Ladung": no such column'):
        read(tmp_path, text, soc="Ladung")
    with pytest.raises(LogError, match="no such kind of column; name time, soc"):
        read(tmp_path, text, charge="Fuel")


def test_two_columns_that_fit_are_asked_for(tmp_path: Path) -> None:
    text = table("Time,Battery current A,Battery current B,Battery voltage").replace("60.0", "60")
    with pytest.raises(LogError, match=r"may both be the battery's current; say which"):
        read(tmp_path, text.replace("current A", "current (A)").replace("current B", "current, A"))


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("", "is empty"),
        ("\n\n", "is empty"),
        ("A letter to the workshop.\nWith two lines.\n", "is not a table"),
        ("a,b,c\nx,y,z\n", "no column of times that can be read"),
        ("2027-01-01 00:00,1\n2027-01-01 01:00,1\n", "has no headings"),
        # a decimal comma beside commas between the columns
        (
            "time,soc,current\n" + "2027-01-01 00:00,81,5,-2,25\n" * 3,
            "has 5 values under 3 headings; where numbers have a decimal comma, separate the",
        ),
        (table(HEADS)[:500], "covers less than two days"),
        ("Time,SOC\n" + "\n".join(f"2027-0{n}-01 00:00,50" for n in range(1, 10)), "two days"),
        ("Time,SOC\n" + "\n".join(f"2027-{m:02d}-{d:02d} 00:00,50" for m in (1, 2, 3)
         for d in range(1, 28)), "every 24 hours"),
        (table(HEADS).replace("2027-02-02", "the day after"), "is not a time that can be read"),
        ("Time,SOC\n" + "\n".join(f"{x:%Y-%m-%d %H:%M},full" for x in moments()), "holds no num"),
        ("PK\x03\x04", "name it .xlsx"),
        ("Time,SOC\0\x01\x02", "is not text"),
    ],
)  # fmt: skip
def test_what_is_no_log_is_said_in_a_sentence(tmp_path: Path, text: str, rule: str) -> None:
    with pytest.raises(LogError, match=rule) as caught:
        read(tmp_path, text)
    assert "log.csv" in str(caught.value)


def test_no_file(tmp_path: Path) -> None:
    with pytest.raises(LogError, match="no such file"):
        read_log(tmp_path / "none.csv")


def test_a_cell_that_is_none_is_a_gap(tmp_path: Path) -> None:
    rows = table(HEADS).splitlines()
    rows[5] = rows[5].replace("13.2", "--").replace("-2.50", "9999999")
    log = read(tmp_path, "\n".join(rows))
    assert np.isnan(log.values["voltage"][4])
    assert np.isnan(log.values["current"][4])
    assert np.isfinite(log.values["soc"]).all()


def test_the_hour_that_comes_twice_keeps_both_passes() -> None:
    first = np.arange("2026-11-01T00:00", "2026-11-01T02:00", 10, dtype="datetime64[m]")
    second = np.arange("2026-11-01T01:00", "2026-11-01T04:00", 10, dtype="datetime64[m]")
    at = np.concatenate([first, second]).astype("datetime64[s]")
    order, again = in_order(at)
    assert order.tolist() == list(range(len(at)))
    assert again.sum() == 6
    assert at[order][again][0] == np.datetime64("2026-11-01T01:00")


def test_rows_of_two_exports_are_put_in_order() -> None:
    early = np.arange("2026-05-01", "2026-05-03", 60, dtype="datetime64[m]").astype("datetime64[s]")
    late = early + np.timedelta64(2, "D")
    order, again = in_order(np.concatenate([late, early]))
    assert (np.diff(np.concatenate([late, early])[order]) > np.timedelta64(0, "s")).all()
    assert not again.any()


def sheet(rows: list[list[str]]) -> str:
    body = "".join(f"<row>{''.join(cells)}</row>" for cells in rows)
    space = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    return f'<worksheet xmlns="{space}"><sheetData>{body}</sheetData></worksheet>'


def workbook(path: Path) -> None:
    """A workbook by hand: dates as a spreadsheet counts them, numbers, headings in the cells."""
    office = "http://schemas.openxmlformats.org/officeDocument/2006"
    package = "http://schemas.openxmlformats.org/package/2006"
    space = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    heads = [f'<c t="inlineStr"><is><t>{text}</t></is></c>' for text in HEADS.split(",")]
    rows = [heads]
    for n, moment in enumerate(moments()):
        days = (moment - dt.datetime(1899, 12, 30)) / dt.timedelta(days=1)
        values = (charge(n), amps(n), 13.2)
        rows.append([f'<c s="1"><v>{days:.9f}</v></c>', *(f"<c><v>{x}</v></c>" for x in values)])
    kinds = "application/vnd.openxmlformats-officedocument.spreadsheetml"
    files = {
        "[Content_Types].xml": f'<Types xmlns="{package}/content-types">'
        '<Default Extension="rels" '
        'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        f'<Override PartName="/xl/workbook.xml" ContentType="{kinds}.sheet.main+xml"/>'
        f'<Override PartName="/xl/worksheets/sheet1.xml" ContentType="{kinds}.worksheet+xml"/>'
        f'<Override PartName="/xl/styles.xml" ContentType="{kinds}.styles+xml"/></Types>',
        "_rels/.rels": f'<Relationships xmlns="{package}/relationships"><Relationship Id="a" '
        f'Type="{office}/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{package}/relationships">'
        f'<Relationship Id="b" Type="{office}/relationships/worksheet" '
        'Target="worksheets/sheet1.xml"/>'
        f'<Relationship Id="c" Type="{office}/relationships/styles" Target="styles.xml"/>'
        "</Relationships>",
        "xl/workbook.xml": f'<workbook xmlns="{space}" xmlns:r="{office}/relationships"><sheets>'
        '<sheet name="Log" sheetId="1" r:id="b"/></sheets></workbook>',
        "xl/styles.xml": f'<styleSheet xmlns="{space}"><cellXfs count="2"><xf numFmtId="0"/>'
        '<xf numFmtId="22"/></cellXfs></styleSheet>',
        "xl/worksheets/sheet1.xml": sheet(rows),
    }
    with zipfile.ZipFile(path, "w") as book:
        for name, text in files.items():
            book.writestr(name, '<?xml version="1.0" encoding="UTF-8"?>' + text)


def test_a_workbook(tmp_path: Path) -> None:
    path = tmp_path / "log.xlsx"
    workbook(path)
    expect_same(read_log(path))
    path.write_bytes(b"PK\x03\x04 and nothing more")
    with pytest.raises(LogError, match="is not a workbook that can be read"):
        read_log(path)


def test_a_year_of_minutes_is_read_in_time(tmp_path: Path) -> None:
    """A year of 525,600 rows takes 2.6 s of a processor's time; here a share of it, as a ratio."""
    count = 30_000
    frame = pd.DataFrame(
        {
            "Time": pd.date_range("2027-01-01", periods=count, freq="min").strftime(
                "%d.%m.%Y %H:%M"
            ),
            "SOC": np.round(50 + 40 * np.sin(np.arange(count) / 400.0), 1),
            "Current": np.round(8 * np.cos(np.arange(count) / 400.0), 1),
        }
    )
    path = tmp_path / "log.csv"
    frame.to_csv(path, sep=";", decimal=",", index=False)

    def took(read: Callable[[], object]) -> float:
        began = time.process_time()
        read()
        return time.process_time() - began

    cells = min(took(lambda: pd.read_csv(path, sep=";", dtype=str)) for _ in range(3))
    logs: list[Log] = []
    # Nine times as long as cutting the text into cells alone; thirty times is nine seconds a year.
    assert min(took(lambda: logs.append(read_log(path))) for _ in range(3)) < 30.0 * cells
    assert [len(log.at) for log in logs] == [count] * 3


def test_a_folder_is_no_log(tmp_path: Path) -> None:
    with pytest.raises(LogError, match=r"is a folder; name the log in it$"):
        read_log(tmp_path)
