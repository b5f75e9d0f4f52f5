"""The cabin as one body of air and things: what acts on it, and what it did."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass

import numpy as np

from sim.arrays import Bools, Floats
from sim.van.shell import Shell

# Heat of a person at rest or light work, sensible part: ASHRAE Handbook of Fundamentals,
# nonresidential load tables, about 70 W (from memory, sure).
PERSON_WATTS = 70.0
# A fan with speeds reaches full power this far above its start (common practice, no source).
FAN_RAMP_K = 3.0


@dataclass(frozen=True)
class Box:
    """A cold box, or several alike: it draws what leaves it as heat.

    Attributes
    ----------
    kind : hashable
        The same for boxes that draw the same at the same warmth.
    watts : callable
        From the warmth around one of them to what it draws, of the same shape. [deg C] to [W]
    running : ndarray, shape (H,)
        How many of them may run in each step.
    """

    kind: Hashable
    watts: Callable[[Floats], Floats]
    running: Floats


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
    boxes : tuple of Box
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
    boxes: tuple[Box, ...] = ()


@dataclass(frozen=True)
class Cabin:
    """A cabin, and all that acts on it. H steps, D draws.

    Attributes
    ----------
    temp_air : ndarray, shape (H, D)
        Outside. [deg C]
    gain_w : ndarray, shape (H, D)
        Sun, people and appliances. [W]
    aboard : ndarray, shape (H,)
        Share of the step with somebody aboard who can open a window.
    shell : Shell
    devices : Devices
    """

    temp_air: Floats
    gain_w: Floats
    aboard: Floats
    shell: Shell
    devices: Devices


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
    out[0], change = temp[0], np.empty_like(temp[0])
    for around, now, after in zip(temp, out, out[1:], strict=False):
        np.subtract(around, now, out=change)
        change *= share
        np.add(now, change, out=after)
    return out
