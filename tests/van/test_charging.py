"""Devices charge when it suits; what found no time waits, and then is missed."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.van.appliances import Charged, charging

DAY = np.repeat(np.arange(3), 24)


def charge(when: list[list[int]], wanted: list[float], watts: float = 100.0) -> Charged:
    """Hours of each of three days in which it may charge, and what each day wants."""
    may = np.zeros(72)
    for number, hours in enumerate(when):
        may[[24 * number + hour for hour in hours]] = 1.0
    return charging(may, np.array(wanted), DAY, watts=watts, step_hours=1.0)


def by_day(made: Charged, watts: float = 100.0) -> list[float]:
    return (made.share.reshape(3, 24).sum(axis=1) * watts).tolist()


def test_a_days_energy_in_the_time_there_is_evenly() -> None:
    made = charge([[10, 11, 12, 13]] * 3, [200.0, 100.0, 0.0])
    assert by_day(made) == [200.0, 100.0, 0.0]
    np.testing.assert_allclose(made.share[10:14], 0.5)
    assert made.share[:10].sum() == 0.0
    assert made.missed_wh == 0.0


def test_what_found_no_time_waits_for_the_next_day() -> None:
    made = charge([[], [9, 10, 11], [9, 10, 11]], [150.0, 150.0, 150.0])
    assert by_day(made) == [0.0, 300.0, 150.0]
    assert made.missed_wh == 0.0


def test_a_battery_waits_for_no_more_than_a_day() -> None:
    """Two days without time: the second finds the battery empty already."""
    made = charge([[], [], list(range(24))], [150.0] * 3)
    assert by_day(made) == pytest.approx([0.0, 0.0, 300.0])
    assert made.missed_wh == pytest.approx(150.0)


def test_what_waits_at_the_end_is_missed() -> None:
    made = charge([[12], [12], []], [100.0] * 3)
    assert by_day(made) == [100.0, 100.0, 0.0]
    assert made.missed_wh == 100.0


def test_a_charger_gives_no_more_than_its_watts() -> None:
    made = charge([[12], [12], [12]], [300.0] * 3)
    assert made.share.max() == 1.0
    assert by_day(made) == [100.0] * 3
    assert made.missed_wh == 600.0


def test_a_day_on_which_nothing_is_used_keeps_what_waits() -> None:
    made = charge([[], [], [9, 10]], [150.0, 0.0, 0.0])
    assert by_day(made) == pytest.approx([0.0, 0.0, 150.0])
    assert made.missed_wh == 0.0


@given(
    may=st.lists(st.floats(0.0, 1.0), min_size=72, max_size=72),
    wanted=st.lists(st.floats(0.0, 2000.0), min_size=3, max_size=3),
    watts=st.floats(0.0, 300.0),
)
def test_energy_closes(may: list[float], wanted: list[float], watts: float) -> None:
    when = np.array(may)
    made = charging(when, np.array(wanted), DAY, watts=watts, step_hours=1.0)
    assert made.share.sum() * watts + made.missed_wh == pytest.approx(sum(wanted), abs=1e-6)
    assert (made.share <= when + 1e-12).all()
    assert made.missed_wh >= -1e-9
