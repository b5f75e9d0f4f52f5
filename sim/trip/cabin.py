"""The warmth inside: what the shell, the sun, people, appliances and heaters make of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from math import ceil

import numpy as np

from sim.arrays import Bools, Floats, first_hours
from sim.job.model.appliance_base import ApplianceBase
from sim.job.model.appliances import AirConditioner, Cooking, Fan, Heater
from sim.job.model.changes import with_values
from sim.job.model.job import Job, Van
from sim.sky.sun import Sun
from sim.sky.track import Weather
from sim.trip.availability import aboard, held, may_run
from sim.trip.household import Uses
from sim.trip.kinds.by_cabin import HeatSource, cooling_w
from sim.trip.kinds.load import ClockInputs
from sim.trip.kinds.table import kind_of
from sim.trip.timeline import Timeline
from sim.van import air, cabin, tanks
from sim.van.shell import (
    INSIDE_FILM_W_M2K,
    Shell,
    insulated_u_w_m2k,
    shell_area_m2,
    sun_gain_w,
)

# A thermostat's own play (common practice, no source).
BELOW_TOLERANCE_K = 0.5
# A cabin that was left cold, or to a lower set point, may take so long to come up; and so much
# below the set point on a trip nobody minds (common practice, no source).
COMES_UP_H = 2.0
UNMINDED_K_H = 2.0
# A burner of a camping stove (common practice, no source): how long the flame burns for a meal.
BURNER_WATTS = 2000.0
# On milder nights people leave a window open (common practice, no source).
WINDOWS_SHUT_BELOW_C = 8.0
_STEPS_AT_ONCE = 24


def cabin_in(weather: Weather, inputs: ClockInputs, appliances_w: Floats) -> cabin.Cabin:
    """The cabin and all that acts on it.

    Parameters
    ----------
    weather : Weather
        D draws, `under_shade` of the stops.
    inputs : ClockInputs
        The job and H steps of its trip.
    appliances_w : ndarray, shape (H, 1) or (H, D)
        Heat that appliances leave in the cabin. [W]
    """
    job, timeline = inputs.job, inputs.timeline
    shell = shell_of(job.van)
    gain = sun_gain_w(weather.ghi, shell)
    gain += (timeline.people * cabin.PERSON_WATTS)[:, None] + appliances_w
    return cabin.Cabin(weather.temp_air, gain, aboard(timeline), shell, _devices(inputs))


def shell_of(van: Van) -> Shell:
    """A van's walls, windows and leaks."""
    walls_u = walls_u_w_m2k(van)
    walls_m2 = shell_area_m2(van.length_m, van.width_m, van.height_m) - van.glass_m2
    return Shell(
        ua_w_k=walls_u * walls_m2 + van.glass_u_w_m2k * van.glass_m2,
        leak_cm2=van.leak_cm2,
        roof_m2=van.length_m * van.width_m,
        shell_u_w_m2k=walls_u,
        skin_absorptance=van.skin_absorptance,
        glass_m2=van.glass_m2,
        mass_wh_k=van.thermal_mass_kj_k / 3.6,
        vent_w_k=van.vent_w_k,
        vent_above_c=van.vent_above_c,
    )


def other_when_away(job: Job) -> Job | None:
    """The job with the heaters switched off while nobody is aboard, or, where they are off then
    already, held against frost; None without a heater."""
    heaters = [x for x in job.appliances if isinstance(x, Heater) and x.count > 0]
    if not heaters:
        return None
    away_c = "off" if is_held_when_away(job) else None
    items = (
        with_values(x, {"away_c": away_c}) if isinstance(x, Heater) else x for x in job.appliances
    )
    return with_values(job, {"appliances": tuple(items)})


def is_held_when_away(job: Job) -> bool:
    """Whether any heater holds a temperature while nobody is aboard."""
    heaters = (x for x in job.appliances if isinstance(x, Heater) and x.count > 0)
    return any(x.away_set_c > -np.inf for x in heaters)


def walls_u_w_m2k(van: Van) -> float:
    """Heat transfer of a van's shell, windows apart. [W/m2K]"""
    if van.insulation_m is None:
        return van.shell_u_w_m2k
    return insulated_u_w_m2k(van.insulation_m)


@dataclass(frozen=True)
class Chill:
    """How far the heaters stayed below what they should hold. Arrays of shape (D,).

    Attributes
    ----------
    hours : ndarray
        With the cabin more than half a kelvin below the highest set point. [h]
    kelvin_hours : ndarray
        By how much, summed over these hours. [K h]
    first_h : ndarray
        Hours from the departure until the heaters first fall behind; inf where they never do.
        The hours in which a cold cabin comes up do not count. [h]
    """

    hours: Floats
    kelvin_hours: Floats
    first_h: Floats


def chill_of(job: Job, timeline: Timeline, sun: Sun, climate: cabin.CabinHours) -> Chill:
    """Hours below the set point of a job's heaters; none without a heater."""
    points = [source.set_point_c for source in _heat_sources(job, timeline, sun)]
    wanted = np.max(points, axis=0, initial=-np.inf) if points else np.full(len(timeline), -np.inf)
    below = np.maximum(wanted[:, None] - climate.end_c, 0.0)
    below = np.where(below > BELOW_TOLERANCE_K, below, 0.0)
    late = below * ~_rises(wanted, timeline)[:, None]
    minded = late.sum(axis=0) * timeline.step_hours > UNMINDED_K_H
    return Chill(
        hours=(below > 0.0).sum(axis=0) * timeline.step_hours,
        kelvin_hours=below.sum(axis=0) * timeline.step_hours,
        first_h=np.where(minded, first_hours(late > 0.0, timeline.step_hours), np.inf),
    )


