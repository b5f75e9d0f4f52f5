"""What a builder is asked about battery, panels, engine and plug.

Defaults are sizes that vans are fitted with (common practice, no source).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from sim.interview.draft import Answers, Question, Refused
from sim.interview.load_questions import batteries_for, only_plugged
from sim.interview.replies import NONE, Within, choice, counted, number, pick, profile_titles
from sim.job import shelf
from sim.job.model.fields import bounds
from sim.job.model.power import Alternator, Battery, PanelGroup

# Sizes that controllers are sold in.
CONTROLLER_AMPS = (10, 15, 20, 30, 40, 50, 60, 70, 85, 100, 150, 200)
# What a charger on the road or on the plug gives, the usual size first.
_CHARGER_AMPS = (30, 20, 15, 10)
_BATTERY, _PANEL, _PANELS = "lifepo4-200", "rigid-170", 2
_NO_PLUG = "none"
_INLETS = (
    (_NO_PLUG, "no plug"),
    ("120 15", "120 V, 15 A"),
    ("120 30", "120 V, 30 A"),
    ("230 16", "230 V, 16 A"),
)
_OUTSIDE = re.compile(r"(.+?)[\s,]+outside", re.IGNORECASE)


@dataclass(frozen=True)
class Bank:
    """The battery that was chosen: a profile, how many, and whether they are under the floor."""

    name: str
    count: int
    is_outside: bool

    @property
    def values(self) -> dict[str, Any]:
        """Of its profile."""
        return shelf.profile("batteries", self.name).values


@dataclass(frozen=True)
class Panels:
    """The panels that were chosen: a profile and how many."""

    name: str
    count: int

    @property
    def watts(self) -> float:
        """Of all of them. [W]"""
        return float(self.count * shelf.profile("panels", self.name).values["watts"])


def power(answers: Answers) -> Iterator[Question]:
    """Battery, panels, engine and plug."""
    count = batteries_for(answers, _BATTERY)
    yield Question(
        "battery", "Which battery?",
        "x2 for two side by side; outside behind it where it is under the floor, in the cold.",
        f"{_BATTERY} x{count}" if count > 1 else _BATTERY, bank,
        profile_titles("batteries"),
    )  # fmt: skip
    yield Question(
        "panels", "Which solar panels, flat on the roof?", f"x2 for two; {NONE} for none.",
        f"{_PANEL} x{_PANELS}", panels, profile_titles("panels"),
    )  # fmt: skip
    yield number(
        "dcdc", "How many amps does the DC-DC charger give while driving?",
        "0 when the engine does not charge the house battery.", f"{charger_amps(answers)}",
        Within(Alternator, "dcdc_amps", or_zero=True),
    )  # fmt: skip
    yield from _plug(answers)


def _plug(answers: Answers) -> Iterator[Question]:
    """The inlet, which must carry what runs on the plug alone."""
    plugged = only_plugged(answers)
    most = max((item.most_watts for item in plugged if item.supply == "ac"), default=0.0)
    fit = tuple(x for x in _INLETS if x[0] != _NO_PLUG and _inlet_watts(x[0]) >= most)
    options = fit if plugged else (_INLETS[0], *fit)
    usual = "120 15" if answers["units"] == "us" else "230 16"
    asked = choice(
        "inlet", "Which plug has it outside?", "A campground's plug feeds charger and AC loads.",
        options, usual if usual in dict(options) else options[-1][0],
    )  # fmt: skip

    def read(reply: str) -> str:
        if plugged and reply.lower() == _NO_PLUG:
            rule = (
                f"{plugged[0].name} runs only on a plug: take a plug, or go back and leave it out"
            )
            raise Refused(rule)
        return str(asked.read(reply))

    yield replace(asked, read=read)


def _inlet_watts(inlet: str) -> float:
    volts, amps = inlet.split()
    return float(volts) * float(amps)


def bank(reply: str) -> Bank:
    """The battery of ``"lifepo4-200 x2 outside"``; a number or the beginning will do."""
    match = _OUTSIDE.fullmatch(reply)
    name, count = _some(match[1] if match else reply, "batteries", Battery)
    return Bank(name, count, match is not None)


def panels(reply: str) -> Panels | None:
    """The panels of ``"rigid-170 x2"``, or None for none."""
    if reply.lower() in (NONE, "0"):
        return None
    return Panels(*_some(reply, "panels", PanelGroup))


def _some(reply: str, section: str, part: type[Battery] | type[PanelGroup]) -> tuple[str, int]:
    word, count = counted(reply)
    name = pick(word, shelf.names(section))
    most = bounds(part, "count")[1]
    if count is not None and not 1 <= count <= most:
        raise Refused(f"give 1 to {most:.0f} of {name}")
    return name, count or 1


def controller_amps(answers: Answers) -> int:
    """A controller that does not clip the panels at the bank's voltage. [A]"""
    chosen: Panels | None = answers["panels"]
    if chosen is None:
        return 0
    wanted = chosen.watts / answers["battery"].values["charging_v"]
    return next((size for size in CONTROLLER_AMPS if size >= wanted), CONTROLLER_AMPS[-1])


def charger_amps(answers: Answers) -> int:
    """What a charger may give beside the sun, so that the bank takes both. [A]"""
    chosen: Bank = answers["battery"]
    takes = chosen.count * chosen.values["capacity_ah"] * chosen.values["max_charge_c"]
    room = takes - controller_amps(answers)
    return next((size for size in _CHARGER_AMPS if size <= room), _CHARGER_AMPS[-1])
