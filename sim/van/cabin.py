"""The cabin as one body of air and things: what it loses and gains, and what the heater adds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from sim.arrays import Bools, Floats
from sim.van import air

# Heat of a person at rest or light work, sensible part: ASHRAE Handbook of Fundamentals,
# nonresidential load tables, about 70 W (from memory, sure).
PERSON_WATTS = 70.0
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
# A fan by hand runs only where it leaves the cabin at least this warm (common practice, no
# source): in a heated evening people keep the roof shut but for a crack.
FAN_BY_HAND_ABOVE_C = 20.0
# A fan with speeds reaches full power this far above its start (common practice, no source).
FAN_RAMP_K = 3.0
_SPEED_ROUNDS = 2  # bring a fan's speed to some per cent of what its warmth asks for


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


@dataclass(frozen=True)
class Devices:
    """What acts on the cabin's warmth, in each step. K heaters.

    Attributes
    ----------
    set_point_c : ndarray, shape (K, H)
        What each heater holds; -inf where it is off. [deg C]
    heat_w : ndarray, shape (K, H)
        The most it gives, 0 where it may not run. [W]
    wind_m_s : ndarray, shape (H,)
        At 10 m. [m/s]
    fresh_l_s : ndarray, shape (H,)
        Outdoor air that people let in on purpose; leaks count towards it. [L/s]
    hand_w_k : ndarray, shape (H,)
        Heat carried out per kelvin by fans that are switched on by hand where it is warm. [W/K]
    fan_w_k, fan_above_c : float
        The same of fans on a thermostat at full speed, and where they start; beside fans by hand
        only what is more than theirs counts. [W/K], [deg C]
    cool_w : ndarray, shape (H,)
        The most the air conditioner carries out, 0 where it may not run. [W]
    cool_above_c : float
        What it holds. [deg C]
    box_watts : callable
        From the number of a step and the cabin's temperature at its start, shape (D,), to what
        cold boxes draw and leave as heat. [W]
    """

    set_point_c: Floats
    heat_w: Floats
    wind_m_s: Floats
    fresh_l_s: Floats
    hand_w_k: Floats
    fan_w_k: float
    fan_above_c: float
    cool_w: Floats
    cool_above_c: float
    box_watts: Callable[[int, Floats], Floats]


@dataclass(frozen=True)
class CabinHours:
    """What the cabin did.

    Attributes
    ----------
    temp_c : ndarray, shape (H, D)
        Mean of the start and the end of each step. [deg C]
    end_c : ndarray, shape (H, D)
        At the end of each step, which is what thermostats see. [deg C]
    heat_w : ndarray, shape (K, H, D)
        Mean heat from each heater. [W]
    cool_w : ndarray, shape (H, D)
        Mean heat carried out by the air conditioner. [W]
    box_w : ndarray, shape (H, D)
        Mean heat of the cold boxes. [W]
    hand_on : ndarray of bool, shape (H, D)
        Whether it is warm enough for fans that are switched on by hand.
    air_l_s : ndarray, shape (H, D)
        Outdoor air through leaks and vents, windows and fans apart. [L/s]
    """

    temp_c: Floats
    end_c: Floats
    heat_w: Floats
    cool_w: Floats
    box_w: Floats
    hand_on: Bools
    air_l_s: Floats


def cabin_hours(
    temp_air: Floats,
    gain_w: Floats,
    aboard: Floats,
    shell: Shell,
    devices: Devices,
    *,
    step_hours: float,
) -> CabinHours:
    """Step the cabin's temperature through a trip.

    Parameters
    ----------
    temp_air : ndarray, shape (H, D)
        Outside. [deg C]
    gain_w : ndarray, shape (H, D)
        Sun, people and appliances. [W]
    aboard : ndarray, shape (H,)
        Share of the step with somebody aboard who can open a window.
    shell : Shell
    devices : Devices
    step_hours : float

    Returns
    -------
    CabinHours

    Notes
    -----
    Each step is solved exactly for inputs that hold through it,
    ``T(t) = T_end + (T_0 - T_end) exp(-t UA / C)``, so its length hardly matters. Heaters, in
    their order, give what brings the cabin to their set point by the end of the step, as far as
    they can. Then windows are opened as far as holding `vent_above_c` takes, and fans on a
    thermostat carry out more, both only while it is cooler outside; where the air conditioner
    with windows shut brings it lower, it does so instead. Cold boxes go by the warmth at the start.
    """
    hours, draws = temp_air.shape
    temp, end, box, fresh = (np.empty((hours, draws)) for _ in range(4))
    heat, cool = np.zeros((len(devices.heat_w), hours, draws)), np.zeros((hours, draws))
    by_hand = np.zeros((hours, draws), dtype=bool)
    fans_from_c = np.maximum(devices.set_point_c.max(axis=0, initial=-np.inf), FAN_BY_HAND_ABOVE_C)
    now = _at_departure(temp_air[0], devices)
    for hour in range(hours):
        outside = temp_air[hour]
        box[hour] = devices.box_watts(hour, now)
        fresh[hour] = _outdoor_air_l_s(now - outside, hour, shell, devices)
        ua_w_k = shell.ua_w_k + air.carried_w_k(fresh[hour])
        shut = _Step(outside, gain_w[hour] + box[hour], now, shell, ua_w_k, step_hours)
        if (hand_w_k := devices.hand_w_k[hour]) > 0.0:
            by_hand[hour] = shut.with_more(hand_w_k, shell) >= fans_from_c[hour]
            shut = shut.aired(hand_w_k * by_hand[hour], shell)
        heat[:, hour], free = _heated(shut, hour, devices)
        if aboard[hour] > 0.0:
            # Air that one fan pushes in another pulls out: the stronger counts.
            fan_w_k = np.maximum(devices.fan_w_k * aboard[hour] - hand_w_k * by_hand[hour], 0.0)
            air_w_k, most_w = (shell.vent_w_k * aboard[hour], fan_w_k), devices.cool_w[hour]
            cool[hour], free = _cooled(shut, free, air_w_k, shell, devices, most_w)
        temp[hour] = (now + free) / 2.0
        end[hour] = now = free
    return CabinHours(temp, end, heat, cool, box, by_hand, fresh)


def _at_departure(outside: Floats, devices: Devices) -> Floats:
    """Warmth at the start: that outside, or what the heaters hold. [deg C], shape (D,)"""
    now = outside
    for set_point, most in zip(devices.set_point_c, devices.heat_w, strict=True):
        if most[0] > 0.0:
            now = np.maximum(now, set_point[0])
    return now


def _outdoor_air_l_s(rise_k: Floats, hour: int, shell: Shell, devices: Devices) -> Floats:
    """Through leaks, or as much as people want where leaks give less. [L/s], shape (D,)"""
    leaks = air.leak_l_s(rise_k, devices.wind_m_s[hour], leak_cm2=shell.leak_cm2)
    return np.asarray(np.maximum(leaks, devices.fresh_l_s[hour]))


def _heated(shut: _Step, hour: int, devices: Devices) -> tuple[Floats, Floats]:
    """What each heater gives, in their order [W], shape (K, D), and the end of the step with it
    [deg C]."""
    heat, free = np.zeros((len(devices.heat_w), len(shut.end_c))), shut.end_c
    for number in range(len(heat)):
        set_point_c, most_w = devices.set_point_c[number, hour], devices.heat_w[number, hour]
        if most_w == 0.0 or free.min() >= set_point_c:
            continue
        lift = np.maximum(set_point_c - free, 0.0)
        heat[number] = np.minimum(lift / shut.k_per_w, most_w)
        free = free + heat[number] * shut.k_per_w
    return heat, free


def _cooled(
    shut: _Step,
    free: Floats,
    air_w_k: tuple[float, Floats],
    shell: Shell,
    devices: Devices,
    most_w: float,
) -> tuple[Floats, Floats]:
    """Heat carried out by the air conditioner [W], and the end of a step that people aboard may
    air or cool [deg C]. `air_w_k` are windows wide open and fans at full speed."""
    aired = _aired(shut, free, air_w_k[0], air_w_k[1], shell, devices)
    if most_w == 0.0 or free.max() <= devices.cool_above_c:
        return np.zeros_like(free), aired
    over = np.maximum(free - devices.cool_above_c, 0.0)
    cool = np.minimum(over / shut.k_per_w, most_w)
    cooled = free - cool * shut.k_per_w
    # One too weak to beat open windows stays off, and they stay open.
    cool = np.where(cooled < aired, cool, 0.0)
    return cool, np.where(cool > 0.0, cooled, aired)


class _Step:
    """One step of the cabin at a given heat loss, solved for its end."""

    def __init__(
        self,
        outside: Floats,
        gain: Floats,
        now: Floats,
        shell: Shell,
        ua_w_k: float | Floats,
        step_hours: float,
    ) -> None:
        self.outside, self.gain, self.now, self.ua_w_k = outside, gain, now, ua_w_k
        self.step_hours = step_hours
        self.end_c, self._kept = self._end(ua_w_k, shell)

    def _end(self, ua_w_k: float | Floats, shell: Shell) -> tuple[Floats, Floats]:
        """The end at a heat loss [deg C], and the share kept of what was there at the start."""
        kept = np.exp(ua_w_k * (-self.step_hours / shell.mass_wh_k))
        level = self.gain / ua_w_k
        level += self.outside
        end = self.now - level
        end *= kept
        end += level
        return end, kept

    @cached_property
    def k_per_w(self) -> Floats:
        """What a watt through the whole step adds to the end. [K/W]"""
        return np.asarray((1.0 - self._kept) / self.ua_w_k)

    def with_more(self, more_w_k: float | Floats, shell: Shell) -> Floats:
        """The end of the same step with more air let through. [deg C]"""
        return self._end(self.ua_w_k + more_w_k, shell)[0]

    def aired(self, more_w_k: float | Floats, shell: Shell) -> _Step:
        """The same step with more air let through."""
        ua = self.ua_w_k + more_w_k
        return _Step(self.outside, self.gain, self.now, shell, ua, self.step_hours)


def _aired(
    shut: _Step, free: Floats, open_w_k: float, fan_w_k: Floats, shell: Shell, devices: Devices
) -> Floats:
    """The end of a step in which people let air through as far as they like it cooler."""
    has_fan, warmest_c = bool(fan_w_k.any()), free.max()
    if warmest_c <= shell.vent_above_c and not (has_fan and warmest_c > devices.fan_above_c):
        return free
    wide_open = shut.with_more(open_w_k, shell)
    # While it is warmer outside, shut windows keep it cooler.
    aired = np.minimum(free, np.maximum(wide_open, shell.vent_above_c))
    if not has_fan:
        return aired
    # Where windows need not be wide open the fan does it alone.
    wide = wide_open > shell.vent_above_c
    base_w_k = np.where(wide, open_w_k, 0.0)
    still = np.where(wide, aired, free)
    over = still - devices.fan_above_c
    fall = still - shut.with_more(base_w_k + fan_w_k, shell)
    runs = (over > 0.0) & (fall > 0.0)
    if not runs.any():
        return aired
    # Full speed is reached FAN_RAMP_K above the start: speed and end are found together, first
    # along a straight line, then along the curve.
    speed = np.where(runs, np.minimum(over / (FAN_RAMP_K + fall), 1.0), 0.0)
    for _ in range(_SPEED_ROUNDS):
        reached = shut.with_more(base_w_k + speed * fan_w_k, shell)
        too_fast = devices.fan_above_c + FAN_RAMP_K * speed - reached
        slower = speed * over / np.maximum(over + too_fast, 1e-9)
        speed = np.where(runs, np.clip(slower, 0.0, 1.0), 0.0)
    fanned = shut.with_more(base_w_k + speed * fan_w_k, shell)
    return np.where(runs, np.minimum(aired, fanned), aired)


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
