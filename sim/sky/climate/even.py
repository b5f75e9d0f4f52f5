"""Normal numbers placed evenly over the draws, for what makes a trip bright or dull, warm or cold.

Thrown like dice, 200 draws hold 5 % too many dull fortnights as easily as 5 % too few. Here the
draws are the points of a lattice, turned by an amount of their own for each seed and year, so
that every seed still gives an unbiased sample. The slow numbers of a season are axes of the
lattice, and so are the means, differences and details of every eight days.

How much that brings: the mean sun and the mean temperature of a fortnight move from seed to seed
by a fifth of what dice would make them move, the share of simulated trips that hold by 0.6 of it
where it is near a half. A trip holds or not by when the dull and the cold days come, which is
too many numbers for 200 points. Tried, and no better by more than chance, measured on the demo
and on model batteries at several dates, 40 to 100 seeds each: scrambled Sobol points, Latin
hypercubes, other multipliers, axes without repeats, sorting the draws by what they have been
through before every eight days (array-RQMC). Choosing one in five of many draws, balanced by the
trip's mean sun, worst days and cold, would tie a date's weather to the trip it lies in; all of
these together explain 0.31 to 0.46 of whether the demo's January holds, less than the lattice
does, and the hours within the days, which no choice by days can reach, decide 0.05. To halve
what is left takes four to five times the draws.

References
----------
F. J. Hickernell, H. S. Hong, P. L'Ecuyer, C. Lemieux, Extensible lattice sequences for
quasi-Monte Carlo quadrature, SIAM Journal on Scientific Computing 22 (2000) 1117-1138: the
construction, and the multiplier 17797. R. Cranley, T. N. L. Patterson, Randomization of number
theoretic methods for multiple integration, SIAM Journal on Numerical Analysis 13 (1976) 904-914:
the turning.
"""

from __future__ import annotations

from functools import cache, lru_cache

import numpy as np
from scipy.special import ndtri

from sim.arrays import Floats, Ints

CYCLE_DAYS = 368  # after which the axes are used again, turned otherwise
BLOCK_DAYS = 8  # days whose numbers are made from axes of their own
SEASON_AXES = 31  # the first ones are the season's, see `sim.sky.climate.slow`
FOR_GOOD = -1  # the cycle of what never changes
_KINDS = 2  # of days: how bright, how warm

_MULTIPLIER = 17797
_BITS = 20  # the lattice has 2**20 points; draws are the first few of them
_STREAM = 411  # keeps the turns apart from the numbers of days
_CYCLE_ZERO = 10_000  # keeps the stream's key positive
_AXES = SEASON_AXES + _KINDS * CYCLE_DAYS
_EDGE = 2.0**-32
_BLOCKS_KEPT = 64  # of 200 draws they take 1.6 MB


def normals(axes: Ints, cycle: int, draws: int, seed: int, first: int = 0) -> Floats:
    """Standard normal numbers on some axes in one cycle of the calendar.

    Parameters
    ----------
    axes : ndarray of int, shape (A,)
        0 to 766.
    cycle : int
        Days since 1970-01-01 over `CYCLE_DAYS`, or `FOR_GOOD`.
    draws : int
        D. The first ones are the same however many are asked for.
    seed : int
    first : int
        Number of the first of them, from 0.

    Returns
    -------
    ndarray, shape (A, D)
    """
    points = _multiples()[axes][:, None] * _reversed(first, draws) % 2**_BITS
    turned = (points / 2.0**_BITS + _turns(cycle, seed)[axes][:, None]) % 1.0
    return np.asarray(ndtri(np.clip(turned, _EDGE, 1.0 - _EDGE)))


def even_days(
    first_day: int, last_day: int, draws: int, seed: int, first: int = 0
) -> tuple[Floats, Floats]:
    """Numbers of days, independent from day to day: how bright and how warm.

    Parameters
    ----------
    first_day, last_day : int
        Counted from 1970-01-01. The first is a multiple of `BLOCK_DAYS`, the last the end of
        such a block.
    draws, seed, first : int
        As in `normals`.

    Returns
    -------
    bright, warm : ndarray, shape (N, D)
        Standard normal. Of every block the mean, the difference of its halves, and those of
        quarters and days are placed evenly.
    """
    blocks = []
    for block in range(first_day // BLOCK_DAYS, (last_day + 1) // BLOCK_DAYS):
        blocks.append(_block(block, draws, seed, first))
    bright, warm = (np.concatenate(kind) for kind in zip(*blocks, strict=True))
    return bright, warm


@lru_cache(maxsize=_BLOCKS_KEPT)
def _block(block: int, draws: int, seed: int, first: int) -> list[Floats]:
    """The same for one block, each of shape (8, D); the latest are kept, as trips, and a trip's
    other weeks, see the same days."""
    cycle, number = divmod(block, CYCLE_DAYS // BLOCK_DAYS)
    axes = SEASON_AXES + _KINDS * (BLOCK_DAYS * number + np.arange(BLOCK_DAYS))
    parts = [normals(axes + kind, cycle, draws, seed, first) for kind in range(_KINDS)]
    # No matrix product: that may round a draw differently alone and among others.
    return [(_waves()[:, :, None] * part).sum(axis=1) for part in parts]


@cache
def _waves() -> Floats:
    """Haar's orthonormal system on the days of a block, shape (8 days, 8 waves), the mean first."""
    waves = [np.full(BLOCK_DAYS, BLOCK_DAYS**-0.5)]
    length = BLOCK_DAYS
    while length > 1:
        for start in range(0, BLOCK_DAYS, length):
            wave = np.zeros(BLOCK_DAYS)
            wave[start : start + length // 2] = length**-0.5
            wave[start + length // 2 : start + length] = -(length**-0.5)
            waves.append(wave)
        length //= 2
    return np.stack(waves, axis=1)


@cache
def _multiples() -> Ints:
    """Powers of the multiplier, one for each axis."""
    powers = [pow(_MULTIPLIER, axis, 2**_BITS) for axis in range(_AXES)]
    return np.array(powers, dtype=np.int64)


@cache
def _reversed(first: int, draws: int) -> Ints:
    """0, 1, 2 ... with their bits in reverse: any first few are spread evenly. shape (D,)"""
    number = np.arange(first, first + draws, dtype=np.int64)
    return np.asarray(sum((number >> bit & 1) << (_BITS - 1 - bit) for bit in range(_BITS)))


@cache
def _turns(cycle: int, seed: int) -> Floats:
    """How far each axis is turned, 0 to 1."""
    key = np.random.SeedSequence([seed, _STREAM, cycle + _CYCLE_ZERO])
    return np.random.Generator(np.random.Philox(key)).random(_AXES)
