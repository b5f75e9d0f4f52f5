"""What a fuel generator gives to the battery through a charger."""

from __future__ import annotations

import numpy as np

from sim.arrays import Floats

# An engine that breathes thin air gives less: 3.5 % for each 1,000 ft above the sea, as the
# manuals of small sets have it (from memory, fairly sure). [1/m]
_LOSS_PER_M = 0.035 / 304.8


def generator_watts(
    altitude_m: Floats,
    *,
    rated_watts: float,
    charger_amps: float,
    charging_v: float,
    charger_efficiency: float,
) -> Floats:
    """Charging power of a generator while it runs.

    Parameters
    ----------
    altitude_m : ndarray, shape (H,)
        Where it is used. [m]
    rated_watts : float
        Continuous rating at sea level. [W]
    charger_amps : float
        Rated output of the charger behind it. [A]
    charging_v : float
        Mean voltage of the bank while charging. [V]
    charger_efficiency : float
        0 to 1.

    Returns
    -------
    ndarray, shape (H,)
        At the battery: what the charger may give, or what the engine can drive it to. [W]
    """
    left = np.clip(1.0 - _LOSS_PER_M * np.maximum(altitude_m, 0.0), 0.0, 1.0)
    return np.minimum(rated_watts * left * charger_efficiency, charger_amps * charging_v)
