"""Break the demo job file in many ways: each must give a result or clear errors, nothing else.

    python tests/bench/fuzz_jobs.py --count 20000 [--seed 1] [--jobs 2] [--run-every 1]

A file that loads is run with few draws and short stays, its wiring sheet made and its numbers
written as JSON and CSV; a page is made of some. A traceback, a warning, a number that is none or
an error without a sentence stops the run and leaves the file that did it beside its message.
"""

from __future__ import annotations

import argparse
import datetime as dt
import json
import random
import re
import sys
import tempfile
import warnings
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter
from typing import Any

from sim.decide import wiring
from sim.errors import NightledgerError
from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.job.reading.load import load_job
from sim.ledger.results import Result
from sim.ledger.simulate import simulate
from sim.report.data.export import csv_files, json_text, trip_json
from sim.report.data.wiring_data import wiring_csv, wiring_json
from sim.report.page.client import render_page
from sim.report.page.wiring_page import render_wiring
from sim.resources import profiles_dir

DEMO = (profiles_dir() / "jobs" / "demo.toml").read_text("utf-8")
MORE = """
[wiring]
ambient_f = 110
string_fuse_amps = 15
main_switch = true

[wiring.roof]
length_ft = 15

[wiring.inverter]
length_ft = 3
cable_awg = "2/0"
fuse_amps = 250

[[wiring.loads]]
name = "Water pump"
length_ft = 12

[[appliances]]
use = "induction-hob"
runs = "plugged"

[[appliances]]
use = "hot-water-engine"

[[appliances]]
use = "e-bike-charger"
count = 2

[[appliances]]
use = "small-devices"
runs = "driving"

[[appliances]]
use = "air-conditioner"
runs = "always"
"""
BASE = DEMO + MORE
DRAWS, NIGHTS, PAGE_EVERY = 2, 2, 40
# Words that only a program's inside would say.
JARGON = ("Traceback", "pydantic", "NoneType", "object at 0x", "dtype", "numpy", "KeyError")

ODD_VALUES = (
    "nan", "-nan", "inf", "-inf", "0", "-0.0", "-1", "1e-300", "1e300", "1e400", "1_000_000",
    "9" * 30, "0x7fffffffffffffff", "true", "false", '""', '" "', "[]", "{}", "[[]]", "[1, 2]",
    '{ use = "phones" }', "2027-02-29", "0001-01-01", "9999-12-31", "2027-01-01T00:00:00Z",
    "07:30:00", '"24:00"', '"22:00-06:00"', '["00:00-24:00"]', '"90, 0"', '"-90, 180"',
    '"0, 179.999"', '"95, 0"', '"Springfield"', '"Longyearbyen, Norway"', '"McMurdo Station"',
    '"../../../etc/passwd"', '"/dev/zero"', '"http://example.org/x.epw"', '"clear"', '"climate"',
    '"<script>alert(1)</script>"', '"\\u202egnp.exe"', '"\\u0000"', '"' + "x" * 20_000 + '"',
    "'''\ntwo\n'''", '"{braces} %s %(x)s"', '"[bold]red[/bold]"', '"=cmd()"',
)  # fmt: skip
ODD_LINES = (
    "[van]", "[[van]]", "[[trips]]", "[trips]", "[[trips.stops]]", "[settings]", "[wiring.loads]",
    "a.b.c = 1", "= 1", "count = 1", 'use = "phones"', 'kind = "fan"', "[", "]]", "\\", '"""',
    "step_minutes = 5", 'weather = "clear"', "prudent = true", "start_soc = 0.0", "tilt_deg = 90",
    'mount = "tilted"', "horizon_deg = 80", "shade_pct = 100", "nights = 0", "away_f = 50",
)  # fmt: skip
VALUE = re.compile(r"^(\s*[\w.]+\s*=\s*)([^#\n]*)", re.M)
NUMBER = re.compile(r"(?<==\s)-?[0-9][0-9_.]*")


@dataclass(frozen=True)
class Broken:
    """A file that did what none may do."""

    number: int
    raw: bytes
    what: str


# --- mutations ----------------------------------------------------------------------------------


