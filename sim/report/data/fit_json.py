"""A log against the promise as plain data."""

from __future__ import annotations

from typing import Any

from sim.fit.findings import Finding
from sim.fit.fit import Fit
from sim.report.words.by_locale import Writing
from sim.report.words.fit_words import (
    answer_sentences,
    finding_sentence,
    next_sentences,
    unknown_sentences,
)


def fit_json(found: Fit) -> dict[str, Any]:
    """What a log says of a job; factors are measured over promised."""
    writing = Writing.of(found.job)
    return {
        "title": found.job.title,
        "days": found.days,
        "columns": dict(found.log.headings),
        "promise_kept": not found.broken,
        "answer": list(answer_sentences(found)),
        "findings": [_finding(finding, writing) for finding in found.findings],
        "cannot_tell": list(unknown_sentences(found)),
        "measure_next": list(next_sentences(found)),
    }


def _finding(finding: Finding, writing: Writing) -> dict[str, Any]:
    data: dict[str, Any] = {
        "what": finding.what,
        "broken": finding.broken,
        "factor": None,
        "low": None,
        "high": None,
        "since": None if finding.since is None else finding.since.isoformat(),
        "sentence": finding_sentence(finding, writing),
    }
    estimate = finding.estimate
    if estimate is None:
        return data
    value, (low, high) = estimate.value, estimate.interval
    if finding.what in ("clock", "counter"):
        unit = {"clock": "hours", "counter": "share_per_day"}[finding.what]
        return data | {unit: {"value": value, "low": low, "high": high}}
    if finding.what == "loads_by_temperature":
        beyond = {"value": value, "low": low, "high": high, "promised": finding.promised_w}
        return data | {"watts_per_kelvin": beyond}
    if finding.what == "standing_load":
        data["watts"] = {"value": value, "low": low, "high": high}
        due = finding.promised_w
        if due <= 0.0:
            return data
        value, low, high = ((due + extra) / due for extra in (value, low, high))
    data |= {"factor": value, "low": max(low, 0.0), "high": high}
    if finding.part is not None:
        data["part"] = finding.part
    if finding.months:
        data["months"] = [
            {"month": n, "factor": x.value, "low": x.interval[0], "high": x.interval[1]}
            for n, x in finding.months
        ]
    return data
