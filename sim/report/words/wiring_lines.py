"""The wiring sheet's lines to read: what asks the same of several runs stands in one of them."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sim.decide.wiring.rows import CableRun, Check, WiringSheet
from sim.report.words.numbers import either, isolated, listed
from sim.report.words.wiring_words import (
    CheckText,
    cable_text,
    check_text,
    fuse_place,
    percent,
)

TICK_LEAD = "Tick each, or write it under [wiring], as in main_switch = true:"


@dataclass(frozen=True)
class Tick:
    """Something that must be there and is still to be ticked: its words, its key and its source."""

    text: str
    key: str
    basis: str


def ticks(sheet: WiringSheet) -> tuple[Tick, ...]:
    """What is still to be ticked, in the order of the sheet."""
    return tuple(
        Tick(f"{text.run}: {text.what}", str(check.figures["key"]), text.basis)
        for check in sheet.checks
        if _is_tick(check)
        for text in (check_text(check, sheet.units),)
    )


def check_lines(sheet: WiringSheet) -> tuple[CheckText, ...]:
    """All other checks in words, with one line for all runs whose length is not known."""
    unknown = [check for check in sheet.checks if _wants_length(check)]
    lines = []
    for check in sheet.checks:
        if len(unknown) < 2 or not _wants_length(check):
            lines += [] if _is_tick(check) else [check_text(check, sheet.units)]
        elif check is unknown[0]:
            lines.append(_lengths(unknown, sheet))
    return tuple(lines)


def on_cable_list(check: Check) -> bool:
    """Whether a check is of a fuse or cable as the cable list names it: it is said there."""
    return check.subject in ("fuse", "ampacity") and check.status in ("choose", "pass")


@dataclass(frozen=True)
class Beside:
    """What stands below a fuse or a cable of the list: words, and the source, where it has one."""

    text: str
    basis: str | None


def beside_run(run: CableRun, sheet: WiringSheet) -> tuple[Beside, Beside]:
    """Where the fuse of a run sits and what it must be good for; what its cable carries."""
    found = {
        check.subject: check
        for check in sheet.checks
        if check.run == run.name and on_cable_list(check)
    }
    place, whose = f"at the {fuse_place(run)}", "as fitted" if run.is_fitted else "chosen here"
    fuse, cable = Beside(place, None), Beside(whose, None)
    if "fuse" in found:
        text = check_text(found["fuse"], sheet.units)
        fuse = Beside(f"{text.limit}, {place}", text.basis)
    if "ampacity" in found and run.cable is not None:
        check = found["ampacity"]
        text = check_text(check, sheet.units)
        carries = text.value.removeprefix(f"{cable_text(run.cable)}: ")
        words = f"{whose}: carries {carries}, {text.limit}"
        if check.status == "choose":
            words += f"; or thicker, insulation {check.figures['insulation_c']} °C"
        cable = Beside(words, text.basis)
    return fuse, cable


def _is_tick(check: Check) -> bool:
    return (
        check.status == "say" and check.case == "unknown" and check.figures.get("key") is not None
    )


def _wants_length(check: Check) -> bool:
    return check.subject == "drop" and check.status == "say"


def _lengths(checks: list[Check], sheet: WiringSheet) -> CheckText:
    """The voltage drop of runs of unknown length: which they are, and where to say it."""
    keys = [f"[{x.figures['key']}]" for x in checks if x.case == "no length"]
    if any(x.case == "no length of load" for x in checks):
        keys.append("[[wiring.loads]] with the name of the load")
    unit = "length_ft" if sheet.units == "us" else "length_m"
    limits = sorted({float(str(check.figures["may_pct"])) for check in checks})
    return replace(
        check_text(checks[0], sheet.units),
        run=listed([isolated(check.run) for check in checks]),
        limit=either([percent(limit) for limit in limits]),
        advice=f"say how long each run is: {unit} under {listed(keys)}",
    )
