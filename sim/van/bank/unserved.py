"""What was not served, written down for many steps at once: few steps lack much."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sim.arrays import Floats, Ints
from sim.van.bank.span import Lacking

# Hours after which it is written down: what is gathered by then takes little memory.
_HOURS = 48


class Lacked(NamedTuple):
    """What lanes lacked in some steps.

    Attributes
    ----------
    steps, lanes : ndarray of int, shape (N,)
        Which; in the order of steps.
    wh : ndarray, shape (G, N)
        By group. [Wh]
    """

    steps: Ints
    lanes: Ints
    wh: Floats


class Gathered:
    """What the steps of a trip lack, gathered until it is written down.

    Parameters
    ----------
    step_hours : float
    """

    def __init__(self, step_hours: float) -> None:
        self._at_once = round(_HOURS / step_hours)
        self._lacking: list[Lacking] = []
        self._steps: list[int] = []

    def add(self, step: int, lacking: tuple[Lacking, ...]) -> bool:
        """Keep what is lacking in a step; whether it is time to write it all down, which is never
        within an hour of the clock."""
        for each in lacking:
            self._lacking.append(each)
            self._steps.append(step)
        return bool(self._lacking) and (step + 1) % self._at_once == 0

    def taken(self) -> Lacked | None:
        """What was kept, and is forgotten; None: nothing."""
        if not self._lacking:
            return None
        lanes = [each.lanes for each in self._lacking]
        steps = np.repeat(self._steps, [len(each) for each in lanes])
        wh = np.concatenate([each.wh for each in self._lacking], axis=1)
        self._lacking, self._steps = [], []
        return Lacked(steps, np.concatenate(lanes), wh)


class Unserved:
    """Writes down what was not served in each step of a trip.

    Parameters
    ----------
    watts : ndarray, shape (G, H, L)
        Where to, mean of each step; all nought. [W]
    step_hours : float
    """

    def __init__(self, watts: Floats, step_hours: float) -> None:
        self._watts, self._step_hours = watts, step_hours
        self._gathered = Gathered(step_hours)

    def add(self, step: int, lacking: tuple[Lacking, ...]) -> None:
        """What is lacking in a step."""
        if self._gathered.add(step, lacking):
            self.write()

    def write(self) -> None:
        """Write down what was added by now."""
        lacked = self._gathered.taken()
        if lacked is None:
            return
        at = lacked.steps * self._watts.shape[2] + lacked.lanes
        for watts, wh in zip(self._watts, lacked.wh, strict=True):
            # What stays nought is not touched, so that it takes no memory.
            some = wh.nonzero()[0]
            watts.reshape(-1)[at.take(some)] = wh.take(some) / self._step_hours
