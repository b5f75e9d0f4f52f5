"""Damage weather files in many ways: each must be mended, or refused with a reason.

    python tests/bench/mutate_weather.py --count 2000 [--seed 1] [FILE ...]

Damaged are the typical years that come with pvlib, one of them also as an EPW and as a plain
table, or the files named. Nothing but a `WeatherError` may come out. A file that is accepted must
still say what the sound one says: of every month that is known whole, sun within 5 % and
temperature within 1 K, and no light in the night.
"""

from __future__ import annotations

import argparse
import contextlib
import random
import re
import sys
import tempfile
import warnings
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pvlib

from sim.errors import WeatherError
from sim.sky.climate.measured import MeasuredMonths
from sim.sky.climate.tables import probabilities, quantile_mean
from sim.sky.files.reader import WeatherYears, read_weather
from sim.sky.files.station_months import days_known, station_months
from sim.sky.sun_means import mean_sun, sun_clock

DATA = Path(pvlib.__file__).parent / "data"
FILES = [DATA / name for name in ("723170TYA.CSV", "703165TY.csv", "12839.tm2")]
_NEARLY_ALL_DAYS = 27  # of half a month nobody knows the other half
SUN_WITHIN, AIR_WITHIN_K = 0.05, 1.0
_REST = "999999,999999,999999,9999,999,999,99,99,9999,99999,9,999999999,999,.999,999,99,999,999"

Rows = list[list[str]]
Damage = Callable[[Rows, random.Random], None]


def as_epw(years: WeatherYears) -> str:
    """A station's year as an EPW."""
    head = [
        f"LOCATION,Station,-,-,TYP,1,{years.latitude},{years.longitude},"
        f"{years.clock_offset_h},{years.altitude_m}",
        *(f"COMMENTS {number},-" for number in range(6)),
        "DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31",
    ]
    dates = np.datetime64("2001-01-01T00", "h") + np.arange(8760)
    rows = []
    for index, date in enumerate(dates):
        day, hour = str(date).split("T")
        _, month, number = day.split("-")
        sun = ",".join(f"{getattr(years, name)[index, 0]:.0f}" for name in ("ghi", "dni", "dhi"))
        air = f"{years.temp_air[index, 0]:.1f}"
        rows.append(
            f"2001,{int(month)},{int(number)},{int(hour) + 1},0,?,{air},99.9,999,999999,9999,9999,"
            f"9999,{sun},{_REST}"
        )
    return "\n".join([*head, *rows]) + "\n"


def as_table(years: WeatherYears) -> str:
    """A station's year as a plain table."""
    head = [f"# latitude: {years.latitude}", f"# longitude: {years.longitude}"]
    head += [f"# altitude_m: {years.altitude_m}", "time,ghi,dni,dhi,temp_air"]
    dates = np.datetime64("2001-01-01T00", "h") + np.arange(8760)
    sign = "-" if years.clock_offset_h < 0 else "+"
    zone = f"{sign}{abs(years.clock_offset_h):02.0f}:00"
    names = ("ghi", "dni", "dhi", "temp_air")
    rows = [
        f"{date}:00{zone}," + ",".join(f"{getattr(years, name)[index, 0]:.2f}" for name in names)
        for index, date in enumerate(dates)
    ]
    return "\n".join([*head, *rows]) + "\n"


class Source:
    """A sound file: its text, where its numbers stand, and what its months are."""

    def __init__(self, text: str, suffix: str, folder: Path) -> None:
        self.text, self.suffix = text, suffix
        path = folder / f"sound{suffix}"
        path.write_text(text, encoding="utf-8")
        self.years = read_weather(path)
        self.months = station_months(self.years)
        # Typical years of the older formats are damaged as text alone.
        self.first = {".epw": 8, ".csv": 4}.get(suffix, 0)
        self.columns = {
            ".epw": {"ghi": 13, "dni": 14, "dhi": 15, "temp_air": 6},
            ".csv": {"ghi": 1, "dni": 2, "dhi": 3, "temp_air": 4},
        }.get(suffix)

    def lines(self) -> tuple[list[str], list[str]]:
        lines = self.text.splitlines()
        return lines[: self.first], lines[self.first :]


# --- damage to cells --------------------------------------------------------------------------


def some(rows: Rows, chance: random.Random, most: float = 0.2) -> list[int]:
    share = chance.choice([0.0002, 0.002, 0.02, most])
    return chance.sample(range(len(rows)), max(1, int(share * len(rows))))


def put(column: str, value: Callable[[str, random.Random], str]) -> Callable[..., None]:
    def damage(rows: Rows, chance: random.Random, columns: dict[str, int]) -> None:
        for index in some(rows, chance):
            rows[index][columns[column]] = value(rows[index][columns[column]], chance)

    return damage


