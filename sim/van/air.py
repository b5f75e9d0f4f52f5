"""Air that comes into a cabin and goes out of it: leaks, fresh air for people, and moisture.

References
----------
.. [1] ASHRAE Handbook of Fundamentals, "Ventilation and infiltration", basic model of
   single-family houses: airflow through leaks by temperature and wind (from memory, sure).
.. [2] ASHRAE Standard 62.2: 7.5 cfm of outdoor air for a person, 100 cfm at a stove while it is
   used (from memory, sure).
.. [3] R. G. Allen et al., FAO Irrigation and Drainage Paper 56, 1998, eq. 48: the dew point lies
   near the night's lowest temperature.
.. [4] BS 5250: moisture from people, 40 g/h asleep, 55 g/h awake (from memory, sure).
.. [5] O. A. Alduchov and R. E. Eskridge, Improved Magnus form approximation of saturation vapor
   pressure, Journal of Applied Meteorology 35, 1996, eq. 21.
"""

from __future__ import annotations

import numpy as np

from sim.arrays import Bools, Floats, Ints

# Heat that air carries: 1.2 kg/m3 x 1005 J/kgK (dry air at 20 deg C). [Wh/m3K]
AIR_WH_M3_K = 1.2 * 1005.0 / 3600.0
_M3_H_PER_L_S = 3.6
FRESH_L_S_PERSON = 3.5  # [2]
COOKING_L_S = 47.0  # [2]
# [1], a single storey; the wind as a weather station has it, shelter as among houses and trees.
_STACK_L2_S2_CM4_K = 0.000145
_WIND_L2_S2_CM4_M2_S2 = 0.000174
PERSON_ASLEEP_G_H = 40.0  # [4]
PERSON_AWAKE_G_H = 55.0  # [4]
# C3H8 + 5 O2 -> 3 CO2 + 4 H2O: 1.634 kg of water for a kilogram of propane.
WATER_KG_PER_KG_PROPANE = 4 * 18.015 / 44.097
_VAPOUR_J_KG_K = 461.5  # gas constant of water vapour


def leak_l_s(rise_k: Floats, wind_m_s: Floats, *, leak_cm2: float | Floats) -> Floats:
    """Air through the leaks of a closed cabin.

    Parameters
    ----------
    rise_k : ndarray, shape (...)
        How much warmer, or colder, it is inside. [K]
    wind_m_s : ndarray, shape that of `rise_k`, or one that spreads over it
        At 10 m, as weather stations measure it. [m/s]
    leak_cm2 : float or ndarray that spreads over `rise_k`
        Effective leakage area. [cm2]

    Returns
    -------
    ndarray, shape (...)
        [L/s]; ``A sqrt(Cs |dT| + Cw U**2)`` of [1].
    """
    stack = _STACK_L2_S2_CM4_K * np.abs(rise_k)
    return np.asarray(leak_cm2 * np.sqrt(stack + _WIND_L2_S2_CM4_M2_S2 * np.square(wind_m_s)))


def carried_w_k(air_l_s: Floats) -> Floats:
    """Heat that an airflow carries out for each kelvin. [L/s] to [W/K]"""
    return np.asarray(air_l_s * (_M3_H_PER_L_S * AIR_WH_M3_K))


def fresh_l_s(people: Floats, cooking_share: Floats) -> Floats:
    """Outdoor air that people let in on purpose: what they breathe, and more over a flame.

    Parameters
    ----------
    people : ndarray, shape (H,)
        People aboard, mean over the step.
    cooking_share : ndarray, shape (H,)
        Share of the step in which gas burns on the stove.

    Returns
    -------
    ndarray, shape (H,)
        [L/s]
    """
    breathed = people * FRESH_L_S_PERSON
    # The window is open while the flame burns: means that hold for steps of any length.
    return np.asarray(
        (1.0 - cooking_share) * breathed + cooking_share * np.maximum(breathed, COOKING_L_S)
    )


def saturated_g_m3(temp_c: Floats) -> Floats:
    """Water vapour that air can hold, by [5]. [deg C] to [g/m3]"""
    pressure_pa = 610.94 * np.exp(17.625 * temp_c / (temp_c + 243.04))
    return np.asarray(1000.0 * pressure_pa / (_VAPOUR_J_KG_K * (temp_c + 273.15)))


def inner_surface_c(
    inside_c: Floats, outside_c: Floats, *, u_w_m2k: float, film_w_m2k: float
) -> Floats:
    """Temperature of the inner face of a wall or window. [deg C], shape of the temperatures"""
    return np.asarray(inside_c - u_w_m2k / film_w_m2k * (inside_c - outside_c))


def is_wet(surface_c: Floats, dew_point_c: Floats, moisture_g_h: Floats, air_l_s: Floats) -> Bools:
    """Whether water condenses on a surface inside.

    Parameters
    ----------
    surface_c : ndarray, shape (H, D)
        [deg C]
    dew_point_c : ndarray, shape (H, D)
        Of the air outside. [deg C]
    moisture_g_h : ndarray, shape (H, 1)
        What people and flames add. [g/h]
    air_l_s : ndarray, shape (H, D)
        Air that comes in. [L/s]

    Returns
    -------
    ndarray of bool, shape (H, D)

    Notes
    -----
    The air inside is at its steady moisture: a van's air is changed within the hour.
    """
    added = moisture_g_h / np.maximum(air_l_s * _M3_H_PER_L_S, 1e-6)
    return np.asarray(saturated_g_m3(dew_point_c) + added > saturated_g_m3(surface_c))


def dew_point_c(temp_air: Floats, day: Ints) -> Floats:
    """Dew point outside: the lowest temperature of the local day, by [3]. shape (H, D)"""
    lowest = np.full((int(day[-1]) + 1, temp_air.shape[1]), np.inf)
    np.minimum.at(lowest, day, temp_air)
    return np.asarray(lowest[day])
