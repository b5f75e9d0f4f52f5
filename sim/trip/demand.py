"""What everything aboard wants, from the job's appliances to loads at the battery."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sim.arrays import Floats
from sim.job.model.appliance_base import ApplianceBase
from sim.job.model.appliances import Appliance
from sim.job.model.job import Job
from sim.job.model.living import PRIORITIES
from sim.sky.sun import Sun
from sim.sky.track import Weather
from sim.trip.availability import aboard, live_share
from sim.trip.cabin import Chill, cabin_of, chill_of, damp_hours_of, heating, other_when_away
from sim.trip.converter import carried, converter_lines
from sim.trip.frost import tank_warmers
from sim.trip.household import Uses, uses_of
from sim.trip.inverter import AcPeak, ac_peak, inverter_lines, own_draws_w
from sim.trip.kinds.hot_water import hot_water_of
from sim.trip.kinds.load import ApplianceLoad, CabinInputs, ClockInputs
from sim.trip.kinds.table import kind_of
from sim.trip.lines import Burn, Line, by_group, group_of, held_number
from sim.trip.timeline import Timeline
from sim.van import chargers
from sim.van.cabin import CabinHours
from sim.van.hot_water import HotHours


@dataclass(frozen=True)
class Demand:
    """All loads of a trip.

    Attributes
    ----------
    lines : tuple of Line
        Appliances in the order of the job, then the converter's and the inverter's own, most
        important first.
    wanted_w : ndarray, shape (G, H, D)
        At the battery, by `Line.group`: by priority, then what is held to a charge. [W]
    beyond_w : ndarray, shape (G, H, D), or None
        Wanted on the plug alone beyond what the inlet gives, on AC while the inverter is
        switched off, or on DC beyond the converter's rating, by priority: dark whatever the
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
    inputs : ClockInputs
        What the loads come of, before the cabin's warmth.
    warmth_w : ndarray, shape (H, 1) or (H, D)
        Left in the cabin by appliances that do not answer to its warmth. [W]
    ac_peak : AcPeak or None
        What may run on the inverter at once; None where nothing does.
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
    inputs: ClockInputs
    warmth_w: Floats
    ac_peak: AcPeak | None = None

    def cabin_otherwise_c(self, weather: Weather) -> Floats | None:
        """The cabin if the heaters were off while nobody is aboard, or held against frost where
        they are off then; None where that could freeze nothing. [deg C], shape (H, D)"""
        job = self.inputs.job
        is_left = bool((aboard(self.inputs.timeline) == 0.0).any())
        if job.water is None or not is_left or weather.temp_air.min() >= 0.0:
            return None
        other = other_when_away(job)
        if other is None:
            return None
        return cabin_of(weather, replace(self.inputs, job=other), self.warmth_w).temp_c


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
    loads, climate = loads_of(present, weather, inputs)
    loaded, shape = list(zip(present, loads, strict=True)), weather.temp_air.shape
    at_once = ac_peak(job, timeline, loaded, shape[1])
    warmth_w = _warmth(present, loads, timeline)
    missed = {x.name: load.missed_wh * x.count for x, load in loaded if load.missed_wh > 0.0}
    burns = tuple(_burns(loaded))
    lines = [_line(job, item, load, timeline) for item, load in loaded]
    own_w = None if job.inverter is None else own_draws_w(job, job.inverter, loaded, timeline)
    cabin_c, chill = climate.temp_c, chill_of(job, timeline, sun, climate)
    damp_hours = damp_hours_of(weather, inputs, climate)
    # A year of draws is large, and the lines hold what is needed of them.
    del loads, loaded, climate
    for name, pad_w in tank_warmers(job, timeline, weather.temp_air, cabin_c):
        lines.append(Line(name, "essential", "dc", pad_w))
    lines, plug_w, offer = _on_inlet(job, timeline, lines)
    lines = _through(job, lines, own_w)
    groups = len(PRIORITIES) + len(job.held_socs)
    wanted = by_group(((line.group, line.asked_w) for line in lines), (groups, *shape))
    # What all draws have in common is kept once.
    plug_w, offer = (np.broadcast_to(x, shape) for x in (plug_w, offer))
    return Demand(
        lines=tuple(lines),
        wanted_w=wanted,
        beyond_w=_beyond_w(lines, wanted.shape),
        plug_w=plug_w,
        plug_offer_w=offer,
        cabin_c=cabin_c,
        burns=burns,
        uses=uses,
        chill=chill,
        damp_hours=damp_hours,
        hot=inputs.hot,
        uncharged_wh=missed,
        inputs=inputs,
        warmth_w=warmth_w,
        ac_peak=at_once,
    )


