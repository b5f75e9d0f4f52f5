"""From a job to its result: what `prepare` works out, the battery over it, and what came of it."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import replace
from itertools import groupby

import numpy as np

from sim.arrays import Floats, over_steps
from sim.job.model.job import MOST_DRAWS, Job, Trip
from sim.job.model.living import PRIORITIES
from sim.job.rules.trips import MAX_LANE_STEPS, trip_days
from sim.ledger.came_of import result_of
from sim.ledger.join import joined
from sim.ledger.lacking import Lacking
from sim.ledger.put_away import put_away
from sim.ledger.results import BALANCE_TOLERANCE, Result, TripResult
from sim.ledger.sampling import is_settled
from sim.ledger.tried import Around, TriedTrip
from sim.ledger.twins import WayLanes
from sim.ledger.wide import Wide
from sim.sky.sun import Sun
from sim.sky.track import Track
from sim.threads import Progress
from sim.trip.bank import bank_of, with_heating
from sim.trip.demand import Demand
from sim.trip.designs import Design, Suns, banks_of, design_of, offers_of
from sim.trip.frost import UNTRIED, Frost, frost_of
from sim.trip.prepare import PreparedTrip, Skies, TripSky, file_sky, prepare_trip, sky_in
from sim.trip.timeline import build_timeline
from sim.van.bank.apart import parts_kind
from sim.van.bank.loop import run_bank
from sim.van.bank.offers import Offers
from sim.van.bank.sources import together

# Lanes, and lanes times steps, that are kept at once where many designs are carried through a
# trip: so many lanes share what a step costs that is the same for one and for many.
LANES = 4096
LANE_STEPS = 2_000_000
# Draws that a trip is carried through at once, however long it is.
_LEAST_AT_ONCE = 100


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

        trips.append(simulate_trip(job, trip, lean=lean, skies=skies, progress=tell))
    return Result(job, tuple(trips))


def simulate_trip(
    job: Job,
    trip: Trip,
    *,
    lean: bool = False,
    skies: Skies | None = None,
    progress: Progress | None = None,
) -> TripResult:
    """Run one trip of a job in all its draws; see `simulate`.

    These are the draws that the job names. Where it names none they are 200, and more where a
    share of these is not yet known to within a point.
    """
    tell = progress or (lambda done: None)
    first = range(job.settings.first_draws)
    more = range(len(first), min(MOST_DRAWS, MAX_LANE_STEPS // _steps(job, trip)))
    may_grow = job.settings.draws is None and len(more) > 0
    part = 0.3 if may_grow else 1.0
    run = _Run(job, trip, lean, skies)
    result = run.over(first, lambda done: tell(part * done))
    if may_grow and not result.years and not _is_settled(result):
        others = run.over(more, lambda done: tell(part + (1.0 - part) * done))
        result = joined([result, others], lean=lean)
        del others  # all that is of use is in the result
    tell(1.0)
    above = file_sky(job, trip)
    own = None if above is None else _carried(job, trip, above, None, lambda done: None).soc[:, 0]
    return put_away(result, own) if lean else replace(result, file_days_soc=own)


def _is_settled(result: TripResult) -> bool:
    """Whether each share of draws that the answer is made of is known well enough."""
    held = result.promise
    groups = [held.holds(group) for group in ("essentials", "comforts", "stores")]
    each = [held.essentials_hold, held.all_hold, *groups]
    return all(is_settled(int(holds.sum()), result.draws) for holds in each)


def _steps(job: Job, trip: Trip) -> int:
    """Steps of a trip, near enough."""
    return max(round(trip_days(trip) * 1440.0 / job.settings.step_minutes), 1)


class _Run:
    """A trip carried through blocks of its draws, each reduced as it ends."""

    def __init__(self, job: Job, trip: Trip, lean: bool, skies: Skies | None) -> None:
        self.job, self.trip, self.lean, self.skies = job, trip, lean, skies
        self.way: tuple[Track, Sun] | None = None
        # Of a result more is kept of each step than of designs that are tried.
        self.at_once = max(LANE_STEPS // 2 // _steps(job, trip), _LEAST_AT_ONCE)

    def over(self, draws: range, tell: Progress) -> TripResult:
        """The result in some draws; in the years of a weather file, however many were asked."""
        done: list[TripResult] = []
        wide = Wide(draws) if len(draws) > self.at_once else None
        for start in range(draws.start, draws.stop, self.at_once):
            block = range(start, min(start + self.at_once, draws.stop))
            before, share = (start - draws.start) / len(draws), len(block) / len(draws)

            def part(done: float, before: float = before, share: float = share) -> None:
                tell(before + share * done)

            done.append(self._block(block, part, wide))
            if done[-1].years:
                break
        return joined(done, lean=self.lean)

    def _block(self, draws: range, tell: Progress, wide: Wide | None) -> TripResult:
        is_tried = draws.start < self.job.settings.first_draws
        # The sky is handed over whole, to be let go of when the battery is carried through.
        done = _carried(self.job, self.trip, self._sky(draws), self.skies, tell, is_tried=is_tried)
        error = done.balance_error()
        if not error <= BALANCE_TOLERANCE:
            raise AssertionError(f"the ledger of {self.trip.name} does not close: {error:.2e}")
        if wide is not None and not done.years:
            done = wide.holding(done, draws.start)
        return done.lean() if self.lean else done

    def _sky(self, draws: range) -> TripSky:
        if self.skies is not None and draws == range(self.job.settings.first_draws):
            # Every change of the trip is tried in the same.
            above = self.skies.over(self.job, self.trip, build_timeline(self.job, self.trip))
        else:
            above = sky_in(self.job, self.trip, draws, self.way)
        self.way = above.track, above.sun
        return above


def _carried(
    job: Job,
    trip: Trip,
    above: TripSky,
    skies: Skies | None,
    tell: Progress,
    *,
    is_tried: bool = True,
) -> TripResult:
    """From the sky of some draws to their result, unchecked."""
    prepared = prepare_trip(
        job, trip, skies=skies, above=above, progress=lambda done: tell(0.4 * done)
    )
    design, timeline, pad_w = design_of(job), prepared.timeline, prepared.bank.heating_w
    offers = offers_of(prepared, [design])
    heating_w = None if pad_w is None else pad_w * design.batteries
    wants = with_heating(prepared.wants, heating_w, offers.wanted_w)
    around = Around.of(prepared, _frost(prepared, is_tried=is_tried))
    del (
        prepared,
        above,
        pad_w,
    )  # a year of draws is large: the beam and the diffuse light are done with
    hours = run_bank(
        bank_of(job.battery, job.held_socs),
        offers,
        start_soc=trip.start_soc,
        step_hours=timeline.step_hours,
        progress=lambda done: tell(0.4 + 0.6 * done),
    )
    tried = TriedTrip(around, wants, offers, hours)
    del offers  # the result lets go of it as soon as it can
    return result_of(tried)


def _frost(prepared: PreparedTrip, *, is_tried: bool) -> Frost:
    """What could freeze, with the heat as it is; otherwise in draws in which changes are tried."""
    weather, wants = prepared.sky.weather, prepared.wants
    otherwise_c = wants.cabin_otherwise_c(weather) if is_tried else None
    job, timeline = prepared.job, prepared.timeline
    found = frost_of(job, timeline, weather.temp_air, wants.cabin_c, otherwise_c)
    return found if is_tried else replace(found, away=UNTRIED)


def designs_at_once(draws: int, steps: int) -> int:
    """How many designs of a trip are carried through it at once."""
    return max(min(LANES, LANE_STEPS // steps) // draws, 1)


def tried_on(
    ways: Sequence[PreparedTrip], designs: Sequence[Design], suns: Suns | None = None
) -> Iterator[tuple[TriedTrip, ...]]:
    """Carry designs through all draws of a trip that goes several ways.

    Parameters
    ----------
    ways : sequence of PreparedTrip
        H steps and D draws each.
    designs : sequence of Design
    suns : Suns, optional
        On the panels of these designs and of the ways' own, as far as it was worked out before.

    Yields
    ------
    tuple of TriedTrip
        What came of some of them, which were carried through at once: way after way, of one
        design after the other. Why sun went unharvested, how warm cold boxes got and what could
        freeze is left out, as nobody asks for it of many designs.
    """
    at_once = designs_at_once(ways[0].draws, len(ways[0].timeline))
    many = max(at_once // len(designs), 1)
    suns = suns or Suns([*designs, *(design_of(way.job) for way in ways)])
    for _, group in groupby(ways, lambda way: _way_kind(way, suns)):
        alike = list(group)
        for first in range(0, len(alike), many):
            yield from _tried_beside(alike[first : first + many], designs, at_once, suns)


def _way_kind(way: PreparedTrip, suns: Suns) -> Hashable:
    """The same for ways whose lanes may lie side by side."""
    bank = bank_of(way.job.battery, way.job.held_socs)
    offers = suns.offers(way, design_of(way.job))
    same = way.trip.start_soc, way.timeline.step_minutes, way.draws, way.job.battery.count
    return *same, bank.kind, way.job.battery, offers.kind, parts_kind(offers.parts)


def _tried_beside(
    ways: Sequence[PreparedTrip], designs: Sequence[Design], at_once: int, suns: Suns
) -> Iterator[tuple[TriedTrip, ...]]:
    """Of ways that are alike, as lanes side by side; of one alone as many designs at once."""
    timeline = ways[0].timeline
    for first in range(0, len(designs), at_once):
        block = designs[first : first + at_once]
        lanes = WayLanes.of(ways, block, suns)
        hours = run_bank(
            banks_of(ways[0].job, block, lanes.design),
            lanes.offers,
            start_soc=ways[0].trip.start_soc,
            step_hours=timeline.step_hours,
            in_full=False,
        )
        lacking = Lacking.of(hours.unserved_w[: len(PRIORITIES)], timeline.step_minutes)
        taken_w = together([over_steps(hours.taken_w[k]) for k in lanes.offers.suns])
        each = zip(_each_acting(ways, block, suns), lanes.own, strict=True)
        yield tuple(
            TriedTrip(
                *(around, wants, offers, hours.of_lanes(own), lacking.of_lanes(own)),
                24.0 * float(np.maximum(could_w - taken_w[own], 0.0).mean()) / len(timeline),
            )
            for (around, wants, offers, could_w), own in each
        )


def _each_acting(
    ways: Sequence[PreparedTrip], designs: Sequence[Design], suns: Suns
) -> Iterator[tuple[Around, Demand, Offers, Floats]]:
    """What acts on each design, way after way, what is around it, and what its sun could give."""
    for way in ways:
        around, pad_w = Around.of(way, None), way.bank.heating_w
        for one in designs:
            offers = suns.offers(way, one)
            heating_w = None if pad_w is None else pad_w * one.batteries
            wants = with_heating(way.wants, heating_w, offers.wanted_w)
            yield around, wants, offers, suns.could_w(way, one)
