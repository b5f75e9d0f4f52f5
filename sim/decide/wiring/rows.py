"""What a wiring sheet is made of, and how its figures are written."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sim import units
from sim.van.conductors import Cable

# pass: within the limit. change: not. choose: nothing is fitted yet, this would be right.
# say: a figure or a tick is missing, or only the builder can judge.
Status = Literal["pass", "change", "choose", "say"]
System = Literal["us", "metric"]
STATUSES: tuple[Status, ...] = ("change", "say", "choose", "pass")
OPENING = (
    "A check of the design, not a permit. Local codes and licensed practice decide; where they "
    "differ from a line here, they are right. Rules and tables of the standards were read from "
    "copies, not from the standards themselves. Figures from the shelf are those of a class: put "
    "the data sheets' of what is bought into the job first."
)


@dataclass(frozen=True)
class Check:
    """One line of the sheet.

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
    rule: str
    rating_a: float
    volts: float
    length_m: float | None
    fuse_a: float | None
    fuse_at: str
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
    opening : str
        What the sheet is and is not.
    units : {"us", "metric"}
        In which lengths are shown.
    runs : tuple of CableRun
    checks : tuple of Check
    """

    title: str
    customer: str | None
    opening: str
    units: System
    runs: tuple[CableRun, ...]
    checks: tuple[Check, ...]

    def count(self, status: Status) -> int:
        """How many lines have that status."""
        return sum(check.status == status for check in self.checks)


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