def _lines(change: Callable[[random.Random, list[str]], None]) -> Callable[..., str]:
    def mutate(rng: random.Random, text: str) -> str:
        lines = text.split("\n")
        change(rng, lines)
        return "\n".join(lines)

    return mutate


def _drop(rng: random.Random, lines: list[str]) -> None:
    del lines[rng.randrange(len(lines))]


def _drop_block(rng: random.Random, lines: list[str]) -> None:
    start = rng.randrange(len(lines))
    del lines[start : start + rng.randint(2, 12)]


def _repeat(rng: random.Random, lines: list[str]) -> None:
    lines.insert(rng.randrange(len(lines)), rng.choice(lines))


def _swap(rng: random.Random, lines: list[str]) -> None:
    one, two = rng.randrange(len(lines)), rng.randrange(len(lines))
    lines[one], lines[two] = lines[two], lines[one]


def _odd_line(rng: random.Random, lines: list[str]) -> None:
    lines.insert(rng.randrange(len(lines)), rng.choice(ODD_LINES))


def _replace(pattern: re.Pattern[str], new: Callable[[random.Random, re.Match[str]], str]) -> Any:
    def mutate(rng: random.Random, text: str) -> str:
        found = list(pattern.finditer(text))
        if not found:
            return text
        match = rng.choice(found)
        return text[: match.start()] + new(rng, match) + text[match.end() :]

    return mutate


def _scaled(rng: random.Random, match: re.Match[str]) -> str:
    try:
        value = float(match[0].rstrip(".").replace("_", ""))
    except ValueError:
        return "0"
    scaled = value * rng.choice(
        (-1.0, 0.0, 0.1, 0.3, 0.5, 0.7, 0.8, 0.9, 1.1, 1.3, 1.5, 2.0, 3.0, 10.0)
    )
    # Mostly a whole number stays one: most keys that have one want one.
    keeps_kind = rng.random() < 0.85
    return repr(int(scaled) if match[0].isdigit() == keeps_kind else scaled)


def _character(rng: random.Random, text: str) -> str:
    if not text:
        return text
    at = rng.randrange(len(text))
    return (
        text[:at] + chr(rng.choice((rng.randrange(32, 127), rng.randrange(0x250)))) + text[at + 1 :]
    )


def _cut(rng: random.Random, text: str) -> str:
    return text[: rng.randrange(len(text) + 1)]


def _other_key(rng: random.Random, match: re.Match[str]) -> str:
    keys = [found[1] for found in VALUE.finditer(BASE)]
    return rng.choice(keys) + match[2]


MUTATIONS: tuple[Callable[[random.Random, str], str], ...] = (
    *(_lines(change) for change in (_drop, _drop_block, _repeat, _swap, _odd_line)),
    _replace(VALUE, lambda rng, match: match[1] + rng.choice(ODD_VALUES)),
    _replace(VALUE, _other_key),
    # Most often: numbers that may be right, so that many files load and run.
    *([_replace(NUMBER, _scaled)] * 12),
    _character,
    _cut,
)


def mutated(number: int, seed: int) -> bytes:
    """The file of that number; the same on every machine."""
    rng = random.Random(f"{seed}-{number}")
    text = BASE
    for _ in range(rng.choice((1, 1, 1, 1, 2, 2, 4))):
        text = rng.choice(MUTATIONS)(rng, text)
    chance = rng.random()
    if chance < 0.02:
        return text.encode(rng.choice(("utf-16", "cp1252", "utf-8-sig")), "replace")
    raw = text.encode("utf-8", "replace")
    if chance < 0.04:
        at = rng.randrange(len(raw) + 1)
        return raw[:at] + bytes(rng.randrange(256) for _ in range(3)) + raw[at:]
    return raw.replace(b"\n", b"\r\n") if chance < 0.06 else raw


# --- what must hold -----------------------------------------------------------------------------