def everywhere(column: str, value: Callable[[float], float]) -> Callable[..., None]:
    def damage(rows: Rows, chance: random.Random, columns: dict[str, int]) -> None:
        at = columns[column]
        for row in rows:
            row[at] = f"{value(float(row[at])):.3f}"

    return damage


def night_beam(rows: Rows, chance: random.Random, columns: dict[str, int]) -> None:
    """Direct light where global light is nought."""
    dark = [row for row in rows if float(row[columns["ghi"]]) <= 0.0]
    for row in chance.sample(dark, min(len(dark), chance.choice([1, 50, 1000, 4000]))):
        row[columns["dni"]] = str(chance.randrange(30, 900))


def gone(rows: Rows, chance: random.Random, columns: dict[str, int]) -> None:
    for index in sorted(some(rows, chance, 0.5), reverse=True):
        del rows[index]


def gap(rows: Rows, chance: random.Random, columns: dict[str, int]) -> None:
    first = chance.randrange(len(rows))
    del rows[first : first + chance.choice([2, 4, 30, 300, 3000])]


def swapped(rows: Rows, chance: random.Random, columns: dict[str, int]) -> None:
    one = chance.randrange(len(rows) - 1)
    rows[one], rows[one + 1] = rows[one + 1], rows[one]


def doubled(rows: Rows, chance: random.Random, columns: dict[str, int]) -> None:
    one = chance.randrange(len(rows))
    rows.insert(one, list(rows[one]))


def cut(rows: Rows, chance: random.Random, columns: dict[str, int]) -> None:
    for index in some(rows, chance, 0.02):
        del rows[index][chance.randrange(1, len(rows[index])) :]


def later(rows: Rows, chance: random.Random, columns: dict[str, int]) -> None:
    """The sun some hours late, the stamps as they were."""
    hours = chance.choice([-3, -1, 1, 2, 6])
    for name in ("ghi", "dni", "dhi"):
        values = [row[columns[name]] for row in rows]
        for index, row in enumerate(rows):
            row[columns[name]] = values[(index - hours) % len(values)]


CELLS: dict[str, Callable[..., None]] = {
    "night beam": night_beam,
    "rows gone": gone,
    "gap": gap,
    "swapped": swapped,
    "doubled": doubled,
    "cut rows": cut,
    "late sun": later,
    "words": put("ghi", lambda old, chance: chance.choice(["sunny", "--", "1,2", "n/a", ""])),
    "-999": put("temp_air", lambda old, chance: "-999"),
    "9999": put("ghi", lambda old, chance: "9999"),
    "no parts": everywhere("dni", lambda value: 9999.0),
    "spikes": put("ghi", lambda old, chance: str(chance.randrange(-300, 2500))),
    "hot": put("temp_air", lambda old, chance: str(chance.randrange(-300, 300))),
    "diffuse too bright": put("dhi", lambda old, chance: str(float(old) * 3 + 100)),
    "beam too bright": put("dni", lambda old, chance: str(float(old) * 4 + 100)),
    "kJ": everywhere("ghi", lambda value: 3.6 * value),
    "kW": everywhere("ghi", lambda value: value / 1000.0),
    "deg F": everywhere("temp_air", lambda value: 1.8 * value + 32.0),
    "kelvin": everywhere("temp_air", lambda value: value + 273.15),
}


# --- damage to the text -----------------------------------------------------------------------


def _bytes(text: str, chance: random.Random) -> bytes:
    data = bytearray(text.encode())
    for _ in range(chance.choice([1, 5, 200])):
        at = chance.randrange(len(data)) if chance.random() < 0.7 else chance.randrange(2000)
        how = chance.random()
        if how < 0.6:
            data[at] = chance.choice(b"0123456789,;.-\n\r\t \"'/:abc\xff\xe9\x1b")
        elif how < 0.8:
            del data[at : at + chance.randrange(1, 60)]
        else:
            data[at:at] = bytes(chance.choices(range(1, 256), k=chance.randrange(1, 20)))
    if chance.random() < 0.2:
        del data[chance.randrange(len(data)) :]
    return bytes(data)


def _position(text: str, chance: random.Random) -> bytes:
    """Another hemisphere, or another zone, in the first lines."""
    head, rest = text[:400], text[400:]
    numbers = list(re.finditer(r"-?\d+\.\d+", head))
    if not numbers:  # TMY2 has degrees and minutes
        return text.encode()
    one = chance.choice(numbers)
    other = str(-float(one.group())) if chance.random() < 0.6 else str(chance.randrange(-90, 90))
    return (head[: one.start()] + other + head[one.end() :] + rest).encode()


TEXTS: dict[str, Callable[[str, random.Random], bytes]] = {
    "bytes": _bytes,
    "position": _position,
    "CRLF": lambda text, chance: text.replace("\n", "\r\n").encode(),
    "UTF-16": lambda text, chance: text.encode("utf-16"),
    "half": lambda text, chance: text[: chance.randrange(len(text))].encode(),
    "twice": lambda text, chance: (text + text).encode(),
}


