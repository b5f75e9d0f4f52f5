"""The sky without a cloud: the upper bound that a trip can be held against."""

from __future__ import annotations

import numpy as np

from sim.arrays import Floats
from sim.sky.sun import Sun, clear_sky
from sim.sky.track import Track, Weather


def clear_weather(track: Track, sun: Sun, temp_air: Floats) -> Weather:
    """Draws in which every hour is clear; they differ in temperature alone.

    Parameters
    ----------
    track : Track
        H steps.
    sun : Sun
        `sim.sky.sun.position` of the same track.
    temp_air : ndarray, shape (H, D)
        Air temperature to go with it; a clear sky does not say how warm it is. [deg C]

    Returns
    -------
    Weather
        shape (H, D)
    """
    ghi, dni, dhi = (
        np.repeat(part[:, None], temp_air.shape[1], axis=1) for part in clear_sky(track, sun)
    )
    about = (
        "Clear sky in every hour (Ineichen-Perez, pvlib's turbidity climatology): "
        "an upper bound, no forecast.",
    )
    return Weather(ghi, dni, dhi, temp_air, about)
