"""Designs of a trip as bank and offers: one for a single run, many side by side for a study."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sim.arrays import Floats, Ints, over_steps
from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.job.model.living import PRIORITIES
from sim.trip.bank import bank_of
from sim.trip.prepare import PreparedTrip
from sim.trip.sources import PanelUnit, sun_source
from sim.van.bank.lanes import BY_LANE, Bank
from sim.van.bank.offers import Offers
from sim.van.bank.sources import Source


@dataclass(frozen=True)
class Design:
    """What differs between the designs of a trip.

    Attributes
    ----------
    panels : tuple of int
        Panels of each group, in the order of the job.
    batteries : int
        Units of the bank.
    """

    panels: tuple[int, ...]
    batteries: int


def design_of(job: Job) -> Design:
    """The design a job describes."""
    return Design(tuple(group.count for group in job.panels), job.battery.count)


def banks_of(job: Job, designs: Sequence[Design], design: Ints) -> Bank:
    """The bank of each lane, whose designs are given by their number."""
    counts = np.array([item.batteries for item in designs])[design]
    kinds, which = np.unique(counts, return_inverse=True)
    banks = [
        bank_of(with_values(job.battery, {"count": int(count)}), job.held_socs)
        for count in kinds.tolist()
    ]
    if len(banks) == 1:
        return banks[0]

    def on_lanes(name: str) -> Floats:
        return np.array([getattr(bank, name) for bank in banks])[which]

    return banks[0].with_lanes({name: on_lanes(name) for name in BY_LANE})


class Suns:
    """The sun on the panels of some designs, worked out once for all ways of a trip that see it
    alike."""

    def __init__(self, designs: Sequence[Design], *, with_lost: bool = True) -> None:
        self._with_lost = with_lost
        self._kinds = tuple(dict.fromkeys(item.panels for item in designs))
        # With the units, whose arrays keep their identity as long as they are held.
        self._made: dict[Hashable, tuple[tuple[PanelUnit, ...], Source, Floats]] = {}

    def of(self, way: PreparedTrip) -> Source:
        """The sun on a way: the same for ways that see it alike."""
        return self._known(way)[0]

    def could_w(self, way: PreparedTrip, design: Design) -> Floats:
        """What the panels of a design could have given, with what the controllers' limit loses,
        summed over the steps. [W], shape (D,)"""
        return self._known(way)[1][self._columns(way, design)]

    def _known(self, way: PreparedTrip) -> tuple[Source, Floats]:
        lit = tuple((id(unit.watts), unit.group) for unit in way.units)
        key = lit, way.draws, way.job.battery.charging_v
        if key not in self._made:
            sun = _sun(way, self._kinds, with_lost=self._with_lost)
            could_w = over_steps(sun.offered_w)
            if sun.lost_w is not None:
                could_w = could_w + over_steps(sun.lost_w)
            self._made[key] = way.units, sun, could_w
        return self._made[key][1:]

    def _columns(self, way: PreparedTrip, design: Design) -> slice:
        """Those of a design."""
        start = self._kinds.index(design.panels) * way.draws
        return slice(start, start + way.draws)

    def offers(self, way: PreparedTrip, design: Design) -> Offers:
        """What is wanted and offered with one of the designs, in all draws as they are."""
        sun, own = self.of(way), self._columns(way, design)
        lost_w = None if sun.lost_w is None else sun.lost_w[:, own]
        sun = replace(sun, offered_w=sun.offered_w[:, own], lost_w=lost_w)
        return _offers(way, sun, design.batteries)

    def on_lanes(
        self, way: PreparedTrip, designs: Sequence[Design], design: Ints, draw: Ints
    ) -> Offers:
        """What is wanted and offered lane by lane, as of `offers_of`."""
        kind = np.array([self._kinds.index(item.panels) for item in designs])[design]
        sun = replace(self.of(way), lost_w=None, column=kind * way.draws + draw)
        units = np.array([item.batteries for item in designs], dtype=np.float64)[design]
        return _offers(way, sun, units, draw)


def offers_of(
    prepared: PreparedTrip,
    designs: Sequence[Design],
    design: Ints | None = None,
    draw: Ints | None = None,
) -> Offers:
    """What is wanted and offered, lane by lane.

    Parameters
    ----------
    prepared : PreparedTrip
        H steps, D draws.
    designs : sequence of Design
    design, draw : ndarray of int, shape (L,), optional
        Number of each lane's design, and its draw; the first design, in all draws as they are,
        if absent.
    """
    if design is None or draw is None:
        return _offers(prepared, _sun(prepared, [designs[0].panels]), designs[0].batteries)
    used, which = np.unique(design, return_inverse=True)
    some = [designs[k] for k in used.tolist()]
    return Suns(some, with_lost=False).on_lanes(prepared, some, which, draw)


def _sun(
    prepared: PreparedTrip, kinds: Sequence[tuple[int, ...]], *, with_lost: bool = True
) -> Source:
    """The sun on some numbers of panels of each group: a column for each draw of each of them;
    with what the controllers' limit loses, if anybody asks for it."""
    return sun_source(
        prepared.units,
        kinds,
        shape=(len(prepared.timeline), prepared.draws),
        charging_v=prepared.job.battery.charging_v,
        with_lost=with_lost,
    )


def _offers(
    prepared: PreparedTrip, sun: Source, batteries: Floats | int, draw: Ints | None = None
) -> Offers:
    """With so many units of the bank, in all draws or in the draw of each lane."""
    bank, wants, others, wanted = (
        prepared.bank,
        prepared.wants,
        prepared.others,
        prepared.wants.wanted_w,
    )
    if draw is not None:
        others = tuple(source.on_lanes(draw) for source in others)
    if bank.heating_w is not None:
        # Each unit has its pad: what is wanted is each lane's own.
        own = np.arange(prepared.draws) if draw is None else draw
        wanted = wanted[:, :, own]
        wanted[PRIORITIES.index("essential")] += bank.heating_w[:, own] * batteries
    return Offers(
        wanted_w=wanted,
        sources=(sun, *others),
        charge_allowed=bank.charge_allowed,
        usable=bank.usable,
        pace=bank.pace,
        beyond_w=wants.beyond_w,
        parts=prepared.parts,
        draw=draw,
        wanted_by_draw=bank.heating_w is None,
    )


def potential_wh(prepared: PreparedTrip, designs: Sequence[Design]) -> Floats:
    """What the sun could have given at the terminals. [Wh], shape (K, D)"""
    total = np.zeros((len(designs), prepared.draws))
    for index, unit in enumerate(prepared.units):
        group = unit.group
        hours = group.controller_efficiency * prepared.timeline.step_hours
        one = unit.watts.sum(axis=0) * hours
        standby = group.controller_standby_watts / group.controller_efficiency
        for k, design in enumerate(designs):
            count = design.panels[index]
            if count and standby > 0.0:
                total[k] += np.maximum(count * unit.watts - standby, 0.0).sum(axis=0) * hours
            else:
                total[k] += count * one
    return total
