"""The sources of a trip: what panels, engine and plug offer to the battery, and in what order."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np

from sim.arrays import Bools, Floats
from sim.job.model.fields import bounds
from sim.job.model.job import Job, Trip
from sim.job.model.power import Alternator, Generator, PanelGroup
from sim.sky.sun import Sun
from sim.sky.track import Track, Weather
from sim.trip.demand import Demand
from sim.trip.one_panel import panel_watts, snow_on
from sim.trip.tanks import served_at
from sim.trip.timeline import Timeline
from sim.trip.weather import under_shade
from sim.van import chargers
from sim.van.bank.running import ByCharge, Fuel
from sim.van.bank.sources import DRIVE, SHORE, SUN, Source
from sim.van.generator import generator_watts

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
    group: PanelGroup,
    job: Job,
    timeline: Timeline,
    weather: Weather,
    sun: Sun,
    *,
    under: Weather | None = None,
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
    under : Weather, optional
        `under_shade` of it, where that is known.
    """
    if under is None:
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
    kinds: Sequence[tuple[int, ...]],
    *,
    shape: tuple[int, int],
    charging_v: float,
    with_lost: bool = True,
) -> Source:
    """All panels behind their controllers: a column for each draw of each kind.

    Parameters
    ----------
    units : sequence of PanelUnit
    kinds : sequence of tuple of int
        Panels of each group, of K kinds.
    shape : (int, int)
        H steps and D draws.
    charging_v : float
        Mean voltage of the bank while charging. [V]
    with_lost : bool
        Whether anybody asks what the controllers' limit loses.
    """
    (steps, draws), columns = shape, (shape[0], len(kinds) * shape[1])
    offered = np.zeros((steps, len(kinds), draws))
    lost = np.zeros(offered.shape) if with_lost else None
    for unit, counts in zip(units, zip(*kinds, strict=True), strict=True):
        if not any(counts):
            continue
        amps = [controller_amps(unit.group, count, charging_v) for count in counts]
        # At night they give nothing.
        lit = np.flatnonzero(unit.watts.max(axis=1) > 0.0)
        given, clipped = chargers.solar_controller_watts(
            unit.watts[lit, None] * np.array(counts)[:, None],
            efficiency=unit.group.controller_efficiency,
            amps=np.array(amps)[:, None],
            charging_v=charging_v,
            standby_watts=unit.group.controller_standby_watts,
        )
        offered[lit] += given
        if lost is not None:
            lost[lit] += clipped
    lost_w = None if lost is None else lost.reshape(columns)
    return Source("Sun", SUN, offered.reshape(columns), lost_w=lost_w)


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
