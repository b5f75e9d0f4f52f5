"""From light on a panel to watts out of it."""

from __future__ import annotations

from functools import lru_cache
from typing import Literal

import numpy as np
import pvlib

from sim.arrays import Bools, Floats, Ints
from sim.sky.sun import PlaneIrradiance
from sim.van.conductors import OPEN_OVER_MPP

# Cell temperature, SAPM close-mount glass/glass: a, b, delta T [K]; King, Boyson, Kratochvil,
# SAND2004-3535, table A.1, through pvlib. A panel on a roof rack with a hand's breadth of air.
_SAPM = pvlib.temperature.TEMPERATURE_MODEL_PARAMETERS["sapm"]["close_mount_glass_glass"]
# Air over the roof (common practice, no source): a light breeze in camp, the road when driving.
WIND_PARKED_M_S = 1.5
WIND_DRIVING_M_S = 18.0


def through_glass(plane: PlaneIrradiance, tilt_deg: float) -> Floats:
    """Irradiance that reaches the cells through the front glass.

    Parameters
    ----------
    plane : PlaneIrradiance
        shape (H, D)
    tilt_deg : float
        0 is flat. [degrees]

    Returns
    -------
    ndarray, shape (H, D)
        [W/m2]

    Notes
    -----
    pvlib's physical incidence-angle model for the beam, and its integral over sky and ground
    for diffuse light (Marion 2017).

    References
    ----------
    W. De Soto, S. A. Klein, W. A. Beckman, Solar Energy 80 (2006) 78-88.
    B. Marion, Solar Energy 147 (2017) 344-348.
    """
    beam = np.nan_to_num(np.asarray(pvlib.iam.physical(plane.incidence)))
    sky, ground = _diffuse_shares(float(tilt_deg))
    return np.asarray(plane.beam * beam[:, None] + plane.sky * sky + plane.ground * ground)


@lru_cache(maxsize=256)
def _diffuse_shares(tilt_deg: float) -> tuple[float, float]:
    """What the glass lets through of diffuse light from the sky and from the ground."""
    diffuse = pvlib.iam.marion_diffuse("physical", tilt_deg)
    return diffuse["sky"], diffuse["ground"] if tilt_deg > 0 else 0.0


def cell_temperature(poa: Floats, temp_air: Floats, driving: Floats) -> Floats:
    """Cell temperature of a panel close to the roof.

    Parameters
    ----------
    poa : ndarray, shape (H, D)
        Irradiance on the panel. [W/m2]
    temp_air : ndarray, shape (H, D)
        [deg C]
    driving : ndarray, shape (H,)
        Share of the step on the road.

    Returns
    -------
    ndarray, shape (H, D)
        [deg C]

    References
    ----------
    D. L. King, W. E. Boyson, J. A. Kratochvil, SAND2004-3535, 2004.
    """
    wind = WIND_PARKED_M_S + (WIND_DRIVING_M_S - WIND_PARKED_M_S) * driving
    return np.asarray(pvlib.temperature.sapm_cell(poa, temp_air, wind[:, None], **_SAPM))


def kept_share(*losses_pct: float) -> float:
    """Share left after losses that multiply: 3 % and 2 % leave 0.97 * 0.98."""
    return float(np.prod([1.0 - loss / 100.0 for loss in losses_pct]))


# Cells of a panel are bypassed in three parts (common practice, no source); what still falls on
# a shadow is diffuse light, about a quarter.
SUBSTRINGS, SHADOW_DARK = 3, 0.75


def shadow_loss(shadowed: float, *, series: int, strings: int) -> float:
    """Power lost to the shadows of what else is on the roof.

    Parameters
    ----------
    shadowed : float
        Share of the panels' area in shadow, mean over the day, 0 to 1.
    series, strings : int
        Panels in a string, and strings side by side.

    Returns
    -------
    float
        Share of the group's power, 0 to 1.

    Notes
    -----
    Plain reasoning (common practice, no source): one shadow at a time lies on one bypassed part
    of a panel. A string alone loses that part. Beside others it may not fall below their
    voltage: it gives what light the shadow leaves, or all of them give up one part's voltage,
    whichever costs less. Never less than the area in shadow is lost.
    """
    parts = SUBSTRINGS * series
    often = min(SUBSTRINGS * series * strings * shadowed, 1.0)
    return max(shadowed, often * min(1.0 / parts, SHADOW_DARK / strings))


