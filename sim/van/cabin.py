"""The cabin as one body of air and things: what it loses and gains, and what the heater adds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.sky.track import Floats

# Heat of a person at rest or light work, sensible part: ASHRAE Handbook of Fundamentals,
# nonresidential load tables, about 70 W (from memory, sure).
PERSON_WATTS = 70.0
# Outside surface coefficient of a skin in light wind: ASHRAE Handbook of Fundamentals gives
# 22.7 W/m2K at 3.4 m/s (from memory, sure).
OUTSIDE_FILM_W_M2K = 22.7
# Share of the sunlight on windows that stays inside: between plain glass (0.8) and a window
# with its blind drawn (0.3) (common practice, no source).
GLASS_GAIN = 0.5


@dataclass(frozen=True)
class Shell:
    """What the cabin's walls do with heat.

    Attributes
    ----------
    ua_w_k : float
        Heat loss per kelvin with everything shut. [W/K]
    roof_m2 : float
    shell_u_w_m2k : float
    skin_absorptance : float
        Share of sunlight the skin takes, 0 to 1.
    glass_m2 : float
        Windows that see the sky.
    mass_wh_k : float
        Heat stored per kelvin. [Wh/K]
    vent_w_k, vent_above_c : float
        Extra loss with windows open, and the inside temperature from which people open them.
    """

    ua_w_k: float
    roof_m2: float
    shell_u_w_m2k: float
    skin_absorptance: float
    glass_m2: float
    mass_wh_k: float
    vent_w_k: float
    vent_above_c: float


def shell_area_m2(length_m: float, width_m: float, height_m: float) -> float:
    """Outer surface of a box. [m2]"""
    return 2.0 * (length_m * width_m + length_m * height_m + width_m * height_m)


def sun_gain_w(ghi: Floats, shell: Shell) -> Floats:
    """Heat of the sun through skin and windows.

    Parameters
    ----------
    ghi : ndarray, shape (H, D)
        [W/m2]

    Returns
    -------
    ndarray, shape (H, D)
        [W]

    Notes
    -----
    Skin: the sol-air rise ``absorptance * ghi / film`` over the roof, times its U value.
    Sides are left out against the long-wave loss of the roof to the sky.
    """
    skin = shell.shell_u_w_m2k * shell.roof_m2 * shell.skin_absorptance / OUTSIDE_FILM_W_M2K
    return ghi * (skin + shell.glass_m2 * GLASS_GAIN)


@dataclass(frozen=True)
class CabinHours:
    """What the cabin did.

    Attributes
    ----------
    temp_c : ndarray, shape (H, D)
        Mean of the start and the end of each step. [deg C]
    heat_w : ndarray, shape (H, D)
        Mean heat from the heater. [W]
    cool_w : ndarray, shape (H, D)
        Mean heat carried out by the air conditioner. [W]
    """

    temp_c: Floats
    heat_w: Floats
    cool_w: Floats


def cabin_hours(
    temp_air: Floats,
    gain_w: Floats,
    set_point_c: Floats,
    aboard: Floats,
    shell: Shell,
    *,
    heater_watts: float,
    step_hours: float,
) -> CabinHours:
    """Step the cabin's temperature through a trip.

    Parameters
    ----------
    temp_air : ndarray, shape (H, D)
        Outside. [deg C]
    gain_w : ndarray, shape (H, D)
        Sun and people. [W]
    set_point_c : ndarray, shape (H,)
        What the heater holds; -inf where it is off. [deg C]
    aboard : ndarray, shape (H,)
        Share of the step with somebody aboard who can open a window.
    shell : Shell
    heater_watts : float
        Largest heat output, 0 without a heater. [W]
    step_hours : float

    Returns
    -------
    CabinHours

    Notes
    -----
    Each step is solved exactly for inputs that hold through it,
    ``T(t) = T_end + (T_0 - T_end) exp(-t UA / C)``, so its length hardly matters. The heater
    gives what brings the cabin to the set point by the end of the step, as far as it can;
    windows are opened as far as holding `vent_above_c` takes, when it is cooler outside.
    """
    hours, draws = temp_air.shape
    temp = np.empty((hours, draws))
    heat = np.zeros((hours, draws))
    kept = np.exp(-shell.ua_w_k * step_hours / shell.mass_wh_k)
    ua_open = shell.ua_w_k + shell.vent_w_k * aboard
    kept_open = np.exp(-ua_open * step_hours / shell.mass_wh_k)
    now = np.maximum(temp_air[0], set_point_c[0] if heater_watts > 0 else -np.inf)
    for hour in range(hours):
        outside, gain = temp_air[hour], gain_w[hour]
        level = outside + gain / shell.ua_w_k
        free = level + (now - level) * kept
        if set_point_c[hour] > -np.inf and heater_watts > 0:
            lift = np.maximum(set_point_c[hour] - free, 0.0)
            heat[hour] = np.minimum(lift * shell.ua_w_k / (1.0 - kept), heater_watts)
            free += heat[hour] * (1.0 - kept) / shell.ua_w_k
        if aboard[hour] > 0:
            level = outside + gain / ua_open[hour]
            aired = np.maximum(level + (now - level) * kept_open[hour], shell.vent_above_c)
            # While it is warmer outside, shut windows keep it cooler.
            free = np.minimum(free, aired)
        temp[hour] = (now + free) / 2.0
        now = free
    return CabinHours(temp, heat, np.zeros_like(heat))


def lagged(temp: Floats, step_hours: float, lag_hours: float) -> Floats:
    """A body that follows the air around it slowly, such as a battery in its box.

    Parameters
    ----------
    temp : ndarray, shape (H, D)
        [deg C]
    step_hours, lag_hours : float
        Time constant of the first-order lag. [h]

    Returns
    -------
    ndarray, shape (H, D)
        At the start of each step. [deg C]
    """
    out = np.empty_like(temp)
    share = 1.0 - np.exp(-step_hours / lag_hours)
    now = temp[0].copy()
    for hour in range(len(temp)):
        out[hour] = now
        now = now + share * (temp[hour] - now)
    return out
