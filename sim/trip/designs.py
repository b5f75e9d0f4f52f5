"""Designs of a trip as bank and offers: one for a single run, many side by side for a study."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sim.arrays import Floats, Ints
from sim.job.model.changes import with_values
from sim.job.model.job import Job
from sim.job.model.living import PRIORITIES
from sim.trip.bank import bank_of
from sim.trip.prepare import PreparedTrip
from sim.trip.sources import sun_source
from sim.van.bank.lanes import Bank
from sim.van.bank.loop import Offers
from sim.van.bank.sources import spread


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

    def on_lanes(name: str) -> Floats:
        return np.array([getattr(bank, name) for bank in banks])[which]

    return replace(
        banks[0],
        capacity_wh=on_lanes("capacity_wh"),
        charge_limit_w=on_lanes("charge_limit_w"),
        discharge_limit_w=on_lanes("discharge_limit_w"),
        resistance_per_w=on_lanes("resistance_per_w"),
    )


def offers_of(
    prepared: PreparedTrip,
    designs: Sequence[Design],
    design: Ints | None = None,
    draw: Ints | slice = slice(None),
) -> Offers:
    """What is wanted and offered, lane by lane.

    Parameters
    ----------
    prepared : PreparedTrip
        H steps, D draws.
    designs : sequence of Design
    design : ndarray of int, shape (L,), optional
        Number of each lane's design; the first, in all draws as they are, if absent.
    draw : ndarray of int, shape (L,), optional
        Draw of each lane.
    """
    if design is None:
        design = np.zeros(prepared.draws, dtype=np.int64)
    job, bank, wants = prepared.job, prepared.bank, prepared.wants
    sun = sun_source(
        prepared.units,
        [np.array([item.panels[k] for item in designs])[design] for k in range(len(job.panels))],
        draw,
        shape=(len(prepared.timeline), len(design)),
        charging_v=job.battery.charging_v,
    )

    def own(values: Floats) -> Floats:
        return values if isinstance(draw, slice) else spread(values, draw)

    others = prepared.others
    if not isinstance(draw, slice):
        others = tuple(source.on_lanes(draw) for source in others)
    wanted = wants.wanted_w[:, :, draw]
    if bank.heating_w is not None:
        units = np.array([item.batteries for item in designs], dtype=np.float64)
        wanted = wanted.copy()
        wanted[PRIORITIES.index("essential")] += bank.heating_w[:, draw] * units[design]
    return Offers(
        wanted_w=wanted,
        sources=(sun, *others),
        charge_allowed=own(bank.charge_allowed),
        usable=None if bank.usable is None else own(bank.usable),
        pace=None if bank.pace is None else own(bank.pace),
        beyond_w=None if wants.beyond_w is None else own(wants.beyond_w),
        parts=prepared.parts,
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