def at_cells(volts: float, cell_c: Floats, coeff_pct_c: float) -> Floats:
    """A voltage of a string at the temperature of its cells. [V], shape of `cell_c`

    Parameters
    ----------
    volts : float
        At 25 deg C. [V]
    cell_c : ndarray
        [deg C]
    coeff_pct_c : float
        Negative. For the maximum power point that of power: the current there hardly changes
        with the cells' temperature, the voltage bears it all. [%/deg C]

    References
    ----------
    D. L. King, W. E. Boyson, J. A. Kratochvil, SAND2004-3535, 2004.
    """
    return np.asarray(np.maximum(volts * (1.0 + coeff_pct_c / 100.0 * (cell_c - 25.0)), 0.1))


def held_share(vmp: Floats, held_v: float | Floats) -> Floats:
    """Power of a string that is held at a voltage, over that at its maximum power point. 0 to 1

    Parameters
    ----------
    vmp : ndarray
        Voltage of the string at its maximum power point, warm as it is. [V]
    held_v : float or ndarray
        [V]

    Notes
    -----
    Up to the maximum power point the current is that of this point. (Below it a panel gives up
    to 6 % more; that is not counted on.) Above it the current falls in a straight line to
    nothing at the open-circuit voltage, a fifth higher (common practice, no source).
    """
    voltage = held_v / vmp
    current = np.clip((OPEN_OVER_MPP - voltage) / (OPEN_OVER_MPP - 1.0), 0.0, 1.0)
    return np.asarray(voltage * current)


def controller_share(
    vmp: Floats,
    *,
    kind: Literal["mppt", "pwm", "boost"],
    battery_v: float,
    run_above_v: float,
) -> Floats:
    """What a controller gets over the power at the maximum power point. 0 to 1

    Parameters
    ----------
    vmp : ndarray
        Voltage of the string at its maximum power point, warm as it is. [V]
    kind : {"mppt", "pwm", "boost"}
        One that steps the voltage down; one that ties the string to the bank; one that steps
        it up.
    battery_v : float
        Of the bank while charging. [V]
    run_above_v : float
        What one that steps down needs above that. [V]

    Notes
    -----
    A controller that steps down cannot hold the string below the bank's voltage and its margin,
    one that steps up not above the bank's voltage: there the string feeds straight through.
    """
    if kind == "pwm":
        return held_share(vmp, battery_v)
    if kind == "boost":
        return held_share(vmp, np.minimum(vmp, battery_v))
    return held_share(vmp, np.maximum(vmp, battery_v + run_above_v))


def starts_that_day(open_v: Floats, is_lit: Bools, local_day: Ints, start_v: float) -> Bools:
    """Whether a controller starts on the day of each step. shape (H, D)

    Parameters
    ----------
    open_v : ndarray, shape (H, D)
        Open-circuit voltage of the string, warm as it is. [V]
    is_lit : ndarray of bool, shape (H, D)
    local_day : ndarray of int, shape (H,)
        From 0, without gaps.
    start_v : float
        What the string must reach once. [V]

    Notes
    -----
    Cells are coolest, and their voltage highest, in the first light; what has started stays on.
    That dim light takes some per cent of the voltage is left out.
    """
    first = np.flatnonzero(np.diff(local_day, prepend=-1))
    highest = np.maximum.reduceat(np.where(is_lit, open_v, 0.0), first, axis=0)
    return np.asarray((highest >= start_v)[local_day])


def panel_watts(
    effective: Floats,
    cell_c: Floats,
    *,
    rated_watts: float,
    temp_coeff_pct_c: float,
    kept: float,
) -> Floats:
    """Power of a group of panels at its maximum power point.

    Parameters
    ----------
    effective : ndarray, shape (H, D)
        Irradiance that reaches the cells. [W/m2]
    cell_c : ndarray, shape (H, D)
        [deg C]
    rated_watts : float
        Of the whole group, at 1000 W/m2 and 25 deg C. [W]
    temp_coeff_pct_c : float
        Of power, negative. [%/deg C]
    kept : float
        From `kept_share`.

    Returns
    -------
    ndarray, shape (H, D)
        [W]

    References
    ----------
    A. P. Dobos, PVWatts Version 5 Manual, NREL/TP-6A20-62641, 2014, section 8.
    """
    dc = pvlib.pvsystem.pvwatts_dc(effective, cell_c, rated_watts, temp_coeff_pct_c / 100.0)
    return np.maximum(np.asarray(dc) * kept, 0.0)
