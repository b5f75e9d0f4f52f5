"""What each kind of appliance draws, step by step, while it is fed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sim.arrays import Floats, Ints
from sim.van.cabin import FAN_RAMP_K

# Lights go on when the sun's centre is this far below the horizon: civil twilight ends at 6
# degrees (definition); people switch on halfway through it (common practice, no source).
LIGHTS_ON_ELEVATION_DEG = -3.0


def lights_share(apparent_zenith: Floats, awake: Floats) -> Floats:
    """Share of each step in which lights are on.

    Parameters
    ----------
    apparent_zenith : ndarray, shape (H,)
        In the middle of each step. [degrees]
    awake : ndarray, shape (H,)
        Share of the step with somebody awake aboard.

    Returns
    -------
    ndarray, shape (H,)

    Notes
    -----
    Of a step in which dusk or dawn falls, the lights have the part after or before it, by how
    fast the sun sinks; where it hardly moves they come on over one degree of its height.
    """
    moves = np.abs(np.gradient(apparent_zenith)) if len(apparent_zenith) > 1 else np.zeros(1)
    after_dusk = apparent_zenith - (90.0 - LIGHTS_ON_ELEVATION_DEG)
    dark = np.clip(after_dusk / np.maximum(moves, 1.0) + 0.5, 0.0, 1.0)
    return np.asarray(dark * awake)


def cold_box_watts(
    ambient_c: Floats,
    *,
    rated_wh_day: float,
    rated_ambient_c: float,
    inside_c: float,
    max_watts: float,
) -> Floats:
    """Mean power of a refrigerator or freezer at an ambient temperature.

    Parameters
    ----------
    ambient_c : ndarray
        Air around the box. [deg C]
    rated_wh_day : float
        Measured daily energy at `rated_ambient_c`. [Wh]
    rated_ambient_c, inside_c : float
        [deg C]
    max_watts : float
        What the compressor draws when it runs; the mean cannot be more. [W]

    Returns
    -------
    ndarray, shape of `ambient_c`
        [W]

    Notes
    -----
    Heat gain goes with the difference to the inside; the compressor's work per heat goes with
    the ideal (Carnot) work to the power one half, between a machine that does not care
    (power 0) and an ideal one (power 1). From 25 to 32 deg C at 5 deg C inside that is 1.57
    times, within the physical band of 1.35 to 1.82. Below the inside temperature it draws
    nothing.
    """
    watts = np.maximum(ambient_c - inside_c, 0.0)
    watts /= rated_ambient_c - inside_c
    watts **= 1.5
    watts *= rated_wh_day / 24.0
    return np.asarray(np.minimum(watts, max_watts))


@dataclass(frozen=True)
class Charged:
    """What a charger of devices did.

    Attributes
    ----------
    share : ndarray, shape (H,)
        Of its full power.
    missed_wh : float
        What was wanted and found no time. [Wh]
    """

    share: Floats
    missed_wh: float


def charging(
    when: Floats,
    wanted_wh: Floats,
    day: Ints,
    *,
    watts: float,
    step_hours: float,
) -> Charged:
    """Charge each day's energy in the time there is, evenly.

    Parameters
    ----------
    when : ndarray, shape (H,)
        Share of each step in which it may charge.
    wanted_wh : ndarray, shape (N,)
        What its devices used on each day. [Wh]
    day : ndarray of int, shape (H,)
        Number of the day of each step, 0 to N - 1, rising.
    watts : float
        Of the charger. [W]
    step_hours : float

    Returns
    -------
    Charged

    Notes
    -----
    What found no time on its day waits for the next, but never more than a day's energy: a
    battery is only so large. The rest is missed, and so is what still waits at the end.
    """
    hours = np.bincount(day, when, minlength=len(wanted_wh)) * step_hours
    pace = np.zeros(len(wanted_wh))
    waits = missed = 0.0
    for number, (wanted, most) in enumerate(zip(wanted_wh, hours * watts, strict=True)):
        taken = min(wanted + waits, most)
        if most > 0.0:
            pace[number] = taken / most
        left = wanted + waits - taken
        waits = min(left, max(wanted, waits))
        missed += left - waits
    return Charged(when * pace[day], float(missed + waits))


def heater_watts(heat_w: Floats, *, blower_watts: float, full_heat_watts: float) -> Floats:
    """Blower and controls of a fuel heater, by its duty.

    Parameters
    ----------
    heat_w : ndarray
        Mean heat given. [W]
    blower_watts : float
        While it burns at full output. [W]
    full_heat_watts : float
        [W]

    Returns
    -------
    ndarray, shape of `heat_w`
        [W]
    """
    return heat_w / full_heat_watts * blower_watts


def fan_share(cabin_c: Floats, aboard: Floats, *, on_above_c: float) -> Floats:
    """Share of full power of a roof fan on a thermostat.

    Parameters
    ----------
    cabin_c : ndarray, shape (H, D)
        [deg C]
    aboard : ndarray, shape (H,)
        Share of the step with somebody aboard.
    on_above_c : float
        Where it starts. [deg C]

    Returns
    -------
    ndarray, shape (H, D)
    """
    share = (cabin_c - on_above_c) / FAN_RAMP_K
    np.maximum(share, 0.0, out=share)
    np.minimum(share, 1.0, out=share)
    share *= aboard[:, None]
    return share


# A box that needs no more than this needs nothing. [W]
_NO_WATTS = 1e-6
_STEPS_AT_ONCE = 128


def inside_hours(
    cabin_c: Floats,
    fed: Floats,
    holding_w: Callable[[Floats], Floats],
    *,
    inside_c: float,
    holds_hours: float,
    max_watts: float,
    step_hours: float,
) -> Floats:
    """Temperature inside a cold box that is not always fed.

    Parameters
    ----------
    cabin_c : ndarray, shape (H, D)
        [deg C]
    fed : ndarray, shape (H, D) or (H, 1)
        Share of what it wanted that it was given, 0 to 1.
    holding_w : callable
        From the cabin's temperature, shape (some steps, D), to what holds `inside_c` there. [W]
    inside_c : float
        Its setting. [deg C]
    holds_hours : float
        In which it comes 63 % nearer to the cabin when it is off. [h]
    max_watts : float
        What its compressor draws when it runs. [W]
    step_hours : float

    Returns
    -------
    ndarray, shape (H, D)
        At the end of each step. [deg C]

    Notes
    -----
    Unfed, the inside nears the cabin as one body does. Fed again, the compressor runs on at
    full power until the setting is reached; what it carries out per watt is what it carries out
    holding the setting. The electricity of that catching up is not in the ledger, which knows
    loads before it knows which of them go dark.
    """
    kept = np.exp(-step_hours / holds_hours)
    fed = np.broadcast_to(fed, cabin_c.shape)
    out = np.empty(cabin_c.shape)
    now = np.full(cabin_c.shape[1], inside_c)
    # So many steps at once: one by one is slow, and a year of draws is large.
    for first in range(0, len(cabin_c), _STEPS_AT_ONCE):
        some = slice(first, first + _STEPS_AT_ONCE)
        spare = np.maximum(max_watts / np.maximum(holding_w(cabin_c[some]), _NO_WATTS), 1.0)
        pulled = fed[some] * np.maximum((cabin_c[some] - inside_c) * (1.0 - kept) * spare, 0.0)
        for cabin, carried, end in zip(cabin_c[some], pulled, out[some], strict=True):
            drift = cabin + (now - cabin) * kept
            # A cabin colder than the setting cools it without a compressor.
            now = np.maximum(drift - carried, np.minimum(inside_c, drift), out=end)
    return out
