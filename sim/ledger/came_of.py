"""What came of a trip whose battery was carried through: from its hours to a result."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.arrays import Floats
from sim.job.model.job import Job, Trip
from sim.job.model.living import PRIORITIES
from sim.ledger.boxes import boxes_of
from sim.ledger.lines import SourceLine
from sim.ledger.results import TripResult
from sim.ledger.served import LoadSums, served_share
from sim.sky.sun import Sun
from sim.trip.demand import Demand
from sim.trip.frost import NO_FROST, Frost
from sim.trip.prepare import PreparedTrip
from sim.trip.tanks import StoreLine, engine_fuel_l_day, fuel_store, stores_of
from sim.trip.timeline import Timeline
from sim.van.bank.loop import BankHours
from sim.van.bank.offers import Offers
from sim.van.bank.sources import together


@dataclass(frozen=True)
class Around:
    """Weather and surroundings of the van that the result keeps; see `TripResult`."""

    ghi: Floats
    temp_air: Floats
    sun: Sun
    about: tuple[str, ...]
    years: tuple[int, ...]
    snowed_wh_day: float
    frost: Frost | None  # None: neither that nor cold boxes are asked for
    stores: tuple[StoreLine, ...]
    sums: LoadSums

    @classmethod
    def of(cls, prepared: PreparedTrip, frost: Frost | None) -> Around:
        weather = prepared.sky.weather
        snowed = sum(
            unit.group.count * unit.group.controller_efficiency * unit.snowed_wh_day
            for unit in prepared.units
        )
        return cls(
            prepared.ghi,
            weather.temp_air,
            prepared.sky.sun,
            weather.about,
            weather.years,
            snowed,
            frost,
            stores_of(prepared.job, prepared.trip, prepared.timeline, prepared.wants),
            LoadSums(prepared.timeline.local_day, prepared.timeline.step_hours),
        )


@dataclass(frozen=True)
class Flows:
    """What came of the sources' offers; see `TripResult`. What goes past the bank is apart."""

    sources: tuple[SourceLine, ...]
    tanks: tuple[StoreLine, ...]
    unharvested_w: Floats
    by_cause_w: Floats
    past_bank_w: Floats
    least_usable: Floats

    @classmethod
    def of(cls, offers: Offers, hours: BankHours, step_hours: float) -> Flows:
        tanks = tuple(
            fuel_store(source.name, source.fuel, ran.tank, step_hours)
            for k, ran in hours.runs.items()
            if (source := offers.sources[k]).fuel is not None and ran.tank is not None
        )
        past = [source.direct_w for source in offers.sources if source.direct_w is not None]
        lines, draws = _source_lines(offers, hours), hours.soc.shape[1]
        usable = np.ones(1) if offers.usable is None else offers.usable.min(axis=0)
        least = np.broadcast_to(usable, (draws,))
        return cls(lines, tanks, *_left_over(offers, hours), together(past), least)


def result_of(
    job: Job,
    trip: Trip,
    timeline: Timeline,
    around: Around,
    wants: Demand,
    flows: Flows,
    hours: BankHours,
) -> TripResult:
    """What came of a trip whose battery is carried through."""
    # Of the bank alone: what is beyond the inlet it was never asked for.
    missed_w = hours.unserved_w
    if wants.beyond_w is not None:
        missed_w = np.maximum(missed_w - wants.beyond_w, 0.0)
    given = [served_share(*both) for both in zip(wants.wanted_w, missed_w, strict=True)]
    battery, settings, cabin_c = job.battery, job.settings, wants.cabin_c
    days_long = len(timeline) * timeline.step_hours / 24.0
    return TripResult(
        name=trip.name,
        timeline=timeline,
        soc=hours.soc,
        lowest=hours.lowest_soc,
        cut_off_h=hours.cut_off_h,
        sources=flows.sources,
        unharvested_w=flows.unharvested_w,
        unharvested_by_cause_w=flows.by_cause_w,
        served_w=wants.wanted_w.sum(axis=0) - missed_w.sum(axis=0) + flows.past_bank_w,
        # What is held to a charge waits for it, and goes without nothing.
        unserved_w=hours.unserved_w[: len(PRIORITIES)],
        losses_w=hours.losses_w,
        ghi=around.ghi,
        temp_air=around.temp_air,
        cabin_c=cabin_c,
        sun_up=around.sun.apparent_zenith < 90.0,
        capacity_wh=battery.capacity_wh,
        chemistry=battery.chemistry,
        loads=around.sums.lines(wants, given),
        ample_share=settings.ample_share,
        tight_share=settings.tight_share,
        floors=(battery.cutoff_soc, battery.reserve_soc, battery.extras_soc),
        least_usable=flows.least_usable,
        about=around.about,
        years=around.years,
        stores=(*around.stores, *flows.tanks),
        boxes=() if around.frost is None else boxes_of(timeline, around.sun, wants, given),
        snowed_wh_day=around.snowed_wh_day,
        # Without a heater nobody expects hot water.
        hot_short_w=wants.hot.short_w if len(wants.hot.heat_w) else np.zeros(len(timeline)),
        uncharged_wh_day={name: wh / days_long for name, wh in wants.uncharged_wh.items()},
        chill=wants.chill,
        damp_hours=wants.damp_hours,
        frost=around.frost or NO_FROST,
        engine_fuel_l_day=engine_fuel_l_day(wants),
        ac_peak=wants.ac_peak,
    )


def _source_lines(offers: Offers, hours: BankHours) -> tuple[SourceLine, ...]:
    """What each source could have given, and what was taken of it."""
    lines = []
    for k, (source, taken_w) in enumerate(zip(offers.sources, hours.taken_w, strict=True)):
        ran = hours.runs.get(k)
        offered_w = source.offered_w if ran is None else ran.offered_w
        offered = [offered_w, source.direct_w, source.lost_w]
        lines.append(
            SourceLine(
                name=source.name,
                kind=source.kind,
                offered_wh_day=24.0 * sum(float(x.mean()) for x in offered if x is not None),
                taken_w=taken_w if source.direct_w is None else taken_w + source.direct_w,
                hours_day=24.0 * float(ran.share.mean()) if ran is not None else None,
            )
        )
    return tuple(lines)


def _left_over(offers: Offers, hours: BankHours) -> tuple[Floats, Floats]:
    """Sun that nothing took, shape (H, D), and the same by cause, shape (4, H). [W]"""
    left, lost = np.zeros_like(hours.losses_w), np.zeros(len(hours.losses_w))
    for k in offers.suns:
        source = offers.sources[k]
        # What is left of an offer that was used up may be a rounding below nothing.
        left += np.maximum(source.offered_w - hours.taken_w[k], 0.0)
        if source.lost_w is not None:
            left += source.lost_w
            lost += source.lost_w.mean(axis=1)
    return left, np.vstack([hours.refused_sun_w, lost])
