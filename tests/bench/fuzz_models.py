"""Jobs made from the models themselves, run through the command line as a builder runs them.

    python tests/bench/fuzz_models.py --count 2000 [--seed 1] [--jobs 2] [--keep FOLDER]

Every key of every section gets values between its bounds and at them; places at the poles, on
the date line and under summer time; stops with weather of their own, levers, a year of nights,
thousands of draws. Most jobs are mended until they load, the others must be refused in
sentences. Each command runs in a process of its own with limits of time and memory. What must
hold is in `verdict_on`: exit code, words, files, numbers that are numbers, sums that agree, a
ledger that closes.

Needs a system that can fork.
"""

from __future__ import annotations

import argparse
import csv
import datetime as dt
import io
import json
import math
import multiprocessing
import os
import random
import re
import resource
import shutil
import sys
import tempfile
import tomllib
import traceback
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter
from typing import Annotated, Any, Literal, get_args, get_origin

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from forked import start

from sim.errors import NightledgerError
from sim.job import shelf
from sim.job.model.appliances import APPLIANCE_KINDS
from sim.job.model.fields import JobSection, entry_keys
from sim.job.model.job import Job
from sim.job.reading.faults import SHELF_OF
from sim.job.reading.load import load_job

CPU_SECONDS, MEMORY_BYTES = 120, 6_000_000_000
EXIT_CODES = {0, 2}
JARGON = ("Traceback", "pydantic", "NoneType", "object at 0x", "dtype", "numpy", "KeyError")
COMMANDS = (
    *[("trip", "--csv")] * 9,
    ("trip",),
    *[("check",)] * 3,
    *[("wiring", "--csv")] * 4,
    ("panels",),
    ("levers",),
    ("calendar",),
    ("trip", "--decide"),
)
# Latitude, longitude: summer time north and south, the date line, the poles, a high pass.
CENTRES = (
    (38.6, -109.5), (41.9, -121.4), (48.2, 16.4), (51.5, -0.1), (-33.9, 18.6), (-45.0, 168.7),
    (-17.8, 179.9), (64.1, -21.9), (69.6, 18.9), (0.0, 37.3), (27.9, 86.8), (-54.8, -68.3),
    (71.9, 25.0), (89.9, 0.0), (-89.9, 0.0), (-13.8, -171.8), (40.0, -180.0), (21.3, -157.8),
)  # fmt: skip
DATES = (
    "2027-03-13", "2027-11-06", "2027-03-27", "2027-10-30", "2028-02-28", "2026-12-30",
    "2000-01-01", "2099-12-28", "2027-06-20", "2027-12-20", "2011-12-28", "2027-09-25",
)  # fmt: skip
NAMES = (
    "Any", "Ä name – with «signs»", "=SUM(A1)", "<b>bold</b>", "{{ 7 * 7 }}", "日本の車", "🚐",
    "a,b;c", "%s {0}", "x" * 200, "'quoted\" name", "con", "../../up", "[red]x[/red]",
)  # fmt: skip
CLOCKS = ("00:00", "00:01", "02:30", "07:30", "12:00", "17:05", "23:59", "24:00")
WEATHER_FILE = "own/hours.csv"


@dataclass(frozen=True)
class Broken:
    """What went wrong with one job, and the folder that shows it."""

    number: int
    what: str
    text: str


# --- values by the models -------------------------------------------------------------------------


def _bounds(annotation: Any, metadata: list[Any]) -> tuple[Any, float | None, float | None]:
    """The bare type of a key, and its bounds."""
    low = high = None
    while True:
        for entry in metadata:
            for item in getattr(entry, "metadata", [entry]):
                low = getattr(item, "ge", getattr(item, "gt", low))
                high = getattr(item, "le", high)
        if get_origin(annotation) is Annotated:
            annotation, *metadata = get_args(annotation)
        elif type(None) in get_args(annotation):
            annotation = next(x for x in get_args(annotation) if x is not type(None))
            metadata = []
        else:
            return annotation, low, high


def _number(rng: random.Random, low: float, high: float) -> float:
    at = rng.random()
    if at < 0.15:
        return low
    if at < 0.25:
        return high
    if at < 0.35 and low <= 0.0 <= high:
        return 0.0
    if low >= 0.0 and high > 20.0 * max(low, 1.0) and at < 0.7:
        # Much of what is real lies low between wide bounds.
        return round(math.exp(rng.uniform(math.log(max(low, 0.01)), math.log(high))), 3)
    return round(rng.uniform(low, high), 3)


