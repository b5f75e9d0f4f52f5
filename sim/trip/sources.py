"""The sources of a trip: what panels, engine and plug offer to the battery, and in what order."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np

from sim.arrays import Bools, Floats, Ints
from sim.job.model.fields import DAY_MINUTES, bounds
from sim.job.model.job import Job, Trip
from sim.job.model.power import Alternator, Battery, Generator, PanelGroup
from sim.sky import sun as sky
from sim.sky.sun import Sun
from sim.sky.track import Track, Weather
from sim.trip.demand import Demand
from sim.trip.tanks import served_at
from sim.trip.timeline import Timeline
from sim.trip.weather import under_shade
from sim.van import chargers, panels, snow
from sim.van.bank.running import ByCharge, Fuel
from sim.van.bank.sources import DRIVE, SHORE, SUN, Source
from sim.van.generator import generator_watts

# Sides of the van, clockwise from the front. [degrees]
_SIDES = {"front": 0.0, "right": 90.0, "rear": 180.0, "left": 270.0}
# A heading nobody knows is averaged over so many directions.
_HEADINGS = 8
# Share of a step that sweeping by hand takes: next to nothing.
_ONCE = 1e-9
# Controllers are sold in about such steps (common practice, no source).
_CONTROLLER_STEP_A = 10.0


@dataclass(frozen=True)
class PanelUnit:
    """One panel of a group, before its controller.

    Attributes
    ----------
    group : PanelGroup
    watts : ndarray, shape (H, D)
        What it gives under snow and shade, and while it is out. [W]
    snowed_wh_day : float
        What snow keeps from it, mean over draws. [Wh/day]
    """

    group: PanelGroup
    watts: Floats
    snowed_wh_day: float


def panel_unit(
    group: PanelGroup, job: Job, timeline: Timeline, weather: Weather, sun: Sun
) -> PanelUnit:
    """What one panel of a group gives over a trip.

    Parameters
    ----------
    group : PanelGroup
        One of the job's, or like one.
    job : Job
    timeline : Timeline
        H steps.
    weather : Weather
        D draws, under an open sky.
    sun : Sun
        H steps.
    """
    under = under_shade(weather, timeline, sun)
    watts = panel_watts(group, timeline, under, sun, bank=job.battery)
    cover = snow_on(group, job, timeline, weather, sun)
    snowed_wh_day = 0.0
    if cover is not None:
        snowed_wh_day = 24.0 * float((watts * cover).mean())
        watts *= 1.0 - cover
    if group.mount == "portable":
        up = timeline.share_within([(job.living.wake_at, job.living.sleep_at)])
        watts *= (up * (1.0 - timeline.driving))[:, None]
    return PanelUnit(group, watts, snowed_wh_day)


def sun_source(
    units: Sequence[PanelUnit],
    counts: Sequence[Ints],
    draw: Ints | slice,
    *,
    shape: tuple[int, int],
    charging_v: float,
    with_lost: bool = True,
) -> Source:
    """All panels behind their controllers, lane by lane.

    Parameters
    ----------
    units : sequence of PanelUnit
    counts : sequence of ndarray of int, shape (L,)
        Panels of each group in each lane.
    draw : ndarray of int, shape (L,), or slice
        Draw of each lane.
    shape : (int, int)
        H steps and L lanes.
    charging_v : float
        Mean voltage of the bank while charging. [V]
    with_lost : bool
        Whether anybody asks what the controllers' limit loses.
    """
    offered = np.zeros(shape)
    lost = np.zeros(shape) if with_lost else None
    for unit, count in zip(units, counts, strict=True):
        if not count.any():
            continue
        known, which = np.unique(count, return_inverse=True)
        amps = np.array([controller_amps(unit.group, n, charging_v) for n in known.tolist()])
        # At night they give nothing.
        lit = np.flatnonzero(unit.watts.any(axis=1))
        watts = unit.watts[lit][:, draw]
        watts *= count
        given, clipped = chargers.solar_controller_watts(
            watts,
            efficiency=unit.group.controller_efficiency,
            amps=amps[which],
            charging_v=charging_v,
            standby_watts=unit.group.controller_standby_watts,
        )
        offered[lit] += given
        if lost is not None:
            lost[lit] += clipped
    return Source("Sun", SUN, offered, lost_w=lost)


def controller_amps(group: PanelGroup, count: int, charging_v: float) -> float:
    """Rating of a group's controller: the job's, or one large enough for more panels. [A]"""
    if count <= group.count:
        return group.controller_amps
    full = ceil(count * group.watts / charging_v / _CONTROLLER_STEP_A) * _CONTROLLER_STEP_A
    return max(group.controller_amps, min(full, bounds(PanelGroup, "controller_amps")[1]))


def other_sources(
    job: Job, trip: Trip, timeline: Timeline, track: Track, temp_air: Floats, wants: Demand
) -> tuple[Source, ...]:
    """All sources but the sun, which is used before them, in the order of use.

    Parameters
    ----------
    job : Job
    trip : Trip
    timeline : Timeline
        H steps.
    track : Track
        Where the van is.
    temp_air : ndarray, shape (H, D)
        [deg C]
    wants : Demand
        What the plug carries of it, and what its charger has left for the battery.
    """
    made = [*_drive(job, timeline, temp_air), _plug(timeline, wants)]
    if job.generator is not None:
        filled = served_at(trip, timeline, "fuel")
        made.append(_generator(job.generator, job, timeline, track, filled))
    return tuple(made)


def _drive(job: Job, timeline: Timeline, temp_air: Floats) -> Iterator[Source]:
    """The engine, driving or idling in camp, through each of its alternators."""
    runs = np.minimum(timeline.engine.sum(axis=0), 1.0)
    on = np.flatnonzero(timeline.engine.any(axis=0))
    shares = timeline.engine[:, on, None]
    found = [_engine_watts(item, job.battery.charging_v, temp_air[on]) for item in job.alternator]
    for number, watts in enumerate(found or [(np.zeros(1), np.zeros(1))], 1):
        name = "Driving" if len(found) < 2 else f"Driving, alternator {number}"
        road_w, idle_w = (w * share for w, share in zip(watts, shares, strict=True))
        given = road_w + idle_w
        if not np.ptp(given, axis=1).any():
            # The charger's rating rules in all draws: they share one column.
            given = given[:, :1]
        offered = np.zeros((len(timeline), given.shape[1]))
        offered[on] = given
        yield Source(name, DRIVE, offered, share=runs)


def _plug(timeline: Timeline, wants: Demand) -> Source:
    """The plug, through its charger and straight to AC appliances."""
    offered = wants.plug_offer_w
    return Source("Plug", SHORE, offered, share=timeline.plugged, direct_w=wants.plug_w)


def _generator(
    source: Generator, job: Job, timeline: Timeline, track: Track, filled: Bools
) -> Source:
    """The fuel generator, which is used outside the parked van and stays off on the plug."""
    may = timeline.share_within(source.at) if source.at else np.ones(len(timeline))
    may = np.maximum(may - timeline.share_within(source.quiet), 0.0)
    may = may * (1.0 - timeline.driving) * (1.0 - timeline.plugged)
    watts = generator_watts(
        track.altitude_m,
        rated_watts=source.watts,
        charger_amps=source.charger_amps,
        charging_v=job.battery.charging_v,
        charger_efficiency=source.charger_efficiency,
    )
    below = source.start_below_soc
    return Source(
        "Generator",
        "generator",
        (watts * may)[:, None],
        share=may,
        starts=None if below is None else ByCharge(below, min(below + source.rise_soc, 1.0)),
        fuel=Fuel(
            source.fuel,
            idle_l_h=source.idle_l_h,
            l_wh=source.l_kwh / 1000.0 / source.charger_efficiency,
            tank_l=source.tank_l,
            start_l=source.tank_l * source.start_pct / 100.0,
            filled=filled,
        ),
    )


def _engine_watts(source: Alternator, charging_v: float, temp_air: Floats) -> tuple[Floats, Floats]:
    """What an alternator offers to the battery on the road, and idling in camp. [W], each that
    of all steps or of shape (H, D)"""
    rated = source.rated_amps
    output = chargers.AlternatorOutput(
        amps=source.spare_amps if rated is None else rated,
        volts=source.alternator_v,
        hot_loss=chargers.hot_loss(temp_air, source.hot_loss_pct / 100.0),
        idle_output=source.idle_output_pct / 100.0,
        vehicle_amps=0.0 if rated is None else source.vehicle_amps,
    )

    def offered(idle_share: float) -> Floats:
        return chargers.dcdc_watts(
            dcdc_amps=source.dcdc_amps,
            charging_v=charging_v,
            efficiency=source.efficiency,
            alternator=output,
            idle_share=idle_share,
        )

    return offered(source.idle_share), offered(1.0)


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

    def plane(tilt: float, facing: Floats) -> Floats:
        return _plane_watts(group, timeline, weather, sun, tilt=tilt, facing=facing, bank=bank)

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


def _plane_watts(
    group: PanelGroup,
    timeline: Timeline,
    weather: Weather,
    sun: Sun,
    *,
    tilt: float,
    facing: Floats,
    bank: Battery | None,
) -> Floats:
    plane = sky.on_plane(
        weather.ghi, weather.dni, weather.dhi, sun, tilt_deg=tilt, azimuth_deg=facing
    )
    effective = panels.through_glass(plane, tilt)
    poa = plane.beam + plane.sky + plane.ground
    cell = panels.cell_temperature(poa, weather.temp_air, timeline.driving)
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
        watts *= _harvested(group, group.vmp_v, bank, cell, poa, timeline)
    return watts


def _harvested(
    group: PanelGroup, vmp_v: float, bank: Battery, cell_c: Floats, poa: Floats, timeline: Timeline
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
            timeline.local_day,
            bank.nominal_v + group.start_above_v,
        )
        share *= starts
    return share
