"""What sun, engine and plug can put onto the battery's terminals, before the battery has a say;
and what a converter behind it takes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.arrays import Floats

RATED_AT_C = 25.0
UNDER_BONNET_K = 65.0


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
    panel_watts : ndarray
        [W]
    efficiency : float
        Of all but the standby, 0 to 1; together ``efficiency - standby_watts / P``.
    amps : float or ndarray that spreads over `panel_watts`
        Rated output current. [A]
    charging_v : float
        Mean voltage of the bank while charging. [V]
    standby_watts : float
        Kept by the controller itself, of what the panels give. [W]

    Returns
    -------
    offered, clipped : ndarray, shape of `panel_watts`
        At the battery, and lost to the current limit. [W]
    """
    wanted = panel_watts * efficiency
    if standby_watts > 0.0:
        wanted = np.maximum(wanted - standby_watts, 0.0)
    offered = np.minimum(wanted, amps * charging_v)
    wanted -= offered
    return offered, wanted


def hot_loss(air_c: Floats, loss: float) -> Floats:
    """What a hot alternator does not give of its rated current, by the air outside.

    Parameters
    ----------
    air_c : ndarray
        Air outside. [deg C]
    loss : float
        The same at 25 deg C outside, 0 to 1.

    Returns
    -------
    ndarray, shape of `air_c`
        0 to 1. The loss grows with how much warmer than 25 deg C the alternator runs.

    Notes
    -----
    Rated currents are given at 25 deg C (ISO 8854; from memory, sure). Copper resists in
    proportion to its warmth, and once the engine is warm the air under the bonnet is warmer than
    outside by `UNDER_BONNET_K` (common practice, no source).
    """
    warmer_k = np.maximum(air_c + UNDER_BONNET_K - RATED_AT_C, 0.0)
    return np.asarray(np.minimum(loss * warmer_k / UNDER_BONNET_K, 1.0))


@dataclass(frozen=True)
class AlternatorOutput:
    """What an alternator gives to the house.

    Attributes
    ----------
    amps : float or None
        Cold, at road speed; None when it never limits. [A]
    volts : float
        At the charger's input. [V]
    hot_loss : float or ndarray
        Share of that current that a hot alternator does not give, 0 to 1.
    idle_output : float
        Share of the current left at idle, 0 to 1.
    vehicle_amps : float
        What the vehicle itself takes of it, at idle as on the road. [A]
    """

    amps: float | None
    volts: float
    hot_loss: float | Floats = 0.0
    idle_output: float = 1.0
    vehicle_amps: float = 0.0


def dcdc_watts(
    *,
    dcdc_amps: float,
    charging_v: float,
    efficiency: float,
    alternator: AlternatorOutput,
    idle_share: float = 0.0,
) -> Floats:
    """Charging power from the engine: the smaller of charger rating and spare alternator.

    Parameters
    ----------
    dcdc_amps : float
        Rated output current of the DC-DC charger. [A]
    charging_v : float
        Mean voltage of the bank while charging. [V]
    efficiency : float
        Output over input, 0 to 1.
    alternator : AlternatorOutput
    idle_share : float
        Part of the driving spent idling, 0 to 1.

    Returns
    -------
    ndarray, shape of `alternator.hot_loss`
        Mean over the driving. [W] at the battery
    """
    rating = dcdc_amps * charging_v
    # Without a limit of its own the alternator is taken as just large enough for the charger.
    gives, own = np.asarray(rating), 0.0
    if alternator.amps is not None:
        kept = 1.0 - np.asarray(alternator.hot_loss)
        gives = alternator.amps * kept * alternator.volts * efficiency
        own = alternator.vehicle_amps * alternator.volts * efficiency
    on_road, idling = (
        np.minimum(rating, np.maximum(gives * share - own, 0.0))
        for share in (1.0, alternator.idle_output)
    )
    return np.asarray((1.0 - idle_share) * on_road + idle_share * idling)


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


def converter_loss_watts(load_w: Floats, *, efficiency: float) -> Floats:
    """What a DC-to-DC converter takes on top of the load behind it, its idle draw apart. [W]

    Parameters
    ----------
    load_w : ndarray
        At its output. [W]
    efficiency : float
        Output over input, 0 to 1.
    """
    return load_w * (1.0 / efficiency - 1.0)


def within_rating(wanted_w: Floats, left_w: Floats) -> Floats:
    """Share of a load that a part can carry which has so many watts left, 1 where all of it."""
    wanted_w, left_w = np.broadcast_arrays(wanted_w, left_w)
    return np.asarray(
        np.divide(left_w, wanted_w, out=np.ones(wanted_w.shape), where=wanted_w > left_w)
    )
