"""The command that runs a job again whenever its file is saved, beside an open page."""

from __future__ import annotations

import datetime as dt
import sys
import time
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Annotated, Any

import typer

from sim.cli.front import REPORTS, JobPath, Json, Out
from sim.cli.usage import whole_number
from sim.errors import NightledgerError, printable

# How often the files are looked at, and how long they must have been quiet: an editor may write a
# file in several steps. [s]
LOOK_S, QUIET_S = 0.4, 0.3
Marks = tuple[tuple[str, int, int], ...]


def watch(
    job: JobPath,
    out: Out = REPORTS,
    port: Annotated[
        int,
        typer.Option(
            "--port",
            metavar="N",
            parser=whole_number("--port", 0, 65535),
            show_default=False,
            help="The page's port, up to 65535; 0 or left out: any free one.",
        ),
    ] = 0,
    json: Json = None,
) -> None:
    """Run a job again at each save; the open page reloads itself.

    The page is served on this machine alone, until Ctrl-C.

    Example: nightledger watch job.toml
    """
    from sim.cli.serving import Served, serving

    served = Served()
    with serving(served, port) as address:
        typer.echo(f"Open {address} in a browser: it follows the file.\nCtrl-C ends the watch.")
        _follow(job, _Answers(job, out, json, served))


def _follow(job: Path, run: Callable[[], None]) -> None:
    """Run at once, and again after each save, until the program is stopped."""
    seen: Marks = ()
    while True:
        marks = marks_of(job)
        if marks != seen:
            time.sleep(QUIET_S)
            if marks_of(job) != marks:
                continue
            # Taken before the run: what is saved meanwhile is run after it.
            seen = marks
            run()
        time.sleep(LOOK_S)


class _Answers:
    """Runs a job, and shows what comes of it in the terminal and on the page."""

    def __init__(self, job: Path, out: Path, json: Path | None, served: Any) -> None:
        self._job, self._out, self._json, self._served = job, out, json, served
        self._page, self._count = "", 0

    def __call__(self) -> None:
        from sim import __version__
        from sim.cli.trips import run_trips
        from sim.job import shelf
        from sim.report.page.live import live_copy, waiting_page

        # Profiles may have been saved too.
        shelf.names.cache_clear()
        shelf.profile.cache_clear()
        typer.echo(f"\n{dt.datetime.now():%H:%M:%S} {printable(str(self._job))}")
        faults: list[str] = []
        try:
            _, written = run_trips(self._job, self._out, self._json)
            self._page = written[0].read_text("utf-8")
        except NightledgerError as error:
            faults = [str(fault) for fault in error.faults]
            for fault in faults:
                typer.echo(f"nightledger: {fault}", err=True)
        self._count += 1
        page = self._page or waiting_page(
            printable(self._job.name), "The job file has no report yet.", __version__
        )
        self._served.show(live_copy(page, self._count, faults), self._count)
        sys.stdout.flush()


def marks_of(job: Path) -> Marks:
    """Names, times and sizes of the files that a job reads; one that is saved changes them."""
    from sim.resources import profiles_dir

    files = [job, *_weather_of(job), *sorted(profiles_dir().glob("*/*.toml"))]
    return tuple(_mark(path) for path in files)


def _mark(path: Path) -> tuple[str, int, int]:
    try:
        found = path.stat()
    except (OSError, ValueError):  # not there, or not now
        return str(path), 0, -1
    return str(path), found.st_mtime_ns, found.st_size


def _weather_of(job: Path) -> Iterator[Path]:
    """The weather files that a job file names, whether or not it is in order."""
    try:
        data = tomllib.loads(job.read_text("utf-8-sig"))
    except (OSError, ValueError, RecursionError):
        return
    for name in dict.fromkeys(_named(data)):
        if name not in ("climate", "clear"):
            yield job.parent / name


def _named(data: Any) -> Iterator[str]:
    if isinstance(data, dict):
        for key, value in data.items():
            if key == "weather" and isinstance(value, str):
                yield value
            else:
                yield from _named(value)
    elif isinstance(data, list):
        for value in data:
            yield from _named(value)
