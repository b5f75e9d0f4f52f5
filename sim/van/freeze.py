"""Water that could freeze: how cold a tank gets, and what a pad must give to keep it."""

from __future__ import annotations

import numpy as np

from sim.sky.track import Floats

FREEZES_C = 0.0
# A pad's thermostat holds the tank this warm (common practice, no source).
WARMER_HOLDS_C = 3.0
# Heat lost by a bare plastic tank through its wall and the air about it: about 5 W/m2K, film
# coefficients of still to moving air in series (common practice, no source).
TANK_U_W_M2K = 5.0


def tank_ua_w_k(capacity_l: float) -> float:
    """Heat loss of a tank as bulky as a cube. [W/K]

    Parameters
    ----------
    capacity_l : float
        [L]
    """
    side_m = (capacity_l / 1000.0) ** (1.0 / 3.0)
    return float(TANK_U_W_M2K * 6.0 * side_m**2)


def warmer_watts(around_c: Floats, *, capacity_l: float, most_watts: float) -> Floats:
    """What a tank's pad draws.

    Parameters
    ----------
    around_c : ndarray
        Where the tank would be without it. [deg C]
    capacity_l : float
    most_watts : float
        What the pad can give. [W]

    Returns
    -------
    ndarray, shape of `around_c`
        [W]
    """
    wanted = tank_ua_w_k(capacity_l) * (WARMER_HOLDS_C - around_c)
    return np.clip(wanted, 0.0, most_watts)


def warmed_c(around_c: Floats, *, capacity_l: float, most_watts: float) -> Floats:
    """Temperature of a tank with its pad at work. [deg C]; see `warmer_watts`."""
    given = warmer_watts(around_c, capacity_l=capacity_l, most_watts=most_watts)
    return around_c + given / tank_ua_w_k(capacity_l)
