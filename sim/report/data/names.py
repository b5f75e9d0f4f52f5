"""Names of files: short, plain, and different in any script."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from pathlib import Path

from sim.errors import as_typed
from sim.job.model.job import Job
from sim.places.gazetteer import PLAIN_LETTERS

# What a file that says no more is called; a report named after it would say nothing.
JOB_FILE = "job"
_MOST_LETTERS, _MOST_BYTES = 60, 90
_ACCENTED = re.compile(r"([a-z])[\u0300-\u036f]+")
# Windows keeps these for devices, whatever their ending.
_DEVICES = re.compile(r"con|prn|aux|nul|(com|lpt)[0-9]")


def file_stem(name: str) -> str:
    """A short file name for a trip's or a job's name.

    Latin letters lose their accents; letters of other scripts stay as they are.
    """
    folded = unicodedata.normalize("NFKD", as_typed(name).lower().translate(PLAIN_LETTERS))
    folded = unicodedata.normalize("NFC", _ACCENTED.sub(r"\1", folded))
    # Letters, digits, and the vowel signs that other scripts write as marks.
    kept = "".join(x if unicodedata.category(x)[0] in "LMN" else "-" for x in folded)
    plain = re.sub("-+", "-", kept)[:_MOST_LETTERS].strip("-")
    plain = plain.encode("utf-8", "ignore")[:_MOST_BYTES].decode("utf-8", "ignore").strip("-")
    if _DEVICES.fullmatch(plain):
        plain += "-1"
    return plain or "trip"


def report_stem(job_file: Path, customer: str | None) -> str:
    """What a job's reports are called: as its file, or as the customer if that is ``job.toml``."""
    stem = file_stem(job_file.stem)
    return file_stem(customer) if stem == JOB_FILE and customer else stem


def weather_files(job: Job) -> Iterator[Path]:
    """The weather files that a loaded job reads."""
    stops = (stop.weather for trip in job.trips for stop in trip.stops)
    for name in dict.fromkeys((job.settings.weather, *stops)):
        if name not in (None, "climate", "clear"):
            yield Path(str(name))
