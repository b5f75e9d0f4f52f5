"""The clear weather is the clear sky, in every step."""

from __future__ import annotations

import numpy as np

from sim.sky.clear import clear_weather
from sim.sky.sun import clear_sky, position
from sim.sky.track import Track


def test_the_clear_sky_in_every_draw_with_the_callers_air() -> None:
    start = np.datetime64("2025-07-01T07:00", "s") + np.timedelta64(1800, "s") * np.arange(96)
    here = np.ones(96)
    track = Track(start, 30, 38.57 * here, -109.55 * here, 1227.0 * here)
    sun = position(track)
    air = np.linspace(10.0, 30.0, 192).reshape(96, 2)
    weather = clear_weather(track, sun, air)
    assert weather.draws == 2
    for part, model in zip(
        (weather.ghi, weather.dni, weather.dhi), clear_sky(track, sun), strict=True
    ):
        np.testing.assert_array_equal(part, np.column_stack([model, model]))
    np.testing.assert_array_equal(weather.temp_air, air)
    # Two clear July days in the high desert: 7 to 9 kWh/m2 a day (extraterrestrial 11.5).
    assert 7.0 < weather.ghi[:, 0].sum() / 2000.0 / 2.0 < 9.0
    assert any("upper bound" in sentence for sentence in weather.about)
