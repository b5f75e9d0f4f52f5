"""Where the sun stands as the Earth sees it, from a few moments of the long series.

NREL SPA's series for the Earth's way around the sun are by far the longest part of a solar
position, and hang on the time alone. What they give changes so slowly that a cubic through values
half a day apart is good to 2e-8 degrees; what differs by place is then worked out for each moment.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from pvlib import spa

from sim.arrays import Floats, Ints

NODE_S = 43200.0
# The series take as long for so many nodes as for one: 64 days, which are kept for whoever asks
# for others of them, in years enough for any trip.
_NODES_AT_ONCE = 128
_BLOCKS_KEPT = 64


class Geocentric(NamedTuple):
    """The sun from the centre of the Earth; arrays of shape (N,).

    Attributes
    ----------
    sidereal_deg : ndarray
        Apparent sidereal time at Greenwich. [degrees]
    right_ascension_deg, declination_deg : ndarray
        Apparent. [degrees]
    distance_au : ndarray
        [astronomical units]
    """

    sidereal_deg: Floats
    right_ascension_deg: Floats
    declination_deg: Floats
    distance_au: Floats


def geocentric(unix: Floats, delta_t_s: Floats) -> Geocentric:
    """The sun from the centre of the Earth.

    Parameters
    ----------
    unix : ndarray, shape (N,)
        Moments. [s since 1970-01-01 UTC]
    delta_t_s : ndarray, shape (N,)
        Terrestrial time less universal time. [s]

    References
    ----------
    I. Reda, A. Andreas, Solar Position Algorithm for Solar Radiation Applications,
    NREL/TP-560-34302, 2003 (revised 2008), sections 3.1 to 3.10.
    """
    # The series run in terrestrial time, the Earth's turning in universal time.
    place = (unix + delta_t_s) / NODE_S
    before = np.floor(place)
    halves, which = np.unique(before, return_inverse=True)
    nodes = _at_nodes(halves.astype(np.int64)[:, None] + np.arange(-1, 3))
    # The right ascension begins anew at 360 degrees.
    nodes[1] = nodes[1, :, :1] + (nodes[1] - nodes[1, :, :1] + 180.0) % 360.0 - 180.0
    found = np.zeros((4, len(unix)))
    for k, weight in enumerate(_cubic(place - before)):
        found += weight * nodes[:, :, k].take(which.reshape(-1), axis=1)
    equinox, ascension, declination, distance = found
    return Geocentric(_mean_sidereal(unix) + equinox, ascension, declination, distance)


def _at_nodes(numbers: Ints) -> Floats:
    """Apparent less mean sidereal time, right ascension, declination [degrees] and distance [au]
    at nodes, counted from 1970-01-01 of terrestrial time. shape (4, *numbers.shape)"""
    blocks, which = np.unique(numbers // _NODES_AT_ONCE, return_inverse=True)
    known = np.concatenate([np.empty((4, 0)), *map(_block, blocks.tolist())], axis=1)
    column = which.reshape(numbers.shape) * _NODES_AT_ONCE + numbers % _NODES_AT_ONCE
    return known.take(column, axis=1)


@lru_cache(maxsize=_BLOCKS_KEPT)
def _block(number: int) -> Floats:
    """The same at the nodes of a block. Nobody changes it."""
    unix = NODE_S * np.arange(
        number * _NODES_AT_ONCE, (number + 1) * _NODES_AT_ONCE, dtype=np.float64
    )
    where = unix, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    sidereal, ascension, declination = spa.solar_position(*where, sst=True)[:3]
    distance = spa.solar_position(*where, esd=True)[0]
    equinox = (sidereal - _mean_sidereal(unix) + 180.0) % 360.0 - 180.0
    return np.stack([equinox, ascension, declination, distance])


def _mean_sidereal(unix: Floats) -> Floats:
    day = spa.julian_day(unix)
    return np.asarray(spa.mean_sidereal_time(day, spa.julian_century(day)))


def _cubic(part: Floats) -> tuple[Floats, ...]:
    """Weights of the nodes before and after the two between which a moment lies, and of these, in
    their order: Lagrange's cubic; `part` of the way from the one to the other, 0 to 1."""
    ahead, back, far = part + 1.0, part - 1.0, part - 2.0
    return (
        part * back * far / -6.0,
        ahead * back * far / 2.0,
        ahead * part * far / -2.0,
        ahead * part * back / 6.0,
    )
