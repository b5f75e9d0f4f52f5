"""Hot water: the heat it takes, and one tank, or none, warmed by one or several heaters."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.arrays import Floats

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


# Air about the tank, which lies in the lived-in part of the van (common practice, no source).
# The cabin's own warmth is not known yet: it takes in what the tank loses.
AROUND_C = 18.0


@dataclass(frozen=True)
class HotHours:
    """What the hot water took. K heaters.

    Attributes
    ----------
    heat_w : ndarray, shape (K, H)
        Mean heat from each heater. [W]
    lost_w : ndarray, shape (H,)
        Heat that leaks from the tank into the cabin. [W]
    short_w : ndarray, shape (H,)
        Heat that was wanted in the water and not there. [W]
    stored_wh : ndarray, shape (H + 1,)
        In the tank, above cold water. [Wh]
    """

    heat_w: Floats
    lost_w: Floats
    short_w: Floats
    stored_wh: Floats


def hot_hours(
    wanted_w: Floats,
    most_w: Floats,
    *,
    tank_l: Floats,
    hot_c: Floats,
    cold_c: float,
    standing_w_k: float,
    step_hours: float,
) -> HotHours:
    """Step a tank of hot water through a trip.

    Parameters
    ----------
    wanted_w : ndarray, shape (H,)
        Heat in the water drawn, mean over each step. [W]
    most_w : ndarray, shape (K, H)
        The most each heater gives, 0 where it may not run. [W]
    tank_l : ndarray, shape (K,)
        What each keeps warm; 0 for one that heats water as it flows. [L]
    hot_c : ndarray, shape (K,)
        How warm it keeps it. [deg C]
    cold_c : float
        Of the water that comes in. [deg C]
    standing_w_k : float
        Heat lost per kelvin above the air about it. [W/K]
    step_hours : float

    Returns
    -------
    HotHours

    Notes
    -----
    All heaters warm one tank, the largest that any of them has. It starts hot. In each step it
    leaks by its warmth at the start and gives what is drawn, while the heaters in their order
    bring it back to what each of them keeps, as far as they can; one without a tank gives only
    what the tank has not. Hot water floats on cold, so all heat above cold water can be drawn;
    a tank that mixes gives less.
    """
    keeps = tank_l * WATER_WH_L_K * (hot_c - cold_c)
    full = float(keeps.max(initial=0.0))
    wh_k = float(tank_l.max(initial=0.0)) * WATER_WH_L_K
    (heaters, hours), keeps_wh = most_w.shape, keeps.tolist()
    # Numbers of Python's own: a step at a time they are several times as fast as an array's.
    heat, lost, short, stored, now = [], [], [], [full], full
    for drawn_w, most in zip(wanted_w.tolist(), most_w.T.tolist(), strict=True):
        above_k = cold_c + now / wh_k - AROUND_C if full > 0.0 else 0.0
        leaks_w = min(max(standing_w_k * above_k, 0.0), now / step_hours)
        now -= (leaks_w + drawn_w) * step_hours
        given, now = _heated(now, keeps_wh, most, step_hours)
        heat.append(given)
        lost.append(leaks_w)
        short.append(max(-now, 0.0) / step_hours)  # below empty the water ran cold
        now = max(now, 0.0)
        stored.append(now)
    heat_w = np.ascontiguousarray(np.array(heat).reshape(hours, heaters).T)
    return HotHours(heat_w, np.array(lost), np.array(short), np.array(stored))


def _heated(
    now: float, keeps_wh: list[float], most_w: list[float], step_hours: float
) -> tuple[list[float], float]:
    """What each heater gives in a step [W], and the heat in the tank after it. [Wh]"""
    given = []
    for keep_wh, most in zip(keeps_wh, most_w, strict=True):
        given.append(min(most, max(keep_wh - now, 0.0) / step_hours))
        now += given[-1] * step_hours
    return given, now
