"""What everything aboard wants, from the job's appliances to loads at the battery."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from sim.arrays import Floats
from sim.job.model.appliances import Appliance, ApplianceBase
from sim.job.model.job import Job
from sim.job.model.living import PRIORITIES, Priority
from sim.job.model.power import Inverter
from sim.sky.sun import Sun
from sim.sky.track import Weather
from sim.trip.cabin import Chill, cabin_of, chill_of, damp_hours_of, heating
from sim.trip.frost import tank_warmers
from sim.trip.household import Uses, uses_of
from sim.trip.kinds.hot_water import hot_water_of
from sim.trip.kinds.load import ApplianceLoad, CabinInputs, ClockInputs
from sim.trip.kinds.table import kind_of
from sim.trip.timeline import Timeline
from sim.van import appliances, chargers
from sim.van.cabin import CabinHours
from sim.van.hot_water import HotHours

INVERTER_NAME = "Inverter (its own draw and losses)"


@dataclass(frozen=True)
class Line:
    """One appliance, or the part of the inverter's draw that has one priority, step by step.

    Attributes
    ----------
    name, priority, supply
        As in the job.
    watts : ndarray, shape (H, D) or (H, 1)
        Wanted, at the appliance. [W]
    on_plug : ndarray, shape (H, D), (H, 1) or (1, 1)
        Share of it that the inlet carries.
    only_plugged : bool
        What the inlet does not carry, nothing does.
    appliance : ApplianceBase or None
        Of the job; None for what the van itself draws, as the inverter and a tank's pad do.
    """

    name: str
    priority: Priority
    supply: Literal["dc", "ac", "inverter"]
    watts: Floats
    on_plug: Floats = field(default_factory=lambda: np.zeros((1, 1)))
    only_plugged: bool = False
    appliance: ApplianceBase | None = None

    def served_share(self, by_bank: Floats) -> Floats:
        """Share of it that was served, where the bank serves so much of what is left to it."""
        if self.only_plugged:
            return self.on_plug
        return by_bank + (1.0 - by_bank) * self.on_plug


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


@dataclass(frozen=True)
class Demand:
    """All loads of a trip.

    Attributes
    ----------
    lines : tuple of Line
        Appliances in the order of the job, then the inverter's, most important first.
    wanted_w : ndarray, shape (3, H, D)
        At the battery, by priority. [W]
    beyond_w : ndarray, shape (3, H, D) or (3, H, 1), or None
        Wanted on the plug alone beyond what the inlet gives, by priority: dark whatever the
        battery does. None where there is none. [W]
    plug_w, plug_offer_w : ndarray, shape (H, D)
        AC load on the inlet, and what the shore charger offers to the battery. [W]
    cabin_c : ndarray, shape (H, D)
        [deg C]
    burns : tuple of Burn
        What burns fuel, in the order of the job.
    uses : Uses
        Water and meals.
    chill : Chill
        Hours in which the heaters could not hold their set point.
    damp_hours : ndarray, shape (D,)
        In which water runs down the windows while people are aboard. [h]
    hot : HotHours
        The hot water.
    uncharged_wh : dict
        What devices would have charged and found no time for, by appliance, where there is any.
        [Wh]
    """

    lines: tuple[Line, ...]
    wanted_w: Floats
    beyond_w: Floats | None
    plug_w: Floats
    plug_offer_w: Floats
    cabin_c: Floats
    burns: tuple[Burn, ...]
    uses: Uses
    chill: Chill
    damp_hours: Floats
    hot: HotHours
    uncharged_wh: dict[str, float]


def demand(job: Job, timeline: Timeline, weather: Weather, sun: Sun) -> Demand:
    """Add up what the van wants in every step and draw.

    Parameters
    ----------
    job : Job
    timeline : Timeline
        H steps.
    weather : Weather
        D draws, under an open sky.
    sun : Sun
        H steps.

    Returns
    -------
    Demand
    """
    uses = uses_of(job, timeline)
    present = [item for item in job.appliances if item.count > 0]
    inputs = ClockInputs(job, timeline, sun, uses, hot_water_of(job, timeline, sun, uses))
    loads, climate = _loads(present, weather, inputs)
    lines: list[Line] = []
    burns: list[Burn] = []
    off = 1.0 - timeline.share_within(_ac_windows(job))[:, None]
    for item, load in zip(present, loads, strict=True):
        if load.fuel is not None and load.fuel_w is not None:
            burns.append(Burn(item.name, load.fuel, load.fuel_w * item.count))
        lines.append(
            Line(
                item.name,
                item.priority,
                item.supply,
                load.watts * item.count,
                only_plugged=item.supply == "ac" and item.runs == "plugged",
                appliance=item,
            )
        )
        if _uses_inverter(item) and not _by_clock(item):
            # What goes by the clock is in `off` already; the rest runs at any time of the step.
            off = off * (1.0 - load.share)
    for name, pad_w in tank_warmers(job, timeline, weather.temp_air, climate.temp_c):
        lines.append(Line(name, "essential", "dc", pad_w))
    lines, plug_w, offer = _on_inlet(job, timeline, lines)
    if job.inverter is not None:
        lines += _inverter_lines(job.inverter, lines, 1.0 - off, timeline)
    shape = weather.temp_air.shape
    wanted = _off_plug([line for line in lines if not line.only_plugged], shape)
    beyond = None
    on_plug_alone = [line for line in lines if line.only_plugged]
    if any((line.watts * (1.0 - line.on_plug)).any() for line in on_plug_alone):
        beyond = _off_plug(on_plug_alone, shape)
    # What all draws have in common is kept once.
    plug_w, offer = (np.broadcast_to(x, shape) for x in (plug_w, offer))
    return Demand(
        lines=tuple(lines),
        wanted_w=wanted,
        beyond_w=beyond,
        plug_w=plug_w,
        plug_offer_w=offer,
        cabin_c=climate.temp_c,
        burns=tuple(burns),
        uses=uses,
        chill=chill_of(job, timeline, sun, climate),
        damp_hours=damp_hours_of(weather, inputs, climate),
        hot=inputs.hot,
        uncharged_wh={
            item.name: load.missed_wh * item.count
            for item, load in zip(present, loads, strict=True)
            if load.missed_wh > 0.0
        },
    )


def _loads(
    present: list[Appliance], weather: Weather, inputs: ClockInputs
) -> tuple[list[ApplianceLoad], CabinHours]:
    """What one unit of each appliance draws, in their order, and the cabin that comes of it."""
    groups: dict[type[Appliance], list[int]] = {}
    for number, item in enumerate(present):
        groups.setdefault(type(item), []).append(number)
    made: dict[int, ApplianceLoad] = {}
    for numbers in groups.values():
        by_clock = kind_of(present[numbers[0]]).by_clock
        if by_clock is not None:
            loads = by_clock([present[n] for n in numbers], inputs)
            made.update(zip(numbers, loads, strict=True))
    warmth = np.zeros((len(inputs.timeline), 1))
    for number in sorted(made):
        warmth = warmth + present[number].count * made[number].cabin_w
    climate = cabin_of(weather, inputs, warmth)
    heat_w = dict(zip(heating(present), climate.heat_w, strict=True))
    for numbers in groups.values():
        by_cabin = kind_of(present[numbers[0]]).by_cabin
        if by_cabin is not None:
            own_w = [heat_w[n] for n in numbers if n in heat_w]
            seen = CabinInputs(inputs.timeline, inputs.sun, climate, own_w)
            loads = by_cabin([present[n] for n in numbers], seen)
            made.update(zip(numbers, loads, strict=True))
    return [made[number] for number in range(len(present))], climate


def _ac_windows(job: Job) -> list[tuple[int, int]]:
    """Parts of the day in which an appliance that goes by the clock needs the inverter."""
    by_clock = (x for x in job.appliances if _by_clock(x) and _uses_inverter(x))
    return [window for item in by_clock for window in item.at]


def _by_clock(item: Appliance) -> bool:
    """Whether the clock alone says when an appliance is on."""
    return item.clock_watts is not None and item.runs == "always"


def _uses_inverter(item: Appliance) -> bool:
    return item.supply == "ac" and item.runs != "plugged" and item.count > 0


def _on_inlet(job: Job, timeline: Timeline, lines: list[Line]) -> tuple[list[Line], Floats, Floats]:
    """The lines with what the inlet carries of each; what it carries in all, and what the shore
    charger offers to the battery. [W]

    What runs on the plug alone goes first, the essential before the rest: nothing else can feed
    it. Other AC loads that find the inlet taken go over to the inverter.
    """
    shore, none = job.shore, np.zeros((len(timeline), 1))
    if shore is None:
        return lines, none, none
    plugged, lines, carried = timeline.plugged[:, None], lines.copy(), none
    left = none + shore.inlet_volts * shore.inlet_amps
    for priority in PRIORITIES:
        own = [n for n, x in enumerate(lines) if x.only_plugged and x.priority == priority]
        wanted = sum((lines[n].watts for n in own), none)
        while_plugged = np.divide(wanted, plugged, out=np.zeros_like(wanted), where=plugged > 0.0)
        fed = np.minimum(while_plugged, left)
        left, carried = left - fed, carried + fed * plugged
        _carry(lines, own, _share(fed, while_plugged))
    rest = [n for n, x in enumerate(lines) if x.supply == "ac" and not x.only_plugged]
    ac = sum((lines[n].watts for n in rest), none)
    ac_served, offer = chargers.plug_watts(
        ac,
        timeline.plugged,
        inlet_watts=left,
        charger_watts=shore.charger_amps * job.battery.charging_v,
        charger_efficiency=shore.charger_efficiency,
    )
    _carry(lines, rest, _share(ac_served, ac))
    return lines, carried + ac_served, offer


def _off_plug(lines: list[Line], shape: tuple[int, ...]) -> Floats:
    """What the inlet leaves of some lines, by priority. [W], shape (3, H, D)"""
    watts = np.zeros((len(PRIORITIES), *shape))
    for line in lines:
        watts[PRIORITIES.index(line.priority)] += line.watts * (1.0 - line.on_plug)
    return watts


def _carry(lines: list[Line], numbers: list[int], share: Floats) -> None:
    for number in numbers:
        lines[number] = replace(lines[number], on_plug=share)


def _share(part: Floats, whole: Floats) -> Floats:
    """Part of a whole, 0 where there is none."""
    return np.asarray(np.divide(part, whole, out=np.zeros_like(part), where=whole > 0.0))


def _inverter_lines(
    inverter: Inverter, lines: list[Line], on: Floats, timeline: Timeline
) -> list[Line]:
    """What the inverter takes on top of what it delivers: its losses have the priority of the
    appliance they serve, its own draw that of the most important one."""
    fed = [line for line in lines if line.supply == "ac" and not line.only_plugged]
    present = [name for name in PRIORITIES if any(line.priority == name for line in fed)]
    off_plug = (1.0 - timeline.plugged)[:, None]
    on_share = off_plug if inverter.runs == "always" else on * off_plug
    made: list[Line] = []
    for name in present or ["comfort"]:
        delivered = np.zeros_like(off_plug)
        for line in fed:
            if line.priority == name:
                delivered = delivered + line.watts * (1.0 - line.on_plug)
        watts = appliances.inverter_overhead_watts(
            delivered,
            np.zeros_like(off_plug) if made else on_share,
            efficiency=inverter.efficiency,
            idle_watts=inverter.idle_watts,
        )
        made.append(Line(INVERTER_NAME, name, "inverter", watts))
    return made