def _clock(rng: random.Random) -> str:
    return rng.choice(CLOCKS) if rng.random() < 0.6 else f"{rng.randrange(24):02d}:00"


def _value(rng: random.Random, owner: type[JobSection], name: str) -> Any:
    """A value that a key takes by itself, in its SI unit."""
    field = owner.model_fields[name]
    bare, low, high = _bounds(field.annotation, list(field.metadata))
    if name == "set":
        return _changes(rng)
    if name == "weather":
        return rng.choice(("climate", "climate", "clear", WEATHER_FILE, "none.csv"))
    if get_origin(bare) is Literal:
        return rng.choice(get_args(bare))
    if get_origin(bare) is tuple:
        return _list(rng, bare, name)
    if isinstance(bare, type) and issubclass(bare, JobSection):
        return _section(rng, bare, name)
    return _plain(rng, bare, name, low, high)


def _plain(rng: random.Random, bare: Any, name: str, low: float | None, high: float | None) -> Any:
    """A value that is no section and no list; a table where any is taken."""
    return {
        "bool": lambda: rng.random() < 0.5,
        "date": lambda: dt.date.fromisoformat(rng.choice(DATES)),
        "Place": lambda: _place(rng, rng.choice(CENTRES)),
        "str": lambda: rng.choice(NAMES),
        "int": lambda: _whole(rng, name, low, high),
        "float": lambda: _number(rng, low or 0.0, 1000.0 if high is None else high),
        "dict": lambda: {rng.choice(NAMES): _number(rng, 0.0, 1000.0) for _ in range(2)},
    }[bare.__name__]()


def _whole(rng: random.Random, name: str, low: float | None, high: float | None) -> Any:
    if low is None:
        return _clock(rng)
    if name == "draws":
        return rng.choice((1, 1, 2, 3, 5)) if rng.random() < 0.97 else rng.choice((700, 5000))
    if name == "nights":
        return rng.choice((0, 1, 1, 2, 3)) if rng.random() < 0.98 else rng.choice((30, 366))
    return round(_number(rng, low, high or 10))


def _list(rng: random.Random, bare: Any, name: str) -> list[Any]:
    inner, _, _ = _bounds(get_args(bare)[0], [])
    if get_origin(inner) is Literal:
        words = get_args(inner)
        return rng.sample(words, rng.randint(1, len(words)))
    if get_origin(inner) is tuple:  # parts of the day
        return [f"{_clock(rng)}-{_clock(rng)}" for _ in range(rng.choice((0, 1, 1, 2)))]
    if name == "appliances":
        return [_appliance(rng) for _ in range(rng.randint(0, 12))]
    count = rng.choice((1, 1, 2))
    if not issubclass(inner, JobSection):
        return [_plain(rng, inner, name, None, None) for _ in range(count)]
    return [_section(rng, inner, name) for _ in range(count)]


def _place(rng: random.Random, around: tuple[float, float]) -> str:
    latitude = max(-90.0, min(90.0, around[0] + rng.uniform(-0.2, 0.2)))
    longitude = (around[1] + rng.uniform(-0.2, 0.2) + 180.0) % 360.0 - 180.0
    altitude = f", {rng.choice((-400, 0, 1500, 5200))} m" if rng.random() < 0.2 else ""
    return f"{latitude:.3f}, {longitude:.3f}{altitude}"


def _fill(rng: random.Random, owner: type[JobSection], share: float) -> dict[str, Any]:
    """Some of a section's keys, those it needs always, lengths in either system."""
    part: dict[str, Any] = {}
    for name, field in owner.model_fields.items():
        if name in ("use", "kind") or not (field.is_required() or rng.random() < share):
            continue
        value = _value(rng, owner, name)
        key, unit = name, None
        if isinstance(value, float) and entry_keys(name) and rng.random() < 0.4:
            key, unit = rng.choice(list(entry_keys(name).items()))
        part[key] = value if unit is None else unit.from_si(value)
    return part


