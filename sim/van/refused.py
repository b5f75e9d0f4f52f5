"""Why a bank did not take what was offered: full, tapering or at its limit, or too cold."""

from __future__ import annotations

import numpy as np

from sim.sky.track import Floats
from sim.van.bank_lanes import Lanes

# Order of the causes that lie with the bank.
BANK_CAUSES = ("battery full", "acceptance", "too cold")


def refused_wh(
    lanes: Lanes,
    level: Floats,
    surplus: Floats,
    hours: Floats,
    allowed: Floats,
    pace: Floats | None,
    unused: Floats,
) -> Floats:
    """Split what a charge left unused by its cause.

    Parameters
    ----------
    lanes : Lanes
    level : ndarray, shape (L,)
        Stored energy when the charge began. [Wh]
    surplus : ndarray, shape (L,)
        Offered at the terminals. [W]
    hours : ndarray, shape (L,)
        How long. [h]
    allowed : ndarray, shape (L,) or (1,)
        Share of the charge limit that the bank's temperature allows, 0 to 1.
    pace : ndarray, shape (L,) or (1,), optional
        As in `bank_charge.charge`.
    unused : ndarray, shape (L,)
        Offered and not taken in that time. [Wh]

    Returns
    -------
    ndarray, shape (3, L)
        In the order of `BANK_CAUSES`; sums to `unused`. [Wh]

    Notes
    -----
    The bank is full from the moment its taper ends. Before the taper, what the cold forbids of
    the charge limit is the cold's; all else is acceptance: the charge limit, or the taper.
    """
    power = np.minimum(surplus, allowed * lanes.charge_limit)
    stored = np.maximum((lanes.eta - lanes.r * power) * power, 1e-12)
    rate = lanes.rate if pace is None else lanes.rate * pace
    knee = np.minimum(lanes.asymptote - stored / rate, lanes.full)
    straight = np.maximum(knee - level, 0.0) / stored
    from_level = np.minimum(np.maximum(knee, level), lanes.full)
    taper = np.log((lanes.asymptote - from_level) / (lanes.asymptote - lanes.full)) / rate
    full = np.minimum(surplus * np.maximum(hours - straight - taper, 0.0), unused)
    warm = np.minimum(surplus, lanes.charge_limit)
    cold = np.minimum((warm - power) * np.minimum(straight, hours), unused - full)
    return np.stack([full, unused - full - cold, cold])
