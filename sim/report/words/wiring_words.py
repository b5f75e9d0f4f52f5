"""The wiring sheet in words: what each check has, may have, and asks for.

A wording is a template over the figures of a check, or several by how the check ended. What
follows a colon is the unit: ``{fuse_a:A}`` is an ampere figure, ``{length_m:m}`` a length in
the customer's system.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from string import Formatter
from typing import Any

from sim import units
from sim.decide.wiring.rows import (
    STATUSES,
    CableRun,
    Check,
    Status,
    System,
    WiringSheet,
)
from sim.report.words.numbers import isolated, listed
from sim.report.words.wiring_table import CURRENT_RULES, FUSE_PLACES, WORDINGS, Text
from sim.van.conductors import Cable

OPENING = (
    "A check of the design, not a permit. Local codes and licensed practice decide; where they "
    "differ from a line here, they are right. Rules and tables of the standards were read from "
    "copies, not from the standards themselves. Figures from the shelf are those of a class: put "
    "the data sheets' of what is bought into the job first."
)
STATUS_WORDS: dict[Status, str] = {
    "pass": "pass",
    "change": "change",
    "choose": "to order",
    "say": "to say",
}
HEADINGS: dict[Status, str] = {
    "change": "To change",
    "say": "To say or to tick",
    "choose": "To order",
    "pass": "In order",
}


@dataclass(frozen=True)
class CheckText:
    """One line of the sheet as text.

    Attributes
    ----------
    run : str
        The run of cable or the part it is about.
    what : str
        What is looked at.
    value, limit : str
        What the design has, and what it may have, with units.
    status : {"pass", "change", "choose", "say"}
    advice : str
        What to change, choose or say; empty for a pass.
    basis : str
        The standard or habit behind it.
    """

    run: str
    what: str
    value: str
    limit: str
    status: Status
    advice: str
    basis: str


# So many of what must change are named in the answer.
_NAMED = 3


def answer(sheet: WiringSheet) -> str:
    """Whether the design can be ordered, in a sentence: what must change first, or what is still
    to be said."""
    changes = [check for check in check_texts(sheet) if check.status == "change"]
    if changes:
        named = [
            f"{isolated(check.run)} ({check.what[:1].lower()}{check.what[1:]})" for check in changes
        ]
        more = len(named) - _NAMED
        named = [*named[:_NAMED], f"{more} more"] if more > 0 else named
        return f"Not to be ordered as it is; change first: {listed(named)}."
    if open_ := sheet.count("say"):
        are = "is" if open_ == 1 else "are"
        return f"Nothing must change; {open_} of {len(sheet.checks)} checks {are} still to be said."
    return f"Nothing must change: all {len(sheet.checks)} checks are in order."


def counts(sheet: WiringSheet) -> str:
    """``"2 to change, 9 to say or tick, 14 to order, 20 in order"``."""
    words = {
        "change": "to change",
        "say": "to say or tick",
        "choose": "to order",
        "pass": "in order",
    }
    return ", ".join(f"{sheet.count(status)} {words[status]}" for status in STATUSES)


def check_texts(sheet: WiringSheet) -> tuple[CheckText, ...]:
    """All checks of a sheet in words, in its order."""
    return tuple(check_text(check, sheet.units) for check in sheet.checks)


def check_text(check: Check, system: System) -> CheckText:
    """A check in words."""
    wording = WORDINGS[check.subject]
    write = _Figures(system)

    def filled(text: Text) -> str:
        template = text if isinstance(text, str) else _chosen(text, check)
        return write.format(template, run=check.run, **check.figures)

    return CheckText(
        run=check.run,
        what=filled(wording.what),
        value=filled(wording.value),
        limit=filled(wording.limit),
        status=check.status,
        advice="" if check.status == "pass" else filled(wording.advice),
        basis=filled(wording.basis),
    )


def _chosen(texts: Mapping[str, str], check: Check) -> str:
    """The template of how a check ended, or of the rule applied, or of all else."""
    for key in (check.case, check.basis, "else"):
        if key in texts:
            return texts[key]
    raise KeyError(f"no words for {check.subject}, {check.case!r}, {check.basis!r}")


def rule_text(run: CableRun, system: System) -> str:
    """How the design current of a run comes about."""
    return _Figures(system).format(CURRENT_RULES[run.rule], **run.figures)


def fuse_place(run: CableRun) -> str:
    """Where the fuse of a run sits."""
    return FUSE_PLACES[run.fuse_at]


def run_cells(run: CableRun, system: System) -> tuple[str, ...]:
    """Run, design current, fuse, cable, one way and voltage drop, as the cable list has them."""
    drop = "–"
    if run.drop_v is not None and run.drop_pct is not None:
        drop = f"{volts(run.drop_v)}, {percent(run.drop_pct)}"
    return (
        run.name,
        amps(run.amps),
        "none fits" if run.fuse_a is None else amps(run.fuse_a),
        "none fits" if run.cable is None else cable_text(run.cable),
        "not known" if run.length_m is None else length(run.length_m, system),
        drop,
    )


def amps(value: float) -> str:
    """``"17.5 A"``, ``"60 A"``."""
    return f"{_short(value)} A"


def volts(value: float) -> str:
    """``"0.35 V"``, ``"54.2 V"``."""
    return f"{_short(value, 2 if value < 10 else 1)} V"


def watts(value: float) -> str:
    """``"2,045 W"``."""
    return f"{value:,.0f} W"


def percent(value: float) -> str:
    """``"2.9 %"``."""
    return f"{_short(value)} %"


def celsius(value: float, system: System) -> str:
    """``"104 °F"`` or ``"40 °C"``."""
    if system == "us":
        return f"{units.celsius_to_fahrenheit(value):.0f} °F"
    return f"{value:.0f} °C"


def length(value_m: float, system: System) -> str:
    """``"15 ft"`` or ``"4.6 m"``."""
    if system == "us":
        return f"{_short(value_m / units.METRES_PER_FOOT)} ft"
    return f"{_short(value_m)} m"


def cable_text(cable: Cable) -> str:
    """``"6 AWG (16 mm²)"``, ``"2 x 2/0 AWG (2 x 70 mm²)"``."""
    count = f"{cable.parallel} x " if cable.parallel > 1 else ""
    return f"{cable.name} ({count}{cable.metric_mm2:g} mm²)"


def _short(value: float, places: int = 1) -> str:
    return f"{value:,.{places}f}".rstrip("0").rstrip(".") if places else f"{value:,.0f}"


class _Figures(Formatter):
    """Fills a template; a unit after the colon says how a figure is written."""

    def __init__(self, system: System) -> None:
        self.system = system
        self.units: dict[str, Callable[[Any], str]] = {
            "A": amps,
            "V": volts,
            "W": watts,
            "%": percent,
            "C": lambda value: celsius(value, system),
            "m": lambda value: length(value, system),
            "cable": cable_text,
            "carries": lambda value: amps(value) if value > 0 else "not in the table for this use,",
            "place": lambda value: FUSE_PLACES[value],
        }

    def get_value(self, key: int | str, args: Any, kwargs: Any) -> Any:
        """A figure; the key of a length depends on the system."""
        if key == "length_key":
            return "length_ft" if self.system == "us" else "length_m"
        return super().get_value(key, args, kwargs)

    def format_field(self, value: Any, format_spec: str) -> str:
        """A figure in its unit, or as Python writes it."""
        write = self.units.get(format_spec)
        return str(super().format_field(value, format_spec)) if write is None else write(value)
