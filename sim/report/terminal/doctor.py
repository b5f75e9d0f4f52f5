"""Self-diagnosis: versions, data tables with their dates and ranges, and a report written."""

from __future__ import annotations

import datetime as dt
import platform
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from time import perf_counter
from zoneinfo import ZoneInfo

import numpy as np
from rich.console import Console

from sim import __version__
from sim.job import shelf
from sim.job.model.changes import with_values
from sim.job.reading.load import load_job
from sim.places import gazetteer
from sim.report.data.parts import write_whole
from sim.report.terminal.grid import print_table
from sim.resources import profiles_dir

_PACKAGES = (
    "babel", "numpy", "pandas", "pvlib", "plotly", "pydantic", "jinja2", "rich", "scipy", "typer",
    "tzdata", "tzfpy",
)  # fmt: skip
# One day from two draws is enough to see that the way to a report is open.
_PROBE_DRAWS, _PROBE_NIGHTS = 2, 1


@dataclass(frozen=True)
class Diagnosis:
    """One thing that was looked at.

    Attributes
    ----------
    what : str
    ok : bool
    said : str
        What was found, or what went wrong.
    """

    what: str
    ok: bool
    said: str


def examine() -> tuple[Diagnosis, ...]:
    """Look at everything the program needs.

    Returns
    -------
    tuple of Diagnosis
        Nothing is raised: what fails is said.
    """
    return (
        Diagnosis("nightledger", True, __version__),
        Diagnosis("Python", True, f"{platform.python_version()} on {platform.system()}"),
        *_versions(),
        *(_looked(what, look) for what, look in _LOOKS),
    )


def print_findings(findings: tuple[Diagnosis, ...], console: Console) -> None:
    """One line each."""
    rows = [("ok" if x.ok else "WRONG", x.what, x.said[:400]) for x in findings]
    print_table(("", "", ""), rows, console)


def _versions() -> Iterator[Diagnosis]:
    for package in _PACKAGES:
        try:
            yield Diagnosis(package, True, version(package))
        except PackageNotFoundError:
            yield Diagnosis(package, False, f"not installed: pip install {package}")


def _looked(what: str, look: Callable[[], str]) -> Diagnosis:
    try:
        return Diagnosis(what, True, look())
    except Exception as error:  # whatever is broken is what to say
        return Diagnosis(what, False, f"{type(error).__name__}: {error}")


def _climate() -> str:
    with np.load(profiles_dir() / "climate" / "climate.npz") as file:
        latitude = file["clearness_latitude"]
        cells = int((file["clearness"].max(axis=(2, 3)) > 0).sum())
    return (
        f"sun of 2011 to 2015 (MERRA-2), {cells:,} cells from {_latitude(latitude.min())} to "
        f"{_latitude(latitude.max())}; monthly temperature of ITU-R P.1510-1 (2017)"
    )


def _latitude(degrees: float) -> str:
    return f"{abs(degrees):g} {'N' if degrees >= 0 else 'S'}"


def _places() -> str:
    table = gazetteer.table()
    where = np.arange(len(table))
    south, north = table.latitude(where).min(), table.latitude(where).max()
    return (
        f"{len(table):,} towns from {_latitude(round(float(south), 1))} to "
        f"{_latitude(round(float(north), 1))} (GeoNames)"
    )


def _zones() -> str:
    # The answer of a clock in summer and one in winter, far from each other.
    summer = dt.datetime(2027, 7, 1, tzinfo=ZoneInfo("America/Denver")).utcoffset()
    winter = dt.datetime(2027, 7, 1, tzinfo=ZoneInfo("Australia/Sydney")).utcoffset()
    if (summer, winter) != (dt.timedelta(hours=-6), dt.timedelta(hours=10)):
        raise ValueError("the time zone table is wrong; reinstall tzdata")
    return "Denver and Sydney keep the right time"


def _shelf() -> str:
    counts = (f"{len(shelf.names(section))} {section}" for section in shelf.SECTIONS)
    shelf.everything()
    return ", ".join(counts)


def _report() -> str:
    """A day of the demo, all the way to a file."""
    from sim.ledger.simulate import simulate
    from sim.report.page.client import render_page

    began = perf_counter()
    job = load_job(profiles_dir() / "jobs" / "demo.toml")
    trip = job.trips[0]
    stop = with_values(trip.stops[0], {"nights": _PROBE_NIGHTS})
    settings = with_values(job.settings, {"draws": _PROBE_DRAWS})
    job = with_values(
        job, {"settings": settings, "trips": (with_values(trip, {"stops": (stop,)}),)}
    )
    page = render_page(simulate(job), written=dt.date(2027, 1, 1), version=__version__)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "probe.html"
        write_whole({path: page})
        size = path.stat().st_size
    return f"written without a browser: {size / 1e6:.1f} MB in {perf_counter() - began:.1f} s"


_LOOKS: tuple[tuple[str, Callable[[], str]], ...] = (
    ("climate", _climate),
    ("places", _places),
    ("time zones", _zones),
    ("shelf", _shelf),
    ("report", _report),
)
