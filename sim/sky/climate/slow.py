"""The slow part of a drawn weather: how bright and how warm the whole season is.

Days alone do not make a season. The built-in mean of a place is itself uncertain, and years
differ. Each draw therefore carries slow numbers, all standard normal: one for the place's mean
that holds for good, one that changes within two months, the same two for warmth, one for how
wide the days' temperatures are, and a field that tells places apart. They belong to the
calendar, as the days do: the same seed has the same season whenever the trip sets out.

They are not thrown like dice but placed evenly over the draws, and so are the means of every
eight days: points of one Sobol net, turned by an amount of their own for each seed and year.
Chance then moves a share of draws half as much.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.special import ndtri

from sim.arrays import Floats, Ints

BLOCK_DAYS = 8  # whose mean brightness is placed evenly
_KNOT_DAYS = 46  # between which the changing part runs straight
_CYCLE_DAYS = 368  # after which the net's axes are used again, turned otherwise
_BLOCKS, _KNOTS = _CYCLE_DAYS // BLOCK_DAYS, _CYCLE_DAYS // _KNOT_DAYS
# Share of the variance that stays the same from month to month. What neighbouring stations
# have in common of their error, less the table's, falls to a third from one season to its
# opposite; that of years falls to nothing.
_LASTING = 0.4

# Waves over the globe that tell places apart: sums of them have a correlation that fades over
# some 150 km, which is how far the error of one station is shared by the next.
_WAVES = 6
_WAVE_KM = 150.0
_EARTH_KM = 6371.0

_LASTING_BRIGHT, _LASTING_WARM, _WIDTH = 0, 1, 2
_PLACES = slice(3, 3 + 2 * _WAVES)
_CHANGING_BRIGHT = slice(_PLACES.stop, _PLACES.stop + _KNOTS)
_DAYS = slice(_CHANGING_BRIGHT.stop, _CHANGING_BRIGHT.stop + _BLOCKS)
_CHANGING_WARM = slice(_DAYS.stop, _DAYS.stop + _KNOTS)
_AXES = _CHANGING_WARM.stop
_FOR_GOOD = -1  # the cycle of what never changes
_STREAM = 411  # keeps these numbers apart from those of the days
_CYCLE_ZERO = 10_000  # keeps the stream's key positive
_EDGE = 2.0**-32


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
        Heights of the waves that tell places apart, see `of_places`.
    """

    first_day: int
    bright: Floats
    warm: Floats
    wide: Floats
    waves: Floats


def season(first_day: int, last_day: int, draws: int, seed: int) -> Season:
    """The slow numbers of the days from `first_day` to `last_day`.

    Parameters
    ----------
    first_day, last_day : int
        Counted from 1970-01-01.
    draws : int
        D. The first ones are the same however many are asked for.
    seed : int
    """
    lasting = _turned(_FOR_GOOD, draws, seed)
    knots = np.arange(first_day // _KNOT_DAYS, last_day // _KNOT_DAYS + 2)
    bright, warm = (
        np.stack(
            [_turned(knot // _KNOTS, draws, seed)[axes.start + knot % _KNOTS] for knot in knots]
        )
        for axes in (_CHANGING_BRIGHT, _CHANGING_WARM)
    )
    days = np.arange(first_day, last_day + 1)
    return Season(
        first_day=first_day,
        bright=_joined(lasting[_LASTING_BRIGHT], _between(bright, days)),
        warm=_joined(lasting[_LASTING_WARM], _between(warm, days)),
        wide=lasting[_WIDTH],
        waves=lasting[_PLACES],
    )


def with_even_blocks(noise: Floats, first_day: int, seed: int) -> Floats:
    """Independent standard normal days whose means over `BLOCK_DAYS` are placed evenly.

    Parameters
    ----------
    noise : ndarray, shape (N, D)
        Independent standard normal numbers of whole blocks of days.
    first_day : int
        A multiple of `BLOCK_DAYS`, counted from 1970-01-01.
    seed : int

    Returns
    -------
    ndarray, shape (N, D)
        Still independent from day to day within one draw.
    """
    draws = noise.shape[1]
    blocks = noise.reshape(-1, BLOCK_DAYS, draws)
    number = first_day // BLOCK_DAYS + np.arange(len(blocks))
    means = np.stack(
        [_turned(block // _BLOCKS, draws, seed)[_DAYS.start + block % _BLOCKS] for block in number]
    )
    about = blocks - blocks.mean(axis=1, keepdims=True)
    even = about + means[:, None] / np.sqrt(BLOCK_DAYS)
    return np.asarray(even.reshape(noise.shape))


def of_places(waves: Floats, latitude: Floats, longitude: Floats) -> Floats:
    """What tells places apart, standard normal at each, shape (P, D).

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


def _turned(cycle: int | np.integer, draws: int, seed: int) -> Floats:
    """Standard normal numbers on all axes of the net for one cycle of the calendar, (A, D)."""
    return _turned_net(int(cycle), draws, seed)


@cache
def _net(log2_draws: int) -> Floats:
    """Points of a scrambled Sobol net in the unit cube, shape (A, 2**log2_draws).

    References
    ----------
    S. Joe, F. Y. Kuo, Constructing Sobol sequences with better two-dimensional projections,
    SIAM Journal on Scientific Computing 30 (2008) 2635-2654.
    """
    from scipy.stats import qmc  # late: its import takes a third of a second

    net = qmc.Sobol(_AXES, scramble=True, rng=np.random.Generator(np.random.Philox(_STREAM)))
    return np.asarray(net.random_base2(log2_draws).T)


@cache
def _turned_net(cycle: int, draws: int, seed: int) -> Floats:
    net = _net(int(np.ceil(np.log2(max(draws, 2)))))[:, :draws]
    key = np.random.SeedSequence([seed, _STREAM, cycle + _CYCLE_ZERO])
    turn = np.random.Generator(np.random.Philox(key)).random(_AXES)
    turned = (net + turn[:, None]) % 1.0
    return np.asarray(ndtri(np.clip(turned, _EDGE, 1.0 - _EDGE)))
