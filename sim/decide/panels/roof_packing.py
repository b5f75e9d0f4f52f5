"""How many panels lie on a roof between its fans, vents and racks: pure geometry.

x runs from the front edge of the roof to the rear, y from its left edge (looking ahead) to the
right, both in metres. Panels lie lengthwise or across, side by side with a gap, clear of the
edges, the obstacles and the walkway.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Literal

import numpy as np

from sim.arrays import Floats

# Rounding of sums of sizes; a tenth of a hair.
EXACT_M = 1e-6
# More places than this are thinned out, so that tiny panels on a large roof stay quick.
_MOST_PLACES = 2500
# Places times panels up to which a layout is shaken for a better one: some tenths of a second.
_MOST_SHAKEN = 4000

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


def lay_out(space: Space, length_m: float, width_m: float, *, name: str = "Panel") -> Layout:
    """Lay as many equal panels on a roof as are found to fit.

    Parameters
    ----------
    space : Space
    length_m, width_m : float
        Of one panel, frame included. [m]
    name : str
        Of the panels, numbered in the layout.

    Returns
    -------
    Layout
        The same for the same roof, always. A packing of rectangles has no quick exact answer:
        several greedy layouts are shaken and improved by taking one panel up where two then
        fit, and never hold fewer than plain rows do on an empty roof.
    """
    sides: tuple[Side, ...] = ("left", "right")
    if space.walkway_m <= 0.0:
        sides = ("left",)
    elif space.walkway_side != "best":
        sides = (space.walkway_side,)
    best: Layout | None = None
    for side in sides:
        found = _best_places(space, space.room(side), length_m, width_m)
        if best is None or len(found) > best.count:
            best = Layout(space, found, space.walkway(side))
    assert best is not None
    named = [replace(panel, name=f"{name} {i}") for i, panel in enumerate(best.panels, 1)]
    return replace(best, panels=tuple(named))


def _best_places(space: Space, room: Rect, length_m: float, width_m: float) -> tuple[Rect, ...]:
    places = _places(space, room, length_m, width_m)
    if not len(places):
        return ()
    meets = _conflicts(places, space.gap_m)
    everything = (1 << len(meets)) - 1
    lengthwise = sum(1 << i for i in np.flatnonzero(places[:, 2] == length_m).tolist())
    starts = [
        _fewest_lost(meets, everything),
        *(
            _in_order(meets, order, lengthwise if first else everything & ~lengthwise)
            for order, first in product(_orders(places), (True, False))
        ),
    ]
    improved = [_improved(meets, start) for start in starts]
    best = max(improved, key=len)
    if len(best) < int(_area(space, room) / (length_m * width_m) + EXACT_M):
        # The plain layout stays where shaking finds none with more panels.
        best = max(best, *(_shaken(meets, start) for start in improved), key=len)
    chosen = sorted(best, key=lambda i: (places[i, 0], places[i, 1]))
    return tuple(Rect(x, y, long, wide) for x, y, long, wide in places[chosen].tolist())


def _places(space: Space, room: Rect, length_m: float, width_m: float) -> Floats:
    """Where one panel may lie: rows of x, y, length, width.

    A layout can be pushed to the front left until every panel touches the edge, an obstacle or
    another panel; so only sums of sizes behind edges and obstacles need be tried.
    """
    kept = [item.grown(space.clear_m) for item in space.obstacles]
    starts_x = [room.x_m, *(item.far_x_m for item in kept)]
    starts_y = [room.y_m, *(item.far_y_m for item in kept)]
    sizes = (length_m + space.gap_m, width_m + space.gap_m)
    rows = np.empty((0, 4))
    for is_mixed, from_obstacles in ((True, True), (False, True), (False, False)):
        count = None if from_obstacles else 1
        xs = _sums(starts_x[:count], sizes, room.far_x_m, is_mixed)
        ys = _sums(starts_y[:count], sizes, room.far_y_m, is_mixed)
        rows = _free(xs, ys, {(length_m, width_m), (width_m, length_m)}, room, kept)
        if len(rows) <= _MOST_PLACES:
            break
    return rows[:_MOST_PLACES]


def _sums(
    starts: Sequence[float], sizes: tuple[float, float], end: float, is_mixed: bool
) -> Floats:
    found = {
        round(start + i * sizes[0] + j * sizes[1], 9)
        for start in starts
        for i, j in _multiples(sizes, end - start)
        if is_mixed or i == 0 or j == 0
    }
    return np.array(sorted(found))


def _multiples(sizes: tuple[float, float], room: float) -> Iterator[tuple[int, int]]:
    for i in range(max(int(room / sizes[0]), 0) + 1):
        for j in range(max(int((room - i * sizes[0]) / sizes[1]), 0) + 1):
            yield i, j


def _free(
    xs: Floats,
    ys: Floats,
    shapes: set[tuple[float, float]],
    room: Rect,
    kept: Sequence[Rect],
) -> Floats:
    parts = []
    for long, wide in sorted(shapes, reverse=True):
        x, y = (axis.ravel() for axis in np.meshgrid(xs, ys, indexing="ij"))
        free = (x >= room.x_m - EXACT_M) & (x + long <= room.far_x_m + EXACT_M)
        free &= (y >= room.y_m - EXACT_M) & (y + wide <= room.far_y_m + EXACT_M)
        for item in kept:
            beside = (x >= item.far_x_m - EXACT_M) | (x + long <= item.x_m + EXACT_M)
            free &= beside | (y >= item.far_y_m - EXACT_M) | (y + wide <= item.y_m + EXACT_M)
        x, y = x[free], y[free]
        parts.append(np.column_stack([x, y, np.full_like(x, long), np.full_like(x, wide)]))
    return np.concatenate(parts)


def _conflicts(places: Floats, gap_m: float) -> list[int]:
    """For each place, the places that cannot be used with it, itself included, as bits."""
    meets = np.ones((len(places), len(places)), dtype=bool)
    for at, size in ((0, 2), (1, 3)):
        start, end = places[:, at], places[:, at] + places[:, size] + gap_m
        meets &= start[:, None] < end[None, :] - EXACT_M
        meets &= start[None, :] < end[:, None] - EXACT_M
    packed = np.packbits(meets, axis=1, bitorder="little")
    return [int.from_bytes(row.tobytes(), "little") for row in packed]


def _orders(places: Floats) -> tuple[list[int], list[int]]:
    """Places from front to rear and from left to right."""
    x, y = places[:, 0], places[:, 1]
    return np.lexsort((y, x)).tolist(), np.lexsort((x, y)).tolist()


def _in_order(meets: list[int], order: Sequence[int], allowed: int) -> set[int]:
    """Take each place in its turn that is still free, the allowed ones first."""
    free = (1 << len(meets)) - 1
    chosen = set()
    for wanted in (allowed, free):
        for index in order:
            if free >> index & 1 and wanted >> index & 1:
                chosen.add(index)
                free &= ~meets[index]
    return chosen


def _fewest_lost(meets: list[int], free: int) -> set[int]:
    """Take the place that spoils the fewest others, again and again."""
    chosen = set()
    while free:
        index = min(_bits(free), key=lambda i: ((meets[i] & free).bit_count(), i))
        chosen.add(index)
        free &= ~meets[index]
    return chosen


def _improved(meets: list[int], chosen: set[int]) -> set[int]:
    """Take up one panel where two then fit, until there is no such panel."""
    while (better := _two_for_one(meets, chosen)) is not None:
        chosen = better
    return chosen


def _shaken(meets: list[int], chosen: set[int]) -> set[int]:
    """Force one place after another into a layout, fill up what that frees, and go on from
    there unless it is worse.

    An iterated local search for independent sets after D. V. Andrade, M. G. C. Resende,
    R. F. Werneck, Journal of Heuristics 18 (2012) 525-547, with a fixed order for chance.
    """
    if len(meets) * len(chosen) > _MOST_SHAKEN:
        return chosen
    for index in range(len(meets)):
        if index in chosen:
            continue
        tried = {i for i in chosen if not meets[index] >> i & 1} | {index}
        free = (1 << len(meets)) - 1
        for taken in tried:
            free &= ~meets[taken]
        tried |= _fewest_lost(meets, free)
        tried = _improved(meets, tried)
        if len(tried) >= len(chosen):
            chosen = tried
    return chosen


def _area(space: Space, room: Rect) -> float:
    """What obstacles leave of the room, as if each stood alone. [m2]"""
    whole = room.length_m * room.width_m
    taken = sum(
        max(min(item.far_x_m, room.far_x_m) - max(item.x_m, room.x_m), 0.0)
        * max(min(item.far_y_m, room.far_y_m) - max(item.y_m, room.y_m), 0.0)
        for item in space.obstacles
    )
    return max(whole - taken, 0.0)


def _two_for_one(meets: list[int], chosen: set[int]) -> set[int] | None:
    for taken in sorted(chosen):
        rest = chosen - {taken}
        free = (1 << len(meets)) - 1
        for index in rest:
            free &= ~meets[index]
        for index in _bits(free):
            other = free & ~meets[index]
            if other:
                return rest | {index, next(_bits(other))}
    return None


def _bits(value: int) -> Iterator[int]:
    """Positions of the bits that are set, lowest first."""
    while value:
        low = value & -value
        yield low.bit_length() - 1
        value ^= low
