"""What a wiring sheet is made of: facts and figures; the report finds the words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from sim.van.conductors import Cable

# pass: within the limit. change: not. choose: nothing is fitted yet, this would be right.
# say: a figure or a tick is missing, or only the builder can judge.
Status = Literal["pass", "change", "choose", "say"]
System = Literal["us", "metric"]
STATUSES: tuple[Status, ...] = ("change", "say", "choose", "pass")
# How the current of a run comes about.
CurrentRule = Literal[
    "panels", "dcdc", "inlet", "inverter", "charger", "converter", "converter out",
    "all loads", "load",
]  # fmt: skip
# Why fuse and cable must be good for more than that, and where the fuse sits.
RatingRule = Literal["continuous", "panels", "inlet"]
FusePlace = Literal["roof", "starter battery", "AC panel", "battery", "converter", "DC panel"]
Subject = Literal[
    "fuse", "ampacity", "drop",
    "panel figures", "strings", "string voltage", "string fuse", "controller output",
    "cold voltage",
    "alternator spare", "alternator share",
    "bank discharge", "charge driving", "charge plugged", "short circuit",
    "DC at once", "AC at once", "compressor start", "inlet at once",
    "main_switch", "fuse_at_battery", "ac_dc_apart", "extinguisher", "smoke_alarm", "co_alarm",
    "propane_alarm", "propane_outside",
]  # fmt: skip
Figures = Mapping[str, float | str | Cable]


@dataclass(frozen=True)
class Check:
    """One line of the sheet.

    Attributes
    ----------
    run : str
        The run of cable or the part it is about.
    subject : str
        What is looked at.
    status : {"pass", "change", "choose", "say"}
    case : str
        What was found, where a subject may end in several ways; empty for a pass.
    figures : mapping
        Figures of the design and of its limit by name, in SI units; cables.
    basis : str
        Which rule was applied, where a subject has several.
    """

    run: str
    subject: Subject
    status: Status
    case: str
    figures: Figures
    basis: str = ""


def limit_check(
    run: str, subject: Subject, figures: Figures, case: str, *, ok: bool | None, basis: str = ""
) -> Check:
    """A check that passes, does not, or, with `ok` None, only the builder can judge."""
    status: Status = "say" if ok is None else "pass" if ok else "change"
    return Check(run, subject, status, "" if ok else case, figures, basis)


@dataclass(frozen=True)
class CableRun:
    """One line of the cable list.

    Attributes
    ----------
    name : str
    amps : float
        Design current. [A]
    rule : str
        How it comes about.
    figures : mapping
        From which it comes about.
    rating_a : float
        What fuse and cable must be good for at least. [A]
    volts : float
        [V]
    length_m : float or None
        One way; None when the job does not say. [m]
    fuse_a : float or None
        Fitted or chosen; None when no standard rating is large enough. [A]
    fuse_at : str
        Where it sits.
    cable : Cable or None
        Fitted or chosen; None when none is thick enough.
    is_fitted : bool
        The job names the cable.
    drop_v, drop_pct : float or None
        Lost on the way at working current; None without length or cable. [V], [%]
    """

    name: str
    amps: float
    rule: CurrentRule
    figures: Figures
    rating_a: float
    volts: float
    length_m: float | None
    fuse_a: float | None
    fuse_at: FusePlace
    cable: Cable | None
    is_fitted: bool
    drop_v: float | None
    drop_pct: float | None


@dataclass(frozen=True)
class WiringSheet:
    """The checks of a job's wiring.

    Attributes
    ----------
    title : str
        Of the job.
    customer : str or None
    units : {"us", "metric"}
        In which lengths are shown.
    runs : tuple of CableRun
    checks : tuple of Check
    """

    title: str
    customer: str | None
    units: System
    runs: tuple[CableRun, ...]
    checks: tuple[Check, ...]

    def count(self, status: Status) -> int:
        """How many lines have that status."""
        return sum(check.status == status for check in self.checks)
