"""What is taken for night is night."""

from __future__ import annotations

import numpy as np
import pytest

from sim.sky import sun as sky
from sim.sky.climate import hours
from sim.sky.climate.days import local_days
from sim.sky.daylight import may_be_light
from sim.sky.track import Track


def anywhere(count: int) -> Track:
    """Moments of sixty years all over the world."""
    rng = np.random.default_rng(6)
    start = np.sort(rng.integers(1_100_000_000, 3_000_000_000, count))
    latitude = np.degrees(np.arcsin(rng.uniform(-1.0, 1.0, count)))
    longitude = rng.uniform(-180.0, 540.0, count)
    return Track(start.astype("datetime64[s]"), 20, latitude, longitude, np.zeros(count))


def test_no_light_is_left_out() -> None:
    """With a degree to spare; and hardly more than the light is let through."""
    track = anywhere(40_000)
    zenith, light = sky.position(track).zenith, may_be_light(track)
    assert zenith[~light].min() > 91.0
    assert zenith[light].max() < 93.0


@pytest.mark.parametrize("latitude", [36.9, 69.6, 78.2, -33.9])
@pytest.mark.parametrize("month", ["01", "06", "11"])
def test_clear_days_are_those_of_the_whole_grid(
    monkeypatch: pytest.MonkeyPatch, latitude: float, month: str
) -> None:
    """Working out the night too changes nothing, in the polar night either."""
    steps = np.arange(72) * np.timedelta64(3600, "s")
    place = np.full(72, latitude), np.full(72, 18.9), np.full(72, 20.0)
    days = local_days(Track(np.datetime64(f"2027-{month}-20T00:00:00") + steps, 60, *place))
    start_hour = np.floor(days.pair_start_unix / 3600.0).astype(np.int64)
    found = hours.clear_days(days, start_hour)
    monkeypatch.setattr(hours, "may_be_light", lambda grid: np.ones(len(grid), dtype=np.bool_))
    for ours, whole in zip(found, hours.clear_days(days, start_hour), strict=True):
        assert np.array_equal(ours, whole)


def test_several_ways_see_the_sun_that_each_sees_alone() -> None:
    one = anywhere(50)
    other = Track(one.start_utc[:20], 60, one.latitude[:20], one.longitude[:20], np.full(20, 900.0))
    for track, sun in zip((one, other), sky.positions([one, other]), strict=True):
        alone = sky.position(track)
        for name in ("zenith", "apparent_zenith", "azimuth", "dni_extra"):
            assert np.array_equal(getattr(sun, name), getattr(alone, name))
