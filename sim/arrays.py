"""Names for the arrays that go from room to room, and the one question all rooms ask of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

# Numbers of a large table that are put in order at once.
SORTED_AT_ONCE = 250_000

T = TypeVar("T")


def with_answers(lean: T, whole: object, names: Iterable[str]) -> T:
    """A dataclass of which arrays were left out, with answers to cached properties as those of
    the whole gave them."""
    for name in names:
        vars(lean)[name] = getattr(whole, name)
    return lean


def quantiles(values: Floats, shares: Sequence[float], axis: int) -> Floats:
    """Quantiles along an axis, to the last digit as `numpy.quantile` gives them.

    Sorting whole rows is several times as fast as picking out a few ranks, which is what that
    does, and what it does besides takes longer than all this where there is little to sort. Rows
    of a large table are done some at a time, so that little of it is in memory twice.
    """
    if axis == 1 and values.ndim == 2 and values.size > 2 * SORTED_AT_ONCE:
        rows = max(SORTED_AT_ONCE // values.shape[1], 1)
        parts = [
            quantiles(values[first : first + rows], shares, axis)
            for first in range(0, len(values), rows)
        ]
        return np.concatenate(parts, axis=1)
    ordered = np.moveaxis(np.sort(values, axis=axis), axis, -1)
    last = ordered.shape[-1] - 1
    found = np.empty((len(shares), *ordered.shape[:-1]))
    for number, share in enumerate(shares):
        below = int(share * last)
        part = share * last - below
        low, high = ordered[..., below], ordered[..., min(below + 1, last)]
        gap = high - low
        # From the nearer of the two.
        found[number] = low + gap * part if part < 0.5 else high - gap * (1.0 - part)
    # What is no number is sorted to the end.
    found[:, np.isnan(ordered[..., last])] = np.nan
    return found


def over_steps(values: Floats) -> Floats:
    """The sum over the steps of each draw, one step after the other: it does not depend on how
    many draws lie beside it. shape (H, D) to (D,)"""
    if values.shape[1] > 1:
        return np.asarray(np.add.reduce(values, axis=0))
    # A single column would be added up pair by pair.
    return np.asarray(np.add.accumulate(values, axis=0)[-1])


def first_hours(lacking: Bools, step_hours: float) -> Floats:
    """Hours until something is first lacking, inf where it never is.

    Parameters
    ----------
    lacking : ndarray of bool, shape (H, D)
    step_hours : float

    Returns
    -------
    ndarray, shape (D,)
        [h]
    """
    first = np.argmax(lacking, axis=0) * step_hours
    return np.where(lacking.any(axis=0), first, np.inf)
