"""Roof layouts against counts that can be seen by eye, and against trying everything."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from sim.decide.panels.roof_packing import lay_out
from sim.decide.panels.roof_space import Rect, Space

# length, width, panel, count: two pinwheels, rows with a turned column, nothing, one exactly.
BY_EYE = (
    (4.3, 1.8, (1.48, 0.67), 6),
    (5.0, 5.0, (3.0, 2.0), 4),
    (7.0, 7.0, (4.0, 3.0), 4),
    (3.0, 3.0, (2.0, 1.0), 4),
    (11.0, 7.0, (4.0, 3.0), 6),
    (1.0, 0.5, (1.48, 0.67), 0),
    (0.67, 1.48, (1.48, 0.67), 1),
    (2.0, 2.0, (1.0, 1.0), 4),
)


@pytest.mark.parametrize(("length", "width", "panel", "count"), BY_EYE)
def test_counts_that_can_be_seen(
    length: float, width: float, panel: tuple[float, float], count: int
) -> None:
    assert lay_out(Space(length, width), *panel).count == count


def test_both_orientations_and_their_mixture() -> None:
    across = lay_out(Space(1.4, 1.5), 1.48, 0.67)
    assert [(p.length_m, p.width_m) for p in across.panels] == [(0.67, 1.48)] * 2
    mixed = lay_out(Space(5.0, 5.0), 3.0, 2.0)
    assert {p.length_m for p in mixed.panels} == {2.0, 3.0}


def test_a_fan_in_the_middle_splits_the_roof() -> None:
    fan = Rect(1.8, 0.6, 0.4, 0.4, "Fan")
    free = lay_out(Space(4.0, 1.6, edge_m=0.02, gap_m=0.02), 1.5, 0.65)
    split = lay_out(Space(4.0, 1.6, 0.02, 0.02, 0.05, obstacles=(fan,)), 1.5, 0.65)
    assert free.count == 5
    # Two across before the fan (1.73 m), two behind it (1.73 m), none beside it (0.55 m).
    assert split.count == 4


def test_clearances_count() -> None:
    """Three panels of 1 m need 3 m, with edges and gaps 3 + 2 x 0.05 + 2 x 0.1 = 3.3 m."""
    wide = Space(3.3, 1.1, edge_m=0.05, gap_m=0.1)
    assert lay_out(wide, 1.0, 1.0).count == 3
    assert lay_out(Space(3.299, 1.1, edge_m=0.05, gap_m=0.1), 1.0, 1.0).count == 2


def test_the_walkway_takes_the_better_side() -> None:
    rack = Rect(0.0, 1.3, 4.0, 0.3, "Rack")
    best = lay_out(Space(4.0, 1.6, walkway_m=0.4, obstacles=(rack,)), 1.0, 1.0)
    left = lay_out(Space(4.0, 1.6, walkway_m=0.4, walkway_side="left", obstacles=(rack,)), 1.0, 1.0)
    assert best.count == 4
    assert best.walkway is not None
    # On the right the rack stands anyway: the walkway costs nothing there.
    assert best.walkway.y_m == pytest.approx(1.2)
    assert left.count == 0


def test_more_than_rows_between_obstacles() -> None:
    """Three plain ways of laying rows and columns hold fewer than the search finds; its layout is
    the same each time and no two panels overlap."""
    fans = Rect(1.0, 1.0, 1.0, 1.0), Rect(4.0, 2.0, 1.0, 1.0)
    found = lay_out(Space(6.0, 4.0, obstacles=fans), 2.0, 1.0)
    # Of 22 square metres all but two: black and white fields of a chessboard do not match.
    assert found.count == _most_on_a_chessboard(6, 4, {(1, 1), (4, 2)})
    assert not any(a.overlaps(b) for a, b in combinations(found.panels, 2))
    assert found == lay_out(Space(6.0, 4.0, obstacles=fans), 2.0, 1.0)


def _most_on_a_chessboard(long: int, wide: int, taken: set[tuple[int, int]]) -> int:
    """Dominoes on a board: a matching between its black and its white fields, by augmenting paths
    (C. Berge, 1957)."""
    fields = {(x, y) for x in range(long) for y in range(wide)} - taken
    partner: dict[tuple[int, int], tuple[int, int]] = {}

    def finds(black: tuple[int, int], seen: set[tuple[int, int]]) -> bool:
        x, y = black
        for white in {(x + 1, y), (x - 1, y), (x, y + 1), (x, y - 1)} & fields - seen:
            seen.add(white)
            if white not in partner or finds(partner[white], seen):
                partner[white] = black
                return True
        return False

    return sum(finds(field, set()) for field in sorted(fields) if sum(field) % 2 == 0)


@pytest.mark.parametrize("seed", range(12))
def test_dominoes_on_boards_with_holes(seed: int) -> None:
    """Panels of two fields on a board with some fields taken: as many as a matching has."""
    rng = np.random.default_rng(seed)
    taken = {(int(rng.integers(6)), int(rng.integers(4))) for _ in range(seed % 6 + 1)}
    space = Space(6.0, 4.0, obstacles=tuple(Rect(x, y, 1.0, 1.0) for x, y in sorted(taken)))
    assert lay_out(space, 2.0, 1.0).count == _most_on_a_chessboard(6, 4, taken)


def test_many_small_panels_are_quick_and_full() -> None:
    assert lay_out(Space(6.0, 2.0), 0.3, 0.2).count == 200


def _most_by_trying(space: Space, long: float, wide: float) -> int:
    """The largest number of panels on a lattice of places, by trying all sets of them."""
    step = 0.5
    places = [
        Rect(i * step, j * step, a, b)
        for a, b in {(long, wide), (wide, long)}
        for i in range(int((space.length_m - a) / step + 1e-9) + 1)
        for j in range(int((space.width_m - b) / step + 1e-9) + 1)
    ]
    places = [p for p in places if not any(p.overlaps(item) for item in space.obstacles)]
    for count in range(int(space.length_m * space.width_m / (long * wide)), 0, -1):
        for chosen in combinations(places, count):
            if not any(a.overlaps(b) for a, b in combinations(chosen, 2)):
                return count
    return 0


@pytest.mark.parametrize(
    "space",
    [
        Space(3.0, 2.0),
        Space(2.5, 2.5, obstacles=(Rect(1.0, 1.0, 0.5, 0.5),)),
        Space(2.5, 2.0, obstacles=(Rect(0.5, 0.5, 0.5, 0.5),)),
        Space(3.0, 1.5, obstacles=(Rect(0.0, 0.0, 0.5, 0.5), Rect(2.5, 1.0, 0.5, 0.5))),
    ],
)
def test_as_many_as_trying_every_layout_finds(space: Space) -> None:
    assert lay_out(space, 1.5, 0.5).count == _most_by_trying(space, 1.5, 0.5)
