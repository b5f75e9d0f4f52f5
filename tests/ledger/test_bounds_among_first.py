"""What a remedy must do where it is tried in fewer draws than the trip was simulated in."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from sim.job.model.job import Settings
from sim.ledger.answer import bounds_among_first
from sim.ledger.results import TripResult


def trip(first: int, rest: int) -> TripResult:
    """Of 200 draws so many hold, and of 800 more so many; the essentials always do."""
    holds = np.concatenate([np.arange(200) < first, np.arange(800) < rest])
    held: Any = SimpleNamespace(all_hold=holds, essentials_hold=np.ones(1000, dtype=bool))
    return cast(TripResult, SimpleNamespace(promise=held))


def test_a_change_must_gain_what_the_trip_lacks() -> None:
    """192 of the first 200 hold, and 940 of 1,000: what changes nothing is not enough."""
    ample, tight = bounds_among_first(trip(192, 748), Settings())
    assert ample == pytest.approx(0.95 + 0.96 - 0.94)
    assert tight == 0.95
    assert 192 / 200 < ample <= 194 / 200


def test_first_draws_that_are_worse_ask_for_less() -> None:
    ample, _ = bounds_among_first(trip(180, 760), Settings())
    assert ample == pytest.approx(0.95 - 0.04)


def test_no_more_than_all_can_be_asked_for() -> None:
    assert bounds_among_first(trip(200, 640), Settings())[0] == 1.0


def test_one_number_of_draws_has_the_bounds_of_the_job() -> None:
    settings = Settings(draws=1000, ample_share=0.9)
    assert bounds_among_first(trip(150, 500), settings) == (0.9, 0.95)
