"""Names for the arrays that go from room to room, and the one question all rooms ask of them."""

from __future__ import annotations

from collections.abc import Iterable
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
