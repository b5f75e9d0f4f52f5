"""What everything aboard wants, from the job's appliances to loads at the battery."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from sim.job.appliance_model import Appliance, Timed
from sim.job.living_model import PRIORITIES, Priority
from sim.job.model import Job
from sim.job.power_model import Inverter
from sim.job.timeline import Timeline
from sim.ledger.frost import tank_warmers
from sim.ledger.household import Uses, uses_of
from sim.ledger.inside import Chill, cabin_of, chill_of
from sim.ledger.loads import ByCabin, ByClock, Draw, Steps, cabin_draw, clock_draw, hot_water_of
from sim.sky.sun import Sun
from sim.sky.track import Floats, Weather
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
    """

    name: str
    priority: Priority
    supply: Literal["dc", "ac", "inverter"]
    watts: Floats


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
    on_plug : ndarray, shape (H, D)
        Share of the AC load that the inlet carries.
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
    hot : HotHours
        The hot water.
    uncharged_wh : dict
        What devices would have charged and found no time for, by appliance, where there is any.
        [Wh]
    """

    lines: tuple[Line, ...]
    wanted_w: Floats
    on_plug: Floats
    plug_w: Floats
    plug_offer_w: Floats
    cabin_c: Floats
    burns: tuple[Burn, ...]
    uses: Uses
    chill: Chill
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
    steps = Steps(timeline, sun, uses, hot_water_of(job, timeline, uses))
    draws, climate = _draws(job, present, timeline, weather, steps)
    lines: list[Line] = []
    burns: list[Burn] = []
    ac = np.zeros((len(timeline), 1))
    off = 1.0 - timeline.share_within(_ac_windows(job))[:, None]
    for item, draw in zip(present, draws, strict=True):
        if draw.fuel is not None and draw.fuel_w is not None:
            burns.append(Burn(item.name, draw.fuel, draw.fuel_w * item.count))
        lines.append(Line(item.name, item.priority, item.supply, draw.watts * item.count))
        if item.supply == "ac":
            ac = ac + lines[-1].watts
            if item.runs != "plugged" and not isinstance(item, Timed):
                # Timed appliances are in `off` by the clock; the others run at any time of the
                # step. What runs only on the plug has no part in the inverter.
                off = off * (1.0 - draw.share)
    for name, pad_w in tank_warmers(job, timeline, weather.temp_air, climate.temp_c):
        lines.append(Line(name, "essential", "dc", pad_w))
    plug_w, offer = _plug(job, timeline, ac)
    on_plug = np.divide(plug_w, ac, out=np.zeros_like(ac), where=ac > 0.0)
    if job.inverter is not None:
        lines += _inverter_lines(job.inverter, lines, on_plug, 1.0 - off, timeline)
    shape = weather.temp_air.shape
    wanted = np.zeros((len(PRIORITIES), *shape))
    for line in lines:
        off_plug = 1.0 - on_plug if line.supply == "ac" else 1.0
        wanted[PRIORITIES.index(line.priority)] += line.watts * off_plug
    # What all draws have in common is kept once.
    on_plug, plug_w, offer = (np.broadcast_to(x, shape) for x in (on_plug, plug_w, offer))
    return Demand(
        lines=tuple(lines),
        wanted_w=wanted,
        on_plug=on_plug,
        plug_w=plug_w,
        plug_offer_w=offer,
        cabin_c=climate.temp_c,
        burns=tuple(burns),
        uses=uses,
        chill=chill_of(job, timeline, climate),
        hot=steps.hot,
        uncharged_wh={
            item.name: draw.missed_wh * item.count
            for item, draw in zip(present, draws, strict=True)
            if draw.missed_wh > 0.0
        },
    )


def _draws(
    job: Job, present: list[Appliance], timeline: Timeline, weather: Weather, steps: Steps
) -> tuple[list[Draw], CabinHours]:
    """What one unit of each appliance draws, and the cabin that comes of it."""
    by_clock = {
        number: clock_draw(item, job, steps)
        for number, item in enumerate(present)
        if isinstance(item, ByClock)
    }
    warmth = np.zeros((len(timeline), 1))
    for number, draw in by_clock.items():
        warmth = warmth + present[number].count * draw.cabin_w
    climate = cabin_of(job, timeline, weather, steps.sun, warmth)
    draws = [
        cabin_draw(item, job, climate, timeline) if isinstance(item, ByCabin) else by_clock[number]
        for number, item in enumerate(present)
    ]
    return draws, climate


def _ac_windows(job: Job) -> list[tuple[int, int]]:
    """Parts of the day in which a timed appliance needs the inverter."""
    timed = (x for x in job.appliances if isinstance(x, Timed) and _uses_inverter(x))
    return [window for item in timed for window in item.at]


def _uses_inverter(item: Appliance) -> bool:
    return item.supply == "ac" and item.runs != "plugged" and item.count > 0


def _plug(job: Job, timeline: Timeline, ac: Floats) -> tuple[Floats, Floats]:
    shore = job.shore
    if shore is None:
        return np.zeros_like(ac), np.zeros_like(ac)
    return chargers.plug_watts(
        ac,
        timeline.plugged,
        inlet_watts=shore.inlet_volts * shore.inlet_amps,
        charger_watts=shore.charger_amps * job.battery.charging_v,
        charger_efficiency=shore.charger_efficiency,
    )


def _inverter_lines(
    inverter: Inverter, lines: list[Line], on_plug: Floats, on: Floats, timeline: Timeline
) -> list[Line]:
    """What the inverter takes on top of what it delivers: its losses have the priority of the
    appliance they serve, its own draw that of the most important one."""
    fed = [line for line in lines if line.supply == "ac"]
    present = [name for name in PRIORITIES if any(line.priority == name for line in fed)]
    off_plug = (1.0 - timeline.plugged)[:, None]
    on_share = off_plug if inverter.runs == "always" else on * off_plug
    made: list[Line] = []
    for name in present or ["comfort"]:
        delivered = np.zeros_like(on_plug)
        for line in fed:
            if line.priority == name:
                delivered = delivered + line.watts * (1.0 - on_plug)
        watts = appliances.inverter_overhead_watts(
            delivered,
            np.zeros_like(off_plug) if made else on_share,
            efficiency=inverter.efficiency,
            idle_watts=inverter.idle_watts,
        )
        made.append(Line(INVERTER_NAME, name, "inverter", watts))
    return made
