"""Snow on panels: when it falls, and how it leaves them.

The built-in climate knows no snowfall. A day that is dull and near freezing is taken for one on
which it snows; how much of the panel that covers follows from how dull it is. These bounds are
plain reasoning (common practice, no source); how snow slides off a tilted panel is published.
"""

from __future__ import annotations

import numpy as np

from sim.arrays import Bools, Floats, Ints

# Below this mean temperature of a day it snows: half of what falls at 1.0 deg C over the northern
# hemisphere, warmer in dry highlands (K. S. Jennings et al., Nature Communications 9, 1148, 2018).
SNOWS_BELOW_C = 1.5
# Days of this clearness are dull enough for snow, and those so dull that it snows all day.
DULL_KT, DULLEST_KT = 0.40, 0.15
# Water of a whole day's snow, and what covers a panel: 2 cm of fresh snow (ten to one). [mm]
SNOWY_DAY_MM = 12.0
COVERS_MM = 2.0
# A day's snow falls in this time. [h]
FALLS_IN_H = 6.0
# Melting takes 334 kJ/kg. The sun brings what fresh snow does not reflect (albedo 0.8), the air
# 15 W/m2K by convection and radiation: a degree above freezing then melts 3.9 mm in a day, amid
# the published degree-day factors of 2 to 6 (R. Hock, Journal of Hydrology 282, 2003, from memory,
# fairly sure).
MELT_WH_MM_M2 = 334.0e3 / 3600.0
SNOW_TAKES = 0.2
AIR_W_M2_K = 15.0
# A panel of this tilt T sheds 0.197 sin(T) of its height an hour while the air is warmer than
# the irradiance over -80 W/m2K: B. Marion, R. Schaefer, H. Caine, G. Sanchez, Solar Energy 97
# (2013) 112-121, as in pvlib.snow.coverage_nrel.
SLIDE_SHARE_H = 0.197
SLIDES_ABOVE_W_M2_K = -80.0


def snowfall_mm(clearness: Floats, temp_day_c: Floats) -> Floats:
    """Snow of a day.

    Parameters
    ----------
    clearness : ndarray
        Daily global over extraterrestrial irradiance.
    temp_day_c : ndarray
        Mean of the day. [deg C]

    Returns
    -------
    ndarray, shape of `clearness`
        As water. [mm]
    """
    dull = np.clip((DULL_KT - clearness) / (DULL_KT - DULLEST_KT), 0.0, 1.0)
    return np.where(temp_day_c < SNOWS_BELOW_C, dull * SNOWY_DAY_MM, 0.0)


def snow_cover(
    falling_mm: Floats,
    poa: Floats,
    temp_air: Floats,
    kept_bare: Floats,
    day: Ints,
    *,
    tilt_deg: float,
    step_hours: float,
) -> Floats:
    """Share of a panel that lies under snow; a trip begins with bare panels.

    Parameters
    ----------
    falling_mm : ndarray, shape (H, D)
        Snow of the step's day, as water. [mm]
    poa : ndarray, shape (H, D)
        Irradiance on the snow. [W/m2]
    temp_air : ndarray, shape (H, D)
        [deg C]
    kept_bare : ndarray, shape (H,)
        Share of the step, from its start, in which the wind of the road keeps the panels bare;
        next to nothing where they are swept once by hand. 0 to 1
    day : ndarray of int, shape (H,)
        Number of the local day of each step.
    tilt_deg : float
        0 is flat. [degrees]
    step_hours : float

    Returns
    -------
    ndarray, shape (H, D)
        In the step, 0 to 1.

    Notes
    -----
    A day's snow falls in the first hours of the day, until its amount is down. What lies slides
    as one sheet, so the share of the panel that is bare stays bare until it snows again.
    """
    cover = np.zeros(falling_mm.shape)
    # Many draws see no snow, and the others none before its first day.
    snowy = np.flatnonzero(falling_mm.any(axis=0))
    if not snowy.size:
        return cover
    first = int(falling_mm.any(axis=1).argmax())
    draws: Ints | slice = snowy if 2 * snowy.size < falling_mm.shape[1] else slice(None)
    poa, temp_air = poa[first:, draws], temp_air[first:, draws]
    slide = SLIDE_SHARE_H * np.sin(np.radians(tilt_deg)) * step_hours
    cover[first:, draws] = _covered(
        falling_mm[first:, draws],
        _melts_mm_h(poa, temp_air) * step_hours,
        np.where(temp_air > poa / SLIDES_ABOVE_W_M2_K, slide, 0.0) if slide > 0.0 else None,
        kept_bare[first:],
        np.diff(day[first:], prepend=day[first]) != 0,
        most_share=step_hours / FALLS_IN_H,
    )
    return cover


def _covered(
    falling_mm: Floats,
    melt_mm: Floats,
    slides: Floats | None,
    kept_bare: Floats,
    is_new_day: Bools,
    *,
    most_share: float,
) -> Floats:
    """As `snow_cover`, from what melts and slides in each step; None slides off a flat panel, and
    of a day's snow so much may fall in a step."""
    lain_mm, slid = np.empty(falling_mm.shape), []
    lies_mm, bare, fallen_mm, more_mm, rest = (np.zeros(falling_mm.shape[1]) for _ in range(5))
    snows = (falling_mm.max(axis=1) > 0.0).tolist()
    swept, new_day = (kept_bare > 0.0).tolist(), is_new_day.tolist()
    for hour, today in enumerate(falling_mm):
        if swept[hour]:
            lies_mm.fill(0.0)
        if new_day[hour]:
            fallen_mm.fill(0.0)
        if snows[hour]:
            np.subtract(today, fallen_mm, out=more_mm)
            np.maximum(more_mm, 0.0, out=more_mm)
            np.minimum(more_mm, np.multiply(today, most_share, out=rest), out=more_mm)
            fallen_mm += more_mm
            lies_mm += np.multiply(more_mm, 1.0 - kept_bare[hour], out=rest)
        else:
            more_mm.fill(0.0)
        lies_mm -= melt_mm[hour]
        lain_mm[hour] = np.maximum(lies_mm, 0.0, out=lies_mm)
        if slides is not None:
            # Fresh snow covers what had slid bare.
            bare = np.where(more_mm > 0.0, 0.0, np.minimum(bare + slides[hour], 1.0))
            bare = np.where(lies_mm > 0.0, bare, 0.0)
            slid.append(bare)
            lies_mm[bare >= 1.0] = 0.0
    cover = np.minimum(np.divide(lain_mm, COVERS_MM, out=lain_mm), 1.0, out=lain_mm)
    if slid:
        cover *= 1.0 - np.array(slid)
    return cover


def _melts_mm_h(poa: Floats, temp_air: Floats) -> Floats:
    """Snow that sun and air melt, as water. [mm/h]"""
    heat_w_m2 = SNOW_TAKES * poa + AIR_W_M2_K * temp_air
    return np.asarray(np.maximum(heat_w_m2, 0.0) / MELT_WH_MM_M2)
