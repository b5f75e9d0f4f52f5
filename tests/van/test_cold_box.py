"""A cold box in the dark: it warms as one body does, and is pulled down as its compressor can."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.van.appliances import inside_hours

HOURS = 60
CABIN_C, INSIDE_C = 25.0, 5.0


def run(
    fed: np.ndarray, cabin_c: float = CABIN_C, watts: float = 15.0, step_hours: float = 1.0
) -> np.ndarray:
    """A box that needs 15 W to hold 5 deg C, with a compressor of 60 W."""
    shape = (len(fed), 1)
    return inside_hours(
        np.full(shape, cabin_c),
        fed[:, None],
        lambda cabin: np.full_like(cabin, watts),
        inside_c=INSIDE_C,
        holds_hours=14.0,
        max_watts=60.0,
        step_hours=step_hours,
    )[:, 0]


def dark(first: int, last: int, steps: int = HOURS) -> np.ndarray:
    fed = np.ones(steps)
    fed[first:last] = 0.0
    return fed


def test_fed_it_holds_its_setting() -> None:
    np.testing.assert_array_equal(run(np.ones(HOURS)), INSIDE_C)


def test_in_the_dark_it_nears_the_cabin_by_63_percent_in_its_time() -> None:
    inside = run(dark(0, HOURS))
    share = (inside[13] - INSIDE_C) / (CABIN_C - INSIDE_C)
    assert share == pytest.approx(1.0 - np.exp(-1.0))
    assert inside.max() < CABIN_C


def test_fed_again_it_is_pulled_down() -> None:
    inside = run(dark(10, 20))
    assert inside.argmax() == 19
    after = inside[19:]
    assert (np.diff(after) <= 0.0).all()
    assert after[-1] == pytest.approx(INSIDE_C)
    # Four times the power that holds it: it takes longer than a moment, less than it was dark.
    pulling = np.flatnonzero(after > INSIDE_C + 1e-9)
    assert 1 <= len(pulling) <= 10


def test_a_compressor_that_only_just_holds_is_slow_to_pull_down() -> None:
    strong, weak = run(dark(10, 20)), run(dark(10, 20), watts=55.0)
    assert weak[25] > strong[25] + 1.0


def test_half_fed_it_runs_twice_as_long_as_it_must() -> None:
    """A quarter of the time is what holds it; below that it warms."""
    np.testing.assert_allclose(run(np.full(HOURS, 0.25)), INSIDE_C, atol=1e-9)
    assert run(np.full(HOURS, 0.1))[-1] > INSIDE_C + 5.0


def test_a_cold_cabin_cools_it_without_a_compressor() -> None:
    inside = run(dark(0, HOURS), cabin_c=-5.0, watts=0.0)
    assert inside[-1] == pytest.approx(-5.0, abs=0.2)


@given(
    fed=st.lists(st.floats(0.0, 1.0), min_size=1, max_size=40),
    cabin_c=st.floats(-20.0, 45.0),
    watts=st.floats(0.0, 60.0),
)
def test_never_outside_what_is_about_it(fed: list[float], cabin_c: float, watts: float) -> None:
    inside = run(np.array(fed), cabin_c=cabin_c, watts=watts)
    assert inside.min() >= min(INSIDE_C, cabin_c) - 1e-9
    assert inside.max() <= max(INSIDE_C, cabin_c) + 1e-9


def test_short_steps_tell_the_same() -> None:
    hourly = run(dark(10, 20))
    quarter = run(dark(40, 80, 4 * HOURS), step_hours=0.25)
    assert quarter[79] == pytest.approx(hourly[19])
    # Pulled down: straight within a step, so that a step's length shows for a while.
    assert quarter[4 * 22 + 3] == pytest.approx(hourly[22], abs=1.0)