def _section(rng: random.Random, owner: type[JobSection], name: str) -> dict[str, Any]:
    if name in SHELF_OF and rng.random() < 0.75:
        # A profile, and some keys beside it.
        names = shelf.names(SHELF_OF[name])
        needed = {key for key, field in owner.model_fields.items() if field.is_required()}
        part = _fill(rng, owner, rng.choice((0.0, 0.1, 0.3)))
        kept = {key: x for key, x in part.items() if key not in needed or rng.random() < 0.2}
        if name == "panels":
            kept |= {key: part[key] for key in ("count", "controller_amps")}
        if name == "living" and rng.random() < 0.5:
            kept.pop("people", None)
        return {"use": rng.choice(names), **kept}
    return _fill(rng, owner, rng.choice((0.1, 0.4, 0.9)))


def _appliance(rng: random.Random) -> dict[str, Any]:
    if rng.random() < 0.6:
        name = rng.choice(shelf.names("appliances"))
        kind = APPLIANCE_KINDS[shelf.profile("appliances", name).values["kind"]]
        part = _fill(rng, kind, 0.15)
        needed = {key for key, field in kind.model_fields.items() if field.is_required()}
        return {"use": name} | {
            key: value for key, value in part.items() if key not in needed or rng.random() < 0.15
        }
    kind = rng.choice(list(APPLIANCE_KINDS))
    return {"kind": kind, **_fill(rng, APPLIANCE_KINDS[kind], 0.4)}


def _changes(rng: random.Random) -> dict[str, Any]:
    """What a lever of one's own sets: any key of any section, most often one that is there."""
    owners = (
        ("battery", "battery"), ("van", "van"), ("living", "living"), ("panels[1]", "panels"),
        ("trips[*].stops[*]", "stops"), ("shore", "shore"), ("water", "water"),
    )  # fmt: skip
    where, name = rng.choice(owners)
    owner = Job.model_fields["trips"].annotation if name == "stops" else None
    part = get_args(owner)[0].model_fields["stops"] if owner else Job.model_fields[name]
    bare, _, _ = _bounds(part.annotation, [])
    bare = get_args(bare)[0] if get_origin(bare) is tuple else bare
    key = rng.choice([key for key in bare.model_fields if key != "use"])
    return {f"{where}.{key}": _value(rng, bare, key)}


def random_job(rng: random.Random) -> dict[str, Any]:
    """A job by the models; its sections need not agree with each other."""
    data = _fill(rng, Job, rng.choice((0.15, 0.5, 0.9)))
    settings = data.setdefault("settings", {})
    if not isinstance(settings, dict):
        settings = data["settings"] = {}
    settings.setdefault("draws", 2)
    for trip in data["trips"]:
        centre = rng.choice(CENTRES)
        if abs(centre[0]) > 56.0:
            settings["weather"] = "clear"
        if "start" in trip:
            trip["start"] = _place(rng, centre)
        for stop in trip["stops"]:
            stop["place"] = _place(rng, centre)
            stop["drive_hours"] = rng.choice((0.5, 1, 3.25, 9))
    if rng.random() < 0.9:
        _agree(rng, data)
    return data


def _agree(rng: random.Random, data: dict[str, Any]) -> None:
    """Let sections agree that by chance hardly ever do, so that many jobs run."""
    for section, keys in (
        (data["battery"], ("cutoff_soc", "reserve_soc", "extras_soc")),
        (data["settings"], ("tight_share", "ample_share")),
    ):
        if any(key in section for key in keys):
            shares = sorted(round(rng.random(), 3) for _ in keys)
            section |= dict(zip(keys, shares, strict=True))
    for group in data.get("panels", ()):
        if any(key.startswith(("length_", "width_")) for key in group):
            for key in [key for key in group if key.startswith(("length_", "width_"))]:
                del group[key]
            group |= {"length_m": 1.2, "width_m": 0.5}
    drains = ["kitchen", "basin", "shower"]
    rng.shuffle(drains)
    if water := data.get("water"):
        for tank in (*water.get("grey", ()), water):
            key = "open_drains" if tank is water else "takes"
            if key in tank or tank is water:
                tank[key] = [drains.pop() for _ in range(min(len(drains), rng.randint(1, 2)))]
        water["grey"] = [tank for tank in water.get("grey", ()) if tank["takes"]]
    for obstacle in data.get("roof", {}).get("obstacles", ()):
        obstacle.clear()
        obstacle |= {"name": rng.choice(NAMES), "x_m": 0.05, "y_m": 0.05}
        obstacle |= {"length_m": rng.choice((0.01, 0.1)), "width_m": rng.choice((0.01, 0.1))}
    if "wiring" in data:
        data["wiring"].pop("loads", None)
    if rng.random() < 0.7:
        data["inverter"] = {"watts": 20_000, "idle_watts": rng.choice((0, 15))}


