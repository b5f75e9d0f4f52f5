"""Lines of the ledger: one for each appliance, the day's energy, why sun was not harvested."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sim.arrays import Floats
from sim.job.model.appliances import ApplianceBase
from sim.job.model.living import Priority
from sim.van.bank.charge import BANK_CAUSES

# Why sun was not harvested: the bank's causes, then the solar controllers' current limit.
CAUSES = (*BANK_CAUSES, "controller limit")


@dataclass(frozen=True)
class LoadLine:
    """One appliance's line in the ledger, or one of what the van itself draws.

    Attributes
    ----------
    name : str
    priority : str
        essential, comfort or extra.
    supply : str
        "dc", "ac" or "inverter" for the inverter's own draw and losses.
    wanted_wh_day : ndarray, shape (days, D)
        Wanted on each local day. [Wh]
    wanted_wh, served_wh : ndarray, shape (D,)
        Over the trip. [Wh]
    appliance : ApplianceBase or None
        Of the job; None for what the van itself draws, as the inverter and a tank's pad do.
    """

    name: str
    priority: Priority
    supply: Literal["dc", "ac", "inverter"]
    wanted_wh_day: Floats
    wanted_wh: Floats
    served_wh: Floats
    appliance: ApplianceBase | None = None


@dataclass(frozen=True)
class EnergyPerDay:
    """Mean over draws and days. [Wh/day]"""

    sun: float
    drive: float
    shore: float
    served: float
    unserved: float
    losses: float
    unharvested: float
