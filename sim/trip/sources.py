"""What sun and engine offer to the battery, from the job's panels and alternator."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.arrays import Floats
from sim.job.model.fields import DAY_MINUTES
from sim.job.model.job import Job
from sim.job.model.power import PanelGroup
from sim.sky import sun as sky
from sim.sky.sun import Sun
from sim.sky.track import Weather
from sim.trip.timeline import Timeline
from sim.trip.weather import under_shade
from sim.van import chargers, panels, snow

# Sides of the van, clockwise from the front. [degrees]
_SIDES = {"front": 0.0, "right": 90.0, "rear": 180.0, "left": 270.0}
# A heading nobody knows is averaged over so many directions.
_HEADINGS = 8


@dataclass(frozen=True)
class Supply:
    """What the sources offer, mean over each step.

    Attributes
    ----------
    sun_w : ndarray, shape (H, D)
        After the controllers, at the battery. [W]
    clipped_w : ndarray, shape (H, D)
        Lost to the controllers' current limit. [W]
    snowed_w : ndarray, shape (H, D)
        What snow on the panels keeps from them. [W]
    drive_w : ndarray, shape (H, 1)
        From the engine, driving or idling in camp. [W]
    ghi : ndarray, shape (H, D)
        On a level surface under the stop's shade. [W/m2]
    """

    sun_w: Floats
    clipped_w: Floats
    snowed_w: Floats
    drive_w: Floats
    ghi: Floats


def supply(job: Job, timeline: Timeline, weather: Weather, sun: Sun) -> Supply:
    """Offers of sun and engine in every step and draw.

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
    Supply
    """
    open_sky, weather = weather, under_shade(weather, timeline, sun)
    light = weather.ghi, weather.dni, weather.dhi
    # Nothing yet, and in no more room than that takes.
    offered = clipped = snowed = np.zeros((1, 1))
    for group in job.panels:
        if group.count == 0:
            continue
        watts = group_watts(
            group, timeline, light, weather.temp_air, sun, battery_v=job.battery.charging_v
        )
        cover = snow_on(group, job, timeline, open_sky, sun)
        if cover is not None:
            snowed = snowed + watts * cover * group.controller_efficiency
            watts *= 1.0 - cover
        if group.mount == "portable":
            up = timeline.share_within([(job.living.wake_at, job.living.sleep_at)])
            watts *= (up * (1.0 - timeline.driving))[:, None]
        given, lost = chargers.solar_controller_watts(
            watts,
            efficiency=group.controller_efficiency,
            amps=group.controller_amps,
            charging_v=job.battery.charging_v,
            standby_watts=group.controller_standby_watts,
        )
        offered, clipped = offered + given, clipped + lost
    drive_w = np.array(_engine_watts(job)) @ timeline.engine
    shape = weather.ghi.shape
    offered, clipped, snowed = (np.broadcast_to(x, shape) for x in (offered, clipped, snowed))
    return Supply(offered, clipped, snowed, drive_w[:, None], weather.ghi)


def _engine_watts(job: Job) -> tuple[float, float]:
    """What the engine offers to the battery on the road, and idling in camp. [W]"""
    source = job.alternator
    if source is None:
        return 0.0, 0.0

    def offered(idle_share: float) -> float:
        return chargers.dcdc_watts(
            dcdc_amps=source.dcdc_amps,
            charging_v=job.battery.charging_v,
            efficiency=source.efficiency,
            spare_amps=source.spare_amps,
            alternator_v=source.alternator_v,
            hot_loss=source.hot_loss_pct / 100.0,
            idle_share=idle_share,
            idle_output=source.idle_output_pct / 100.0,
        )

    return offered(source.idle_share), offered(1.0)


def group_watts(
    group: PanelGroup,
    timeline: Timeline,
    light: tuple[Floats, Floats, Floats],
    temp_air: Floats,
    sun: Sun,
    *,
    battery_v: float | None = None,
) -> Floats:
    """Power of a group of panels before its controller. [W], shape (H, D)

    A tilted group is tilted while the van is parked and lies flat on the road; a portable one
    is taken as set out all the time. A PWM controller pulls its panels to `battery_v`.
    """

    def plane(tilt: float, facing: Floats) -> Floats:
        return _plane_watts(
            group, timeline, light, temp_air, sun, tilt=tilt, facing=facing, battery_v=battery_v
        )

    flat = plane(0.0, np.zeros(len(timeline)))
    if group.mount == "flat" or not group.tilt_deg:
        return flat
    facings = _facings(group, timeline)
    tilted = sum((plane(group.tilt_deg, facing) for facing in facings), np.zeros_like(flat))
    tilted /= len(facings)
    driving = timeline.driving[:, None]
    return driving * flat + (1.0 - driving) * tilted


def shadow_loss(group: PanelGroup) -> float:
    """Share of a group's power that the shadows of the roof cost, 0 to 1."""
    return panels.shadow_loss(
        group.obstructed_pct / 100.0,
        series=group.series,
        strings=max(group.count // group.series, 1),
    )


def snow_on(
    group: PanelGroup, job: Job, timeline: Timeline, weather: Weather, sun: Sun
) -> Floats | None:
    """Share of a group's panels under snow, None where none ever falls. shape (H, D)

    Parameters
    ----------
    group : PanelGroup
    job : Job
    timeline : Timeline
        H steps.
    weather : Weather
        D draws, under an open sky.
    sun : Sun
    """
    # Portable panels are shaken when they are set out.
    if group.mount == "portable" or weather.temp_air.min() >= snow.SNOWS_BELOW_C:
        return None
    starts = np.flatnonzero(np.diff(timeline.local_day, prepend=-1))
    day = timeline.local_day
    long = np.diff(np.append(starts, len(timeline)))[:, None]
    light = np.add.reduceat(weather.ghi, starts, axis=0)
    outside = np.add.reduceat(sun.ghi_extra, starts)[:, None]
    # In the polar night there is no light to lose.
    clearness = np.divide(light, outside, out=np.ones_like(light), where=outside > 0.0)
    falls_mm = snow.snowfall_mm(clearness, np.add.reduceat(weather.temp_air, starts, axis=0) / long)
    if not falls_mm.any():
        return None
    swept = timeline.driving > 0.0
    if job.living.clear_snow == "each morning":
        gets_up = (timeline.clock == job.living.wake_at % DAY_MINUTES).any(axis=1)
        swept = swept | (gets_up & (timeline.people > 0.0))
    return snow.snow_cover(
        falls_mm[day],
        weather.ghi,
        weather.temp_air,
        swept,
        day,
        tilt_deg=group.tilt_deg or 0.0,
        step_hours=timeline.step_hours,
    )


def _facings(group: PanelGroup, timeline: Timeline) -> list[Floats]:
    """Compass directions a tilted group may face, all as likely. Arrays of shape (H,) [degrees]"""
    if group.facing_deg is not None:
        return [np.full(len(timeline), group.facing_deg)]
    if group.side is None:
        # Towards the noon sun: south on the northern half of the world.
        return [np.where(timeline.latitude >= 0.0, 180.0, 0.0)]
    heading = timeline.heading_deg
    if heading is None:
        heading = np.full(len(timeline), np.nan)
    known = np.isfinite(heading)
    guesses = np.arange(_HEADINGS if not known.all() else 1) * (360.0 / _HEADINGS)
    return [np.where(known, heading, guess) + _SIDES[group.side] for guess in guesses]


def _plane_watts(
    group: PanelGroup,
    timeline: Timeline,
    light: tuple[Floats, Floats, Floats],
    temp_air: Floats,
    sun: Sun,
    *,
    tilt: float,
    facing: Floats,
    battery_v: float | None,
) -> Floats:
    ghi, dni, dhi = light
    plane = sky.on_plane(ghi, dni, dhi, sun, tilt_deg=tilt, azimuth_deg=facing)
    effective = panels.through_glass(plane, tilt)
    poa = plane.beam + plane.sky + plane.ground
    cell = panels.cell_temperature(poa, temp_air, timeline.driving)
    losses = (group.soiling_pct, group.wiring_pct, group.mismatch_pct, group.ageing_pct)
    watts = panels.panel_watts(
        effective,
        cell,
        rated_watts=group.array_watts,
        temp_coeff_pct_c=group.temp_coeff_pct_c,
        kept=panels.kept_share(*losses, 100.0 * shadow_loss(group)),
    )
    if group.controller == "pwm" and group.vmp_v is not None and battery_v is not None:
        watts *= panels.pwm_share(
            cell,
            vmp_v=group.vmp_v * group.series,
            temp_coeff_pct_c=group.voc_temp_coeff_pct_c,
            battery_v=battery_v,
        )
    return watts
