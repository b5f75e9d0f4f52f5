"""What a book knows of each job: how its last run ended, and what that run rested on."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, ValidationError

from sim.errors import Fault, OutputError, printable

INDEX, RECORD = "book.html", "book.json"
FORMAT = 1


@dataclass(frozen=True)
class BookTrip:
    """One trip of a job as it ended.

    Attributes
    ----------
    name, verdict : str
    held, draws : int
        Draws without a dark hour, of so many.
    store : str or None
        What runs out first in most draws, and in which share of them. None: nothing does.
    share : float
    medical : tuple of str
        Medical devices that go without in any draw.
    medical_dark : int
        Draws in which they do.
    """

    name: str
    verdict: str
    held: int
    draws: int
    store: str | None
    share: float
    medical: tuple[str, ...] = ()
    medical_dark: int = 0


@dataclass(frozen=True)
class LastRun:
    """The last run of a job that ended with an answer.

    Attributes
    ----------
    ran : str
        Day, ISO 8601.
    marks : dict
        Fingerprints of what it rested on: job, profiles, weather, program.
    trips : tuple of BookTrip
    """

    ran: str
    marks: dict[str, str]
    trips: tuple[BookTrip, ...]


@dataclass(frozen=True)
class BookLine:
    """One job of a book.

    Attributes
    ----------
    file : str
        Counted from the book's folder, with slashes.
    customer : str
        Or the title, where no customer is named.
    page : str
        Its report, counted from the folder of the reports, with slashes.
    last : LastRun or None
        None when it has never run here.
    changed : tuple of str
        What changed since: "job file", "profiles", "weather", "program", "report"; "never run".
    error : str or None
        Why it cannot be run, or why its last run failed.
    marks : dict
        Fingerprints of what a run would rest on now.
    """

    file: str
    customer: str
    page: str
    last: LastRun | None
    changed: tuple[str, ...]
    error: str | None = None
    marks: dict[str, str] = field(default_factory=dict)

    @property
    def is_stale(self) -> bool:
        """Whether a run would bring something new."""
        return bool(self.changed)

    @property
    def worst_store(self) -> BookTrip | None:
        """The trip on which something runs out in the most draws."""
        trips = [trip for trip in self.last.trips if trip.store] if self.last else []
        return max(trips, key=lambda trip: trip.share, default=None)


class _Trip(BaseModel):
    model_config = ConfigDict(extra="ignore", strict=True)

    name: str
    verdict: str
    held: int
    draws: int
    store: str | None
    share: float
    medical: list[str] = []
    medical_dark: int = 0

    def known(self) -> BookTrip:
        """The trip as the rest of the program knows it."""
        return BookTrip(**{**dict(self), "medical": tuple(self.medical)})


class _Run(BaseModel):
    model_config = ConfigDict(extra="ignore", strict=True)

    ran: str
    marks: dict[str, str]
    trips: list[_Trip]


def read_record(folder: Path) -> dict[str, LastRun]:
    """The last runs by job file; none where nothing was recorded, or by another layout.

    Raises
    ------
    OutputError
        The file is there and is no record of a book.
    """
    path = folder / RECORD
    try:
        data = json.loads(path.read_bytes())
        if not isinstance(data, Mapping) or "nightledger_book" not in data:
            raise ValueError
        if data["nightledger_book"] != FORMAT:
            return {}
        runs = {str(name): _Run.model_validate(run) for name, run in data["jobs"].items()}
    except (FileNotFoundError, NotADirectoryError):
        return {}
    except (OSError, ValueError, KeyError, AttributeError, RecursionError, ValidationError):
        rule = "is not the record of a book; move it, or name another folder with --out"
        raise OutputError(Fault(rule, file=printable(str(path)))) from None
    return {
        name: LastRun(run.ran, run.marks, tuple(trip.known() for trip in run.trips))
        for name, run in runs.items()
    }


def record_json(lines: tuple[BookLine, ...]) -> dict[str, Any]:
    """The last runs as plain data, for the next time."""
    jobs = {line.file: asdict(line.last) for line in lines if line.last is not None}
    return {"nightledger_book": FORMAT, "jobs": jobs}


def book_json(lines: tuple[BookLine, ...]) -> dict[str, Any]:
    """A book as plain data, with stable keys."""
    return {
        "jobs": [
            {
                "file": line.file,
                "customer": line.customer,
                "trips": [
                    {
                        "name": x.name,
                        "verdict": x.verdict,
                        "held": x.held,
                        "draws": x.draws,
                        "medical": {"names": list(x.medical), "share": x.medical_dark / x.draws},
                    }
                    for x in (line.last.trips if line.last else ())
                ],
                "worst_store": None
                if line.worst_store is None
                else {"store": line.worst_store.store, "share": line.worst_store.share},
                "ran": line.last.ran if line.last else None,
                "stale": line.is_stale,
                "changed": list(line.changed),
                "report": line.page if line.last else None,
                "error": line.error,
            }
            for line in lines
        ]
    }
