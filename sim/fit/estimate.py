"""A figure with its interval, and the chance from which intervals are drawn."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sim.arrays import Floats, Ints

# Eight in ten: between the 10 % and the 90 % point of the normal distribution.
Z80 = 1.2816
# So many spreads from the promise before it counts as broken: one in a hundred by chance.
Z_BROKEN = 2.3
# The same from a day on that was searched for: one in a thousand.
Z_SEARCHED = 3.1
_BOOTSTRAPS = 200
_SEED = 18


@dataclass(frozen=True)
class Estimate:
    """A figure and how sure it is.

    Attributes
    ----------
    value, spread : float
        The figure, and its standard deviation; for a factor that of its logarithm.
    is_factor : bool
    """

    value: float
    spread: float
    is_factor: bool = True

    @property
    def interval(self) -> tuple[float, float]:
        """Where it lies in eight cases of ten."""
        if self.is_factor:
            wide = float(np.exp(Z80 * self.spread))
            return self.value / wide, self.value * wide
        return self.value - Z80 * self.spread, self.value + Z80 * self.spread

    @property
    def z(self) -> float:
        """How many spreads it lies above the promise; less than 0 below it."""
        if self.is_factor:
            return float(np.log(max(self.value, 1e-6)) / max(self.spread, 1e-9))
        return self.value / max(self.spread, 1e-9)


def over_days(figure: Callable[[Ints], float], days: int, model: float) -> float:
    """Spread of a figure over days drawn with return, widened by what the model does not know.

    Parameters
    ----------
    figure : callable
        From numbers of days to the figure.
    days : int
    model : float
        Standard deviation that no number of days takes away.
    """
    chance = np.random.default_rng(_SEED)
    drawn = [figure(chance.integers(days, size=days)) for _ in range(_BOOTSTRAPS)]
    found = np.array([x for x in drawn if np.isfinite(x)])
    return float(np.hypot(_robust_spread(found), model)) if len(found) > 10 else np.inf


def robust_mean(values: Floats) -> float:
    """A mean in which values far out count less: Huber's, by weights drawn anew a few times."""
    middle = float(np.median(values))
    scale = max(1.4826 * float(np.median(np.abs(values - middle))), 1e-9)
    for _ in range(8):
        weight = np.minimum(1.0, 1.345 * scale / np.maximum(np.abs(values - middle), 1e-12))
        middle = float((weight * values).sum() / weight.sum())
    return middle


def _robust_spread(values: Floats) -> float:
    low, high = np.quantile(values, [0.1, 0.9])
    return float(high - low) / (2.0 * Z80)
