"""Figures in the cells of the terminal's tables."""

from __future__ import annotations

import numpy as np

from sim.arrays import Floats


def often(share: float, draws: int, *, years: bool = False) -> str:
    """``88 of 200 simulated trips``, or ``2 of 5 years``."""
    return f"{round(share * draws):,} of {draws:,} {'years' if years else 'simulated trips'}"


def mean_and_tenth(values: Floats) -> str:
    """Hours of each draw as their mean and what one in ten passes; where that is none, in how
    many there are any."""
    if not values.any():
        return "none"
    mean, most = float(values.mean()), float(np.quantile(values, 0.9))
    if most == 0.0:
        some = values[values > 0.0]
        return f"{hours(float(some.mean()))} in {len(some):,} of {len(values):,} simulated trips"
    return f"{hours(mean)} mean, {hours(most)} or more in 1 of 10"


def hours(value: float) -> str:
    """``38.4 h``, ``under 0.1 h``, ``none``."""
    if value < 0.05:
        return "none" if value == 0.0 else "under 0.1 h"
    text = f"{value:,.0f}" if value >= 100 else f"{value:,.1f}".removesuffix(".0")
    return f"{text} h"


def per_day(watt_hours: float) -> str:
    """``1,221 Wh a day``."""
    return f"{watt_hours:,.0f} Wh a day"
