"""A roof, what is on it, and panels laid between: pure geometry.

x runs from the front edge of the roof to the rear, y from its left edge (looking ahead) to the
right, both in metres. Panels lie lengthwise or across, side by side with a gap, clear of the
edges, the obstacles and the walkway.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

# Rounding of sums of sizes; a tenth of a hair.
EXACT_M = 1e-6

Side = Literal["best", "left", "right"]


@dataclass(frozen=True)
class Rect:
    """A rectangle on the roof.

    Attributes
    ----------
    x_m, y_m : float
        Corner nearest to the front left. [m]
    length_m, width_m : float
        Along x and y. [m]
    name : str
    """

    x_m: float
    y_m: float
    length_m: float
    width_m: float
    name: str = ""

    @property
    def far_x_m(self) -> float:
        """Its rear end. [m]"""
        return self.x_m + self.length_m

    @property
    def far_y_m(self) -> float:
        """Its right side. [m]"""
        return self.y_m + self.width_m

    def grown(self, by_m: float) -> Rect:
        """With a margin all round."""
        return Rect(
            self.x_m - by_m,
            self.y_m - by_m,
            self.length_m + 2.0 * by_m,
            self.width_m + 2.0 * by_m,
            self.name,
        )

    def overlaps(self, other: Rect) -> bool:
        """Whether the two share more than an edge."""
        return (
            self.x_m < other.far_x_m - EXACT_M
            and other.x_m < self.far_x_m - EXACT_M
            and self.y_m < other.far_y_m - EXACT_M
            and other.y_m < self.far_y_m - EXACT_M
        )


@dataclass(frozen=True)
class Space:
    """A roof as numbers.

    Attributes
    ----------
    length_m, width_m : float
        The flat rectangle. [m]
    edge_m, gap_m, clear_m : float
        Clearance to the edges, between panels, around obstacles. [m]
    walkway_m : float
        Width of the strip that stays free along one side, from the edge; 0 without. [m]
    walkway_side : str
        "left", "right", or "best": the side that leaves room for more panels.
    obstacles : tuple of Rect
    """

    length_m: float
    width_m: float
    edge_m: float = 0.0
    gap_m: float = 0.0
    clear_m: float = 0.0
    walkway_m: float = 0.0
    walkway_side: Side = "best"
    obstacles: tuple[Rect, ...] = ()

    def walkway(self, side: Side) -> Rect | None:
        """The strip that stays free, None without one."""
        if self.walkway_m <= 0.0:
            return None
        at = 0.0 if side == "left" else self.width_m - self.walkway_m
        return Rect(0.0, at, self.length_m, self.walkway_m, "Walkway")

    def room(self, side: Side) -> Rect:
        """The rectangle in which panels may lie."""
        left = max(self.edge_m, self.walkway_m if side == "left" else 0.0)
        right = max(self.edge_m, self.walkway_m if side == "right" else 0.0)
        return Rect(
            self.edge_m,
            left,
            max(self.length_m - 2.0 * self.edge_m, 0.0),
            max(self.width_m - left - right, 0.0),
        )


@dataclass(frozen=True)
class Layout:
    """Panels on a roof.

    Attributes
    ----------
    space : Space
    panels : tuple of Rect
        From front to rear, then from left to right.
    walkway : Rect or None
    """

    space: Space
    panels: tuple[Rect, ...]
    walkway: Rect | None

    @property
    def count(self) -> int:
        """Number of panels."""
        return len(self.panels)

    def first(self, count: int) -> Layout:
        """The same with fewer panels, kept from the front."""
        return replace(self, panels=self.panels[:count])
