"""Water: the heat it takes to warm it."""

from __future__ import annotations

from sim.sky.track import Floats

# Heat of a litre of water per kelvin near 38 deg C: 4.179 kJ/kgK x 0.993 kg/L (IAPWS-95 by
# CoolProp).
WATER_WH_L_K = 4.179 * 0.993 / 3.6


def heat_to_warm_wh(litres: Floats, cold_c: float, hot_c: float) -> Floats:
    """Heat that warms water.

    Parameters
    ----------
    litres : ndarray
        [L]
    cold_c, hot_c : float
        [deg C]

    Returns
    -------
    ndarray, shape of `litres`
        [Wh]
    """
    return litres * (WATER_WH_L_K * max(hot_c - cold_c, 0.0))
