"""What to do with a van before it is parked in frost: the steps for what is aboard, in order.

The order is common practice, no source: heat off, tanks empty, heater empty, taps open, pump dry,
air through the pipes, antifreeze into the traps, and all of it left open.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from sim.job.model.appliance_base import ApplianceBase
from sim.job.model.appliances import HotWater, Pump
from sim.job.model.handover import Handover
from sim.job.model.job import Job
from sim.job.model.tanks import DRAINS, Drain

# The charge at which a battery is left to rest, by its kind, and the part of it that a rest may
# take (common practice, no source): lead-acid ages when it is not full.
REST_SOC = {"lifepo4": 0.6, "agm": 1.0, "flooded": 1.0}
REST_LOSS = 0.2

WinterKind = Literal[
    "heat off", "grey", "fresh", "hot tank", "instant heater", "taps", "pump", "drains", "air",
    "by gravity", "traps", "open", "pads", "own", "propane", "panels", "battery",
]  # fmt: skip


@dataclass(frozen=True)
class WinterStep:
    """One step.

    Attributes
    ----------
    kind : str
    names : tuple of str
        What it is about: appliances, tanks, drains; of the kinds "own", "air" and "drains" what
        the job says.
    place : str
        Of a tank.
    litres : float
        That they hold together.
    """

    kind: WinterKind
    names: tuple[str, ...] = ()
    place: str = ""
    litres: float = 0.0


def winter_steps(job: Job) -> Iterator[WinterStep]:
    """The steps for what a job has aboard, in the order in which they are done."""
    sheet = job.handover or Handover()
    aboard = [item for item in job.appliances if item.count > 0]
    if job.water is not None:
        yield from _emptied(job, sheet, aboard)
    for text in sheet.winter:
        yield WinterStep("own", (text,))
    if job.water is not None:
        yield from _left(job)
    if job.propane is not None:
        yield WinterStep("propane")
    if any(group.count for group in job.panels):
        yield WinterStep("panels")
    yield WinterStep("battery")


def _emptied(job: Job, sheet: Handover, aboard: Sequence[ApplianceBase]) -> Iterator[WinterStep]:
    water = job.water
    assert water is not None
    heaters = [item for item in aboard if isinstance(item, HotWater)]
    if heaters:
        yield WinterStep("heat off", tuple(item.name for item in heaters))
    for place in dict.fromkeys(tank.place for tank in water.grey):
        there = [tank for tank in water.grey if tank.place == place]
        litres = sum(tank.capacity_l for tank in there)
        yield WinterStep("grey", tuple(tank.name for tank in there), place, litres)
    yield WinterStep("fresh", (), water.place, water.fresh_l)
    if sheet.drains is not None:
        yield WinterStep("drains", (sheet.drains,))
    for item in heaters:
        kind: WinterKind = "hot tank" if item.tank_l > 0.0 else "instant heater"
        yield WinterStep(kind, (item.name,), litres=item.tank_l)
    yield WinterStep("taps", tuple(taps_of(job)))
    pumps = tuple(item.name for item in aboard if isinstance(item, Pump))
    if pumps:
        yield WinterStep("pump", pumps)
    if sheet.blow_out is not None:
        yield WinterStep("air", (sheet.blow_out,))
    else:
        yield WinterStep("by gravity")


def _left(job: Job) -> Iterator[WinterStep]:
    water, taps = job.water, tuple(taps_of(job))
    assert water is not None
    if traps := tuple(drain for drain in taps if drain in drains_of(job)):
        yield WinterStep("traps", traps)
    yield WinterStep("open", taps)
    warmed = [tank.name for tank in water.grey if tank.warmer_watts > 0.0]
    if water.warmer_watts > 0.0:
        warmed.insert(0, "the fresh tank")
    if warmed:
        yield WinterStep("pads", tuple(warmed))


def taps_of(job: Job) -> Iterator[Drain]:
    """Where water comes out: the drains above which somebody draws it."""
    living = job.living
    used = {
        "kitchen": living.kitchen_l_person_day > 0.0,
        "basin": living.basin_l_person_day > 0.0,
        "shower": living.showers_person_week > 0.0,
    }
    yield from (drain for drain in DRAINS if used[drain])


def drains_of(job: Job) -> set[Drain]:
    """The drains that the van has: into a tank, or open."""
    water = job.water
    if water is None:
        return set()
    return {*water.open_drains, *(drain for tank in water.grey for drain in tank.takes)}


def rest_months(job: Job) -> float | None:
    """How long a battery may rest until it has lost `REST_LOSS` of its charge to itself; None
    where it loses none. [months]"""
    lost = job.battery.self_discharge_pct_month / 100.0
    return REST_LOSS / lost if lost > 0.0 else None
