"""What the charts of sections share: axes, layout, the kinds of line."""

from __future__ import annotations

from typing import Any

from sim.report.palette import FONT, LIGHT

# Colour, dash and symbol of the first lines of a chart: told apart without colour too.
LINES = (
    (LIGHT.charge, "solid", "circle"),
    (LIGHT.plug, "dash", "square"),
    (LIGHT.drive, "dot", "diamond"),
    (LIGHT.typical, "dashdot", "triangle-up"),
    (LIGHT.sun_edge, "longdash", "x"),
)

AXIS: dict[str, Any] = {
    "zeroline": False,
    "showgrid": False,
    "fixedrange": True,
    "tickfont": {"color": LIGHT.muted, "size": 12},
    "title_font": {"color": LIGHT.muted, "size": 12},
    "title_standoff": 6,
}


def frame(height: int, *, legend: bool = False) -> dict[str, Any]:
    """Layout of a chart in a section: paper, ink, no tools; a legend above it if asked."""
    return {
        "template": "none",
        "height": height,
        "margin": {"l": 48, "r": 8, "t": 34 if legend else 10, "b": 28, "pad": 0},
        "paper_bgcolor": LIGHT.clear,
        "plot_bgcolor": LIGHT.clear,
        "font": {"family": FONT, "size": 12, "color": LIGHT.ink},
        "showlegend": legend,
        "legend": {"orientation": "h", "x": 0, "y": 1.02, "yanchor": "bottom"},
        "hovermode": "closest",
        "dragmode": False,
    }