def _rises(set_point_c: Floats, timeline: Timeline) -> Bools:
    """Whether the set point has risen within the time that a cabin may take. shape (H,)"""
    steps = ceil(COMES_UP_H / timeline.step_hours)
    before = np.concatenate([np.full(steps, -np.inf), set_point_c])
    lowest = np.lib.stride_tricks.sliding_window_view(before, steps).min(axis=1)
    return np.asarray(set_point_c > lowest[: len(set_point_c)])


def damp_hours_of(
    temp_air: Floats, inputs: ClockInputs, cabin_c: Floats, air_l_s: Floats
) -> Floats:
    """Hours in which water runs down the windows while people are aboard. [h], shape (D,)

    Parameters
    ----------
    temp_air, cabin_c : ndarray, shape (H, D)
        [deg C]
    inputs : ClockInputs
    air_l_s : ndarray, shape (H, D)
        As of `CabinHours`. [L/s]
    """
    job, line = inputs.job, inputs.timeline
    people = np.divide(line.people, np.maximum(aboard(line), 1e-9))
    breath = line.asleep * air.PERSON_ASLEEP_G_H + line.awake * air.PERSON_AWAKE_G_H
    flame_w = flame_share(job, inputs.uses, line) * BURNER_WATTS
    flame_g_h = flame_w / tanks.PROPANE_WH_KG * air.WATER_KG_PER_KG_PROPANE * 1000.0
    dew_c = air.dew_point_c(temp_air, line.local_day)
    moisture_g_h, there = people * breath + flame_g_h, aboard(line)
    hours = np.zeros(temp_air.shape[1])
    # By the day: a year of draws is large.
    for rows in np.array_split(np.arange(len(line)), ceil(len(line) / _STEPS_AT_ONCE)):
        inside_c, outside_c = cabin_c[rows], temp_air[rows]
        surface_c = air.inner_surface_c(
            inside_c, outside_c, u_w_m2k=job.van.glass_u_w_m2k, film_w_m2k=INSIDE_FILM_W_M2K
        )
        wet = air.is_wet(surface_c, dew_c[rows], moisture_g_h[rows, None], air_l_s[rows])
        wet &= outside_c < WINDOWS_SHUT_BELOW_C
        hours += there[rows] @ wet
    return hours * line.step_hours


def heating(items: Sequence[ApplianceBase]) -> list[int]:
    """Which of some appliances heat the cabin, in their order, which is that of their use."""
    return [n for n, item in enumerate(items) if kind_of(item).heats is not None]


def _heat_sources(job: Job, timeline: Timeline, sun: Sun) -> list[HeatSource]:
    items = [item for item in job.appliances if item.count > 0]
    every = [kind_of(item).heats for item in items]
    each = zip(items, every, strict=True)
    return [heats(item, timeline, sun) for item, heats in each if heats is not None]


def _devices(inputs: ClockInputs) -> cabin.Devices:
    """What acts on the cabin's warmth."""
    job, timeline, sun = inputs.job, inputs.timeline, inputs.sun
    steps = len(timeline)
    sources = _heat_sources(job, timeline, sun)
    fans = [item for item in job.appliances if isinstance(item, Fan) and item.count > 0]
    on_thermostat = [fan for fan in fans if fan.on_above_c is not None]
    coolers = [x for x in job.appliances if isinstance(x, AirConditioner) and x.count > 0]
    return cabin.Devices(
        set_point_c=np.array([x.set_point_c for x in sources]).reshape(-1, steps),
        heat_w=np.array([x.most_w for x in sources]).reshape(-1, steps),
        wind_m_s=timeline.wind_m_s,
        fresh_l_s=air.fresh_l_s(timeline.people, flame_share(job, inputs.uses, timeline)),
        hand_w_k=_by_hand(fans, timeline, sun),
        fan_w_k=max((_carried_w_k(fan) for fan in on_thermostat), default=0.0),
        fan_above_c=min((x.on_above_c for x in fans if x.on_above_c is not None), default=np.inf),
        cool_w=cooling_w(coolers, timeline, sun),
        cool_above_c=min((x.on_above_c for x in coolers), default=np.inf),
        boxes=tuple(_boxes(job, timeline, sun)),
    )


def flame_share(job: Job, uses: Uses, timeline: Timeline) -> Floats:
    """Share of each step in which gas burns on the stove. shape (H,)"""
    flames = [x for x in job.appliances if isinstance(x, Cooking) and x.fuel == "propane"]
    meal_wh = sum(x.meal_wh_person * x.meals_pct / 100.0 for x in flames if x.count > 0)
    return np.minimum(uses.meals * meal_wh / (BURNER_WATTS * timeline.step_hours), 1.0)


def _carried_w_k(fan: Fan) -> float:
    """Heat that fans of one kind carry out per kelvin at full speed. [W/K]

    Air that one pushes in another pulls out: two fans move hardly more than one.
    """
    return fan.air_m3_h * air.AIR_WH_M3_K


def _by_hand(fans: list[Fan], timeline: Timeline, sun: Sun) -> Floats:
    """Heat carried out per kelvin by the strongest of the fans that are switched on by hand."""
    most = np.zeros(len(timeline))
    for fan in fans:
        on = timeline.share_within(fan.at) * aboard(timeline) * held(fan, timeline, sun)
        most = np.maximum(most, on * _carried_w_k(fan))
    return most


def _boxes(job: Job, timeline: Timeline, sun: Sun) -> Iterator[cabin.Box]:
    """The cold boxes and their like."""
    for item in job.appliances:
        if (at_cabin_c := kind_of(item).at_cabin_c) is not None:
            running = item.count * may_run(item, timeline, sun)
            yield cabin.Box(item, partial(at_cabin_c, item), running)
