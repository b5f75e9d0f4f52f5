"""The shell of a van: its area, what it lets through, and what the sun brings in."""

from __future__ import annotations

from dataclasses import dataclass

from sim.arrays import Floats

# Outside surface coefficient of a skin in light wind: ASHRAE Handbook of Fundamentals gives
# 22.7 W/m2K at 3.4 m/s (from memory, sure).
OUTSIDE_FILM_W_M2K = 22.7
# Inside film of a wall in still air: ASHRAE Handbook of Fundamentals, 8.3 W/m2K (from memory,
# sure).
INSIDE_FILM_W_M2K = 8.3
# Foam or wool (common practice, no source).
INSULATION_W_MK = 0.035
# Part of the shell where ribs, frames and the cab's door posts stay bare (common practice, no
# source): 20 mm of insulation then make 1.8 W/m2K, 40 mm 1.2.
BARE_SHARE = 0.08
# Share of the sunlight on windows that stays inside: between plain glass (0.8) and a window
# with its blind drawn (0.3) (common practice, no source).
GLASS_GAIN = 0.5


@dataclass(frozen=True)
class Shell:
    """What the cabin's walls do with heat.

    Attributes
    ----------
    ua_w_k : float
        Heat loss per kelvin through walls and windows. [W/K]
    leak_cm2 : float
        Effective area of the leaks with everything shut. [cm2]
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
    leak_cm2: float
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


def insulated_u_w_m2k(thickness_m: float) -> float:
    """Heat transfer of a sheet-metal shell with insulation between its bare ribs. [W/m2K]

    Parameters
    ----------
    thickness_m : float
        0 for a bare shell. [m]

    Notes
    -----
    Films and insulation in series, the ribs in parallel to them. Wind is that of the outside
    film, 3.4 m/s: behind insulation a storm changes little, of a bare shell it takes up to a
    fifth more.
    """
    films = 1.0 / OUTSIDE_FILM_W_M2K + 1.0 / INSIDE_FILM_W_M2K
    between = 1.0 / (films + thickness_m / INSULATION_W_MK)
    return (1.0 - BARE_SHARE) * between + BARE_SHARE / films


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