def _through(job: Job, lines: list[Line], own_w: Sequence[Floats] | None) -> list[Line]:
    """What is wanted through converter and inverter, and what they take themselves."""
    if job.converter is not None:
        lines = carried(job.converter, lines)
        lines += converter_lines(job.converter, lines)
    if job.inverter is not None and own_w is not None:
        lines += inverter_lines(job.inverter, lines, own_w)
    return lines


def _beyond_w(lines: Sequence[Line], shape: tuple[int, ...]) -> Floats | None:
    """What is wanted behind an inverter that is off, by group; None where nothing is. [W]"""
    out_of_reach = [
        (group_of(line.priority), line.beyond_w) for line in lines if (line.live < 1.0).any()
    ]
    if not any(watts.any() for _, watts in out_of_reach):
        return None
    return by_group(out_of_reach, shape)


def _burns(loaded: Sequence[tuple[Appliance, ApplianceLoad]]) -> Iterator[Burn]:
    for item, load in loaded:
        if load.fuel is not None and load.fuel_w is not None:
            yield Burn(item.name, load.fuel, load.fuel_w * item.count)


def _line(job: Job, item: Appliance, load: ApplianceLoad, timeline: Timeline) -> Line:
    return Line(
        item.name,
        item.priority,
        item.supply,
        load.watts * item.count,
        live=_live(job, item, timeline),
        only_plugged=item.supply == "ac" and item.runs == "plugged",
        running_w=item.most_watts * item.count,
        appliance=item,
        held=held_number(job, item),
    )


def _warmth(
    present: list[Appliance], loads: Sequence[ApplianceLoad | None], timeline: Timeline
) -> Floats:
    """What appliances leave in the cabin that do not depend on its warmth. [W]"""
    warmth = np.zeros((len(timeline), 1))
    for item, load in zip(present, loads, strict=True):
        if load is not None and kind_of(item).by_clock is not None:
            warmth = warmth + item.count * load.cabin_w
    return warmth


def _live(job: Job, item: ApplianceBase, timeline: Timeline) -> Floats:
    """Share of each step in which the battery could feed an appliance. shape (H, 1) or (1, 1)"""
    if item.supply == "dc":
        return np.ones((1, 1))
    if item.runs == "plugged":
        return np.zeros((1, 1))
    if job.inverter is None or job.inverter.runs != "by hand":
        return np.ones((1, 1))
    return live_share(job.inverter, item.windows(job.living), timeline)[:, None]


def loads_of(
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
    by_use = [made.get(number) for number in range(len(present))]
    climate = cabin_of(weather, inputs, _warmth(present, by_use, inputs.timeline))
    heat_w = dict(zip(heating(present), climate.heat_w, strict=True))
    for numbers in groups.values():
        by_cabin = kind_of(present[numbers[0]]).by_cabin
        if by_cabin is not None:
            own_w = [heat_w[n] for n in numbers if n in heat_w]
            seen = CabinInputs(inputs.timeline, inputs.sun, climate, own_w)
            loads = by_cabin([present[n] for n in numbers], seen)
            made.update(zip(numbers, loads, strict=True))
    return [made[number] for number in range(len(present))], climate


def _on_inlet(job: Job, timeline: Timeline, lines: list[Line]) -> tuple[list[Line], Floats, Floats]:
    """The lines with what the inlet carries of each; what it carries in all, and what the shore
    chargers offer to the battery. [W]

    What runs on the plug alone goes first, the essential before the rest: nothing else can feed
    it. Other AC loads that find the inlet taken go over to the inverter.
    """
    shore, none = job.plug, np.zeros((len(timeline), 1))
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
    for other in job.shore[1:]:
        _, more = chargers.plug_watts(
            none,
            timeline.plugged,
            inlet_watts=other.inlet_volts * other.inlet_amps,
            charger_watts=other.charger_amps * job.battery.charging_v,
            charger_efficiency=other.charger_efficiency,
        )
        offer = offer + more
    return lines, carried + ac_served, offer


def _carry(lines: list[Line], numbers: list[int], share: Floats) -> None:
    for number in numbers:
        lines[number] = replace(lines[number], on_plug=share)


def _share(part: Floats, whole: Floats) -> Floats:
    """Part of a whole, 0 where there is none."""
    return np.asarray(np.divide(part, whole, out=np.zeros_like(part), where=whole > 0.0))
