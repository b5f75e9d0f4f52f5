"""The slow part of drawn weather: how bright and how warm the whole season is.

Days alone do not make a season. The built-in mean of a place is itself uncertain, and years
differ. Each draw therefore carries slow numbers, all standard normal: one for the place's mean
that holds for good, one that changes within two months, the same two for warmth, one for how
wide the days' temperatures are, and a field by which places differ. They belong to the
calendar, as the days do: the same seed has the same season whenever the trip sets out.

They are placed evenly over the draws, see `sim.sky.climate.even`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.special import ndtri

from sim.arrays import Floats, Ints
from sim.sky.climate.even import CYCLE_DAYS, FOR_GOOD, normals

_KNOT_DAYS = 46  # between which the changing part runs straight
_KNOTS = CYCLE_DAYS // _KNOT_DAYS
# Share of the variance that stays the same from month to month. What neighbouring stations
# have in common of their error, less the table's, falls to a third from one season to its
# opposite; that of years falls to nothing.
_LASTING = 0.4

# Waves over the globe by which places differ. Their sums have a correlation that fades over some
# 150 km: so far one station shares the error of the next.
_WAVES = 6
_WAVE_KM = 150.0
_EARTH_KM = 6371.0

# Axes of the lattice.
_LASTING_BRIGHT, _LASTING_WARM, _WIDTH = 0, 1, 2
_PLACES = slice(3, 3 + 2 * _WAVES)
_CHANGING_BRIGHT, _CHANGING_WARM = _PLACES.stop, _PLACES.stop + _KNOTS
_STREAM = 411  # of the waves' directions


@dataclass(frozen=True)
class Season:
    """Slow standard normal numbers of D draws for the N days from `first_day` on.

    Attributes
    ----------
    first_day : int
        Counted from 1970-01-01.
    bright, warm : ndarray, shape (N, D)
    wide : ndarray, shape (D,)
    waves : ndarray, shape (12, D)
        Heights of the waves by which places differ, see `of_places`.
    """

    first_day: int
    bright: Floats
    warm: Floats
    wide: Floats
    waves: Floats


def season(first_day: int, last_day: int, draws: int, seed: int, first: int = 0) -> Season:
    """The slow numbers of the days from `first_day` to `last_day`.

    Parameters
    ----------
    first_day, last_day : int
        Counted from 1970-01-01.
    draws : int
        D. The first ones are the same however many are asked for.
    seed : int
    first : int
        Number of the first of them, from 0.
    """
    lasting = normals(np.arange(_PLACES.stop), FOR_GOOD, draws, seed, first)
    knots = range(first_day // _KNOT_DAYS, last_day // _KNOT_DAYS + 2)
    pair = np.array([_CHANGING_BRIGHT, _CHANGING_WARM])
    both = np.stack([normals(pair + k % _KNOTS, k // _KNOTS, draws, seed, first) for k in knots])
    days = np.arange(first_day, last_day + 1)
    return Season(
        first_day=first_day,
        bright=_joined(lasting[_LASTING_BRIGHT], _between(both[:, 0], days)),
        warm=_joined(lasting[_LASTING_WARM], _between(both[:, 1], days)),
        wide=lasting[_WIDTH],
        waves=lasting[_PLACES],
    )


def of_places(waves: Floats, latitude: Floats, longitude: Floats) -> Floats:
    """By how much places differ, standard normal at each, shape (P, D).

    Parameters
    ----------
    waves : ndarray, shape (12, D)
        Of a `Season`.
    latitude, longitude : ndarray, shape (P,)
        [degrees]

    References
    ----------
    A. Rahimi, B. Recht, Random features for large-scale kernel machines, Advances in Neural
    Information Processing Systems 20, 2007: random waves as a Gaussian field.
    """
    phi, lam = np.radians(latitude), np.radians(longitude)
    here = np.stack([np.cos(phi) * np.cos(lam), np.cos(phi) * np.sin(lam), np.sin(phi)], axis=1)
    angle = here @ _wave_numbers()
    parts = np.concatenate([np.cos(angle), np.sin(angle)], axis=1) / np.sqrt(_WAVES)
    # No matrix product: that may round a row differently alone and among others.
    return np.asarray((parts[:, :, None] * waves).sum(axis=1))


@cache
def _wave_numbers() -> Floats:
    """Directions and lengths of the waves. [radians per Earth's radius], shape (3, 6)"""
    key = np.random.SeedSequence([_STREAM, _WAVES])
    uniform = np.random.Generator(np.random.Philox(key)).random((3, _WAVES))
    return np.asarray(ndtri(uniform) * _EARTH_KM / _WAVE_KM)


def _joined(lasting: Floats, changing: Floats) -> Floats:
    return np.asarray(np.sqrt(_LASTING) * lasting + np.sqrt(1.0 - _LASTING) * changing)


def _between(knots: Floats, days: Ints) -> Floats:
    """Standard normal numbers of days between knots, shape (N, D)."""
    row = days // _KNOT_DAYS - days[0] // _KNOT_DAYS
    later = (days % _KNOT_DAYS / _KNOT_DAYS)[:, None]
    scale = np.sqrt((1.0 - later) ** 2 + later**2)
    return np.asarray(((1.0 - later) * knots[row] + later * knots[row + 1]) / scale)
