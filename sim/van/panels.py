"""From light on a panel to watts out of it."""

from __future__ import annotations

import numpy as np
import pvlib

from sim.arrays import Floats
from sim.sky.sun import PlaneIrradiance

# Cell temperature, SAPM close-mount glass/glass: a, b, delta T [K]; King, Boyson, Kratochvil,
# SAND2004-3535, table A.1, through pvlib. A panel on a roof rack with a hand's breadth of air.
_SAPM = pvlib.temperature.TEMPERATURE_MODEL_PARAMETERS["sapm"]["close_mount_glass_glass"]
# Air over the roof (common practice, no source): a light breeze in camp, the road when driving.
WIND_PARKED_M_S = 1.5
WIND_DRIVING_M_S = 18.0
# Open-circuit voltage over that at the maximum power point.
OPEN_OVER_MPP = 1.2


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
    diffuse = pvlib.iam.marion_diffuse("physical", tilt_deg)
    ground = diffuse["ground"] if tilt_deg > 0 else 0.0
    return np.asarray(
        plane.beam * beam[:, None] + plane.sky * diffuse["sky"] + plane.ground * ground
    )


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
    """Power lost to the shadows of what else stands on the roof.

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


def pwm_share(cell_c: Floats, *, vmp_v: float, temp_coeff_pct_c: float, battery_v: float) -> Floats:
    """What a switching (PWM) controller gets over the power at the maximum power point.

    Parameters
    ----------
    cell_c : ndarray, shape (H, D)
        [deg C]
    vmp_v : float
        Voltage of the string at its maximum power point, at 25 deg C. [V]
    temp_coeff_pct_c : float
        Of that voltage, negative. [%/deg C]
    battery_v : float
        Of the bank while charging. [V]

    Returns
    -------
    ndarray, shape (H, D)
        0 to 1.

    Notes
    -----
    The controller ties the string to the bank: the current is that of the maximum power point,
    the voltage the bank's. (Below that point a panel gives up to 6 % more current; that is not
    counted on.) A string too hot to reach the bank's voltage gives a current that falls in a
    straight line to nothing at its open-circuit voltage, a fifth above the maximum power point
    (common practice, no source).
    """
    vmp = np.maximum(vmp_v * (1.0 + temp_coeff_pct_c / 100.0 * (cell_c - 25.0)), 0.1)
    voltage = battery_v / vmp
    current = np.clip((OPEN_OVER_MPP - voltage) / (OPEN_OVER_MPP - 1.0), 0.0, 1.0)
    return np.asarray(voltage * current)


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
