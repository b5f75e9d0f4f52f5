"""What depends on the cabin's warmth: cold boxes, heaters, fans, air conditioners."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sim.arrays import Floats
from sim.job.model.appliances import AirConditioner, ColdBox, Fan, Heater
from sim.sky.sun import Sun
from sim.trip.availability import aboard, held, may_run
from sim.trip.kinds.load import NOTHING, ApplianceLoad, CabinInputs, electric
from sim.trip.timeline import Timeline
from sim.van import appliances


@dataclass(frozen=True)
class HeatSource:
    """What warms the cabin up to a set point. Arrays of shape (H,).

    Attributes
    ----------
    set_point_c : ndarray
        What it holds, -inf where it is off. [deg C]
    most_w : ndarray
        The most it gives, all units together. [W]
    """

    set_point_c: Floats
    most_w: Floats


def cold_box_watts(item: ColdBox, around_c: Floats) -> Floats:
    """What one box draws at a temperature around it. [W]"""
    return appliances.cold_box_watts(
        around_c,
        rated_wh_day=item.rated_wh_day,
        rated_ambient_c=item.rated_ambient_c,
        inside_c=item.inside_c,
        max_watts=item.max_watts,
    )


def cold_box(item: ColdBox, inputs: CabinInputs) -> ApplianceLoad:
    """As long as its compressor has to run."""
    may = may_run(item, inputs.timeline, inputs.sun)[:, None]
    watts = may * cold_box_watts(item, inputs.climate.temp_c)
    return electric(watts, watts / item.max_watts, may)


def heat_source(item: Heater, timeline: Timeline, sun: Sun) -> HeatSource:
    """Its set point by who is aboard and awake; none outside its parts of the day."""
    there = aboard(timeline)
    # A step in which people go to bed or get up wants a warmth between day and night.
    awake = np.divide(timeline.awake, there, out=np.zeros_like(there), where=there > 0.0)
    set_point = item.night_c + (item.day_c - item.night_c) * awake
    may = may_run(item, timeline, sun)
    # Nobody is there to miss what a heater on the plug alone cannot hold off it.
    set_point = np.where(there > 0.0, set_point, np.where(may > 0.0, item.away_set_c, -np.inf))
    if item.at:
        set_point = np.where(timeline.share_within(item.at) > 0.0, set_point, -np.inf)
    return HeatSource(set_point, item.heat_watts * item.count * may)


def heaters(items: Sequence[Heater], inputs: CabinInputs) -> list[ApplianceLoad]:
    """Blower and fuel of each; their heat is in the cabin's balance already."""
    each = zip(items, inputs.heat_w, strict=True)
    return [_heater(item, heat_w, inputs) for item, heat_w in each]


def _heater(item: Heater, heat_w: Floats, inputs: CabinInputs) -> ApplianceLoad:
    source = heat_source(item, inputs.timeline, inputs.sun)
    holds = may_run(item, inputs.timeline, inputs.sun) * (source.set_point_c > -np.inf)
    full = item.heat_watts * item.count
    share = heat_w / full
    blower = appliances.heater_watts(heat_w, blower_watts=item.blower_watts, full_heat_watts=full)
    taken_w = heat_w / item.count / (item.efficiency_pct / 100.0)
    ready = holds[:, None]
    if item.fuel == "electricity":
        return ApplianceLoad(blower + taken_w, share, NOTHING, ready=ready)
    return ApplianceLoad(blower, share, NOTHING, item.fuel, taken_w, ready=ready)


def fan(item: Fan, inputs: CabinInputs) -> ApplianceLoad:
    """By hand in its windows, by its thermostat otherwise."""
    may = held(item, inputs.timeline, inputs.sun)
    share = may[:, None] * _fan_share(item, inputs)
    if item.on_above_c is None:
        return electric(item.watts * share, share)
    return electric(item.watts * share, share, (may * aboard(inputs.timeline))[:, None])


def _fan_share(item: Fan, inputs: CabinInputs) -> Floats:
    """Share of full power of a fan."""
    there = aboard(inputs.timeline)
    by_hand = (inputs.timeline.share_within(item.at) * there)[:, None] * inputs.climate.hand_on
    if item.on_above_c is None:
        return by_hand
    share = appliances.fan_share(inputs.climate.end_c, there, on_above_c=item.on_above_c)
    # The air conditioner wants the roof shut.
    return np.maximum(by_hand, np.where(inputs.climate.cool_w > 0.0, 0.0, share))


def cooling_w(items: Sequence[AirConditioner], timeline: Timeline, sun: Sun) -> Floats:
    """The most that all air conditioners carry out while people are aboard. [W], shape (H,)"""
    most = np.zeros(len(timeline))
    for item in items:
        most += item.cool_watts * item.count * may_run(item, timeline, sun) * aboard(timeline)
    return most


def air_conditioners(items: Sequence[AirConditioner], inputs: CabinInputs) -> list[ApplianceLoad]:
    """Several share the work as they may run."""
    cool_w, there = inputs.climate.cool_w, aboard(inputs.timeline)[:, None]
    most = cooling_w(items, inputs.timeline, inputs.sun)[:, None]
    of_all = np.divide(cool_w, most, out=np.zeros_like(cool_w), where=most > 0.0)
    made = []
    for item in items:
        may = may_run(item, inputs.timeline, inputs.sun)[:, None]
        share = of_all * may * there
        made.append(ApplianceLoad(item.most_watts * share, share, NOTHING, ready=may * there))
    return made
