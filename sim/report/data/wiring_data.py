"""The wiring sheet as JSON and CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from sim.decide.wiring.rows import STATUSES, CableRun, System, WiringSheet
from sim.report.data.export import cell
from sim.report.words.wiring_words import (
    OPENING,
    STATUS_WORDS,
    answer,
    check_texts,
    fuse_place,
    rule_text,
    run_cells,
)

# Ends of the names of the CSV files.
TABLES = ("cables", "checks")
_RUN_COLUMNS = ("run", "current", "fuse or breaker", "cable", "length", "voltage drop")


def wiring_json(sheet: WiringSheet) -> dict[str, Any]:
    """The sheet as plain data."""
    return {
        "title": sheet.title,
        "answer": answer(sheet),
        "opening": OPENING,
        "counts": {status: sheet.count(status) for status in STATUSES},
        "runs": [_run_json(run, sheet.units) for run in sheet.runs],
        "checks": [asdict(check) for check in check_texts(sheet)],
    }


def _run_json(run: CableRun, system: System) -> dict[str, Any]:
    cable = run.cable
    return {
        "name": run.name,
        "amps": run.amps,
        "rule": rule_text(run, system),
        "rating_a": run.rating_a,
        "volts": run.volts,
        "length_m": run.length_m,
        "fuse_a": run.fuse_a,
        "fuse_at": fuse_place(run),
        "is_fitted": run.is_fitted,
        "drop_v": run.drop_v,
        "drop_pct": run.drop_pct,
        "cable_awg": None if cable is None else cable.name,
        "cable_mm2": None if cable is None else round(cable.area_mm2, 2),
    }


def wiring_csv(sheet: WiringSheet, stem: str) -> dict[str, str]:
    """CSV texts by file name: the cable list and the checks."""
    runs = [_RUN_COLUMNS, *(run_cells(run, sheet.units) for run in sheet.runs)]
    checks = [
        ("run", "what", "value", "limit", "status", "what to do", "basis"),
        *(
            (x.run, x.what, x.value, x.limit, STATUS_WORDS[x.status], x.advice, x.basis)
            for x in check_texts(sheet)
        ),
    ]
    texts = (_csv(runs), _csv(checks))
    return {f"{stem}-{what}.csv": text for what, text in zip(TABLES, texts, strict=True)}


def _csv(rows: Sequence[Sequence[str]]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([cell(text) for text in row] for row in rows)
    return out.getvalue()
