"""Since when: the day on which a daily figure changes its level."""

from __future__ import annotations

import numpy as np

from sim.arrays import Floats, Ints

# On both sides of a change, at least so many days.
LEAST_SIDE = 4
# The same for the bright days among them.
_BRIGHT_SIDE = 7
# A jump against the scatter of the days from which a change is taken as real: by chance alone the
# best of some fifty days reaches 12 in one of a hundred series.
CLEAR_GAIN = 16.0


def best_split(values: Floats) -> tuple[int, float]:
    """The place that parts a series into two levels best, and how clearly.

    Parameters
    ----------
    values : ndarray, shape (N,)

    Returns
    -------
    index : int
        Of the first value of the second part.
    gain : float
        What the two levels take off the sum of squares, over the variance within the parts;
        0 where the series is too short.
    """
    count = len(values)
    if count < 2 * LEAST_SIDE:
        return 0, 0.0
    middle = np.median(values)
    spread = 1.4826 * np.median(np.abs(values - middle))
    # A day far out must not make a change of its own.
    calm = np.clip(values, middle - 3.0 * spread, middle + 3.0 * spread) if spread > 0 else values
    place = np.arange(LEAST_SIDE, count - LEAST_SIDE + 1)
    left = np.cumsum(calm)[place - 1]
    total = calm.sum()
    taken = left**2 / place + (total - left) ** 2 / (count - place) - total**2 / count
    best = int(np.argmax(taken))
    rest = float(((calm - calm.mean()) ** 2).sum() - taken[best])
    variance = max(rest / (count - 2), 1e-12)
    return int(place[best]), float(taken[best]) / variance


def ceiling_falls(values: Floats) -> tuple[Floats, Ints]:
    """By how much the bright days of each series fall at most, and from which day on.

    Clouds hide a change of the mean; they do not hide that no day is bright any more.

    Parameters
    ----------
    values : ndarray, shape (N, K)
        K series.

    Returns
    -------
    falls, places : ndarray, shape (K,)
        0 where a series is too short.
    """
    count, series = values.shape
    falls, places = np.zeros(series), np.zeros(series, dtype=np.int64)
    for place in range(_BRIGHT_SIDE, count - _BRIGHT_SIDE + 1):
        before, after = (np.quantile(x, 0.8, axis=0) for x in (values[:place], values[place:]))
        better = before - after > falls
        falls = np.where(better, before - after, falls)
        places = np.where(better, place, places)
    return falls, places