# --- what must hold ---------------------------------------------------------------------------


def damaged(source: Source, chance: random.Random) -> tuple[str, bytes]:
    """The name of the damage and the damaged file."""
    if source.columns is None or chance.random() < 0.3:
        name = chance.choice(list(TEXTS))
        return name, TEXTS[name](source.text, chance)
    head, body = source.lines()
    rows = [line.split(",") for line in body]
    names = chance.sample(list(CELLS), chance.choice([1, 1, 1, 2]))
    for name in names:
        # A second damage may find nothing whole any more.
        with contextlib.suppress(ValueError, IndexError):
            CELLS[name](rows, chance, source.columns)
    return " + ".join(names), "\n".join([*head, *map(",".join, rows)]).encode()


def wrong_with(source: Source, found: WeatherYears) -> str:
    """What an accepted file says that its sound original does not; empty if all is well."""
    values = {name: getattr(found, name) for name in ("ghi", "dni", "dhi", "temp_air")}
    known = ~np.isnan(values["ghi"])
    for name, value in values.items():
        if not (np.isnan(value) == ~known).all():
            return f"{name} is known elsewhere than ghi"
        if name != "temp_air" and value[known].min(initial=0.0) < 0.0:
            return f"{name} is negative"
    for column in range(len(found.years)):
        clock = sun_clock(found.start_utc(column), 60)
        near = mean_sun(clock, found.latitude, found.longitude, -1.5, 1.5)[0]
        dark = (near == 0.0) & known[:, column]
        if values["ghi"][dark, column].max(initial=0.0) > 25.0:
            return "light at night"
    if (found.latitude, found.longitude) != (source.years.latitude, source.years.longitude):
        return ""  # of another place nothing can be said
    enough = days_known(found) >= _NEARLY_ALL_DAYS
    if not enough.any():
        return ""
    return _months_apart(source.months, station_months(found), enough)


def _months_apart(sound: MeasuredMonths, now: MeasuredMonths, enough: np.ndarray) -> str:
    before, after = (quantile_mean(x.clearness, probabilities()) for x in (sound, now))
    sun = np.abs(after / before - 1.0)[enough].max()
    air = np.abs(now.temperature_c - sound.temperature_c)[enough].max()
    if sun > SUN_WITHIN:
        return f"a month's sun is off by {100 * sun:.0f} %"
    return f"a month's temperature is off by {air:.1f} K" if air > AIR_WITHIN_K else ""


def outcome(source: Source, name: str, data: bytes, path: Path) -> tuple[str, str]:
    """``mended``, ``clean`` or ``refused``, and what is wrong with that, if anything."""
    path.write_bytes(data)
    try:
        found = read_weather(path)
    except WeatherError as error:
        bad = [str(fault) for fault in error.faults if not str(fault).isprintable()]
        return "refused", f"not printable: {bad[0]!r}" if bad else ""
    if not all(note.isprintable() for note in (found.source, *found.notes)):
        return "mended", "a sentence is not printable"
    return ("mended" if found.notes else "clean"), wrong_with(source, found)


def sources(files: list[Path], folder: Path) -> list[Source]:
    made = []
    for path in files:
        text = path.read_text(encoding="latin-1")
        made.append(Source(text, path.suffix.lower().replace(".csv", ".tmy"), folder))
    years = read_weather(files[0])
    made += [Source(as_epw(years), ".epw", folder), Source(as_table(years), ".csv", folder)]
    return made


def run(count: int, seed: int, files: list[Path]) -> tuple[Counter[tuple[str, str]], list[str]]:
    """How often each kind of damage came to which end, and what must not have happened."""
    ends: Counter[tuple[str, str]] = Counter()
    wrong = []
    with tempfile.TemporaryDirectory() as name, warnings.catch_warnings():
        warnings.simplefilter("error")
        folder = Path(name)
        sound = sources(files, folder)
        for number in range(count):
            chance = random.Random(f"{seed} {number}")
            source = chance.choice([*sound, *sound[-2:]])
            damage, data = damaged(source, chance)
            suffix = source.suffix if source.suffix in (".epw", ".tm2") else ".csv"
            end, fault = outcome(source, damage, data, folder / f"damaged{suffix}")
            ends[damage if "+" not in damage else "two kinds", end] += 1
            if fault:
                wrong.append(f"number {number}, {source.suffix}, {damage}, {end}: {fault}")
    return ends, wrong


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("files", type=Path, nargs="*")
    asked = parser.parse_args()
    ends, wrong = run(asked.count, asked.seed, asked.files or FILES)
    for damage in sorted({key for key, _ in ends}):
        told = ", ".join(f"{ends[damage, end]} {end}" for end in ("clean", "mended", "refused"))
        print(f"{damage:20s} {told}")
    print(*wrong, sep="\n")
    print(f"{asked.count} damaged files, {len(wrong)} wrong")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
