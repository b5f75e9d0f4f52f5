"""The sky without a cloud: the upper bound that a trip can be held against."""

from __future__ import annotations

import numpy as np

from sim.sky.sun import Sun, clear_sky
from sim.sky.track import Floats, Track, Weather


def clear_weather(track: Track, sun: Sun, temp_air: Floats) -> Weather:
    """One draw in which every hour is clear.

    Parameters
    ----------
    track : Track
        H steps.
    sun : Sun
        `sim.sky.sun.position` of the same track.
    temp_air : ndarray, shape (H,)
        Air temperature to go with it; a clear sky does not say how warm it is. [deg C]

    Returns
    -------
    Weather
        shape (H, 1)
    """
    ghi, dni, dhi = (part[:, None] for part in clear_sky(track, sun))
    about = (
        "Clear sky in every hour (Ineichen-Perez, pvlib's turbidity climatology): "
        "an upper bound, no forecast.",
    )
    return Weather(ghi, dni, dhi, np.array(temp_air, dtype=np.float64)[:, None], about)
