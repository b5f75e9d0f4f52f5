"""What everything aboard wants, from the job's appliances to loads at the battery."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from sim.job.appliance_model import Appliance, ColdBox, Fan, Heater, Lights, Steady, Timed
from sim.job.living_model import PRIORITIES, Priority
from sim.job.model import Job
from sim.job.power_model import Inverter
from sim.job.timeline import Timeline
from sim.ledger.skies import under_shade
from sim.sky.sun import Sun
from sim.sky.track import Floats, Weather
from sim.van import appliances, cabin, chargers

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
    """

    lines: tuple[Line, ...]
    wanted_w: Floats
    on_plug: Floats
    plug_w: Floats
    plug_offer_w: Floats
    cabin_c: Floats


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
    climate = cabin_of(job, timeline, weather, sun)
    lines: list[Line] = []
    ac = np.zeros((len(timeline), 1))
    off = 1.0 - timeline.share_within(_ac_windows(job))[:, None]
    for item in job.appliances:
        if item.count == 0:
            continue
        watts, share = _draw(item, timeline, climate, sun)
        if item.runs == "plugged":
            # The inverter has no part in it.
            watts, share = watts * timeline.plugged[:, None], np.zeros_like(share)
        lines.append(Line(item.name, item.priority, item.supply, watts * item.count))
        if item.supply == "ac":
            ac = ac + lines[-1].watts
            # Timed appliances are in `off` by the clock; the others run at any time of the step.
            off = off if isinstance(item, Timed) else off * (1.0 - share)
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
    return Demand(tuple(lines), wanted, on_plug, plug_w, offer, climate.temp_c)


def cabin_of(job: Job, timeline: Timeline, weather: Weather, sun: Sun) -> cabin.CabinHours:
    """Temperature of the cabin and heat from its heater, under the shade of the stops."""
    van = job.van
    area = cabin.shell_area_m2(van.length_m, van.width_m, van.height_m)
    shell = cabin.Shell(
        ua_w_k=van.shell_u_w_m2k * area,
        roof_m2=van.length_m * van.width_m,
        shell_u_w_m2k=van.shell_u_w_m2k,
        skin_absorptance=van.skin_absorptance,
        glass_m2=van.glass_m2,
        mass_wh_k=van.thermal_mass_kj_k / 3.6,
        vent_w_k=van.vent_w_k,
        vent_above_c=van.vent_above_c,
    )
    heater = next((x for x in job.appliances if isinstance(x, Heater) and x.count > 0), None)
    gain = cabin.sun_gain_w(under_shade(weather, timeline, sun).ghi, shell)
    gain += (timeline.people * cabin.PERSON_WATTS)[:, None]
    return cabin.cabin_hours(
        weather.temp_air,
        gain,
        _set_point(heater, timeline),
        _aboard(timeline),
        shell,
        heater_watts=heater.heat_watts * heater.count if heater else 0.0,
        step_hours=timeline.step_hours,
    )


def _aboard(timeline: Timeline) -> Floats:
    """Share of each step with somebody aboard. shape (H,)"""
    return np.minimum(timeline.awake + timeline.asleep, 1.0)


def _set_point(heater: Heater | None, timeline: Timeline) -> Floats:
    if heater is None:
        return np.full(len(timeline), -np.inf)
    away = -np.inf if heater.away_c is None else heater.away_c
    aboard = _aboard(timeline)
    # A step in which people go to bed or get up wants a warmth between day and night.
    awake = np.divide(timeline.awake, aboard, out=np.zeros_like(aboard), where=aboard > 0.0)
    set_point = heater.night_c + (heater.day_c - heater.night_c) * awake
    return np.where(aboard > 0.0, set_point, away)


def _ac_windows(job: Job) -> list[tuple[int, int]]:
    """Parts of the day in which a timed appliance needs the inverter."""
    timed = (x for x in job.appliances if isinstance(x, Timed) and _uses_inverter(x))
    return [window for item in timed for window in item.at]


def _uses_inverter(item: Appliance) -> bool:
    return item.supply == "ac" and item.runs == "always" and item.count > 0


def _draw(
    item: Steady | Timed | Lights | ColdBox | Heater | Fan,
    timeline: Timeline,
    climate: cabin.CabinHours,
    sun: Sun,
) -> tuple[Floats, Floats]:
    """Watts of one unit, and the share of each step in which it is switched on."""
    match item:
        case Steady():
            share = np.ones((len(timeline), 1))
        case Timed():
            share = timeline.share_within(item.at)[:, None]
            return item.watts * item.duty * share, share
        case Lights():
            share = appliances.lights_share(sun.apparent_zenith, timeline.awake)[:, None]
        case ColdBox():
            watts = appliances.cold_box_watts(
                climate.temp_c,
                rated_wh_day=item.rated_wh_day,
                rated_ambient_c=item.rated_ambient_c,
                inside_c=item.inside_c,
                max_watts=item.max_watts,
            )
            return watts, watts / item.max_watts
        case Heater():
            full = item.heat_watts * item.count
            watts = appliances.heater_watts(
                climate.heat_w, blower_watts=item.blower_watts, full_heat_watts=full
            )
            return watts, climate.heat_w / full
        case Fan():
            share = appliances.fan_share(
                climate.temp_c, _aboard(timeline), on_above_c=item.on_above_c
            )
    return item.watts * share, share


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
