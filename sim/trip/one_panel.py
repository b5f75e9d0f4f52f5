"""What one panel of a group gives over a trip, before its controller: light, warmth, snow on it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.arrays import Floats, Ints
from sim.job.model.fields import DAY_MINUTES
from sim.job.model.job import Job
from sim.job.model.power import Battery, PanelGroup
from sim.sky import sun as sky
from sim.sky.sun import Sun
from sim.sky.track import Weather
from sim.trip.timeline import Timeline
from sim.van import panels, snow

# Sides of the van, clockwise from the front. [degrees]
_SIDES = {"front": 0.0, "right": 90.0, "rear": 180.0, "left": 270.0}
# A heading nobody knows is averaged over so many directions.
_HEADINGS = 8
# Share of a step that sweeping by hand takes: next to nothing.
_ONCE = 1e-9


def panel_watts(
    group: PanelGroup,
    timeline: Timeline,
    weather: Weather,
    sun: Sun,
    *,
    bank: Battery | None = None,
) -> Floats:
    """Power of one panel of a group before its controller, without snow. [W], shape (H, D)

    A tilted panel is tilted while the van is parked and lies flat on the road; a portable one
    is taken as set out all the time. What its controller cannot harvest at the voltage of
    `bank` is left out. `weather` is that under the stop's shade.
    """

    watts = np.zeros(weather.ghi.shape)
    # At night they give nothing.
    lit = _Lit.of(timeline, weather, sun)

    def plane(tilt: float, facing: Floats) -> Floats:
        return _plane_watts(group, lit, tilt=tilt, facing=facing[lit.rows], bank=bank)

    flat = plane(0.0, np.zeros(len(timeline)))
    if group.mount != "flat" and group.tilt_deg:
        facings = _facings(group, timeline)
        tilted = sum((plane(group.tilt_deg, facing) for facing in facings), np.zeros_like(flat))
        tilted /= len(facings)
        driving = lit.driving[:, None]
        flat = driving * flat + (1.0 - driving) * tilted
    watts[lit.rows] = flat
    return watts


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
    kept_bare = timeline.driving
    if job.living.clear_snow == "each morning":
        gets_up = (timeline.clock == job.living.wake_at % DAY_MINUTES).any(axis=1)
        kept_bare = np.maximum(kept_bare, _ONCE * (gets_up & (timeline.people > 0.0)))
    return snow.snow_cover(
        falls_mm[day],
        weather.ghi,
        weather.temp_air,
        kept_bare,
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


@dataclass(frozen=True)
class _Lit:
    """The steps of a trip that see light in any draw, by their number in `rows`."""

    rows: Ints
    weather: Weather
    sun: Sun
    driving: Floats
    day: Ints

    @classmethod
    def of(cls, timeline: Timeline, weather: Weather, sun: Sun) -> _Lit:
        light = (part.max(axis=1) > 0.0 for part in (weather.ghi, weather.dni, weather.dhi))
        rows = np.flatnonzero(np.logical_or.reduce(list(light)))
        # Days without light are not counted.
        day = np.unique(timeline.local_day[rows], return_inverse=True)[1].reshape(-1)
        return cls(rows, weather.at(rows), sun.at(rows), timeline.driving[rows], day)


def _plane_watts(
    group: PanelGroup, lit: _Lit, *, tilt: float, facing: Floats, bank: Battery | None
) -> Floats:
    weather, sun = lit.weather, lit.sun
    plane = sky.on_plane(
        weather.ghi, weather.dni, weather.dhi, sun, tilt_deg=tilt, azimuth_deg=facing
    )
    effective = panels.through_glass(plane, tilt)
    poa = plane.beam + plane.sky + plane.ground
    cell = panels.cell_temperature(poa, weather.temp_air, lit.driving)
    built = (group.soiling_pct, group.wiring_pct, group.mismatch_pct, group.ageing_pct)
    losses = (*built, group.seen_loss_pct)
    watts = panels.panel_watts(
        effective,
        cell,
        rated_watts=group.watts,
        temp_coeff_pct_c=group.temp_coeff_pct_c,
        kept=panels.kept_share(*losses, 100.0 * shadow_loss(group)),
    )
    # Without the panel's voltage nothing can be said of it.
    if bank is not None and group.vmp_v is not None:
        watts *= _harvested(group, group.vmp_v, bank, cell, poa, lit.day)
    return watts


def _harvested(
    group: PanelGroup, vmp_v: float, bank: Battery, cell_c: Floats, poa: Floats, day: Ints
) -> Floats:
    """Share of its power that a group's controller can harvest at the bank's voltage."""
    share = panels.controller_share(
        panels.at_cells(vmp_v * group.series, cell_c, group.temp_coeff_pct_c),
        kind=group.controller,
        battery_v=bank.charging_v,
        run_above_v=group.run_above_v,
    )
    if group.controller == "mppt":
        # At dawn the bank is at rest.
        open_v = (group.open_v or 0.0) * group.series
        starts = panels.starts_that_day(
            panels.at_cells(open_v, cell_c, group.voc_temp_coeff_pct_c),
            poa > 0.0,
            day,
            bank.nominal_v + group.start_above_v,
        )
        share *= starts
    return share
