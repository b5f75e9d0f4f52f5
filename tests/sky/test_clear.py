"""The clear weather is the clear sky, in every step."""

from __future__ import annotations

import numpy as np

from sim.sky.clear import clear_weather
from sim.sky.sun import clear_sky, position
from sim.sky.track import Track


def test_one_draw_of_clear_sky_with_the_callers_air() -> None:
    start = np.datetime64("2025-07-01T07:00", "s") + np.timedelta64(1800, "s") * np.arange(96)
    here = np.ones(96)
    track = Track(start, 30, 38.57 * here, -109.55 * here, 1227.0 * here)
    sun = position(track)
    air = np.linspace(10.0, 30.0, 96)
    weather = clear_weather(track, sun, air)
    assert weather.draws == 1
    for part, model in zip(
        (weather.ghi, weather.dni, weather.dhi), clear_sky(track, sun), strict=True
    ):
        np.testing.assert_array_equal(part[:, 0], model)
    np.testing.assert_array_equal(weather.temp_air[:, 0], air)
    # Two clear July days in the high desert: 7 to 9 kWh/m2 a day (extraterrestrial 11.5).
    assert 7.0 < weather.ghi.sum() / 2000.0 / 2.0 < 9.0
    assert any("upper bound" in sentence for sentence in weather.about)
