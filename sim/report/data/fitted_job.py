"""A job file with what a log showed written into it, so that the next promise starts from there.

The file stays as its author wrote it, comments and all: keys are set or added, and what no key
carries becomes an appliance of its own at the end.
"""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from sim.errors import Fault, JobError, printable
from sim.fit.estimate import Z80
from sim.fit.findings import Finding
from sim.fit.fit import Fit
from sim.job.model.fields import bounds
from sim.job.model.power import Alternator, Battery, PanelGroup, Shore
from sim.job.reading.toml_errors import read_toml
from sim.job.reading.toml_lines import Path as KeyPath
from sim.job.reading.toml_lines import key_lines
from sim.report.data.promise import is_promise

_LEAST_W = 1.0


@dataclass(frozen=True)
class _Change:
    """A key of a section, its new value and its old one."""

    section: KeyPath
    key: str
    value: float
    old: float

    def line(self, today: dt.date) -> str:
        """As it is in the file."""
        return f"{self.key} = {self.value:.6g}  # as a log showed, {today.isoformat()}"


def expect_job_file(job_file: Path) -> None:
    """What was seen can be saved into a job file alone.

    Raises
    ------
    JobError
        It is a kept promise.
    """
    if is_promise(job_file):
        rule = "is a kept promise; to save what was seen, give the job file that it was kept from"
        raise JobError(Fault(rule, file=printable(str(job_file), 1000)))


def fitted_job_text(job_file: Path, found: Fit, today: dt.date) -> str:
    """The text of a job file with the factors that a log showed.

    Parameters
    ----------
    job_file : Path
        Of the job that was held against the log.
    found : Fit
    today : date

    Raises
    ------
    JobError
        The job is a kept promise, or a section to be changed does not stand under a header of
        its own.
    """
    expect_job_file(job_file)
    name = printable(str(job_file), 1000)
    text, _ = read_toml(job_file)
    lines, known = text.splitlines(), key_lines(text)
    changes = [x for x in _changes(found) if x.value != x.old]
    rest = [x for x in changes if not _is_set(lines, known, x, today)]
    # From the end, so that the lines before keep their numbers.
    for change in sorted(rest, key=lambda x: known.get(x.section, 0), reverse=True):
        header = known.get(change.section)
        if header is None or not lines[header - 1].lstrip().startswith("["):
            rule = "must stand under a header of its own, so that what was seen can be saved there"
            key = str(change.section[0])
            raise JobError(Fault(rule, file=name, line=header, key=key))
        lines.insert(header, change.line(today))
    lines += _appliances(found, today)
    new = "\n".join(lines) + "\n"
    try:
        tomllib.loads(new)
    except tomllib.TOMLDecodeError:
        rule = "is written so that nothing can be added to it; give each section a header"
        raise JobError(Fault(rule, file=name)) from None
    return new


def _is_set(lines: list[str], known: dict[KeyPath, int], change: _Change, today: dt.date) -> bool:
    """Set a key that has a line of its own in the file; whether there is one."""
    at = known.get((*change.section, change.key))
    if at is None or not re.match(rf"\s*{change.key}\s*=", lines[at - 1]):
        return False
    lines[at - 1] = change.line(today)
    return True


def _changes(found: Fit) -> Iterator[_Change]:
    """The keys that carry what was seen."""
    job, by = found.job, {finding.what: finding for finding in found.findings}
    if (sun := _factor(by["sun"])) is not None:
        for number, group in enumerate(job.panels):
            loss = 100.0 - (100.0 - group.seen_loss_pct) * sun
            loss = _bounded(PanelGroup, "seen_loss_pct", loss)
            yield _Change(("panels", number), "seen_loss_pct", loss, group.seen_loss_pct)
    bank = job.battery
    for what, key, value in (
        ("capacity", "health_pct", bank.health_pct),
        ("losses", "coulombic_efficiency", bank.coulombic_efficiency),
    ):
        if (factor := _factor(by[what])) is not None:  # type: ignore[index]
            yield _Change(("battery",), key, _bounded(Battery, key, value * factor), value)
    if (engine := _factor(by["engine"])) is not None:
        for number, source in enumerate(job.alternator):
            path = _section(found, "alternator", number, len(job.alternator))
            amps = _bounded(Alternator, "dcdc_amps", source.dcdc_amps * engine)
            yield _Change(path, "dcdc_amps", amps, source.dcdc_amps)
    if (plug := _factor(by["plug"])) is not None:
        for number, shore in enumerate(job.shore):
            path = _section(found, "shore", number, len(job.shore))
            amps = _bounded(Shore, "charger_amps", shore.charger_amps * plug)
            yield _Change(path, "charger_amps", amps, shore.charger_amps)


def _section(found: Fit, name: str, number: int, count: int) -> KeyPath:
    """A section that may stand once or several times."""
    return (name,) if count == 1 else (name, number)


def _factor(finding: Finding) -> float | None:
    """The factor to go on with; None where the log leaves the promise as it is."""
    estimate = finding.estimate
    if estimate is None:
        return None
    low, high = estimate.interval
    return None if low <= 1.0 <= high else estimate.value


def _bounded(part: Any, key: str, value: float) -> float:
    low, high = bounds(part, key)
    return float(np.clip(value, low, high))


def _appliances(found: Fit, today: dt.date) -> Iterator[str]:
    """Draws that were seen and not promised, as appliances."""
    by = {finding.what: finding for finding in found.findings}
    standing = by["standing_load"].estimate
    if standing is not None and standing.value > max(_LEAST_W, Z80 * standing.spread):
        yield from _steady("Standing load seen in the log", "essential", standing.value, today)
    factor = _factor(by["loads"])
    if factor is not None and factor > 1.0:
        watts = (factor - 1.0) * float(found.promised.loads_w.mean())
        yield from _steady("Use seen in the log", "comfort", watts, today)


def _steady(name: str, priority: str, watts: float, today: dt.date) -> tuple[str, ...]:
    return (
        "",
        f"# As a log showed, {today.isoformat()}.",
        "[[appliances]]",
        'kind = "steady"',
        f'name = "{name}"',
        'supply = "dc"',
        f'priority = "{priority}"',
        f"watts = {watts:.1f}",
    )
