"""A bank as numbers, spread over its lanes.

A lane is one draw of the weather with one design; the functions of the battery take many lanes
side by side.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.arrays import Floats, Ints

# Order of the floors and of the axis of wanted loads; the last is switched off first. After these
# come the loads that are held to a charge, by the charge.
GROUPS = ("essential", "comfort", "extra")
# The highest charge that a load waits for before it comes back, 0 to 1.
_LAST_BACK = 0.95


@dataclass(frozen=True)
class Bank:
    """A bank as numbers; each is a float, or an array of shape (L,) that differs by lane.

    Attributes
    ----------
    capacity_wh : float or ndarray
        From empty to full. [Wh]
    charge_limit_w, discharge_limit_w : float or ndarray
        At the terminals. [W]
    taper_from_soc : float
        Where the accepted charge starts to fall, 0 to 1.
    tail_share : float
        Share of the limit still accepted when full, above 0.
    charge_efficiency : float
        0 to 1.
    resistance_per_w : float or ndarray
        Internal resistance over nominal voltage squared: ``loss = resistance_per_w * P**2``.
        [1/W]
    self_discharge_per_h : float
        Share of the charge lost an hour.
    floors : tuple of G floats
        SOC below which each group of loads is off, rising: essential, comfort, extra, then those
        that are held to a charge.
    reconnect_above : float
        SOC above its floor at which a group comes back.
    peukert : float
        Exponent of Peukert's law, 1 for a bank whose capacity does not depend on the load.
    rated_hours : float
        Discharge time for which the capacity is rated. [h]
    """

    capacity_wh: float | Floats
    charge_limit_w: float | Floats
    discharge_limit_w: float | Floats
    taper_from_soc: float
    tail_share: float
    charge_efficiency: float
    resistance_per_w: float | Floats
    self_discharge_per_h: float
    floors: tuple[float, ...]
    reconnect_above: float
    peukert: float = 1.0
    rated_hours: float = 20.0


@dataclass(frozen=True)
class Lanes:
    """A bank over its lanes: what the loop needs, worked out once.

    Arrays have shape (L,), or (1,) where all lanes share the value.
    """

    full: Floats
    eta: float
    r: Floats
    charge_limit: Floats
    discharge_limit: Floats
    # Above the taper level the accepted stored power is rate * (asymptote - level).
    rate: Floats
    asymptote: Floats
    floors: Floats  # (G, L) Wh
    back: Floats  # (G, L) Wh at which a group comes back
    rated_w: Floats  # load at which the capacity is rated
    peukert: float
    uniform: bool  # all lanes have the same bank

    @classmethod
    def of(cls, bank: Bank) -> Lanes:
        full, r, limit, drawn = (
            np.atleast_1d(np.asarray(value, dtype=np.float64))
            for value in (
                bank.capacity_wh,
                bank.resistance_per_w,
                bank.charge_limit_w,
                bank.discharge_limit_w,
            )
        )
        most = (bank.charge_efficiency - r * limit) * limit
        span = (1.0 - bank.taper_from_soc) * full
        floors = np.array(bank.floors)[:, None]
        return cls(
            full=full,
            eta=bank.charge_efficiency,
            r=r,
            charge_limit=limit,
            discharge_limit=drawn,
            rate=(1.0 - bank.tail_share) * most / span,
            asymptote=full + span * (bank.tail_share / (1.0 - bank.tail_share)),
            floors=floors * full,
            # Above the last of them there must be charge left at which a load comes back.
            back=np.minimum(floors + bank.reconnect_above, np.maximum(floors, _LAST_BACK)) * full,
            rated_w=full / bank.rated_hours,
            peukert=bank.peukert,
            uniform=len(full) == len(r) == len(limit) == len(drawn) == 1,
        )

    def some(self, which: Ints) -> Lanes:
        """The same for some of the lanes."""
        if self.uniform:
            return self
        return Lanes(
            some_of(self.full, which),
            self.eta,
            some_of(self.r, which),
            some_of(self.charge_limit, which),
            some_of(self.discharge_limit, which),
            some_of(self.rate, which),
            some_of(self.asymptote, which),
            some_of(self.floors, which),
            some_of(self.back, which),
            some_of(self.rated_w, which),
            self.peukert,
            uniform=False,
        )

    def raised(self, level: Floats, share: Floats) -> Floats:
        """A level of charge counted from full over the share of the charge that can be had. [Wh]

        What cold or a heavy load keeps locked up is not lost: it lies below the floor.
        """
        return np.asarray(self.full - (self.full - level) * share)


def some_of(values: Floats, which: Ints) -> Floats:
    """Values of some lanes; what all lanes share stays one value."""
    return values if values.shape[-1] == 1 else values[..., which]


def rate_share(given: Floats, rated_w: Floats, peukert: float) -> Floats:
    """Share of its rated capacity that a bank gives at a steady load, by Peukert's law.

    Parameters
    ----------
    given, rated_w : ndarray, shape (L,)
        Load, and the load for which the capacity is rated. [W]
    peukert : float
        Exponent, at least 1.

    Returns
    -------
    ndarray, shape (L,)
        1 at the rated load and below it: a longer discharge is not trusted to give more.

    Notes
    -----
    The law is of steady loads. A bank recovers from a kettle's ten minutes; what counts here is
    the mean load of an hour, whatever the step (common practice, no source).

    References
    ----------
    W. Peukert, Elektrotechnische Zeitschrift 20 (1897) 287-288, with capacity C rated over H
    hours: ``t = H (C / (I H))**k``.
    """
    return np.asarray((rated_w / np.maximum(given, rated_w)) ** (peukert - 1.0))
