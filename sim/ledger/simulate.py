"""From a job to its result: what `prepare` works out, the battery over it, and what came of it."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np

from sim.arrays import Floats
from sim.job.model.changes import with_values
from sim.job.model.job import Job, Trip
from sim.job.model.living import PRIORITIES
from sim.ledger.boxes import boxes_of
from sim.ledger.lines import SourceLine
from sim.ledger.results import BALANCE_TOLERANCE, Result, TripResult
from sim.ledger.served import LoadSums, served_share
from sim.sky.sun import Sun
from sim.threads import Progress
from sim.trip.bank import bank_of, with_heating
from sim.trip.demand import Demand
from sim.trip.designs import Design, banks_of, design_of, offers_of
from sim.trip.frost import Frost, frost_of
from sim.trip.prepare import PreparedTrip, Skies, TripSky, file_sky, prepare_trip
from sim.trip.tanks import StoreLine, engine_fuel_l_day, fuel_store, stores_of
from sim.trip.timeline import Timeline
from sim.van.bank.beside import lanes_beside
from sim.van.bank.loop import BankHours, run_bank
from sim.van.bank.offers import Offers
from sim.van.bank.sources import together

# Lanes, and lanes times steps, that are kept at once where many designs are carried through a
# trip: so many lanes share what a step costs that is the same for one and for many.
LANES = 4096
LANE_STEPS = 2_000_000


def simulate(
    job: Job,
    *,
    lean: bool = False,
    skies: Skies | None = None,
    progress: Progress | None = None,
) -> Result:
    """Run every trip of a job in all its draws.

    Parameters
    ----------
    job : Job
        From `sim.load_job`.
    lean : bool
        Whether of each trip only what a report asks for is kept, see `TripResult.lean`.
    skies : Skies, optional
        Where skies, loads and panels are kept for those who come after.
    progress : callable, optional
        Called with the share of the work done, 0 to 1.

    Returns
    -------
    Result

    Raises
    ------
    WeatherError
        A weather file cannot be used, or a place has no climate.
    """
    trips = []
    for index, trip in enumerate(job.trips):
        share = 1.0 / len(job.trips)

        def tell(done: float, base: float = index * share, share: float = share) -> None:
            if progress is not None:
                progress(base + done * share)

        done = simulate_trip(job, trip, skies=skies, progress=tell)
        trips.append(done.lean() if lean else done)
        del done  # before the next trip begins
    return Result(job, tuple(trips))


def simulate_trip(
    job: Job, trip: Trip, *, skies: Skies | None = None, progress: Progress | None = None
) -> TripResult:
    """Run one trip of a job in all its draws; see `simulate`."""
    result = _carried(job, trip, progress or (lambda done: None), skies=skies)
    error = result.balance_error()
    if not error <= BALANCE_TOLERANCE:
        raise AssertionError(f"the ledger of {trip.name} does not close: {error:.2e}")
    above = file_sky(job, trip)
    if above is None:
        return result
    own = _carried(job, trip, lambda done: None, above=above)
    return replace(result, file_days_soc=own.soc[:, 0])


def _carried(
    job: Job,
    trip: Trip,
    tell: Progress,
    *,
    above: TripSky | None = None,
    skies: Skies | None = None,
) -> TripResult:
    """From timeline to result, unchecked."""
    prepared = prepare_trip(
        job, trip, skies=skies, above=above, progress=lambda done: tell(0.4 * done)
    )
    design, timeline, pad_w = design_of(job), prepared.timeline, prepared.bank.heating_w
    offers = offers_of(prepared, [design])
    heating_w = None if pad_w is None else pad_w * design.batteries
    wants = with_heating(prepared.wants, heating_w, offers.wanted_w)
    around = _Around.of(prepared, _frost(prepared))
    del prepared, pad_w  # a year of draws is large: the beam and the diffuse light are done with
    hours = run_bank(
        bank_of(job.battery, job.held_socs),
        offers,
        start_soc=trip.start_soc,
        step_hours=timeline.step_hours,
        progress=lambda done: tell(0.4 + 0.6 * done),
    )
    flows = _Flows.of(offers, hours, timeline.step_hours)
    del offers
    return _result(job, trip, timeline, around, wants, flows, hours)


def designs_at_once(draws: int, steps: int) -> int:
    """How many designs of a trip are carried through it at once."""
    return max(min(LANES, LANE_STEPS // steps) // draws, 1)


def results_of(ways: Sequence[PreparedTrip], designs: Sequence[Design]) -> Iterator[TripResult]:
    """Carry designs through all draws of a trip that goes several ways, each to its own result.

    Parameters
    ----------
    ways : sequence of PreparedTrip
        H steps and D draws each.
    designs : sequence of Design

    Yields
    ------
    TripResult
        Way after way, of one design after the other. Why sun went unharvested, how warm cold
        boxes got and what could freeze is left out, as nobody asks for it of many designs: the
        first is NaN, the others are empty.
    """
    at_once = designs_at_once(ways[0].draws, len(ways[0].timeline))
    many = max(at_once // len(designs), 1)
    for _, group in groupby(ways, _way_kind):
        alike = list(group)
        for first in range(0, len(alike), many):
            yield from _results_beside(alike[first : first + many], designs, at_once)


def _way_kind(way: PreparedTrip) -> Hashable:
    """The same for ways whose lanes may lie side by side."""
    bank = bank_of(way.job.battery, way.job.held_socs)
    offers = offers_of(way, [design_of(way.job)])
    same = way.trip.start_soc, way.timeline.step_minutes, way.draws, way.job.battery.count
    return *same, bank.kind, way.job.battery, offers.kind


def _results_beside(
    ways: Sequence[PreparedTrip], designs: Sequence[Design], at_once: int
) -> Iterator[TripResult]:
    """Of ways that are alike, as lanes side by side; of one alone as many designs at once."""
    first_way, draws = ways[0], ways[0].draws
    for first in range(0, len(designs), at_once):
        block = designs[first : first + at_once]
        design, draw = np.divmod(np.arange(len(block) * draws), draws)
        hours = run_bank(
            banks_of(first_way.job, block, np.tile(design, len(ways))),
            lanes_beside([offers_of(way, block, design, draw) for way in ways], draws),
            start_soc=first_way.trip.start_soc,
            step_hours=first_way.timeline.step_hours,
            causes=False,
        )
        for number, way in enumerate(ways):
            start = number * len(block) * draws
            own = hours.of_lanes(slice(start, start + len(block) * draws))
            yield from _results_apart(way, block, own)


def _results_apart(
    way: PreparedTrip, designs: Sequence[Design], hours: BankHours
) -> Iterator[TripResult]:
    """What came of each design on a way, whose lanes lie in the order of designs, then draws."""
    around, pad_w, step_hours = _Around.of(way, None), way.bank.heating_w, way.timeline.step_hours
    seen: Hashable = None
    for number, one in enumerate(designs):
        # Without a pad it is the panels alone that make the offers.
        acts = one if pad_w is not None else one.panels
        if acts != seen:
            seen, offers = acts, offers_of(way, [one])
        own = hours.of_lanes(slice(number * way.draws, (number + 1) * way.draws))
        heating_w = None if pad_w is None else pad_w * one.batteries
        wants = with_heating(way.wants, heating_w, offers.wanted_w)
        flows = _Flows.of(offers, own, step_hours)
        job = _with_design(way.job, one)
        yield _result(job, way.trip, way.timeline, around, wants, flows, own)


def _with_design(job: Job, design: Design) -> Job:
    """The job with the panels and the battery of a design."""
    panels = (
        with_values(group, {"count": count})
        for group, count in zip(job.panels, design.panels, strict=True)
    )
    battery = with_values(job.battery, {"count": design.batteries})
    return with_values(job, {"panels": tuple(panels), "battery": battery})


@dataclass(frozen=True)
class _Around:
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
    def of(cls, prepared: PreparedTrip, frost: Frost | None) -> _Around:
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


def _frost(prepared: PreparedTrip) -> Frost:
    """What could freeze, with the heat as it is and otherwise."""
    weather, wants = prepared.sky.weather, prepared.wants
    otherwise_c = wants.cabin_otherwise_c(weather)
    job, timeline = prepared.job, prepared.timeline
    return frost_of(job, timeline, weather.temp_air, wants.cabin_c, otherwise_c)


@dataclass(frozen=True)
class _Flows:
    """What came of the sources' offers; see `TripResult`. What goes past the bank is apart."""

    sources: tuple[SourceLine, ...]
    tanks: tuple[StoreLine, ...]
    unharvested_w: Floats
    by_cause_w: Floats
    past_bank_w: Floats
    least_usable: Floats

    @classmethod
    def of(cls, offers: Offers, hours: BankHours, step_hours: float) -> _Flows:
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


def _result(
    job: Job,
    trip: Trip,
    timeline: Timeline,
    around: _Around,
    wants: Demand,
    flows: _Flows,
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
        frost=around.frost or Frost((), ()),
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
