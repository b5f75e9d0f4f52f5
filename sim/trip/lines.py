"""Lines of what is wanted: one for each appliance, step by step, and the fuel that some burn."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from sim.arrays import Floats
from sim.job.model.appliance_base import ApplianceBase
from sim.job.model.job import Job
from sim.job.model.living import PRIORITIES, Priority

# Where a line hangs; or the converter's or the inverter's own draw and losses.
Supply = Literal["dc", "ac", "converter", "inverter"]
OWN_DRAW: tuple[Supply, ...] = ("converter", "inverter")


@dataclass(frozen=True)
class Line:
    """One appliance, or the part of the converter's or the inverter's draw that has one priority,
    step by step.

    Arrays have shape (H, D) or (H, 1), or (1, 1) where a value never changes.

    Attributes
    ----------
    name, priority, supply
        As in the job.
    watts : ndarray
        Wanted, at the appliance. [W]
    on_plug : ndarray
        Share of it that the inlet carries.
    live : ndarray
        Share of the rest that the battery could feed: none of what runs on the plug alone, and
        of AC none while the inverter is switched off by hand, of DC none beyond what the
        converter gives.
    only_plugged : bool
        Whether it runs on the plug alone.
    running_w : float
        Drawn while it runs, all units together. [W]
    appliance : ApplianceBase or None
        Of the job; None for what the van itself draws, as the inverter and a tank's pad do.
    held : int
        0, or the number of the charge that it is held to, in the order of `Job.held_socs`.
    """

    name: str
    priority: Priority
    supply: Supply
    watts: Floats
    on_plug: Floats = field(default_factory=lambda: np.zeros((1, 1)))
    live: Floats = field(default_factory=lambda: np.ones((1, 1)))
    only_plugged: bool = False
    running_w: float = 0.0
    appliance: ApplianceBase | None = None
    held: int = 0

    @property
    def group(self) -> int:
        """Its row among the loads of the bank: by priority, or after these by its charge."""
        return group_of(self.priority, self.held)

    @property
    def asked_w(self) -> Floats:
        """What it asks of the battery, the inverter's losses left out. [W]"""
        return self.watts * ((1.0 - self.on_plug) * self.live)

    @property
    def beyond_w(self) -> Floats:
        """What nothing can give. [W]"""
        return self.watts * ((1.0 - self.on_plug) * (1.0 - self.live))

    def served_share(self, by_bank: Floats) -> Floats:
        """Share of it that was served, where the bank serves so much of what is asked of it."""
        return self.on_plug + (1.0 - self.on_plug) * (self.live * by_bank)


@dataclass(frozen=True)
class Burn:
    """Fuel that one appliance burns, step by step.

    Attributes
    ----------
    name : str
        As in the job.
    fuel : str
        "propane", or "diesel" or "petrol" from the vehicle's tank.
    watts : ndarray, shape (H, D) or (H, 1)
        Heat of the fuel. [W]
    """

    name: str
    fuel: Literal["propane", "diesel", "petrol"]
    watts: Floats


def group_of(priority: Priority, held: int = 0) -> int:
    """The row of a load among those of the bank; `held` as of `Line`."""
    return len(PRIORITIES) - 1 + held if held else PRIORITIES.index(priority)


def held_number(job: Job, item: ApplianceBase) -> int:
    """Number of the charge that an appliance is held to, 0 for one that is not; as of `Line`."""
    return 0 if item.above_soc is None else 1 + job.held_socs.index(item.above_soc)


def by_group(parts: Iterable[tuple[int, Floats]], shape: tuple[int, ...]) -> Floats:
    """The sum of parts of lines, by group. [W], shape that of one part with the groups before"""
    watts = np.zeros(shape)
    for group, part in parts:
        watts[group] += part
    return watts