# --- from data to a file --------------------------------------------------------------------------


def toml_of(data: dict[str, Any], path: str = "") -> str:
    """A TOML text; tables and lists of tables get headers, all else is written in place."""
    lines, below = [], []
    for key, value in data.items():
        here = f"{path}.{key}" if path else key
        tables = value if isinstance(value, list) and value else []
        if isinstance(value, dict) and key != "set":
            below.append(f"\n[{here}]\n{toml_of(value, here)}")
        elif tables and all(isinstance(entry, dict) for entry in tables):
            below += [f"\n[[{here}]]\n{toml_of(entry, here)}" for entry in tables]
        else:
            lines.append(f"{key} = {_literal(value)}\n")
    return "".join(lines + below)


def _literal(value: Any) -> str:
    if isinstance(value, dict):
        pairs = (f"{json.dumps(key)} = {_literal(x)}" for key, x in value.items())
        return "{ " + ", ".join(pairs) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(_literal, value)) + "]"
    if isinstance(value, dt.date):
        return value.isoformat()
    return json.dumps(value, ensure_ascii=False)


def mended(rng: random.Random, data: dict[str, Any], folder: Path) -> None:
    """Take out what the program says is wrong, or put in what it says is missing."""
    path = folder / "job.toml"
    for _ in range(12):
        path.write_text(toml_of(data), "utf-8")
        try:
            load_job(path)
            return
        except NightledgerError as error:
            # From the back: what is taken out of a list moves what stands behind it.
            for fault in reversed(error.faults):
                _mend(rng, data, fault.key or "", fault.rule)


def _mend(rng: random.Random, data: dict[str, Any], key: str, rule: str) -> None:
    steps = re.findall(r"([A-Za-z_0-9]+)|\[(\d+)\]", key)
    path = [name if name else int(number) - 1 for name, number in steps]
    holder: Any = data
    try:
        for step in path[:-1]:
            holder = holder[step]
        if "missing" in rule and isinstance(path[-1], str):
            owner: Any = Job
            for step in path[:-1]:
                if isinstance(step, str):
                    bare, _, _ = _bounds(owner.model_fields[step].annotation, [])
                    owner = get_args(bare)[0] if get_origin(bare) is tuple else bare
                    owner = APPLIANCE_KINDS[holder["kind"]] if step == "appliances" else owner
            holder[path[-1]] = _value(rng, owner, path[-1])
        else:
            del holder[path[-1]]
    except (KeyError, IndexError, TypeError, AttributeError):
        _without(data, path)


def _without(data: dict[str, Any], path: list[Any]) -> None:
    """Take out what a profile brings, or a default, together with its section."""
    if not path or path[0] not in data:
        return
    if path[0] in ("battery", "van", "living"):
        data[path[0]] = {"use": shelf.names(SHELF_OF[path[0]])[0]}
    elif path[0] == "appliances" and len(path) > 1 and path[1] < len(data["appliances"]):
        del data["appliances"][path[1]]
    elif path[0] not in ("trips", "title"):
        del data[path[0]]


def weather_csv(rng: random.Random) -> str:
    """A year of hours, bright by day; at which place the program cannot know."""
    lines = ["# latitude: 38.6", "# longitude: -109.5", "time,ghi,temp_air"]
    for hour in range(8760):
        time = dt.datetime(2027, 1, 1) + dt.timedelta(hours=hour)
        sun = max(0.0, math.sin((time.hour - 6.0) / 12.0 * math.pi)) * rng.uniform(100.0, 600.0)
        lines.append(f"{time.isoformat()}-07:00,{sun:.0f},{rng.uniform(-5.0, 20.0):.1f}")
    return "\n".join(lines) + "\n"


# --- running --------------------------------------------------------------------------------------


def run_limited(arguments: list[str], folder: Path) -> tuple[int, str]:
    """Exit code (negative: the signal that ended it) and what was said on stderr."""
    _, status = os.waitpid(start(arguments, folder, _limited), 0)
    said = (folder / "stderr").read_text("utf-8", "replace")
    return os.waitstatus_to_exitcode(status), said


def _limited() -> None:
    resource.setrlimit(resource.RLIMIT_CPU, (CPU_SECONDS, CPU_SECONDS))
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))


