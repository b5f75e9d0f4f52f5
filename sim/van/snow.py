"""Snow on panels: when it falls, and how it leaves them.

The built-in climate knows no snowfall. A day that is dull and near freezing is taken for one on
which it snows; how much of the panel that covers follows from how dull it is. These bounds are
plain reasoning (common practice, no source); how snow slides off a tilted panel is published.
"""

from __future__ import annotations

import numpy as np

from sim.arrays import Bools, Floats

# Snow falls on days below this mean temperature; rain and snow are as likely a little above
# freezing (common practice, no source).
SNOWS_BELOW_C = 1.0
# Days of this clearness are dull enough for snow, and those so dull that it covers all.
DULL_KT, DULLEST_KT = 0.30, 0.15
# A snowfall covers what it will cover in this time. [h]
FALLS_IN_H = 6.0
# Warmth that clears a panel: a degree above freezing for a day melts some 4 mm of water, a few
# centimetres of fresh snow (degree-day factors of 2 to 6 mm/K day are usual; from memory).
MELTS_K_H = 24.0
# A panel of this tilt T sheds 0.197 sin(T) of its height an hour while the air is warmer than
# the irradiance over -80 W/m2K: B. Marion, R. Schaefer, H. Caine, G. Sanchez, Solar Energy 97
# (2013) 112-121, as in pvlib.snow.coverage_nrel.
SLIDE_SHARE_H = 0.197
SLIDES_ABOVE_W_M2_K = -80.0


def snowfall(clearness: Floats, temp_day_c: Floats) -> Floats:
    """Share of a panel that a day's snow covers.

    Parameters
    ----------
    clearness : ndarray
        Daily global over extraterrestrial irradiance.
    temp_day_c : ndarray
        Mean of the day. [deg C]

    Returns
    -------
    ndarray, shape of `clearness`
        0 to 1.
    """
    dull = np.clip((DULL_KT - clearness) / (DULL_KT - DULLEST_KT), 0.0, 1.0)
    return np.where(temp_day_c < SNOWS_BELOW_C, dull, 0.0)


def snow_cover(
    falling: Floats,
    poa: Floats,
    temp_air: Floats,
    cleared: Bools,
    *,
    tilt_deg: float,
    step_hours: float,
) -> Floats:
    """Share of a panel that lies under snow; a trip begins with bare panels.

    Parameters
    ----------
    falling : ndarray, shape (H, D)
        What the snowfall of the step's day covers in the end, 0 to 1.
    poa : ndarray, shape (H, D)
        Irradiance on the snow. [W/m2]
    temp_air : ndarray, shape (H, D)
        [deg C]
    cleared : ndarray of bool, shape (H,)
        Steps at whose start the panels are swept, by hand or by the wind of the road.
    tilt_deg : float
        0 is flat. [degrees]
    step_hours : float

    Returns
    -------
    ndarray, shape (H, D)
        In the step, 0 to 1.
    """
    cover = np.zeros(falling.shape)
    now = np.zeros(falling.shape[1])
    melt = np.maximum(temp_air, 0.0) * (step_hours / MELTS_K_H)
    slide = SLIDE_SHARE_H * np.sin(np.radians(tilt_deg)) * step_hours
    slides = np.where(temp_air > poa / SLIDES_ABOVE_W_M2_K, slide, 0.0)
    for hour in range(len(falling)):
        if cleared[hour]:
            now = np.zeros_like(now)
        more = np.minimum(falling[hour], now + falling[hour] * (step_hours / FALLS_IN_H))
        snowing = falling[hour] > 0.0
        left = np.where(snowing, now, now - slides[hour]) - melt[hour]
        now = np.maximum(np.maximum(left, more - melt[hour]), 0.0)
        cover[hour] = now
    return cover
