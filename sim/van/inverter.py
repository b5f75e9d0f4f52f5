"""What an inverter takes from the battery for what it delivers."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np

from sim.arrays import Floats

# The current of a compressor's start over its running current: data sheets and breakers allow
# for five to seven (common practice, no source).
COMPRESSOR_START = 5.0


@dataclass(frozen=True)
class LossCurve:
    """Losses over the power delivered: ``idle_w + slope * P + bend_per_w * P**2``. [W]

    The idle draw is that of the electronics, the slope that of voltage drops in the switches,
    the bend that of resistances. Schmidt and Sauer, "Wechselrichter-Wirkungsgrade",
    Sonnenenergie 4/1996, and the Sandia model (King et al., SAND2007-5036) use this parabola.

    Attributes
    ----------
    idle_w : float
        Drawn while it is on, whatever it delivers. [W]
    slope : float
        Lost of each watt.
    bend_per_w : float
        [1/W]
    """

    idle_w: float
    slope: float
    bend_per_w: float

    def input_w(self, output_w: Floats) -> Floats:
        """What it takes for a steady power, while it is on. [W]"""
        lost = self.idle_w + (self.slope + self.bend_per_w * output_w) * output_w
        return np.asarray(output_w + lost)


def loss_curve(
    *, watts: float, idle_watts: float, efficiency: float, full_load_efficiency: float
) -> LossCurve:
    """The parabola through what a data sheet gives.

    Parameters
    ----------
    watts : float
        Rated power. [W]
    idle_watts : float
        Drawn without a load. [W]
    efficiency : float
        The highest at any load, the idle draw counted. 0 to 1
    full_load_efficiency : float
        At `watts`, not above `efficiency`. 0 to 1

    Returns
    -------
    LossCurve

    Notes
    -----
    With ``p`` the idle draw and ``b`` the bend, both over the rating, losses over output have
    their least ``slope + 2 sqrt(p b)``, at the load ``sqrt(p / b)`` of the rating; at full load
    they are ``p + slope + b``. The two differ by ``(sqrt(b) - sqrt(p))**2``, which gives ``b``.
    An idle draw so large that no such parabola reaches the highest efficiency leaves a slope
    of nought, and an efficiency below it.
    """
    idle = idle_watts / watts
    bend = (sqrt(idle) + sqrt(1.0 / full_load_efficiency - 1.0 / efficiency)) ** 2
    slope = max(1.0 / efficiency - 1.0 - 2.0 * sqrt(idle * bend), 0.0)
    return LossCurve(idle_watts, slope, bend / watts)


def on_off_losses_w(curve: LossCurve, mean_w: Floats, running_w: float, beside_w: Floats) -> Floats:
    """Mean losses for one load that is on and off within a step, the idle draw left out. [W]

    Parameters
    ----------
    curve : LossCurve
    mean_w : ndarray
        Mean of the load over the step. [W]
    running_w : float
        Of the load while it is on, not below the mean. [W]
    beside_w : ndarray
        Mean of the other loads, which come and go without regard to it. [W]

    Notes
    -----
    The bend goes with the mean square: a kettle's ten minutes at 1,200 W lose more than an hour
    at 200 W. Of loads that come and go by themselves it is the sum of ``mean * running`` of each
    and of ``mean * mean`` of each pair; each load bears half of what its pairs add.
    """
    return mean_w * (curve.slope + curve.bend_per_w * (running_w + beside_w))
