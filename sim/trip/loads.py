"""What each appliance of a job draws in every step: electricity, fuel, and heat it leaves inside.

First those that go by the clock and by what people use; they warm the cabin. Then those that
answer to the cabin's warmth.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from sim.arrays import Floats, Ints
from sim.job.model.appliances import (
    AirConditioner,
    Charging,
    ColdBox,
    Cooking,
    Fan,
    Heater,
    HotWater,
    Lights,
    Pump,
    Steady,
    Timed,
)
from sim.job.model.job import Job
from sim.sky.sun import Sun
from sim.trip.cabin import aboard, cooling_w, heaters_of, may_run
from sim.trip.household import COLD_WATER_C, Uses
from sim.trip.timeline import Timeline
from sim.van import appliances, cabin
from sim.van.hot_water import HotHours, hot_hours

# Devices that wait for the sun are plugged in while it stands this high, or half as high as it
# comes that day if that is less (common practice, no source).
SUN_WELL_UP_DEG = 15.0
NOTHING: Floats = np.zeros((1, 1))
ByClock = Steady | Timed | Lights | Pump | Charging | Cooking | HotWater
ByCabin = ColdBox | Heater | Fan | AirConditioner


@dataclass(frozen=True)
class LoadInputs:
    """What the clock knows of a trip: its steps, the sun over them, what people use, the hot
    water that takes."""

    timeline: Timeline
    sun: Sun
    uses: Uses
    hot: HotHours


@dataclass(frozen=True)
class ApplianceLoad:
    """One unit of an appliance. Arrays of shape (H, 1) or (H, D).

    Attributes
    ----------
    watts : ndarray
        Electricity wanted, at the appliance. [W]
    share : ndarray
        Share of each step in which it is switched on.
    cabin_w : ndarray
        Heat it leaves in the cabin, that of a heater apart. [W]
    fuel : str or None
        What it burns.
    fuel_w : ndarray or None
        Heat of the fuel it burns. [W]
    missed_wh : float
        What it would have charged and found no time for. [Wh]
    """

    watts: Floats
    share: Floats
    cabin_w: Floats
    fuel: Literal["propane", "diesel", "petrol"] | None = None
    fuel_w: Floats | None = None
    missed_wh: float = 0.0


def clock_load(item: ByClock, job: Job, steps: LoadInputs) -> ApplianceLoad:
    """What one unit draws that goes by the clock and by use.

    Parameters
    ----------
    item : ByClock
        One of the job's appliances.
    job : Job
    inputs : LoadInputs
        H steps.
    """
    may = may_run(item, steps.timeline)[:, None]
    match item:
        case Steady():
            return _electric(item.watts * may, may)
        case Timed():
            share = steps.timeline.share_within(item.at)[:, None] * may
            return _electric(item.watts * item.duty * share, share)
        case Lights():
            # On the road nobody sits in the lit cabin.
            parked = steps.timeline.awake * (1.0 - steps.timeline.driving)
            dark = appliances.lights_share(steps.sun.apparent_zenith, parked)
            return _electric(item.watts * dark[:, None] * may, dark[:, None] * may)
        case Pump():
            flow_l = item.flow_l_min * item.count * steps.timeline.step_minutes
            share = np.minimum(steps.uses.water_l / flow_l, 1.0)[:, None] * may
            return _electric(item.watts * share, share)
        case Charging():
            return _charging(item, job, steps, may)
        case Cooking():
            return _cooking(item, job, steps, may)
        case HotWater():
            return _hot_water(item, job, steps)


def cabin_load(
    item: ByCabin, job: Job, climate: cabin.CabinHours, timeline: Timeline
) -> ApplianceLoad:
    """What one unit draws that answers to the cabin's warmth.

    Parameters
    ----------
    item : ByCabin
        One of the job's appliances.
    job : Job
    climate : CabinHours
        H steps, D draws.
    timeline : Timeline
    """
    may = may_run(item, timeline)[:, None]
    match item:
        case ColdBox():
            watts = may * appliances.cold_box_watts(
                climate.temp_c,
                rated_wh_day=item.rated_wh_day,
                rated_ambient_c=item.rated_ambient_c,
                inside_c=item.inside_c,
                max_watts=item.max_watts,
            )
            return _electric(watts, watts / item.max_watts)
        case Fan():
            share = may * _fan_share(item, climate, timeline)
            return _electric(item.watts * share, share)
        case Heater():
            number = next(n for n, other in enumerate(heaters_of(job)) if other is item)
            return _heater(item, climate.heat_w[number])
        case AirConditioner():
            # Several share the work as they may run.
            most = cooling_w(job, timeline)[:, None]
            of_all = np.divide(
                climate.cool_w, most, out=np.zeros_like(climate.cool_w), where=most > 0.0
            )
            share = of_all * may * aboard(timeline)[:, None]
            return ApplianceLoad(item.most_watts * share, share, NOTHING)


def _heater(item: Heater, heat_w: Floats) -> ApplianceLoad:
    """Blower and fuel of one heater; its heat is in the cabin's balance already."""
    full = item.heat_watts * item.count
    share = heat_w / full
    blower = appliances.heater_watts(heat_w, blower_watts=item.blower_watts, full_heat_watts=full)
    taken_w = heat_w / item.count / (item.efficiency_pct / 100.0)
    if item.fuel == "electricity":
        return ApplianceLoad(blower + taken_w, share, NOTHING)
    return ApplianceLoad(blower, share, NOTHING, item.fuel, taken_w)


