"""The warmth inside: what the shell, the sun, people, appliances and heaters make of it."""

from __future__ import annotations

import numpy as np

from sim.job.appliance_model import Heater
from sim.job.model import Job
from sim.job.timeline import Timeline
from sim.ledger.skies import under_shade
from sim.sky.sun import Sun
from sim.sky.track import Floats, Weather
from sim.van import cabin


def cabin_of(
    job: Job, timeline: Timeline, weather: Weather, sun: Sun, appliances_w: Floats
) -> cabin.CabinHours:
    """Temperature of the cabin and heat from its heater, under the shade of the stops.

    Parameters
    ----------
    job : Job
    timeline : Timeline
        H steps.
    weather : Weather
        D draws, under an open sky.
    sun : Sun
        H steps.
    appliances_w : ndarray, shape (H, 1) or (H, D)
        Heat that appliances leave in the cabin. [W]
    """
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
    gain += (timeline.people * cabin.PERSON_WATTS)[:, None] + appliances_w
    return cabin.cabin_hours(
        weather.temp_air,
        gain,
        _set_point(heater, timeline),
        aboard(timeline),
        shell,
        heater_watts=heater.heat_watts * heater.count if heater else 0.0,
        step_hours=timeline.step_hours,
    )


def aboard(timeline: Timeline) -> Floats:
    """Share of each step with somebody aboard. shape (H,)"""
    return np.minimum(timeline.awake + timeline.asleep, 1.0)


def _set_point(heater: Heater | None, timeline: Timeline) -> Floats:
    if heater is None:
        return np.full(len(timeline), -np.inf)
    away = -np.inf if heater.away_c is None else heater.away_c
    there = aboard(timeline)
    # A step in which people go to bed or get up wants a warmth between day and night.
    awake = np.divide(timeline.awake, there, out=np.zeros_like(there), where=there > 0.0)
    set_point = heater.night_c + (heater.day_c - heater.night_c) * awake
    return np.where(there > 0.0, set_point, away)
