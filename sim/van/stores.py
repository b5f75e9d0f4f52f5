"""Levels of what runs out or fills up: water, grey water, propane."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.sky.track import Floats


@dataclass(frozen=True)
class Levels:
    """A store over a trip. Arrays of shape (H + 1, D) or (H, D).

    Attributes
    ----------
    level : ndarray, shape (H + 1, D)
        At the start of each step, renewed, and after the last; 0 to the capacity.
    moved : ndarray, shape (H, D)
        Taken out of a store that empties, or run into one that fills.
    missed : ndarray, shape (H, D)
        What was wanted when it was empty, or found no room when it was full.
    renewed : ndarray, shape (H, D)
        Filled in, or let out, at a service or by hand.
    """

    level: Floats
    moved: Floats
    missed: Floats
    renewed: Floats


def emptying(
    wanted: Floats, brought: Floats, served: NDArray[np.bool_], *, capacity: float, start: float
) -> Levels:
    """A store that empties: fresh water, propane.

    Parameters
    ----------
    wanted : ndarray, shape (H, D)
        Use of each step.
    brought : ndarray, shape (H, 1)
        Carried in by hand in each step, as far as there is room; nothing where it is served.
    served : ndarray of bool, shape (H,)
        Steps in which the place offers to fill it up; it is full at their start.
    capacity, start : float
        What it holds, and what is in it at departure.

    Returns
    -------
    Levels
        In the unit of `wanted`. Of what is wanted in a step, as much is taken as was there at its
        start and is brought in it.
    """
    hours, draws = wanted.shape
    level = np.empty((hours + 1, draws))
    moved, renewed = np.empty((hours, draws)), np.zeros((hours, draws))
    now = np.full(draws, start)
    for hour in range(hours):
        if served[hour]:
            renewed[hour] = capacity - now
            now = np.full(draws, capacity)
        elif brought[hour, 0] > 0.0:
            renewed[hour] = np.minimum(brought[hour], capacity - now)
            now = now + renewed[hour]
        level[hour] = now
        moved[hour] = np.minimum(wanted[hour], now)
        now = now - moved[hour]
    level[hours] = now
    return Levels(level, moved, wanted - moved, renewed)


def filling(
    arriving: Floats, served: NDArray[np.bool_], *, capacity: float, start: float
) -> Levels:
    """A store that fills: a grey tank.

    Parameters
    ----------
    arriving : ndarray, shape (H, D)
        What runs in during each step.
    served : ndarray of bool, shape (H,)
        Steps in which the place lets it be emptied; it is empty at their start.
    capacity, start : float
        What it holds, and what is in it at departure.

    Returns
    -------
    Levels
        In the unit of `arriving`.
    """
    # Room is a store that empties.
    room = emptying(
        arriving, np.zeros((len(arriving), 1)), served, capacity=capacity, start=capacity - start
    )
    return Levels(capacity - room.level, room.moved, room.missed, room.renewed)
