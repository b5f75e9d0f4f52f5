"""Colours and type of the report: ink on ledger paper, and the same by night.

Each colour means one thing. Text has a contrast of 4.5:1, marks 3:1 against what they stand on;
what differs by colour differs by lightness or pattern too.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

FONT = 'Candara, Optima, "Gill Sans", "Gill Sans MT", "Segoe UI", "Noto Sans", sans-serif'


@dataclass(frozen=True)
class Palette:
    """Colours of the charts, each used for one thing. Contrast is that of text where it is text."""

    paper: str
    ink: str
    muted: str
    rule: str
    night: str
    band: str
    charge: str
    bad: str
    floor: str
    sun: str
    sun_edge: str
    drive: str
    plug: str
    other: str
    clear: str = "rgba(0,0,0,0)"


LIGHT = Palette(
    paper="#fbfaf5",
    ink="#20242e",
    muted="#585d69",
    rule="#d8d2c4",
    night="#e3e3ea",
    band="rgba(62,98,150,0.28)",
    charge="#1c3d6e",
    bad="#7a4a12",
    floor="#9c2f1f",
    sun="#e2a31c",
    sun_edge="#9a6a06",
    drive="#2a6b70",
    plug="#87395c",
    other="#5b6a2c",
)
DARK = Palette(
    paper="#141821",
    ink="#ece7da",
    muted="#a9adb8",
    rule="#39404f",
    night="#0a0d14",
    band="rgba(126,164,222,0.30)",
    charge="#a8c6f5",
    bad="#e3b27a",
    floor="#f3937f",
    sun="#e8ae33",
    sun_edge="#f5cd76",
    drive="#479a9c",
    plug="#dc8fb0",
    other="#a8ba6e",
)


def recolouring() -> dict[str, str]:
    """Colour of paper to colour of a dark screen."""
    return {getattr(LIGHT, f.name): getattr(DARK, f.name) for f in fields(Palette)}


@dataclass(frozen=True)
class Look:
    """How a bar is filled: colour, edge and hatching, which tell it apart in grey print too."""

    color: str
    edge: str
    hatch: str = ""


_SOURCES = {
    "sun": Look(LIGHT.sun, LIGHT.sun_edge),
    "drive": Look(LIGHT.drive, LIGHT.drive, "/"),
    "shore": Look(LIGHT.plug, LIGHT.plug, "x"),
}
LEFT_OVER = Look(LIGHT.clear, LIGHT.sun_edge)


def source_look(kind: str) -> Look:
    """How the bars of a kind of source are filled; of one without a colour of its own, like all
    such."""
    return _SOURCES.get(kind, Look(LIGHT.other, LIGHT.other, "\\"))


AXIS: dict[str, Any] = {
    "zeroline": False,
    "showgrid": False,
    "fixedrange": True,
    "tickfont": {"color": LIGHT.muted, "size": 12},
    "title_font": {"color": LIGHT.muted, "size": 12},
    "title_standoff": 6,
}


def frame(height: int) -> dict[str, Any]:
    """Layout of a chart in a section: paper and ink, no tools, no legend."""
    return {
        "template": "none",
        "height": height,
        "margin": {"l": 48, "r": 8, "t": 10, "b": 28, "pad": 0},
        "paper_bgcolor": LIGHT.clear,
        "plot_bgcolor": LIGHT.clear,
        "font": {"family": FONT, "size": 12, "color": LIGHT.ink},
        "showlegend": False,
        "hovermode": False,
        "dragmode": False,
    }