def _fan_share(item: Fan, climate: cabin.CabinHours, timeline: Timeline) -> Floats:
    """Share of full power of a fan: by hand in its windows, by its thermostat otherwise."""
    there = aboard(timeline)
    by_hand = (timeline.share_within(item.at) * there)[:, None]
    if item.on_above_c is None:
        return by_hand
    share = appliances.fan_share(climate.end_c, there, on_above_c=item.on_above_c)
    # The air conditioner wants the roof shut.
    return np.maximum(by_hand, np.where(climate.cool_w > 0.0, 0.0, share))


def _electric(watts: Floats, share: Floats) -> ApplianceLoad:
    """Electricity, all of which becomes heat in the cabin."""
    return ApplianceLoad(watts, share, watts)


def _charging(item: Charging, job: Job, steps: LoadInputs, may: Floats) -> ApplianceLoad:
    wh_day = item.wh_day
    if wh_day is None:
        wh_day = job.living.devices_wh_person_day * job.living.people / item.count
    line, day = steps.timeline, steps.timeline.local_day
    match item.when:
        case "sun":
            when = _sun_well_up(steps.sun, day)
        case "driving":
            when = line.driving
        case _:
            when = line.awake
    # On a day on which nobody comes aboard, nothing is used.
    is_used = np.bincount(day, line.people) > 0.0
    day_long = np.bincount(day) * line.step_hours / 24.0
    taken = appliances.charging(
        when * may[:, 0],
        np.where(is_used, wh_day * day_long, 0.0),
        day,
        watts=item.watts,
        step_hours=line.step_hours,
    )
    share = taken.share[:, None]
    watts = item.watts * share
    return ApplianceLoad(watts, share, watts, missed_wh=taken.missed_wh)


def _sun_well_up(sun: Sun, day: Ints) -> Floats:
    """1 while the sun stands high for its day, else 0. shape (H,)"""
    height = 90.0 - sun.apparent_zenith
    highest = np.full(day[-1] + 1, -90.0)
    np.maximum.at(highest, day, height)
    least = np.clip(highest / 2.0, 0.0, SUN_WELL_UP_DEG)
    return (height > least[day]).astype(np.float64)


def _cooking(item: Cooking, job: Job, steps: LoadInputs, may: Floats) -> ApplianceLoad:
    heat_w = (
        steps.uses.meals[:, None]
        * (item.meal_wh_person * item.meals_pct / 100.0 / steps.timeline.step_hours)
        * may
        / item.count
    )
    cabin_w = heat_w * item.cabin_pct / 100.0
    if item.fuel == "electricity":
        return ApplianceLoad(heat_w, heat_w / item.watts, cabin_w)
    share = steps.timeline.share_within(job.living.meals_at)[:, None] * (heat_w > 0.0)
    return ApplianceLoad(item.watts * share, share, cabin_w, "propane", heat_w)


def hot_water_of(job: Job, timeline: Timeline, uses: Uses) -> HotHours:
    """The hot water of a trip: all its heaters, in the order of the job, warm one tank."""
    heaters = _water_heaters(job)
    most = [x.heat_watts * x.count * _may_heat(x, timeline) for x in heaters]
    return hot_hours(
        uses.hot_w,
        np.array(most).reshape(len(heaters), len(timeline)),
        tank_l=np.array([x.tank_l for x in heaters]),
        hot_c=np.array([x.hot_c for x in heaters]),
        cold_c=COLD_WATER_C,
        standing_w_k=max((x.standing_w_k for x in heaters), default=0.0),
        step_hours=timeline.step_hours,
    )


def _water_heaters(job: Job) -> list[HotWater]:
    return [item for item in job.appliances if isinstance(item, HotWater) and item.count > 0]


def _may_heat(item: HotWater, timeline: Timeline) -> Floats:
    """Share of each step in which a water heater may run. shape (H,)"""
    may = may_run(item, timeline)
    if item.source != "engine":
        return may
    return np.minimum(may, timeline.driving + timeline.idling)


def _hot_water(item: HotWater, job: Job, steps: LoadInputs) -> ApplianceLoad:
    heaters = _water_heaters(job)
    number = next(n for n, other in enumerate(heaters) if other is item)
    heat_w = steps.hot.heat_w[number][:, None] / item.count
    share = heat_w / item.heat_watts
    taken_w = heat_w / (item.efficiency_pct / 100.0)
    # What leaks from the one tank into the cabin is told with the first of its heaters.
    leaked = steps.hot.lost_w[:, None] / item.count if number == 0 else NOTHING
    if item.source == "electricity":
        return ApplianceLoad(taken_w + item.watts * share, share, leaked)
    if item.source == "propane":
        return ApplianceLoad(item.watts * share, share, leaked, "propane", taken_w)
    return ApplianceLoad(item.watts * share, share, leaked)
