"""Which sign of a battery's current charges it: monitors differ, and few say."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from sim.arrays import Floats

# A correlation from which a sign is taken as seen.
_CLEAR = 0.15


def charging_sign(role: str, values: Mapping[str, Floats], *, is_discharge: bool) -> float:
    """1 where positive values of a column charge the battery, -1 where they take from it.

    Parameters
    ----------
    role : str
        "current" or "power".
    values : mapping
        All columns of the log.
    is_discharge : bool
        What its heading says.

    Returns
    -------
    float
        Seen from the charge, which rises while charging, from the sun or from the voltage, in
        this order; else what the heading says.
    """
    flow = values[role]
    if "soc" in values:
        # Over many rows: the charge comes in whole percents.
        step = max(len(flow) // 2000, 1)
        means = _blocks(flow, step)
        rises = np.diff(_blocks(values["soc"], step))
        seen = _correlation(0.5 * (means[1:] + means[:-1]), rises)
        if abs(seen) > _CLEAR:
            return float(np.sign(seen))
    for other in ("solar", "solar_current", "voltage"):
        if other in values:
            seen = _correlation(flow, values[other])
            if abs(seen) > _CLEAR:
                return float(np.sign(seen))
    return -1.0 if is_discharge else 1.0


def _blocks(values: Floats, step: int) -> Floats:
    """Means over so many rows each."""
    whole = values[: len(values) // step * step].reshape(-1, step)
    known = np.isfinite(whole)
    total = np.where(known, whole, 0.0).sum(axis=1)
    count = known.sum(axis=1)
    return np.asarray(np.where(count > 0, total / np.maximum(count, 1), np.nan))


def _correlation(first: Floats, second: Floats) -> float:
    known = np.isfinite(first) & np.isfinite(second)
    if known.sum() < 10:
        return 0.0
    a, b = first[known] - first[known].mean(), second[known] - second[known].mean()
    size = float(np.sqrt((a @ a) * (b @ b)))
    return float(a @ b) / size if size > 0.0 else 0.0
