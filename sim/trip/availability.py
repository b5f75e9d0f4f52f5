"""When somebody is aboard, and when an appliance may run at all."""

from __future__ import annotations

import numpy as np

from sim.arrays import Bools, Floats, Ints
from sim.job.model.appliance_base import ApplianceBase
from sim.job.model.living import Windows
from sim.job.model.power import Inverter
from sim.sky.sun import Sun
from sim.trip.timeline import Timeline, within

# What waits for the sun runs while the sun is this high, or half as high as it gets that day if
# that is less (common practice, no source).
SUN_WELL_UP_DEG = 15.0


def aboard(timeline: Timeline) -> Floats:
    """Share of each step with somebody aboard. shape (H,)"""
    return np.minimum(timeline.awake + timeline.asleep, 1.0)


def may_run(item: ApplianceBase, timeline: Timeline, sun: Sun) -> Floats:
    """Share of each step in which an appliance may run: in its parts of the day, while what it
    is held to is there. shape (H,)"""
    may = held(item, timeline, sun)
    return timeline.share_within(item.at) * may if item.at else may


def held(item: ApplianceBase, timeline: Timeline, sun: Sun) -> Floats:
    """Share of each step in which the plug, the road or the sun is there to which an appliance
    is held; all of it for one that is held to nothing. shape (H,)"""
    match item.runs:
        case "plugged":
            return timeline.plugged
        case "driving":
            return timeline.driving
        case "sun":
            return sun_well_up(sun, timeline.local_day)
        case _:
            return np.ones(len(timeline))


def ac_live(inverter: Inverter | None, timeline: Timeline) -> Floats:
    """Share of each step in which AC is there to be had, from the inverter or on the plug.
    shape (H,)"""
    if inverter is None or inverter.runs != "by hand":
        return np.ones(len(timeline))
    on = timeline.share_within(inverter.at)
    return np.asarray(on + (1.0 - on) * timeline.plugged)


def live_minutes(inverter: Inverter, timeline: Timeline) -> Bools:
    """Whether the inverter is switched on, or switches itself on, in each minute.
    shape (H, step_minutes)"""
    if inverter.runs != "by hand":
        return np.ones(timeline.clock.shape, dtype=np.bool_)
    return within(timeline.clock, inverter.at)


def live_share(inverter: Inverter, windows: Windows | None, timeline: Timeline) -> Floats:
    """Share of the time that an appliance has in each step, all of it or that in its parts of
    the day, in which the inverter is on. shape (H,)"""
    live = live_minutes(inverter, timeline)
    if windows is None:
        return np.asarray(live.mean(axis=1))
    inside = within(timeline.clock, windows)
    both, own = (inside & live).sum(axis=1), inside.sum(axis=1)
    return np.asarray(np.divide(both, own, out=np.ones(len(own)), where=own > 0))


def sun_well_up(sun: Sun, day: Ints) -> Floats:
    """1 while the sun is high for the day, else 0. shape (H,)

    Parameters
    ----------
    sun : Sun
        H steps.
    day : ndarray of int, shape (H,)
        Number of the day of each step, from 0.
    """
    height = 90.0 - sun.apparent_zenith
    highest = np.full(day[-1] + 1, -90.0)
    np.maximum.at(highest, day, height)
    least = np.clip(highest / 2.0, 0.0, SUN_WELL_UP_DEG)
    return (height > least[day]).astype(np.float64)