def one(number: int, seed: int) -> tuple[str, Broken | None]:
    """Make the job of that number, run a command on it, judge what came of it."""
    rng = random.Random(f"{seed}-{number}")
    folder = Path(tempfile.mkdtemp(prefix="nightledger-fuzz-"))
    command, *options = rng.choice(COMMANDS)
    text = ""
    try:
        (folder / "own").mkdir()
        (folder / WEATHER_FILE).write_text(WEATHER, "utf-8")
        data = random_job(rng)
        if rng.random() < 0.85:
            mended(rng, data, folder)
        text = toml_of(data)
        (folder / "job.toml").write_text(text, "utf-8")
        tomllib.loads(text)  # a fuzzer that writes no TOML tests nothing
        before = {path for path in folder.rglob("*") if path.is_file()}
        code, said = run_limited([command, "job.toml", "--json", "out.json", *options], folder)
        made = {path for path in folder.rglob("*") if path.is_file()} - before
        made -= {folder / "stdout", folder / "stderr"}
        problem = verdict_on(command, code, said, made, data)
        outcome = f"{' '.join([command, *options])}: {code}"
    except Exception:
        problem, outcome = traceback.format_exc(), "the fuzzer itself"
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    what = f"{command} {' '.join(options)}: {problem}"
    return outcome, Broken(number, what, text) if problem else None


# --- what must hold -------------------------------------------------------------------------------


def verdict_on(
    command: str, code: int, said: str, made: set[Path], data: dict[str, Any]
) -> str | None:
    """What is wrong with a run, or `None`."""
    if code not in EXIT_CODES:
        return f"exit code {code}: {said[-1500:]}"
    if any(word in said for word in JARGON) or "Warning" in said:
        return f"jargon: {said[-1500:]}"
    if code == 2:
        lines = said.splitlines()
        if not lines or not all(line.startswith("nightledger: ") for line in lines):
            return f"no sentences: {said[-1500:]}"
        if any(len(line) > 2000 or not line.isprintable() for line in lines):
            return f"endless or unprintable: {said[-1500:]}"
        kept = [path.name for path in made if not (command == "check" and path.suffix == ".json")]
        return f"refused, and yet wrote {kept}" if kept else None
    texts = {path.name: path.read_text("utf-8") for path in made}
    if any(name.endswith(".part") for name in texts):
        return f"parts left: {sorted(texts)}"
    for name, text in texts.items():
        if name.endswith(".html") and not text.rstrip().endswith("</html>"):
            return f"{name} is no whole page"
        if name.endswith(".csv") and re.search(r"(^|,)-?(nan|inf)(,|$)", text, re.M | re.I):
            return f"no number in {name}"
    numbers = json.loads(texts["out.json"], parse_constant=_refuse)
    if command == "trip":
        return _sums(numbers, texts, data)
    return None


def _refuse(word: str) -> None:
    raise ValueError(f"{word} in the JSON")


def _apart(one: float, other: float, scale: float) -> bool:
    return abs(one - other) > 1e-4 * max(abs(scale), 1.0)


def _sums(numbers: dict[str, Any], texts: dict[str, str], data: dict[str, Any]) -> str | None:
    for index, trip in enumerate(numbers["trips"], 1):
        energy, name = trip["energy_wh_per_day"], trip["name"]
        served = sum(load["served"] for load in trip["loads_wh_per_day"])
        wanted = sum(load["wanted"] for load in trip["loads_wh_per_day"])
        if _apart(served, energy["served"], wanted):
            return f"{name}: loads are given {served}, the ledger says {energy['served']}"
        # What a load waited for is neither served nor missed.
        waited = sum(load["waited"] for load in trip["loads_wh_per_day"])
        found = energy["served"] + energy["unserved"] + waited
        if _apart(wanted, found, wanted):
            return f"{name}: loads want {wanted}, not {found}"
        causes = sum(trip["unharvested_by_cause"].values())
        if _apart(causes, energy["unharvested"], causes):
            return f"{name}: causes add up to {causes}, not {energy['unharvested']}"
        lowest = trip["lowest_soc"]
        if not 0.0 <= lowest["p10"] <= lowest["p50"] <= lowest["p90"] <= 1.0:
            return f"{name}: lowest charge {lowest}"
        for store in trip["stores"]:
            use, by_use = store["use_per_day"], sum(store["by_use_per_day"].values())
            if _apart(use, by_use, use):
                return f"{name}: of {store['name']} {use} a day is used, {by_use} by use"
        if problem := _tables(index, trip, texts):
            return f"{name}: {problem}"
    return None


