"""Commands that are stopped or killed at any moment: files are whole, old or new, never mixed.

    python tests/bench/kill_runs.py --count 200 [--seed 1] [--of book fit]

Each run meets the files of the run before. It is stopped (Ctrl-C, TERM, HUP) or killed at a
random moment, half of them while a slowed-down writing goes on; half of the stops reach all
processes of the run, as a terminal's do. A stop leaves all files old or all files new, nothing half
written, one sentence and exit code 130; what a kill leaves beside them the next run sweeps away.
Of a book that holds for each job by itself. A kept promise stays as it was kept. Nothing goes on
running: neither the program nor another process of it.

Needs Linux.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import re
import signal
import sys
import tempfile
import time
import tomllib
import warnings
from collections import Counter
from contextlib import suppress
from pathlib import Path
from time import perf_counter

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from forked import start

from sim.report.data import parts
from sim.resources import profiles_dir

SMALL = (Path(__file__).parents[1] / "data" / "jobs" / "small.toml").read_text("utf-8")
JOB = (
    SMALL.replace("Test van", "Number {number}").replace("Weekend", "Weekend {number}")
    + '\n[settings]\ndraws = 2\nweather = "clear"\n'
)
# So many that a second process takes part in it.
LARGE = JOB.replace("draws = 2\n", "draws = 700\n")
LOGGED = profiles_dir() / "logs" / "demo.toml"
LOGGED_JOB = LOGGED.read_text("utf-8").replace("Two panels in New Mexico", "Number {number}")
# Two lines about the log, its heading and its first twelve days of half hours.
LOG = "".join(LOGGED.with_suffix(".csv").read_text("utf-8").splitlines(True)[: 3 + 12 * 48])
COMMANDS = {
    "large": ["trip", "large.toml", "--json", "out.json"],
    "trip": ["trip", "job.toml", "--csv", "--json", "out.json"],
    "kept": ["trip", "job.toml", "--csv", "--keep", "--decide", "--json", "out.json"],
    "book": ["book", "jobs", "--run", "--jobs", "2", "--json", "out.json"],
    "fit": ["fit", "logged.toml", "log.csv", "--save", "seen.toml", "--json", "out.json"],
    "wiring": ["wiring", "job.toml", "--csv", "--json", "out.json"],
    "panels": ["panels", "job.toml", "--json", "out.json"],
    "begin": ["begin", ".", "--answers", "answers.txt", "--force"],
}
INPUTS = {
    "job.toml": JOB,
    "large.toml": LARGE,
    "logged.toml": LOGGED_JOB,
    "jobs/a.toml": JOB,
    "jobs/b.toml": JOB,
    "answers.txt": "Number {number}\n",
}
SIGNALS = ("SIGINT", "SIGTERM", "SIGHUP", "SIGKILL")
SLOWER_S = 0.06
# Where promises go that were kept before.
KEPT = "kept"
# A second process ends with what it is at, when it is not ended by the first.
ENDS_WITHIN_S = 20.0


def slow_writing() -> None:
    """Let a file take its time, so that a stop meets it."""
    really = parts._fill

    def fill(part: Path, text: str) -> None:
        half = len(text) // 2
        part.write_text(text[:half])
        time.sleep(SLOWER_S)
        really(part, text)

    parts._fill = fill


def generations(folder: Path) -> set[str]:
    """The numbers of the runs whose files lie in a folder; each must be whole."""
    found = set()
    for path in folder.rglob("*"):
        if path.parent.name == KEPT or str(path.relative_to(folder)) in INPUTS:
            continue
        if path.suffix == ".html":
            text = path.read_text("utf-8")
            assert text.rstrip().endswith("</html>"), f"{path.name} is no whole page"
            found |= set(re.findall(r"<title>Number (\d+):", text) or _customers(text))
        elif path.suffix == ".json" and not path.name.endswith(".schema.json"):
            text = path.read_text("utf-8")
            title = json.loads(text).get("title")
            found |= _customers(text) if title is None else {title.split()[-1]}
        elif path.suffix == ".toml":
            title = tomllib.loads(path.read_text("utf-8"))["title"]
            found |= set(re.findall(r"^Number (\d+)$", title))
        elif path.suffix == ".csv":
            assert path.read_text("utf-8").endswith("\n"), f"{path.name} is cut"
            # The name of a trip's table has its number; it goes when the trip is renamed.
            found |= set(re.findall(r"-weekend-(\d+)-", path.name))
    return found


def _customers(text: str) -> set[str]:
    """The numbers of all jobs, and of their trips, that a book tells of."""
    return set(re.findall(r"(?:Number|Weekend) (\d+)", text))


def put_by(folder: Path) -> dict[Path, bytes]:
    """Move the promise that a run has kept, as it asks to; all that were moved."""
    shelf = folder / KEPT
    shelf.mkdir(exist_ok=True)
    for path in folder.glob("reports/*-promise.json"):
        path.rename(shelf / f"{len(list(shelf.iterdir()))}.json")
    return {path: path.read_bytes() for path in shelf.iterdir()}


def left(folder: Path) -> list[str]:
    """Parts that nobody owns any more."""
    return [path.name for path in folder.rglob("*.part")]


def running(folder: Path) -> list[int]:
    """Processes that work in a folder."""
    found = []
    for path in Path("/proc").glob("[0-9]*"):
        with suppress(OSError):
            if (path / "cwd").readlink() == folder.resolve():
                found.append(int(path.name))
    return found


def outlives(folder: Path) -> bool:
    """Whether a process goes on for long when it should have ended."""
    until = perf_counter() + ENDS_WITHIN_S
    while running(folder) and perf_counter() < until:
        time.sleep(0.02)
    return bool(running(folder))


def whole_run(arguments: list[str], folder: Path) -> float:
    """Run to the end; how long it took."""
    began = perf_counter()
    _, status = os.waitpid(start(arguments, folder, lambda: None), 0)
    code = os.waitstatus_to_exitcode(status)
    said = (folder / "stderr").read_text("utf-8")
    assert code == 0, f"an undisturbed run ends with {code}: {said}"
    return perf_counter() - began


def write_inputs(folder: Path, number: int) -> None:
    (folder / "jobs").mkdir(exist_ok=True)
    (folder / "log.csv").write_text(LOG, "utf-8")
    for name, text in INPUTS.items():
        (folder / name).write_text(text.format(number=number), "utf-8")


def stopped(
    rng: random.Random, arguments: list[str], folder: Path, takes: float
) -> tuple[str, int]:
    """Start a run and stop or kill it: by which signal, and its exit code."""
    name, is_slow, is_group = rng.choice(SIGNALS), rng.random() < 0.5, rng.random() < 0.5

    def before() -> None:
        os.setpgid(0, 0)
        # A stop between a file's opening and its use leaves it to Python, which closes it.
        warnings.simplefilter("ignore", ResourceWarning)
        if is_slow:
            slow_writing()

    began = perf_counter()
    child = start(arguments, folder, before)
    # Whichever comes first, as a shell does it: the group must be there when it is stopped.
    with suppress(OSError):
        os.setpgid(child, child)
    # The slow writing is at the end; most of those stops are meant to meet it.
    at = rng.uniform(0.8 * takes, takes + 5 * SLOWER_S) if is_slow else rng.uniform(0.0, takes)
    time.sleep(max(0.0, at - (perf_counter() - began)))
    # Only the program itself is killed: what it leaves behind must end by itself.
    send = os.killpg if is_group and name != "SIGKILL" else os.kill
    send(child, getattr(signal, name))
    _, status = os.waitpid(child, 0)
    return name, os.waitstatus_to_exitcode(status)


def one(rng: random.Random, command: str, folder: Path) -> str:
    """Stop or kill one run; what came of it. Raises when something is lost."""
    arguments = COMMANDS[command]
    write_inputs(folder, 1)
    takes = whole_run(arguments, folder)
    kept = put_by(folder)
    write_inputs(folder, 2)
    name, code = stopped(rng, arguments, folder, takes)
    said = (folder / "stderr").read_text("utf-8")
    assert "Traceback" not in said, said
    assert not outlives(folder), f"{name} leaves a process behind"
    if name == "SIGKILL":
        assert code in (0, -9), f"ends with {code}: {said}"
    else:
        # The first instants are the system's: no handler is there yet.
        early = code == -getattr(signal, name)
        assert code in (0, 130) or early, f"ends with {code}: {said}"
        assert left(folder) == [], f"{name} left {left(folder)}"
        if code == 130:
            assert said.strip().endswith("stopped; no file was left half written"), said
    found = generations(folder)
    assert len(found) <= 1 or command == "book", f"{name} left files of runs {found}"
    swept = bool(left(folder))
    kept |= put_by(folder)
    whole_run(arguments, folder)
    assert left(folder) == [], f"the next run leaves {left(folder)}"
    assert generations(folder) <= {"2"}, f"old files stay: {generations(folder)}"
    assert kept.items() <= put_by(folder).items(), "a kept promise is not as it was"
    return f"{command} {name}: {code}{', parts swept' if swept else ''}"


def examine(numbers: range, seed: int, commands: list[str]) -> tuple[Counter[str], list[str]]:
    """Outcomes, and what went wrong."""
    counts: Counter[str] = Counter()
    broken = []
    for number in numbers:
        rng = random.Random(f"{seed}-{number}")
        command = commands[number % len(commands)]
        with tempfile.TemporaryDirectory(prefix="nightledger-kill-") as folder:
            try:
                counts[one(rng, command, Path(folder))] += 1
            except AssertionError as error:
                broken.append(f"{number}, {command}: {error}")
                counts["BROKEN"] += 1
    return counts, broken


def main() -> int:
    """Run from the command line; 1 when anything broke."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--of", nargs="+", choices=COMMANDS, default=list(COMMANDS))
    given = parser.parse_args()
    began = perf_counter()
    counts, broken = examine(range(given.count), given.seed, given.of)
    print(f"{counts.total()} runs stopped in {perf_counter() - began:.0f} s, seed {given.seed}")
    for outcome, count in sorted(counts.items()):
        print(f"{count:>7}  {outcome}")
    print("\n".join(broken))
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
