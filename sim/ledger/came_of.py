"""What came of a trip whose battery was carried through: from its hours to a result."""

from __future__ import annotations

import numpy as np

from sim.arrays import Floats
from sim.ledger.boxes import boxes_of
from sim.ledger.lines import SourceLine
from sim.ledger.results import TripResult
from sim.ledger.tried import TriedTrip
from sim.trip.frost import NO_FROST
from sim.trip.tanks import engine_fuel_l_day


def result_of(tried: TriedTrip) -> TripResult:
    """All that came of a trip with the job's own battery, step by step. It lets go of what was
    offered."""
    around, wants, hours, timeline = tried.around, tried.wants, tried.hours, tried.timeline
    battery, days_long = around.job.battery, len(timeline) * timeline.step_hours / 24.0
    sources, by_cause_w, stores = _source_lines(tried), _by_cause_w(tried), tried.tanks
    unharvested_w, served_w = tried.unharvested_w(), tried.served_w()
    # A year of draws is large: what was offered is done with.
    del tried.offers
    return TripResult(
        name=tried.name,
        timeline=timeline,
        soc=tried.soc,
        lowest=tried.lowest,
        cut_off_h=hours.cut_off_h,
        sources=sources,
        unharvested_w=unharvested_w,
        unharvested_by_cause_w=by_cause_w,
        served_w=served_w,
        unserved_w=tried.unserved_w,
        losses_w=hours.losses_w,
        ghi=around.ghi,
        temp_air=around.temp_air,
        cabin_c=wants.cabin_c,
        sun_up=around.sun.apparent_zenith < 90.0,
        capacity_wh=battery.capacity_wh,
        chemistry=battery.chemistry,
        loads=tried.loads,
        ample_share=tried.ample_share,
        tight_share=tried.tight_share,
        floors=tried.floors,
        least_usable=tried.least_usable,
        about=around.about,
        years=tried.years,
        stores=(*around.stores, *stores),
        boxes=() if around.frost is None else boxes_of(timeline, around.sun, wants, _shares(tried)),
        snowed_wh_day=around.snowed_wh_day,
        hot_short_w=around.hot_short_w,
        uncharged_wh_day={name: wh / days_long for name, wh in wants.uncharged_wh.items()},
        chill=wants.chill,
        damp_hours=wants.damp_hours,
        frost=around.frost or NO_FROST,
        engine_fuel_l_day=engine_fuel_l_day(wants),
        ac_peak=wants.ac_peak,
    )


def _shares(tried: TriedTrip) -> list[Floats]:
    """Share of each group's loads that was served. shape (H, D) or (1, 1)"""
    return [tried.given(group).whole() for group in range(len(tried.wants.wanted_w))]


def _source_lines(tried: TriedTrip) -> tuple[SourceLine, ...]:
    """What each source could have given, and what was taken of it."""
    lines = []
    for k, (source, taken_w) in enumerate(
        zip(tried.offers.sources, tried.taken_each_w(), strict=True)
    ):
        ran = tried.hours.runs.get(k)
        offered_w = source.offered_w if ran is None else ran.offered_w
        offered = [offered_w, source.direct_w, source.lost_w]
        lines.append(
            SourceLine(
                name=source.name,
                kind=source.kind,
                offered_wh_day=24.0 * sum(float(x.mean()) for x in offered if x is not None),
                taken_w=taken_w,
                hours_day=24.0 * float(ran.share.mean()) if ran is not None else None,
            )
        )
    return tuple(lines)


def _by_cause_w(tried: TriedTrip) -> Floats:
    """Sun that nothing took by its cause, mean over draws. [W], shape (4, H)"""
    offers, lost = tried.offers, np.zeros(len(tried.timeline))
    for source in (offers.sources[k] for k in offers.suns):
        if source.lost_w is not None:
            lost += source.lost_w.mean(axis=1)
    return np.vstack([tried.hours.refused_sun_w, lost])
