"""What everything aboard wants, from the job's appliances to loads at the battery."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from sim.arrays import Floats
from sim.job.model.appliance_base import ApplianceBase
from sim.job.model.appliances import Appliance
from sim.job.model.job import Job
from sim.job.model.living import PRIORITIES
from sim.sky.sun import Sun
from sim.sky.track import Weather
from sim.trip.availability import aboard, live_share
from sim.trip.cabin import Chill, cabin_in, chill_of, damp_hours_of, other_when_away
from sim.trip.converter import carried, converter_lines
from sim.trip.frost import tank_warmers
from sim.trip.household import Uses
from sim.trip.inverter import AcPeak, ac_peak, inverter_lines, own_draws_w
from sim.trip.kinds.load import ApplianceLoad, ClockInputs
from sim.trip.lines import Burn, Line, by_group, group_of, held_number
from sim.trip.loads import ClockLoads, all_loads, clock_loads
from sim.trip.timeline import Timeline
from sim.trip.weather import under_shade
from sim.van import chargers
from sim.van.cabin import CabinHours
from sim.van.cabin_run import cabin_hours
from sim.van.hot_water import HotHours

# So many cabins at once keep rows in the processor's cache, and what is held of each in memory.
CABIN_LANES = 4000
CABIN_LANE_STEPS = 1_100_000


class Later:
    """An array that is worked out when it is first asked for; what it takes is held until then."""

    def __init__(self, make: Callable[[], Floats]) -> None:
        self._make: Callable[[], Floats] | None = make
        self._value = np.empty(0)

    @property
    def value(self) -> Floats:
        """The array."""
        make = self._make
        if make is not None:
            self._value = make()
            self._make = None
        return self._value


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
    damp : Later
        What `damp_hours` is read from, which most studies never ask for.
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
    damp: Later
    hot: HotHours
    uncharged_wh: dict[str, float]
    inputs: ClockInputs
    warmth_w: Floats
    ac_peak: AcPeak | None = None

    @property
    def damp_hours(self) -> Floats:
        """In which water runs down the windows while people are aboard. [h], shape (D,)"""
        return self.damp.value

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
        under = under_shade(weather, self.inputs.timeline, self.inputs.sun)
        cabin = cabin_in(under, replace(self.inputs, job=other), self.warmth_w)
        (hours,) = cabin_hours([cabin], step_hours=self.inputs.timeline.step_hours)
        return hours.temp_c


@dataclass(frozen=True)
class Asked:
    """A job over the H steps of a trip, the D draws of its weather under the shade of its stops,
    and its sun: all that its loads come of."""

    job: Job
    timeline: Timeline
    weather: Weather
    sun: Sun


def demand(job: Job, timeline: Timeline, weather: Weather, sun: Sun) -> Demand:
    """Add up what the van wants in every step and draw; parameters as of `Asked`, but for the
    weather, which is that under an open sky."""
    return demands([Asked(job, timeline, under_shade(weather, timeline, sun), sun)])[0]


def demands(asked: Sequence[Asked]) -> list[Demand]:
    """The same for several jobs, trips or skies; their cabins are stepped side by side."""
    made: dict[int, Demand] = {}
    alike: dict[tuple[int, ...], list[int]] = {}
    for number, one in enumerate(asked):
        kind = *one.weather.temp_air.shape, one.timeline.step_minutes
        alike.setdefault(kind, []).append(number)
    for (steps, draws, _), numbers in alike.items():
        at_once = cabins_at_once(steps, draws)
        for first in range(0, len(numbers), at_once):
            block = numbers[first : first + at_once]
            made.update(zip(block, _side_by_side([asked[n] for n in block]), strict=True))
    return [made[number] for number in range(len(asked))]


def cabins_at_once(steps: int, draws: int) -> int:
    """How many cabins are stepped side by side."""
    return max(min(CABIN_LANES, CABIN_LANE_STEPS // steps) // draws, 1)


def _side_by_side(asked: Sequence[Asked]) -> Iterator[Demand]:
    by_clock = [clock_loads(x.job, x.timeline, x.sun) for x in asked]
    cabins = [
        cabin_in(x.weather, loads.inputs, loads.warmth_w)
        for x, loads in zip(asked, by_clock, strict=True)
    ]
    climates = cabin_hours(cabins, step_hours=asked[0].timeline.step_hours)
    del cabins
    for x, loads in zip(asked, by_clock, strict=True):
        yield _demand(x, loads, climates.pop(0))


def _demand(asked: Asked, by_clock: ClockLoads, climate: CabinHours) -> Demand:
    """All loads, once the cabin's warmth is known."""
    job, timeline, weather = asked.job, asked.timeline, asked.weather
    present, inputs = by_clock.present, by_clock.inputs
    loads = all_loads(by_clock, climate)
    loaded, shape = list(zip(present, loads, strict=True)), weather.temp_air.shape
    at_once = ac_peak(job, timeline, loaded, shape[1])
    missed = {x.name: load.missed_wh * x.count for x, load in loaded if load.missed_wh > 0.0}
    burns = tuple(_burns(loaded))
    lines = [_line(job, item, load, timeline) for item, load in loaded]
    own_w = None if job.inverter is None else own_draws_w(job, job.inverter, loaded, timeline)
    cabin_c, chill = climate.temp_c, chill_of(job, timeline, asked.sun, climate)
    damp = Later(partial(damp_hours_of, weather.temp_air, inputs, cabin_c, climate.air_l_s))
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
        uses=inputs.uses,
        chill=chill,
        damp=damp,
        hot=inputs.hot,
        uncharged_wh=missed,
        inputs=inputs,
        warmth_w=by_clock.warmth_w,
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


def _live(job: Job, item: ApplianceBase, timeline: Timeline) -> Floats:
    """Share of each step in which the battery could feed an appliance. shape (H, 1) or (1, 1)"""
    if item.supply == "dc":
        return np.ones((1, 1))
    if item.runs == "plugged":
        return np.zeros((1, 1))
    if job.inverter is None or job.inverter.runs != "by hand":
        return np.ones((1, 1))
    return live_share(job.inverter, item.windows(job.living), timeline)[:, None]


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
