"""A bank as numbers, spread over its lanes.

A lane is one draw of the weather with one design; the functions of the battery take many lanes
side by side.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from sim.arrays import Floats, Ints

# Order of the floors and of the axis of wanted loads; the last is switched off first. After these
# come the loads that are held to a charge, by the charge.
GROUPS = ("essential", "comfort", "extra")
# The highest charge that a load waits for before it comes back, 0 to 1.
_LAST_BACK = 0.95


# What may differ by lane.
BY_LANE = ("capacity_wh", "charge_limit_w", "discharge_limit_w", "resistance_per_w")


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

    def with_lanes(self, by_lane: Mapping[str, Any]) -> Bank:
        """The same with numbers of each lane for those in `BY_LANE`."""
        return replace(self, **by_lane)

    @property
    def kind(self) -> Hashable:
        """The same for banks that may lie side by side."""
        return tuple(getattr(self, x.name) for x in fields(self) if x.name not in BY_LANE)


class Taper(NamedTuple):
    """What the taper of some lanes goes by; each of shape (L,), or () where lanes share it.

    Above the taper level the accepted stored power is ``rate * (asymptote - level)``.
    """

    rate: Floats  # 1/h
    asymptote: Floats  # Wh
    full: Floats  # Wh
    r: Floats  # 1/W


@dataclass
class Lanes:
    """A bank over its lanes: what the loop needs, worked out once.

    Arrays have shape (L,), or () where all lanes share the value: numpy is quicker with those than
    with arrays of one value.
    """

    full: Floats
    eta: Floats
    r: Floats
    charge_limit: Floats
    discharge_limit: Floats
    rate: Floats  # of the taper, as the asymptote: see `Taper`
    asymptote: Floats
    most_stored: Floats  # W, at any charge that is offered
    floors: Floats  # (G, L) or (G, 1) Wh
    back: Floats  # the same, Wh at which a group comes back
    rated_w: Floats  # load at which the capacity is rated
    peukert: float
    uniform: bool  # all lanes have the same bank
    may_lack_current: bool = True  # whether loads may ask for more than the discharge limit

    @classmethod
    def of(cls, bank: Bank) -> Lanes:
        full, r, limit, drawn = (
            np.asarray(value, dtype=np.float64)
            for value in (
                bank.capacity_wh,
                bank.resistance_per_w,
                bank.charge_limit_w,
                bank.discharge_limit_w,
            )
        )
        eta = bank.charge_efficiency
        most = (eta - r * limit) * limit
        # Where losses eat what more power would bring, less of it stores the most.
        best = np.minimum(limit, eta / (2.0 * np.maximum(r, 1e-12)))
        span = (1.0 - bank.taper_from_soc) * full
        floors = np.array(bank.floors)[:, None]
        return cls(
            full=full,
            eta=np.asarray(eta),
            r=r,
            charge_limit=limit,
            discharge_limit=drawn,
            rate=np.asarray((1.0 - bank.tail_share) * most / span),
            asymptote=np.asarray(full + span * (bank.tail_share / (1.0 - bank.tail_share))),
            most_stored=np.asarray((eta - r * best) * best),
            floors=floors * full,
            # Above the last of them there must be charge left at which a load comes back.
            back=np.minimum(floors + bank.reconnect_above, np.maximum(floors, _LAST_BACK)) * full,
            rated_w=np.asarray(full / bank.rated_hours),
            peukert=bank.peukert,
            uniform=full.ndim == r.ndim == limit.ndim == drawn.ndim == 0,
        )

    def some(self, which: Ints) -> Lanes:
        """The same for some of the lanes."""
        return self if self.uniform else _SomeLanes(self, which)

    def taper(self, which: Ints | None, pace: Floats | None) -> Taper:
        """What the taper of some lanes goes by, or of all (None); `pace` of all lanes, as of
        `Straight`."""
        if self.uniform or which is None:
            rate, *others = self.rate, self.asymptote, self.full, self.r
        else:
            rate, *others = self._tapers.take(which, axis=1)
        if pace is not None:
            rate = rate * (pace if which is None else some_of(pace, which))
        return Taper(rate, *others)

    @cached_property
    def _tapers(self) -> Floats:
        return np.stack(np.broadcast_arrays(self.rate, self.asymptote, self.full, self.r))

    @cached_property
    def least_limit(self) -> float:
        """No lane has a lower charge limit. [W]"""
        return float(self.charge_limit.min())

    def bends_above(self, pace: Floats | None) -> Floats:
        """A level below which no charge reaches its taper, whatever is offered. [Wh]"""
        return self.warm_bend if pace is None else self._bend(self.rate * pace)

    @cached_property
    def warm_bend(self) -> Floats:
        """The same for a bank that accepts in the taper what a warm one does. [Wh]"""
        return self._bend(self.rate)

    def _bend(self, rate: Floats) -> Floats:
        # A little lower than it must be, for the sake of rounding.
        return np.asarray(self.asymptote - self.most_stored / rate - 1e-6 * self.full)

    def raised(self, level: Floats, share: Floats) -> Floats:
        """A level of charge counted from full over the share of the charge that can be had. [Wh]

        What cold or a heavy load keeps locked up is not lost: it lies below the floor.
        """
        return np.asarray(self.full - (self.full - level) * share)


class _SomeLanes(Lanes):
    """Some lanes, each of whose numbers is looked up when it is first asked for: few are."""

    def __init__(self, whole: Lanes, which: Ints) -> None:
        self._whole, self._which = whole, which
        self.eta, self.peukert = whole.eta, whole.peukert
        self.may_lack_current, self.uniform = whole.may_lack_current, False
        # Asked for nearly always.
        self.full, self.r = some_of(whole.full, which), some_of(whole.r, which)

    def __getattr__(self, name: str) -> Any:
        value = some_of(getattr(self._whole, name), self._which)
        setattr(self, name, value)
        return value


def some_of(values: Floats, which: Ints) -> Floats:
    """Values of some lanes; what all lanes share stays one value."""
    is_shared = values.ndim == 0 or values.shape[-1] == 1
    return values if is_shared else values.take(which, axis=-1)


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
