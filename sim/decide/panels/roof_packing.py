"""How many equal panels lie on a roof at most, and where.

Where a panel may lie is a list of places; which of them are used is a set packing, solved as an
integer programme. Plain rows are tried first: they look tidy, and are often the answer.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import product

import numpy as np

from sim.arrays import Bools, Floats, Ints
from sim.decide.panels.roof_space import EXACT_M, Layout, Rect, Side, Space

# More places than this are thinned out, so that tiny panels on a large roof stay quick.
_MOST_PLACES = 2500
# Up to so many places are searched for more panels than plain rows hold: some tenths of a second.
_MOST_SEARCHED = 1200
# Where the search ends, whatever it has found by then: by its own count of steps, so that it ends
# alike on any machine; the seconds only guard against a machine that hangs.
_MOST_NODES, _MOST_SECONDS = 500, 20.0


def lay_out(space: Space, length_m: float, width_m: float, *, name: str = "Panel") -> Layout:
    """Lay as many equal panels on a roof as fit.

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
        The same for the same roof, always.
    """
    sides: tuple[Side, ...] = ("left", "right")
    if space.walkway_m <= 0.0:
        sides = ("left",)
    elif space.walkway_side != "best":
        sides = (space.walkway_side,)
    best: Layout | None = None
    for side in sides:
        found = _most_places(space, space.room(side), length_m, width_m)
        if best is None or len(found) > best.count:
            best = Layout(space, found, space.walkway(side))
    assert best is not None
    named = [replace(panel, name=f"{name} {i}") for i, panel in enumerate(best.panels, 1)]
    return replace(best, panels=tuple(named))


def _most_places(space: Space, room: Rect, length_m: float, width_m: float) -> tuple[Rect, ...]:
    places = _places(space, room, length_m, width_m)
    if not len(places):
        return ()
    covers = _covers(places, space.gap_m)
    rows = [
        _in_order(places, space.gap_m, order, places[:, 2] == first)
        for order, first in product(_orders(places), (width_m, length_m))
    ]
    best = max(rows, key=len)
    bound = _bound(space, room, length_m, width_m)
    if len(best) < bound and len(places) <= _MOST_SEARCHED:
        best = max(best, _searched(covers, bound), key=len)
    chosen = places[best]
    chosen = chosen[np.lexsort((chosen[:, 1], chosen[:, 0]))]
    return tuple(Rect(x, y, long, wide) for x, y, long, wide in chosen.tolist())


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


def _orders(places: Floats) -> tuple[Ints, Ints]:
    """Places from front to rear and from left to right."""
    x, y = places[:, 0], places[:, 1]
    return np.lexsort((y, x)), np.lexsort((x, y))


def _in_order(places: Floats, gap_m: float, order: Ints, preferred: Bools) -> list[int]:
    """Take each place in its turn that is still free, those of the preferred way round first."""
    free = np.ones(len(places), dtype=bool)
    chosen = []
    for wanted in (preferred, free):
        for index in order.tolist():
            if free[index] and wanted[index]:
                chosen.append(index)
                free &= ~_meets(places, index, gap_m)
    return chosen


def _meets(places: Floats, index: int, gap_m: float) -> Bools:
    """Which places cannot be used together with one, itself included."""
    meets = np.ones(len(places), dtype=bool)
    for at, size in ((0, 2), (1, 3)):
        start, end = places[:, at], places[:, at] + places[:, size] + gap_m
        meets &= (start[index] < end - EXACT_M) & (start < end[index] - EXACT_M)
    return meets


def _covers(places: Floats, gap_m: float) -> Bools:
    """Which places cover each point at which one may begin, with their gap. shape (points, N)

    Two that overlap both cover the point where the later one begins along x and the later one
    along y, so at most one place over each point says all.
    """
    spans = []
    for at, size in ((0, 2), (1, 3)):
        begins = np.unique(places[:, at])
        end = places[:, at] + places[:, size] + gap_m - EXACT_M
        spans.append((begins[:, None] > places[:, at] - EXACT_M) & (begins[:, None] < end))
    points = (spans[0][:, None, :] & spans[1][None, :, :]).reshape(-1, len(places))
    points = points[points.sum(axis=1) > 1]
    packed = np.unique(np.packbits(points, axis=1), axis=0)
    return np.unpackbits(packed, axis=1, count=len(places)).astype(bool)


def _searched(covers: Bools, bound: int) -> list[int]:
    """The largest set of places of which no two cover one point, by integer programming."""
    # Imported here: it takes a quarter of a second, and most commands need no roof.
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_array

    count = covers.shape[1]
    rules = np.vstack([covers, np.ones((1, count))])
    limits = np.append(np.ones(len(covers)), bound)
    found = milp(
        -np.ones(count),
        integrality=np.ones(count),
        bounds=Bounds(0.0, 1.0),
        constraints=LinearConstraint(csr_array(rules), -np.inf, limits),
        options={"node_limit": _MOST_NODES, "time_limit": _MOST_SECONDS, "mip_rel_gap": 0.0},
    )
    return [] if found.x is None else np.flatnonzero(found.x > 0.5).tolist()


def _bound(space: Space, room: Rect, length_m: float, width_m: float) -> int:
    """So many panels at most: by area, with the gap beside each."""
    gap = space.gap_m
    each = (length_m + gap) * (width_m + gap)
    whole = (room.length_m + gap) * (room.width_m + gap)
    free = _free_area(space, room) / (length_m * width_m)
    return min(int(whole / each + EXACT_M), int(free + EXACT_M))


def _free_area(space: Space, room: Rect) -> float:
    """What obstacles leave of the room. [m2]"""
    if room.length_m <= 0.0 or room.width_m <= 0.0:
        return 0.0
    spans = [(item.x_m, item.far_x_m, item.y_m, item.far_y_m) for item in space.obstacles]
    edges = np.array(spans).reshape(-1, 4)
    xs = np.unique(np.clip([room.x_m, room.far_x_m, *edges[:, :2].ravel()], room.x_m, room.far_x_m))
    ys = np.unique(np.clip([room.y_m, room.far_y_m, *edges[:, 2:].ravel()], room.y_m, room.far_y_m))
    x, y = (xs[1:] + xs[:-1]) / 2.0, (ys[1:] + ys[:-1]) / 2.0
    over_x = (x > edges[:, :1]) & (x < edges[:, 1:2])
    over_y = (y > edges[:, 2:3]) & (y < edges[:, 3:])
    is_taken = (over_x[:, :, None] & over_y[:, None, :]).any(axis=0)
    return float((np.diff(xs)[:, None] * np.diff(ys) * ~is_taken).sum())
