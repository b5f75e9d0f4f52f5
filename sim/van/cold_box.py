"""A cold box that was switched off: how its inside warms, and is pulled down again."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from sim.sky.track import Floats

# A box that needs no more than this needs nothing. [W]
_NO_WATTS = 1e-6


def inside_hours(
    cabin_c: Floats,
    fed: Floats,
    holding_w: Callable[[Floats], Floats],
    *,
    inside_c: float,
    holds_hours: float,
    max_watts: float,
    step_hours: float,
) -> Floats:
    """Temperature inside a cold box that is not always fed.

    Parameters
    ----------
    cabin_c : ndarray, shape (H, D)
        [deg C]
    fed : ndarray, shape (H, D) or (H, 1)
        Share of what it wanted that it was given, 0 to 1.
    holding_w : callable
        From the cabin's temperature, shape (D,), to what holds `inside_c` there. [W]
    inside_c : float
        Its setting. [deg C]
    holds_hours : float
        In which it comes 63 % nearer to the cabin when it is off. [h]
    max_watts : float
        What its compressor draws when it runs. [W]
    step_hours : float

    Returns
    -------
    ndarray, shape (H, D)
        At the end of each step. [deg C]

    Notes
    -----
    Unfed, the inside nears the cabin as one body does. Fed again, the compressor runs on at
    full power until the setting is reached; what it carries out per watt is what it carries out
    holding the setting. The electricity of that catching up is not in the ledger, which knows
    loads before it knows which of them go dark.
    """
    out = np.empty(cabin_c.shape)
    now = np.full(cabin_c.shape[1], inside_c)
    kept = np.exp(-step_hours / holds_hours)
    fed = np.broadcast_to(fed, cabin_c.shape)
    for hour, cabin in enumerate(cabin_c):
        drift = cabin + (now - cabin) * kept
        spare = np.maximum(max_watts / np.maximum(holding_w(cabin), _NO_WATTS), 1.0)
        pulled = (cabin - inside_c) * (1.0 - kept) * spare
        # A cabin colder than the setting cools it without a compressor.
        lowest = np.minimum(inside_c, drift)
        now = np.maximum(drift - fed[hour] * np.maximum(pulled, 0.0), lowest)
        out[hour] = now
    return out
