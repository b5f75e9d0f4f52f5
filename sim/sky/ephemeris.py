"""The sun as seen from the middle of the earth, read between the times of a table.

Where it is there depends on the time alone, takes hundreds of terms to say, and hardly changes
within hours; a trip, its clear days and its other weeks ask for the same days again and again. So
it is worked out every three hours and read in between.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from pvlib import spa

from sim.arrays import Floats

# Times a day, so many days together; whole eighths of a day are exact as numbers.
_PER_DAY = 8
_DAYS = 16
# A polynomial through six times: three before a moment and three after it. It keeps to what it is
# read from within 1e-11 degrees, three powers of ten better than a step's time is known.
_NODES = np.arange(-2.0, 4.0)
_LENGTH = _DAYS * _PER_DAY + len(_NODES) - 1
_UNIX_ZERO = 2440587.5  # 1970-01-01 as a Julian day


@dataclass(frozen=True)
class FromCentre:
    """The sun from the middle of the earth. Arrays of shape (H,).

    Attributes
    ----------
    ascension, declination : ndarray
        [degrees]; the ascension runs on past 360.
    distance_au : ndarray
        [astronomical units]
    equinoxes : ndarray
        What nutation adds to mean sidereal time. [degrees]
    """

    ascension: Floats
    declination: Floats
    distance_au: Floats
    equinoxes: Floats


def from_centre(day: Floats) -> FromCentre:
    """Where the sun is at some times.

    Parameters
    ----------
    day : ndarray, shape (H,)
        Julian ephemeris days.

    Returns
    -------
    FromCentre

    References
    ----------
    I. Reda, A. Andreas, NREL/TP-560-34302, sections 3.1 to 3.10, through pvlib.
    """
    found, which = np.unique(np.floor(day / _DAYS).astype(np.int64), return_inverse=True)
    which = which.reshape(-1)
    known = np.array([_table(number) for number in found.tolist()]).reshape(-1, 4, _LENGTH)
    place = (day - _DAYS * found[which]) * _PER_DAY
    row = np.floor(place).astype(np.int64)
    total = np.zeros((4, len(day)))
    for number, weight in enumerate(_weights(place - row)):
        total += weight * known[which, :, row + number].T
    return FromCentre(*total)


def _weights(after: Floats) -> list[Floats]:
    """Of the value at each node, at a time after the third of them. (0 to 1 of their distance)"""
    away = [after - node for node in _NODES]
    weights = []
    for own, node in enumerate(_NODES.tolist()):
        others = [k for k in range(len(_NODES)) if k != own]
        scale = np.prod([node - _NODES[k] for k in others])
        weights.append(np.prod([away[k] for k in others], axis=0) / scale)
    return weights


@lru_cache(maxsize=512)
def _table(number: int) -> Floats:
    """The four of `FromCentre` at the times of some days, and at those about them that reading
    takes. shape (4, _LENGTH)"""
    day = number * _DAYS + (_NODES[0] + np.arange(_LENGTH)) / _PER_DAY
    # Times that are ephemeris days already need no correction of the clock.
    unix, nothing = (day - _UNIX_ZERO) * 86400.0, np.zeros(1)
    anywhere = nothing, nothing, nothing, 0.0, 0.0, 0.0, 0.0
    sidereal, ascension, declination = spa.solar_position(unix, *anywhere, sst=True)
    (distance_au,) = spa.solar_position(unix, *anywhere, esd=True)
    mean = spa.mean_sidereal_time(day, spa.julian_century(day))
    ascension = np.unwrap(ascension, period=360.0)
    return np.stack([ascension, declination, distance_au, sidereal - mean])
