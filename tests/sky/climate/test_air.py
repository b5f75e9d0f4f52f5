"""How far days stray from their month: most in the local winter, on either half of the world."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from sim.sky.climate.air import _spell_spread
from sim.sky.climate.corrections import Doubt
from sim.sky.climate.days import LocalDays
from sim.sky.climate.tables import PointClimate


def spread_on(latitude: float, *dates: dt.date) -> np.ndarray:
    """Of a place whose warmest month is 20 K warmer than its coldest, nothing measured."""
    clock = np.array([(date - dt.date(1970, 1, 1)).days + 0.5 for date in dates])
    rows = np.zeros(len(dates), dtype=np.int64)
    place = np.array([latitude])
    days = LocalDays(rows, rows, clock, place, place, place, rows, rows)
    months = np.linspace(0.0, 20.0, 12)[None]
    one = np.ones((1, 12))
    doubt = Doubt(0.0 * one, 0.0 * one)
    climate = PointClimate(np.zeros(11), np.zeros((1, 12, 11)), months, one, doubt, np.zeros(1))
    return _spell_spread(days, climate)


def test_days_stray_most_in_the_local_winter() -> None:
    january, july = dt.date(2027, 1, 15), dt.date(2027, 7, 16)
    # 1.11 (0.7 + 20 (0.138 +- 0.058)): the fit, at the middle of winter and of summer.
    winter, summer = 1.11 * (0.7 + 20.0 * 0.196), 1.11 * (0.7 + 20.0 * 0.080)
    assert spread_on(40.0, january, july) == pytest.approx([winter, summer], rel=1e-3)
    assert spread_on(-40.0, january, july) == pytest.approx([summer, winter], rel=1e-3)
    # Half way between there is no season.
    assert spread_on(40.0, dt.date(2027, 4, 16)) == pytest.approx(1.11 * (0.7 + 2.76), rel=0.01)
