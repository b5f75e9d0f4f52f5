"""What a build weighs, as far as it is known, and what the van may carry beside it.

A part without a weight is named and is in no sum.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from sim.job.model.designs import DesignEntry, PriceItem
from sim.job.model.job import Job, Prices
from sim.van.tanks import full_kg

# What a litre weighs. Water: 1 kg at 4 deg C. Fuel for road vehicles at 15 deg C, the middle of
# what the standards allow: EN 228 0.720 to 0.775, EN 590 0.820 to 0.845 kg/L (from memory, sure).
WATER_KG_L = 1.0
FUEL_KG_L = {"petrol": 0.75, "diesel": 0.83}

WeightKind = Literal["panels", "battery", "fresh", "grey", "propane", "fuel", "item"]


@dataclass(frozen=True)
class Weight:
    """What one kind of thing weighs; `kg` is None where that is not known."""

    kind: WeightKind
    index: int
    kg: float | None


@dataclass(frozen=True)
class Load:
    """What a design weighs, as far as it is known: panels, battery, tanks full.

    Attributes
    ----------
    weights : tuple of Weight
    payload_kg : float or None
        What the van may carry of this and all else.
    """

    weights: tuple[Weight, ...]
    payload_kg: float | None

    @property
    def known_kg(self) -> float:
        """The sum of what is known."""
        return sum(weight.kg for weight in self.weights if weight.kg is not None)

    @property
    def unknown(self) -> tuple[Weight, ...]:
        """What is aboard and was never weighed."""
        return tuple(weight for weight in self.weights if weight.kg is None)

    @property
    def left_kg(self) -> float | None:
        """Payload left for people and all else; less where something is unknown."""
        return None if self.payload_kg is None else self.payload_kg - self.known_kg


def load_of(job: Job, design: Job, entry: DesignEntry | None = None) -> Load:
    """What a design weighs; the job names items and prices, the design is what is built."""
    prices = job.prices or Prices()
    items = (*prices.items, *(entry.items if entry is not None else ()))
    return Load(tuple(_weights(design, items)), design.van.payload_kg)


def _weights(design: Job, items: tuple[PriceItem, ...]) -> Iterator[Weight]:
    for index, group in enumerate(design.panels):
        if group.count:
            kg = None if group.weight_kg is None else group.count * group.weight_kg
            yield Weight("panels", index, kg)
    bank = design.battery
    yield Weight("battery", 0, None if bank.weight_kg is None else bank.count * bank.weight_kg)
    if (water := design.water) is not None:
        yield Weight("fresh", 0, water.fresh_l * WATER_KG_L)
        for index, tank in enumerate(water.grey):
            yield Weight("grey", index, tank.capacity_l * WATER_KG_L)
    if (gas := design.propane) is not None:
        yield Weight("propane", 0, full_kg(gas.tank_l, gas.fill_pct))
    if (engine := design.generator) is not None:
        yield Weight("fuel", 0, engine.tank_l * FUEL_KG_L[engine.fuel])
    for index, item in enumerate(items):
        # Work weighs nothing; an item without a weight is not taken for one that is aboard.
        if item.weight_kg is not None:
            yield Weight("item", index, item.count * item.weight_kg)
