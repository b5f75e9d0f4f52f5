"""The wiring sheet shown: in the terminal, as CSV and JSON, and as a page for print."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from markupsafe import Markup
from rich.console import Console
from rich.table import Table
from rich.text import Text

from sim.decide.wiring import rows
from sim.decide.wiring.rows import STATUSES, CableRun, Check, Status, WiringSheet
from sim.report.charts.palette import FONT
from sim.report.data.export import cell
from sim.report.page.client import environment, palettes
from sim.report.terminal.answer import plain
from sim.report.words.sentences import Manner

WORDS: dict[Status, str] = {
    "pass": "pass",
    "change": "change",
    "choose": "to order",
    "say": "to say",
}
_HEADINGS: dict[Status, str] = {
    "change": "To change",
    "say": "To say or to tick",
    "choose": "To order",
    "pass": "In order",
}
_RUN_COLUMNS = ("run", "current", "fuse or breaker", "cable", "length", "voltage drop")


def counts(sheet: WiringSheet) -> str:
    """``"2 to change, 9 to say, 14 to order, 20 pass"``."""
    told = {
        "change": "to change",
        "say": "to say or tick",
        "choose": "to order",
        "pass": "in order",
    }
    return ", ".join(f"{sheet.count(status)} {told[status]}" for status in STATUSES)


def run_cells(run: CableRun, sheet: WiringSheet) -> tuple[str, ...]:
    """One line of the cable list as text, in the order of its columns."""
    length = "not known" if run.length_m is None else rows.length(run.length_m, sheet.units)
    drop = "–"
    if run.drop_v is not None and run.drop_pct is not None:
        drop = f"{rows.volts(run.drop_v)}, {rows.percent(run.drop_pct)}"
    return (
        run.name,
        rows.amps(run.amps),
        "none fits" if run.fuse_a is None else rows.amps(run.fuse_a),
        "none fits" if run.cable is None else rows.cable_text(run.cable),
        length,
        drop,
    )


def print_sheet(sheet: WiringSheet, console: Console) -> None:
    """The cable list, what to change and what to say; the rest is on the page."""
    console.print(plain(sheet.title), style="bold")
    console.print(Text(sheet.opening))
    console.print()
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    for name in ("Run", "Amps", "Fuse", "Cable", "Drop"):
        table.add_column(name, overflow="fold")
    for run in sheet.runs:
        name, current, fuse, cable, _, drop = run_cells(run, sheet)
        table.add_row(plain(name, 60), current, fuse, cable, drop)
    console.print(table)
    for status in ("change", "say"):
        found = [check for check in sheet.checks if check.status == status]
        if found:
            console.print()
            console.print(Text(_HEADINGS[status]), style="bold")
            console.print(_checks_table(found))
    console.print()
    console.print(Text(f"{len(sheet.checks)} checks: {counts(sheet)}."))


def _checks_table(checks: list[Check]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_header=False)
    table.add_column(overflow="fold", max_width=28)
    table.add_column(overflow="fold")
    for check in checks:
        limit = f" ({check.limit})" if check.limit else ""
        table.add_row(
            plain(f"{check.run}: {check.what}", 120),
            plain(f"{check.value}{limit}: {check.advice}", 400),
        )
    return table


def wiring_json(sheet: WiringSheet) -> dict[str, Any]:
    """The sheet as plain data."""
    return {
        "title": sheet.title,
        "opening": sheet.opening,
        "counts": {status: sheet.count(status) for status in STATUSES},
        "runs": [_run_json(run) for run in sheet.runs],
        "checks": [asdict(check) for check in sheet.checks],
    }


def _run_json(run: CableRun) -> dict[str, Any]:
    cable = run.cable
    return {
        **{key: value for key, value in asdict(run).items() if key != "cable"},
        "cable_awg": None if cable is None else cable.name,
        "cable_mm2": None if cable is None else round(cable.area_mm2, 2),
    }


def wiring_csv(sheet: WiringSheet, stem: str) -> dict[str, str]:
    """CSV texts by file name: the cable list and the checks."""
    runs = [_RUN_COLUMNS, *(run_cells(run, sheet) for run in sheet.runs)]
    checks = [
        ("run", "what", "value", "limit", "status", "what to do", "basis"),
        *(
            (x.run, x.what, x.value, x.limit, WORDS[x.status], x.advice, x.basis)
            for x in sheet.checks
        ),
    ]
    return {
        f"{stem}-cables.csv": _csv(runs),
        f"{stem}-checks.csv": _csv(checks),
    }


def _csv(rows: Sequence[Sequence[str]]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([cell(text) for text in row] for row in rows)
    return out.getvalue()


def render_wiring(sheet: WiringSheet, *, written: dt.date, version: str) -> str:
    """The sheet as one HTML page for print.

    Parameters
    ----------
    sheet : WiringSheet
    written : date
        Day on which it was made.
    version : str
        Of the program.
    """
    groups = [
        (status, _HEADINGS[status], [x for x in sheet.checks if x.status == status])
        for status in STATUSES
    ]
    return (
        environment()
        .get_template("wiring.html")
        .render(
            title=sheet.title,
            customer=sheet.customer,
            palettes=palettes(),
            font=Markup(FONT),
            sheet=sheet,
            counts=counts(sheet),
            runs=[(run, run_cells(run, sheet)) for run in sheet.runs],
            groups=[group for group in groups if group[2]],
            written=Manner(sheet.units).full_date(written),
            version=version,
        )
    )