def _tables(index: int, trip: dict[str, Any], texts: dict[str, str]) -> str | None:
    """Hours and days of the CSV add up to the JSON; with one draw the ledger closes in them."""
    # A name that no system may have brings a number of its own: only the first is the trip's.
    stem = next((n.removesuffix("-answer.csv") for n in texts if n.endswith("-answer.csv")), "")
    own = re.compile(rf"{re.escape(stem)}-{index}-.*-(hours|days)\.csv")
    named = {"hours": "", "days": ""}
    named |= {found[1]: text for n, text in texts.items() if (found := own.fullmatch(n))}
    if not named["hours"]:
        return None
    hours, days = (list(csv.DictReader(io.StringIO(named[x]))) for x in ("hours", "days"))
    step = trip["hours"] / len(hours)
    energies = [
        key.removesuffix("_wh") for key in days[0] if f"{key.removesuffix('_wh')}_w" in hours[0]
    ]
    totals = {key: sum(float(row[f"{key}_w"]) for row in hours) * step for key in energies}
    scale = max(1.0, *(abs(total) for total in totals.values()))
    for key, total in totals.items():
        by_day = sum(float(row[f"{key}_wh"]) for row in days)
        if _apart(total, by_day, scale):
            return f"{key}: {total} Wh in the hours, {by_day} in the days"
        told = trip["energy_wh_per_day"].get(key)
        if told is not None and _apart(total, told * trip["hours"] / 24.0, scale):
            return f"{key}: {total} Wh in the hours, {told} a day in the JSON"
    if trip["draws"] == 1:
        return _closes(hours, step, totals, scale)
    return None


def _closes(
    hours: list[dict[str, str]], step: float, totals: dict[str, float], scale: float
) -> str | None:
    """In one draw: what came in is what went out, was lost, or stayed, for one bank capacity.

    The bank's size is not in the table: it is what the whole trip says, and each half must
    say the same.
    """
    out = {"served", "losses"}
    sources = [key for key in totals if key not in out | {"unserved", "unharvested"}]
    soc = [float(row["soc_end_p50"]) for row in hours]
    net = [
        (sum(float(r[f"{k}_w"]) for k in sources) - sum(float(r[f"{k}_w"]) for k in out)) * step
        for r in hours
    ]
    low, high = soc.index(min(soc)), soc.index(max(soc))
    first, last = sorted((low, high))
    if abs(soc[last] - soc[first]) < 0.05:
        return None
    capacity = sum(net[first + 1 : last + 1]) / (soc[last] - soc[first])
    whole, moved = sum(net[1:]), (soc[-1] - soc[0]) * capacity
    if abs(whole - moved) > 1e-3 * scale + 1e-3 * abs(capacity):
        return f"the ledger does not close: {whole} Wh in, {moved} Wh more in the bank"
    return None


# --- all of them ----------------------------------------------------------------------------------

WEATHER = weather_csv(random.Random(1))


def _task(task: tuple[int, int]) -> tuple[str, Broken | None]:
    return one(*task)


def examine(numbers: range, seed: int, jobs: int = 1) -> tuple[Counter[str], list[Broken]]:
    """Outcomes of these jobs, and those that did what none may do."""
    tasks = [(number, seed) for number in numbers]
    if jobs == 1:
        found = [_task(task) for task in tasks]
    else:
        with multiprocessing.get_context("fork").Pool(jobs) as pool:
            found = pool.map(_task, tasks, chunksize=1)
    return Counter(outcome for outcome, _ in found), [broken for _, broken in found if broken]


def main() -> int:
    """Run from the command line; 1 when anything broke."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("--count", type=int, default=2000)
    parser.add_argument("--first", type=int, default=0, help="number of the first job")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--keep", type=Path, default=Path("broken-jobs"), help="where they go")
    given = parser.parse_args()
    began = perf_counter()
    numbers = range(given.first, given.first + given.count)
    counts, broken = examine(numbers, given.seed, given.jobs)
    print(f"{counts.total()} jobs in {perf_counter() - began:.0f} s, seed {given.seed}")
    for outcome, count in sorted(counts.items()):
        print(f"{count:>7}  {outcome}")
    for item in broken:
        given.keep.mkdir(exist_ok=True)
        path = given.keep / f"{given.seed}-{item.number}.toml"
        path.write_text(item.text, "utf-8")
        print(f"{path}: {item.what[:1000]}")
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