def outcome(raw: bytes, folder: Path, *, run: bool, page: bool) -> str:
    """``"runs"``, ``"loads"``, or the kind of error; raises when a file does what none may do."""
    path = folder / "job.toml"
    path.write_bytes(raw)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            job = load_job(path)
            sheet = wiring(job)
            json_text(wiring_json(sheet))
            if not run:
                return "loads"
            result = simulate(_short(job))
        except NightledgerError as error:
            _assert_clear(error)
            return type(error).__name__
        _assert_whole(result)
        wiring_csv(sheet, "job")
        if page:
            written = dt.date(2027, 1, 1)
            for text in (
                render_page(result, written=written, version="0"),
                render_wiring(sheet, written=written, version="0"),
            ):
                assert text.rstrip().endswith("</html>")
        return "runs"


def _short(job: Job) -> Job:
    """Few draws, and no stay of more than a few nights: the same paths in less time."""
    trips = [
        with_values(
            trip,
            {
                "stops": tuple(
                    with_values(stop, {"nights": min(stop.nights, NIGHTS)}) for stop in trip.stops
                )
            },
        )
        for trip in job.trips[:2]
    ]
    settings = with_values(job.settings, {"draws": min(job.settings.first_draws, DRAWS)})
    return with_values(job, {"settings": settings, "trips": tuple(trips)})


def _assert_clear(error: NightledgerError) -> None:
    assert error.faults, "an error without a fault"
    lines = [fault.line or 0 for fault in error.faults]
    assert lines == sorted(lines), f"faults out of order: {lines}"
    for fault in error.faults:
        said = str(fault)
        assert len(fault.rule) > 8, f"says too little: {said!r}"
        assert "\n" not in said, f"more than a line: {said!r}"
        assert said.isprintable(), f"not printable: {said!r}"
        assert len(said) < 2000, f"endless: {said[:200]!r}"
        assert not any(word in said for word in JARGON), f"jargon: {said!r}"


def _assert_whole(result: Result) -> None:
    json.loads(json_text(trip_json(result)))  # refuses NaN
    for trip in result.trips:
        assert trip.soc.min() >= 0.0, "charge below empty"
        assert trip.soc.max() <= 1.0, "charge above full"
    for name, text in csv_files(result, "job").items():
        assert not re.search(r"(^|,)-?(nan|inf)(,|$)", text, re.M | re.I), f"no number in {name}"


def examine(numbers: range, seed: int, run_every: int) -> tuple[Counter[str], list[Broken]]:
    """Outcomes of these files, and those that did what none may do."""
    counts: Counter[str] = Counter()
    broken: list[Broken] = []
    with tempfile.TemporaryDirectory() as folder:
        for number in numbers:
            raw = mutated(number, seed)
            try:
                # Which files run depends on their number alone, not on how the work is shared.
                found = outcome(
                    raw,
                    Path(folder),
                    run=number % run_every == 0,
                    page=number % (run_every * PAGE_EVERY) == 0,
                )
            except Exception as error:  # any of them is what is looked for
                found = "BROKEN"
                broken.append(Broken(number, raw, f"{type(error).__name__}: {error}"))
            counts[found] += 1
    return counts, broken


def main() -> int:
    """Run from the command line; 1 when anything broke."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("--count", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--run-every", type=int, default=1, help="run one in so many that load")
    parser.add_argument("--keep", type=Path, default=Path("broken-jobs"), help="where they go")
    given = parser.parse_args()
    began = perf_counter()
    chunks = [range(at, min(at + 100, given.count)) for at in range(0, given.count, 100)]
    counts: Counter[str] = Counter()
    broken: list[Broken] = []
    with ProcessPoolExecutor(given.jobs) as pool:
        seeds, every = [given.seed] * len(chunks), [given.run_every] * len(chunks)
        for number, (some, found) in enumerate(pool.map(examine, chunks, seeds, every), 1):
            counts += some
            broken += found
            if number % 20 == 0:
                print(f"{counts.total():>6} files, {perf_counter() - began:.0f} s", file=sys.stderr)
    print(f"{counts.total()} files in {perf_counter() - began:.0f} s, seed {given.seed}")
    for outcome_name, count in counts.most_common():
        print(f"{count:>7}  {outcome_name}")
    for item in broken:
        given.keep.mkdir(exist_ok=True)
        path = given.keep / f"{given.seed}-{item.number}.toml"
        path.write_bytes(item.raw)
        print(f"{path}: {item.what[:300]}")
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
