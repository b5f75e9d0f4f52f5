"""Whether it may be light, at a glance: what the night gives nothing to need not be worked out."""

from __future__ import annotations

import numpy as np
from pvlib import solarposition

from sim.arrays import Bools
from sim.sky.track import Track

# Below this height no light comes from the sun: refraction lifts it by 0.6 degrees at most, and
# the formulas here are within 0.6 degrees of the thorough ones.
_DARK_BELOW_DEG = -2.0
_DAY_S = 86400
_MINUTES_A_DEGREE = 4.0


def may_be_light(track: Track) -> Bools:
    """Whether the sun may be up in the middle of each step; surely down where not. shape (H,)

    References
    ----------
    J. W. Spencer, Fourier series representation of the sun, Search 2 (1971) 172, through pvlib:
    declination and equation of time.
    """
    middle = track.mid_unix
    days = middle.astype("datetime64[s]").astype("datetime64[D]")
    found, which = np.unique(days, return_inverse=True)
    number = (found - found.astype("datetime64[Y]")).astype(np.float64) + 1.0
    declination = solarposition.declination_spencer71(number)[which]
    clock_min = middle % _DAY_S / 60.0 + solarposition.equation_of_time_spencer71(number)[which]
    angle = np.radians(clock_min / _MINUTES_A_DEGREE + track.longitude - 180.0)
    phi = np.radians(track.latitude)
    height = np.sin(phi) * np.sin(declination) + np.cos(phi) * np.cos(declination) * np.cos(angle)
    return np.asarray(height > np.sin(np.radians(_DARK_BELOW_DEG)))
