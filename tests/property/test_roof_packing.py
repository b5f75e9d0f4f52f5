"""Roof layouts: whatever the roof, nothing overlaps, hangs over or comes too close."""

from __future__ import annotations

from itertools import combinations

from hypothesis import given
from hypothesis import strategies as st

from sim.decide.panels.roof_packing import lay_out
from sim.decide.panels.roof_space import EXACT_M, Layout, Rect, Space

LENGTHS = st.floats(0.3, 6.0).map(lambda value: round(value, 3))
WIDTHS = st.floats(0.3, 2.2).map(lambda value: round(value, 3))
SIZES = st.floats(0.25, 1.8).map(lambda value: round(value, 3))
CLEARANCES = st.sampled_from([0.0, 0.01, 0.05, 0.2])


@st.composite
def spaces(draw: st.DrawFn) -> Space:
    length, width = draw(LENGTHS), draw(WIDTHS)
    obstacles = []
    for number in range(draw(st.integers(0, 4))):
        x, y = draw(st.floats(0.0, 0.9)) * length, draw(st.floats(0.0, 0.9)) * width
        long, wide = (
            draw(st.floats(0.02, 1.0)) * (length - x),
            draw(st.floats(0.02, 1.0)) * (width - y),
        )
        obstacles.append(Rect(x, y, long, wide, f"Fan {number}"))
    return Space(
        length_m=length,
        width_m=width,
        edge_m=draw(CLEARANCES),
        gap_m=draw(CLEARANCES),
        clear_m=draw(CLEARANCES),
        walkway_m=draw(st.sampled_from([0.0, 0.0, 0.25, 0.5])),
        walkway_side=draw(st.sampled_from(["best", "left", "right"])),
        obstacles=tuple(obstacles),
    )


def assert_sound(layout: Layout, size: tuple[float, float]) -> None:
    space = layout.space
    for panel in layout.panels:
        assert {panel.length_m, panel.width_m} == set(size)
        assert panel.x_m >= space.edge_m - EXACT_M
        assert panel.y_m >= space.edge_m - EXACT_M
        assert panel.far_x_m <= space.length_m - space.edge_m + EXACT_M
        assert panel.far_y_m <= space.width_m - space.edge_m + EXACT_M
        for item in space.obstacles:
            assert not panel.overlaps(item.grown(space.clear_m - EXACT_M))
        if layout.walkway is not None:
            assert not panel.overlaps(layout.walkway)
    for one, other in combinations(layout.panels, 2):
        assert not one.overlaps(other.grown(space.gap_m - EXACT_M))


@given(spaces(), SIZES, SIZES)
def test_layouts_never_overlap_hang_over_or_touch(space: Space, long: float, wide: float) -> None:
    layout = lay_out(space, long, wide)
    assert_sound(layout, (long, wide))
    assert layout == lay_out(space, long, wide)
    # There is no more area than there is.
    assert layout.count * long * wide <= space.length_m * space.width_m + 1e-6


@given(LENGTHS, WIDTHS, SIZES, SIZES)
def test_never_fewer_than_plain_rows(length: float, width: float, long: float, wide: float) -> None:
    rows = max(
        int((length + EXACT_M / 2) / a) * int((width + EXACT_M / 2) / b)
        for a, b in ((long, wide), (wide, long))
    )
    assert lay_out(Space(length, width), long, wide).count >= rows


@given(spaces(), SIZES, SIZES)
def test_fewer_panels_of_a_layout_are_a_layout(space: Space, long: float, wide: float) -> None:
    layout = lay_out(space, long, wide)
    for count in range(layout.count):
        fewer = layout.first(count)
        assert fewer.count == count
        assert_sound(fewer, (long, wide))
