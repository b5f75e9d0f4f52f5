"""What sun, engine and plug can put onto the battery's terminals, before the battery has a say."""

from __future__ import annotations

import numpy as np

from sim.arrays import Floats


def solar_controller_watts(
    panel_watts: Floats,
    *,
    efficiency: float,
    amps: float | Floats,
    charging_v: float,
    standby_watts: float = 0.0,
) -> tuple[Floats, Floats]:
    """A solar controller with a limit on its output current.

    Parameters
    ----------
    panel_watts : ndarray, shape (H, D)
        [W]
    efficiency : float
        Of all but the standby, 0 to 1; together ``efficiency - standby_watts / P``.
    amps : float or ndarray, shape (D,)
        Rated output current. [A]
    charging_v : float
        Mean voltage of the bank while charging. [V]
    standby_watts : float
        Kept by the controller itself, of what the panels give. [W]

    Returns
    -------
    offered, clipped : ndarray, shape (H, D)
        At the battery, and lost to the current limit. [W]
    """
    wanted = panel_watts * efficiency
    if standby_watts > 0.0:
        wanted = np.maximum(wanted - standby_watts, 0.0)
    offered = np.minimum(wanted, amps * charging_v)
    return offered, wanted - offered


def dcdc_watts(
    *,
    dcdc_amps: float,
    charging_v: float,
    efficiency: float,
    spare_amps: float | None,
    alternator_v: float,
    hot_loss: float = 0.0,
    idle_share: float = 0.0,
    idle_output: float = 1.0,
) -> float:
    """Charging power from the engine: the smaller of charger rating and spare alternator.

    Parameters
    ----------
    dcdc_amps : float
        Rated output current of the DC-DC charger. [A]
    charging_v : float
        Mean voltage of the bank while charging. [V]
    efficiency : float
        Output over input, 0 to 1.
    spare_amps : float or None
        What the alternator can spare; None when that never limits. [A]
    alternator_v : float
        Voltage at the charger's input. [V]
    hot_loss : float
        Share of the spare current that a hot alternator does not give, 0 to 1.
    idle_share, idle_output : float
        Part of the driving spent idling, and the share of the spare current left then, 0 to 1.

    Returns
    -------
    float
        Mean over the driving. [W] at the battery
    """
    rating = dcdc_amps * charging_v
    # Without a limit of its own the alternator is taken as just large enough for the charger.
    spare = rating
    if spare_amps is not None:
        spare = spare_amps * (1.0 - hot_loss) * alternator_v * efficiency
    on_road, idling = min(rating, spare), min(rating, spare * idle_output)
    return (1.0 - idle_share) * on_road + idle_share * idling


def plug_watts(
    ac_wanted: Floats,
    plugged: Floats,
    *,
    inlet_watts: float | Floats,
    charger_watts: float,
    charger_efficiency: float,
) -> tuple[Floats, Floats]:
    """Share an inlet between AC appliances, which go first, and the battery charger.

    Parameters
    ----------
    ac_wanted : ndarray, shape (H,) or (H, D)
        What AC appliances draw. [W]
    plugged : ndarray, shape (H,)
        Share of the step on the plug.
    inlet_watts : float or ndarray, shape (H, 1) or (H, D)
        What the inlet gives to them, while plugged in. [W]
    charger_watts : float
        Rated output of the charger, at the battery. [W]
    charger_efficiency : float
        0 to 1.

    Returns
    -------
    ac_served, offered : ndarray, shape of `ac_wanted`
        AC load carried by the inlet, and what the charger offers to the battery, both as
        means over the step. [W]
    """
    share = plugged if ac_wanted.ndim == 1 else plugged[:, None]
    ac_served = np.minimum(ac_wanted, inlet_watts)
    offered = np.minimum((inlet_watts - ac_served) * charger_efficiency, charger_watts)
    return ac_served * share, offered * share
