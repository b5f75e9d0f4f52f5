"""What was wanted and not given, summed over the steps, of draws side by side."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest

from sim.ledger.lacking import Lacking

INF = np.inf


def lacking_by_hand() -> tuple[np.ndarray, Lacking]:
    """Four steps of half an hour, four draws."""
    unserved_w = np.zeros((3, 4, 4))
    unserved_w[2, 1, 1] = 10.0  # an extra, in the second step
    unserved_w[1, 1:3, 1] = 20.0  # a comfort, in the second step and the third
    unserved_w[0, 2, 2] = 40.0  # an essential, and later a comfort
    unserved_w[1, 3, 2] = 80.0
    unserved_w[0, 0, 3] = 1e-9  # a rounding
    return unserved_w, Lacking(
        dark_hours=np.array([0.0, 2.0, 1.0, 0.0]),
        dark_hours_of_groups=np.array([[0.0, 0, 1, 0], [0, 2, 1, 0], [0, 1, 0, 0]]),
        first_step=np.array([0, 1, 2, 0]),
        first_group=np.array([0, 2, 0, 0]),
        first_h=np.array([[INF, INF, 1.0, INF], [INF, 0.5, 1.5, INF]]),
        missed_wh=np.array([[0.0, 0, 20, 0.5e-9], [0.0, 25, 40, 0]]),
    )


def assert_equal(one: Lacking, other: Lacking) -> None:
    """What goes dark first says nothing of a draw in which nothing does."""
    dark = other.dark_hours > 0.0
    for name in (field.name for field in fields(Lacking)):
        mine, theirs = getattr(one, name), getattr(other, name)
        if name.startswith("first_") and name != "first_h":
            mine, theirs = mine[dark], theirs[dark]
        np.testing.assert_array_equal(mine, theirs, err_msg=name)


def test_by_hand() -> None:
    unserved_w, expected = lacking_by_hand()
    assert_equal(Lacking.of(unserved_w, 30), expected)
    assert_equal(Lacking.of(unserved_w[:, :, 1:], 30), expected.of_lanes(slice(1, 4)))
    lit = Lacking.of(unserved_w[:, :, :1], 30)
    assert_equal(lit, expected.of_lanes(slice(0, 1)))


@pytest.mark.parametrize("dark", [0, 1, 2, 30])
def test_a_draw_does_not_depend_on_what_lies_beside_it(dark: int) -> None:
    """Whatever else is dark: none of thirty draws, one, two or all of them."""
    rng = np.random.default_rng(dark)
    unserved_w = np.zeros((3, 500, 30))
    unserved_w[:, :, :dark] = rng.random((3, 500, dark)) * (rng.random((3, 500, dark)) > 0.5)
    together = Lacking.of(unserved_w, 15)
    assert together.dark_hours.astype(bool).sum() == dark
    for draw in range(30):
        own = slice(draw, draw + 1)
        assert_equal(Lacking.of(unserved_w[:, :, own], 15), together.of_lanes(own))
