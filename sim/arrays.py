"""Names for the arrays that go from room to room, and the one question all rooms ask of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


T = TypeVar("T")


def with_answers(lean: T, whole: object, names: Iterable[str]) -> T:
    """A dataclass of which arrays were left out, with answers to cached properties as those of
    the whole gave them."""
    for name in names:
        vars(lean)[name] = getattr(whole, name)
    return lean


def quantiles(values: Floats, shares: Sequence[float], axis: int) -> Floats:
    """Quantiles along an axis, as `numpy.quantile` gives them.

    Sorting is several times as fast as picking out a few ranks, which is what it does itself;
    what is sorted costs it nothing.
    """
    ordered = np.sort(values, axis=axis)
    return np.asarray(np.quantile(ordered, shares, axis=axis, overwrite_input=True))


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
